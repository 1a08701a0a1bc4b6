"""The weeks at a glance: each day a cell, with its hours of hands, its glue-ups and what ships."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import finish, new_figure
from shopsim.charts.theme import find_theme, mark_for
from shopsim.dates import DAY_NAMES
from shopsim.say import say_number

#: Weeks that are drawn before the rest is left out.
MAX_WEEKS = 60


def build_weeks(weeks: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """A row a week, a column a weekday; in each cell hours of hands over hours open, glue-ups and pieces that ship.

    ``weeks``: ``day``, ``hands_on_h``, ``open_h``, ``glue_ups``, ``ships_pieces``. A bar across the cell is the share of the open hours
    that is work. None where there are no days.
    """
    if weeks.empty:
        return None
    look = find_theme(theme)
    figure = new_figure(
        look,
        "The weeks at a glance",
        "Each row is a week, each cell a day: hours of work by hand, as long as its share of the open hours; g: glue-ups begun, "
        "s: pieces that ship.",
    )
    monday = min(weeks["day"]) - dt.timedelta(days=min(weeks["day"]).weekday())
    rows = [
        {**row, "week": (row["day"] - monday).days // 7, "weekday": row["day"].weekday()}
        for row in weeks.to_dict("records")
    ]
    n_weeks = 1 + max(row["week"] for row in rows)
    notes = "" if n_weeks <= MAX_WEEKS else f"The first {MAX_WEEKS} of {n_weeks} weeks."
    rows = [row for row in rows if row["week"] < MAX_WEEKS]
    n_weeks = min(n_weeks, MAX_WEEKS)
    at_work = [row for row in rows if row["open_h"] > 0 or row["hands_on_h"] > 0]
    for name, mark, lengths in (
        ("open", "idle", [0.94 for _ in at_work]),
        ("work by hand", "hands-on", [0.94 * _share(row) for row in at_work]),
    ):
        figure.add_bar(
            orientation="h",
            y=[row["week"] for row in at_work],
            base=[row["weekday"] - 0.47 for row in at_work],
            x=lengths,
            width=0.8,
            marker={"color": mark_for(mark).colour_in(look), "opacity": 0.35},
            name=name,
            hovertext=[_say_day(row) for row in at_work],
            hoverinfo="text",
            textposition="none",
        )
    figure.add_scatter(
        x=[row["weekday"] for row in rows if _say_cell(row)],
        y=[row["week"] for row in rows if _say_cell(row)],
        mode="text",
        text=[_say_cell(row) for row in rows if _say_cell(row)],
        hoverinfo="skip",
        showlegend=False,
    )
    mondays = [monday + dt.timedelta(weeks=week) for week in range(n_weeks)]
    figure.update_layout(barmode="overlay")
    figure.update_xaxes(
        tickmode="array", tickvals=list(range(7)), ticktext=[day.capitalize() for day in DAY_NAMES], range=[-0.5, 6.5],
        showgrid=False, title_text="", fixedrange=True,
    )  # fmt: skip
    figure.update_yaxes(
        tickmode="array", tickvals=list(range(n_weeks)), ticktext=[f"{day:%d %b}" for day in mondays],
        range=[n_weeks - 0.5, -0.5], showgrid=False, title_text="week of", fixedrange=True,
    )  # fmt: skip
    return finish(figure, 46 * max(3, n_weeks), notes=notes)


def _share(row: Mapping[Any, Any]) -> float:
    return min(1.0, float(row["hands_on_h"] / row["open_h"])) if row["open_h"] > 0 else 1.0


def _say_cell(row: Mapping[Any, Any]) -> str:
    parts = [f"{say_number(row['hands_on_h'], 1)} h"] if row["hands_on_h"] > 0 else []
    marks = [f"{row['glue_ups']}g"] if row["glue_ups"] else []
    marks += [f"{row['ships_pieces']}s"] if row["ships_pieces"] else []
    return "<br>".join([*parts, *([" ".join(marks)] if marks else [])])


def _say_day(row: Mapping[Any, Any]) -> str:
    day = row["day"]
    return (
        f"{day:%a %d %b %Y}<br>{say_number(row['hands_on_h'], 1)} of {say_number(row['open_h'], 1)} h by hand"
        f"<br>{row['glue_ups']} glue-ups begun, {row['ships_pieces']} pieces ship"
    )
