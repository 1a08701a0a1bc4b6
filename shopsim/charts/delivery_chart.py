"""When orders ship: each order's window and promise, and the last one's against the number of orders."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, fade, finish, new_figure, whole_ticks
from shopsim.charts.theme import Mark, find_theme
from shopsim.say import say_chance

#: Orders up to which every one has its bar; more are drawn as a band.
MAX_BARS = 60
DAY_MS = 86_400_000
_NOON = dt.timedelta(hours=12)


def build_delivery(rows: pd.DataFrame, theme: str = "light") -> go.Figure:
    """The ship window, the date to promise and the date that keeps all promises, for every order.

    ``rows``: the table of the delivery answer: ``position``, ``order``, ``ship_from``, ``ship_to``,
    ``promise``, ``all_kept`` (ISO dates), ``window_chance``, ``chance_kept``. A bar reaches from the
    beginning of its first day to the end of its last; marks of dates stand at noon. More
    than 60 orders are drawn as a band.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Ship window of each order",
        "Each bar reaches from the first to the last day of the window in which the order is likely to ship; the dot "
        "is the date to promise it by, the open diamond the later date if all promises are to be kept together.",
    )
    first, last = _dates(rows["ship_from"]), _dates(rows["ship_to"])
    place = rows["position"]
    said = [
        f"order {escape_text(order)}: ships {_say(a)} to {_say(b)} in {_percent(chance)}"
        for order, a, b, chance in zip(rows["order"], first, last, rows["window_chance"], strict=True)
    ]
    if len(rows) <= MAX_BARS:
        figure.add_bar(
            orientation="h",
            y=place,
            base=first,
            x=[(b - a).days * DAY_MS + DAY_MS for a, b in zip(first, last, strict=True)],
            width=0.55,
            marker=bar_look(look, Mark(3, "")) | {"color": fade(look.series[3], 0.45)},
            name="ship window",
            hovertext=said,
            hoverinfo="text",
            textposition="none",
        )
    else:
        ends = [b + dt.timedelta(days=1) for b in last]
        figure.add_scatter(
            x=[*first, *ends[::-1]], y=[*place, *place[::-1]], fill="toself", mode="lines",
            line={"width": 1, "color": look.series[3]}, fillcolor=fade(look.series[3], 0.3), name="ship window",
            hoverinfo="skip",
        )  # fmt: skip
    many = len(rows) > MAX_BARS
    for name, column, colour, symbol, dash, texts in (
        (
            "promise by", "promise", look.series[0], "circle", "solid",
            [f"order {escape_text(order)}: promise by {_say(day)}, kept in {_percent(chance)}"
             for order, day, chance in zip(rows["order"], _dates(rows["promise"]), rows["chance_kept"], strict=True)],
        ),
        (
            "to keep all promises", "all_kept", look.series[1], "diamond-open", "dash",
            [f"order {escape_text(order)}: {_say(day)}, if all promises are to be kept together"
             for order, day in zip(rows["order"], _dates(rows["all_kept"]), strict=True)],
        ),
    ):  # fmt: skip
        figure.add_scatter(
            x=[day + _NOON for day in _dates(rows[column])],
            y=place,
            mode="lines" if many else "markers",
            line={"width": 2, "color": colour, "dash": dash},
            marker={"size": 10, "color": colour, "symbol": symbol, "line": {"width": 2, "color": colour}},
            name=name,
            hovertext=texts,
            hoverinfo="text",
        )
    figure.update_xaxes(title_text="ship date", type="date", tickformat="%d %b<br>%Y", nticks=6, tickangle=0)
    figure.update_yaxes(
        title_text="order", autorange="reversed", tickformat=",d", showgrid=False,
        dtick=1 if len(rows) < 21 else None,
    )  # fmt: skip
    return finish(figure, min(max(120, 24 * len(rows)), 520) + 14)


def build_order_counts(rows: pd.DataFrame, theme: str = "light") -> go.Figure:
    """When the last order ships, against how many orders come in.

    ``rows``: the table of the delivery answer by number of orders: ``orders``, ``ship_from``,
    ``ship_to``, ``promise``, ``all_kept`` (ISO dates of the last order), ``chance_kept``.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Last ship date by number of orders",
        "Read upwards from a number of orders: the band is when the last of them is likely to ship, the solid line the "
        "date to promise it by, the broken line the date if all promises are to be kept together.",
    )
    first, last = _dates(rows["ship_from"]), _dates(rows["ship_to"])
    counts = list(rows["orders"])
    figure.add_scatter(
        x=[*counts, *counts[::-1]], y=[*first, *last[::-1]], fill="toself", mode="lines",
        line={"width": 1, "color": look.series[3], "dash": "dot"}, fillcolor=fade(look.series[3], 0.25),
        name="ship window of the last", hoverinfo="skip",
    )  # fmt: skip
    for name, column, colour, symbol, dash in (
        ("promise by", "promise", look.series[0], "circle", "solid"),
        ("to keep all promises", "all_kept", look.series[1], "diamond-open", "dash"),
    ):
        days = _dates(rows[column])
        figure.add_scatter(
            x=counts,
            y=days,
            mode="lines+markers" if len(rows) <= MAX_BARS else "lines",
            line={"width": 2, "color": colour, "dash": dash},
            marker={"size": 9, "color": colour, "symbol": symbol},
            name=name,
            hovertext=[
                f"{n} orders: {name} {_say(day)}<br>the last ships {_say(a)} to {_say(b)}"
                for n, day, a, b in zip(counts, days, first, last, strict=True)
            ],
            hoverinfo="text",
        )
    figure.update_xaxes(title_text="number of orders", **whole_ticks(max(counts, default=1), 9))
    figure.update_yaxes(title_text="ship date of the last order", type="date", tickformat="%d %b %y", nticks=8)
    return finish(figure, 320)


def _dates(texts: pd.Series[Any]) -> list[dt.datetime]:
    return [dt.datetime.fromisoformat(str(text)[:10]) for text in texts]


def _say(day: dt.datetime) -> str:
    return f"{day:%a %d %b %Y}"


def _percent(share: float) -> str:
    """A share in whole percent, cut and not rounded up."""
    return f"{say_chance(share)} of runs"
