"""The chance of each day, as things stand and with each set of changes: what it would take, as a picture."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import escape_text, finish, new_figure
from shopsim.charts.theme import DASHES, find_theme
from shopsim.say import say_chance


def build_frontier(frontier: pd.DataFrame, theme: str = "light") -> go.Figure:
    """The chance that it is out by a day, against the day, for today and each set.

    ``frontier``: one row for each set and day; columns ``what`` (the set), ``day`` (ISO date), ``reach_chance`` (0..1) and
    ``is_asked`` (the day that is asked for, drawn as an upright line). An empty table gives an empty chart. Shows today
    and as many sets as there are colours.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Chance by day",
        "Each line is a set of changes, the first one today as it is: its height says in how many runs of a hundred it is all "
        "out by that day. The upright line is the day that is asked for.",
    )
    names = list(dict.fromkeys(frontier["what"]))[: len(look.series)]
    for number, name in enumerate(names):
        rows = frontier[frontier["what"] == name].sort_values("day")
        figure.add_scatter(
            x=list(rows["day"]),
            y=[100 * chance for chance in rows["reach_chance"]],
            mode="lines",
            line={"width": 2.5, "color": look.series[number], "dash": DASHES[number % len(DASHES)], "shape": "hv"},
            hovertext=[
                f"{escape_text(name)}<br>{day}: {say_chance(float(chance))}"
                for day, chance in zip(rows["day"], rows["reach_chance"], strict=True)
            ],
            hoverinfo="text",
            name=escape_text(name),
        )
    asked = list(frontier.loc[frontier["is_asked"], "day"]) if len(frontier) else []
    if asked:
        figure.add_scatter(
            x=[asked[0]] * 2,
            y=[0, 100],
            mode="lines",
            line={"width": 1.5, "color": look.quiet, "dash": "dot"},
            hoverinfo="skip",
            showlegend=False,
        )
    figure.update_xaxes(title_text="day", type="date", tickformat="%Y-%m-%d", nticks=6)
    figure.update_yaxes(title_text="chance, %", range=[0, 102])
    return finish(figure, 360)
