"""Times when the shop is closed, drawn behind a chart as one shape however many there are."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.theme import Theme

CLOSED_NAME = "shop closed"


def shade_closed(figure: go.Figure, closed: pd.DataFrame, theme: Theme) -> None:
    """Shade the stretches of ``closed`` (columns since, until) over the whole height, behind everything else."""
    if closed.empty:
        return
    parts = [
        f"M{_date(since)},0L{_date(until)},0L{_date(until)},1L{_date(since)},1Z"
        for since, until in zip(closed["since"], closed["until"], strict=True)
    ]
    figure.add_shape(
        type="path",
        path="".join(parts),
        xref="x",
        yref="paper",
        layer="below",
        fillcolor=theme.shade,
        line={"width": 0},
        name=CLOSED_NAME,
        showlegend=True,
    )


def _date(moment: pd.Timestamp) -> str:
    """A moment as the path of a shape wants it."""
    return f"{moment:%Y-%m-%d_%H:%M:%S}"
