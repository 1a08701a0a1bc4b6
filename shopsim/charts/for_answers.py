"""Which charts go with which answer: as the entry of its question says."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
import plotly.graph_objects as go

from shopsim.questions import find_kind, load


def build_for_answer(
    key: str, rows: pd.DataFrame, tables: Mapping[str, pd.DataFrame], theme: str = "light"
) -> list[go.Figure]:
    """The figures of an answer, in the order in which they are shown; none for one that has no chart.

    ``key``: the answer's; ``rows``: its table; ``tables``: further tables of it by key. A chart of a table that is not there, or
    is empty, is left out.
    """
    kind = find_kind(key)
    figures = []
    for chart in () if kind is None else kind.charts:
        table = rows if not chart.table else tables.get(chart.table)
        if table is not None and len(table):
            figure = load(f"shopsim.charts.{chart.home}")(table, theme)
            if figure is not None:
                figures.append(figure)
    return figures
