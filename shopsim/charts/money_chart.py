"""Money: what is left for an hour by number of orders, and cash by week."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, fade, finish, new_figure, whole_ticks
from shopsim.charts.theme import DASHES, MARKERS, Theme, find_theme, mark_for
from shopsim.say import say_number

#: Weeks up to which every one has its marker.
MAX_MARKERS = 40


def build_left_an_hour(rows: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """What is left for an hour worked, by the number of orders: a band from the 10 % to the 90 % point, and the median.

    ``rows``: ``orders``, ``is_now``, ``left_an_hour_p10``, ``left_an_hour_p50``, ``left_an_hour_p90``, ``spare``. None for fewer than
    two numbers of orders.
    """
    if len(rows) < 2:
        return None
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Left for an hour, by number of orders",
        "The line is what half of the runs leave for an hour worked, by how many orders there are; eight runs in ten lie in the band "
        "around it. The large marker is today's number. Steps come from rounding up: spare pieces take hours and bring nothing.",
    )
    table = rows.sort_values("orders")
    said = [
        f"{count} orders, {spare} spare<br>{say_number(middle, 2)} an hour ({say_number(low, 2)} to {say_number(high, 2)})"
        for count, spare, low, middle, high in zip(
            table["orders"], table["spare"], *(table[f"left_an_hour_{point}"] for point in ("p10", "p50", "p90")), strict=True
        )
    ]  # fmt: skip
    _add_band(figure, look, table["orders"], table, "left_an_hour", said)
    now = table[table["is_now"]]
    figure.add_scatter(
        x=now["orders"],
        y=now["left_an_hour_p50"],
        mode="markers",
        marker={"size": 14, "color": look.series[1], "symbol": MARKERS[2]},
        name="today",
        hoverinfo="skip",
    )
    most = int(table["orders"].max())
    figure.update_xaxes(title_text="orders", range=[0, most + 1], **whole_ticks(most, 12))
    figure.update_yaxes(title_text="left for an hour", zeroline=True, zerolinecolor=look.text)
    return finish(figure, 320)


def build_cash(weeks: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """Cash in hand at the end of each week: a band from the 10 % to the 90 % point and the median, over bars of what came and went.

    ``weeks``: ``week_of``, ``deposits``, ``balances``, ``purchases``, ``other``, ``cash_p10``, ``cash_p50``, ``cash_p90``. None for no weeks.
    """
    if weeks.empty:
        return None
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Cash by week",
        "The line is the cash in hand at the end of each week in half of the runs, eight runs in ten lie in the band around it; bars are "
        "what came in and went out in that week, in the mean. Below the zero line money has to come from somewhere else.",
    )
    days = list(weeks["week_of"])
    for kind, mark in (
        ("deposits", "hands-on"),
        ("balances", "in clamps"),
        ("purchases", "material"),
        ("other", "idle"),
    ):
        figure.add_bar(
            x=days,
            y=weeks[kind],
            name=kind,
            marker=bar_look(look, mark_for(mark)),
            opacity=0.55,
            hovertext=[
                f"week of {day}<br>{kind} {say_number(value, 2)}" for day, value in zip(days, weeks[kind], strict=True)
            ],
            hoverinfo="text",
            textposition="none",
        )
    said = [
        f"week of {day}<br>cash {say_number(middle, 2)} ({say_number(low, 2)} to {say_number(high, 2)})"
        for day, low, middle, high in zip(
            days, *(weeks[f"cash_{point}"] for point in ("p10", "p50", "p90")), strict=True
        )
    ]
    _add_band(figure, look, days, weeks, "cash", said)
    figure.update_layout(barmode="relative")
    figure.update_xaxes(title_text="week, from its Monday", type="date")
    figure.update_yaxes(title_text="cash", zeroline=True, zerolinecolor=look.text)
    return finish(figure, 320)


def _add_band(
    figure: go.Figure, look: Theme, places: Sequence[Any] | pd.Series[Any], table: pd.DataFrame, key: str, said: Sequence[str]
) -> None:  # fmt: skip
    """A band from the 10 % to the 90 % point, and the median as a line over it."""
    at, colour = list(places), look.series[0]
    low, middle, high = (list(table[f"{key}_{point}"]) for point in ("p10", "p50", "p90"))
    figure.add_scatter(
        x=[*at, *reversed(at)],
        y=[*high, *reversed(low)],
        fill="toself",
        fillcolor=fade(colour, 0.16),
        line={"width": 1, "color": fade(colour, 0.55), "dash": DASHES[1]},
        mode="lines",
        hoverinfo="skip",
        name="10-90 %",
    )
    figure.add_scatter(
        x=at,
        y=middle,
        mode="lines+markers" if len(at) <= MAX_MARKERS else "lines",
        line={"width": 2.5, "color": colour},
        marker={"size": 7, "color": colour, "symbol": MARKERS[0]},
        hovertext=list(said),
        hoverinfo="text",
        name="half of the runs",
    )
