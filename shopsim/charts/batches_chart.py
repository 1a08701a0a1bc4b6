"""Lead time by order position, for each batch size."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import escape_text, fade, finish, new_figure, whole_ticks
from shopsim.charts.theme import DASHES, MARKERS, find_theme
from shopsim.say import say_number

#: Positions up to which every one has its marker.
MAX_MARKERS = 40


def build_lead_times(positions: pd.DataFrame, theme: str = "light") -> go.Figure:
    """How long each order waits, by its place in the queue, for each batch size.

    ``positions``: one row for each alternative and position; columns ``batch`` (its name),
    ``position`` (from 1), ``lead_days_p10``, ``lead_days_p50``, ``lead_days_p90`` (days from
    the day orders close). A band from the 10 % to the 90 % point and the median as a line.
    An empty table gives an empty chart. Shows at most six alternatives.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Lead time by order position",
        "Each line is a batch size: its height says how many days the order at that place in the queue waits, half "
        "of the time less and half of the time more; eight times in ten it falls into the band around the line.",
    )
    names = list(dict.fromkeys(positions["batch"]))[: len(look.series)]
    for number, name in enumerate(names):
        rows = positions[positions["batch"] == name].sort_values("position")
        place, colour = rows["position"], look.series[number]
        low, middle, high = (rows[f"lead_days_{point}"] for point in ("p10", "p50", "p90"))
        figure.add_scatter(
            x=pd.concat([place, place[::-1]]),
            y=pd.concat([high, low[::-1]]),
            fill="toself",
            fillcolor=fade(colour, 0.16),
            line={"width": 1, "color": fade(colour, 0.55), "dash": DASHES[number]},
            mode="lines",
            hoverinfo="skip",
            name=escape_text(f"{name}, 10-90 %"),
            legendgroup=str(number),
            showlegend=False,
        )
        figure.add_scatter(
            x=place,
            y=middle,
            mode="lines+markers" if len(rows) <= MAX_MARKERS else "lines",
            line={"width": 2.5, "color": colour, "dash": DASHES[number]},
            marker={"size": 8, "color": colour, "symbol": MARKERS[number]},
            hovertext=[
                f"{escape_text(name)}<br>order {at}: {say_number(mid)} days ({say_number(least)} to {say_number(most)})"
                for at, least, mid, most in zip(place, low, middle, high, strict=True)
            ],
            hoverinfo="text",
            name=escape_text(name),
            legendgroup=str(number),
        )
    most = max(1, int(positions["position"].max())) if len(positions) else 1
    edge = 0.4 + most / 50
    figure.update_xaxes(
        title_text="order, by its place in the queue", range=[1 - edge, most + edge], **whole_ticks(most, 12)
    )
    figure.update_yaxes(title_text="lead time, days", rangemode="tozero")
    return finish(figure, 320)
