"""Which charts go with which answer: the table and its key are all that is needed."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.batches import build_lead_times
from shopsim.charts.delivery import build_delivery, build_order_counts
from shopsim.charts.savings import build_clamp_savings, build_holdups
from shopsim.charts.waiting import build_waiting
from shopsim.plurals import say_more

#: Keys of tables that go with an answer: lead times with batch sizes, time by cause with hold-ups.
LEAD_TIMES, TIME_BY_PIECE = "lead_time_by_order", "time_by_piece"


def build_for_answer(
    key: str, rows: pd.DataFrame, tables: Mapping[str, pd.DataFrame], theme: str = "light"
) -> list[go.Figure]:
    """The figures of an answer, in the order in which they are shown; none for one that has no chart.

    ``key``: the answer's; ``rows``: its table; ``tables``: further tables of it by key. A chart
    whose columns are not in the table is left out.
    """
    figures = []
    if LEAD_TIMES in tables and len(tables[LEAD_TIMES]):
        figures.append(build_lead_times(tables[LEAD_TIMES], theme))
    columns = set(rows.columns)
    if {"thing", "average_saved_days", "pays"} <= columns:
        if (rows["thing"] == "clamps").any():
            figures.append(build_clamp_savings(rows, theme))
        others = rows[rows["thing"].isin(("worker", "station", "rack"))]
        if len(others):
            figures.append(build_holdups(_as_holdups(others), theme))
    elif {"what", "average_saved_days", "cost"} <= columns:
        figures.append(build_holdups(rows, theme))
    elif {"orders", "promise", "all_kept"} <= columns:
        figures.append(build_order_counts(rows, theme))
    elif {"position", "promise", "all_kept"} <= columns:
        figures.append(build_delivery(rows, theme))
    if TIME_BY_PIECE in tables and len(tables[TIME_BY_PIECE]):
        figures.append(build_waiting(tables[TIME_BY_PIECE], "piece", theme))
    return figures


def _as_holdups(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows of the answer on clamps that are about other things, as rows of one more of everything."""
    what = [say_more(*row) for row in zip(rows["thing"], rows["kind"], rows["added"], strict=True)]
    return rows.assign(what=what)
