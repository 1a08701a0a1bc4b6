"""One run as a timeline: who or what was busy when, nights and closed days shaded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, finish, name_rows, new_figure
from shopsim.charts.shading import shade_closed
from shopsim.charts.theme import Theme, find_theme, mark_for
from shopsim.say import say_number

Rows = Literal["piece", "batch", "worker", "station"]

#: States, each in its own third of a row, from the top: work, clamps, cure.
LANES = {"hands-on": 0, "taking clamps off": 0, "nobody needed": 0, "in clamps": 1, "curing": 2}
#: Rows that are drawn before the rest is left out, and bars before near ones are drawn as one.
MAX_ROWS, MAX_BARS = 60, 4000
#: Near bars are joined on a grid of so many cells across the run.
CELLS = 2000
_MS = np.timedelta64(1, "ms")


def build_timeline(
    spans: pd.DataFrame,
    closed: pd.DataFrame,
    rows: Rows = "piece",
    theme: str = "light",
    between: tuple[dt.datetime, dt.datetime] | None = None,
) -> go.Figure:
    """A run as bars along the dates, one row for each piece, batch, worker or station.

    ``spans``: the table of ``list_spans``: ``task``, ``operation``, ``batch``, ``piece``, ``state``, ``worker``,
    ``station``, ``since``, ``until``; ``closed``: ``since``, ``until`` when the shop was closed. Every bar begins
    at ``since`` and is ``until - since`` long (milliseconds on a date axis). ``between``: what part of the run is shown at first, default all. Work of a whole batch is
    drawn with the batch; a worker's row holds what that worker did with their hands.

    With more than 60 pieces the rows are batches; more than 60 rows are cut to the first 60; with
    more than 4,000 bars, bars of one row and state that lie close together are drawn as one. A note
    in the figure says each of these. Costs about a second for 20,000 tasks.
    """
    look = find_theme(theme)
    notes = []
    if rows == "piece" and spans["piece"].nunique() > MAX_ROWS:
        notes.append(f"{spans['piece'].nunique():,} pieces are too many rows: drawn by batch.")
        rows = "batch"
    figure = new_figure(
        look,
        f"One run, by {rows}",
        _HOW_TO_READ[rows],
    )
    table, labels = _give_rows(spans, rows)
    if len(labels) > MAX_ROWS:
        notes.append(f"The first {MAX_ROWS} of {len(labels):,} rows.")
        table, labels = table[table["row"] < MAX_ROWS], labels[:MAX_ROWS]
    if len(table) > MAX_BARS:
        whole = len(table)
        table = join_near(table)
        notes.append(f"{whole:,} bars; those that lie close together are drawn as one.")
        if len(table) > MAX_BARS:
            table = table.sort_values("since", kind="stable").head(MAX_BARS)
            notes.append(f"Drawn until {table['until'].max():%d %b %Y}.")
    top, lanes = {"worker": (-0.07, 1), "station": (-0.12, 3)}.get(rows, (-0.42, 3))
    for state in [state for state in LANES if state in set(table["state"])]:
        _draw_state(figure, table[table["state"] == state], state, lanes, top, look)
    if len(table):
        shade_closed(figure, closed[closed["since"] < table["until"].max()], look)
        figure.update_xaxes(range=list(between or (table["since"].min(), table["until"].max())))
    figure.update_layout(barmode="overlay", dragmode="zoom")
    figure.update_xaxes(title_text="date", type="date", nticks=6, tickangle=0, tickformatstops=_TICKS)
    if rows in ("worker", "station"):
        row_px = 44 if rows == "worker" else 48
        name_rows(figure, labels, row_px)
        left_px = 0
    else:
        row_px = 26 if len(labels) <= 30 else 18
        left_px = 60
        figure.update_yaxes(
            tickmode="array",
            tickvals=list(range(len(labels))),
            ticktext=labels,
            range=[max(len(labels), 1) - 0.5, -0.5],
            showgrid=False,
            title_text=rows,
        )
    figure.update_yaxes(fixedrange=True)
    return finish(figure, row_px * max(3, len(labels)), left_px=left_px, notes=" ".join(notes))


_SHADED = "the shaded times are nights and closed days. Drag to look closer, double-click to see all."
_THIRDS = f"the upper third is work by hand, the middle sits in clamps, the lower cures or dries; {_SHADED}"
_HOW_TO_READ: dict[str, str] = {
    "piece": f"Each row is one piece: {_THIRDS}",
    "batch": f"Each row is one batch: {_THIRDS}",
    "station": f"Each row is one station and what is kept there: {_THIRDS}",
    "worker": f"Each row is what one person has in hand, and gaps in the light times are idle; {_SHADED}",
}
_TICKS = [
    {"dtickrange": [None, 43_200_000], "value": "%H:%M<br>%a %d %b"},
    {"dtickrange": [43_200_000, 604_799_999], "value": "%a<br>%d %b"},
    {"dtickrange": [604_799_999, None], "value": "%d %b<br>%Y"},
]


def _give_rows(spans: pd.DataFrame, rows: Rows) -> tuple[pd.DataFrame, list[str]]:
    """The spans that belong to a row, with its number in ``row``; and the rows' labels."""
    if rows == "worker":
        hands = spans[spans["worker"] != ""]
        table = hands.assign(who=hands["worker"].str.split(" + ", regex=False)).explode("who")
    elif rows == "station":
        table = spans[spans["station"] != ""].assign(who=lambda one: one["station"])
    else:
        table = spans[spans[rows].notna()].assign(who=lambda one: one[rows])
    names = list(dict.fromkeys(table["who"])) if rows == "worker" else sorted(table["who"].unique())
    number = {name: n for n, name in enumerate(names)}
    labels = [str(name) for name in names]
    if rows == "piece" and len(labels) > 30:
        labels = [label if n % 5 == 4 else "" for n, label in enumerate(labels)]
    return table.assign(row=table["who"].map(number).astype("int64")).drop(columns="who"), labels


def join_near(table: pd.DataFrame) -> pd.DataFrame:
    """Bars of one row and state that fall into the same or neighbouring cells of the run, as one bar.

    A cell is a two-thousandth of the run. Columns ``row``, ``state``, ``since``, ``until``, ``operation``
    (what was joined, in words); rows by row, state and time.
    """
    ordered = table.sort_values(["row", "state", "since"], kind="stable")
    first, last = ordered["since"].min(), ordered["until"].max()
    cell = (last - first) / CELLS
    key = [ordered["row"], ordered["state"]]
    reached = ordered.groupby(key)["until"].cummax().groupby(key).shift()
    begins = reached.isna() | (ordered["since"] - reached > cell)
    groups = ordered.groupby(begins.cumsum().to_numpy())
    joined = groups.agg(
        row=("row", "first"), state=("state", "first"), since=("since", "min"), until=("until", "max"), n=("task", "size"),
        operation=("operation", "first"),
    )  # fmt: skip
    many = joined["n"] > 1
    joined.loc[many, "operation"] = joined.loc[many, "n"].map(lambda n: f"{n:,} tasks, one after the other")
    return joined.drop(columns="n").reset_index(drop=True)


def _draw_state(figure: go.Figure, bars: pd.DataFrame, state: str, lanes: int, top: float, look: Theme) -> None:
    lane = LANES[state] if lanes > 1 else 0
    height = (0.42 - top) / lanes
    length = (bars["until"] - bars["since"]).to_numpy().astype("timedelta64[ms]") / _MS
    figure.add_bar(
        orientation="h",
        y=bars["row"] + top + height * (lane + 0.5),
        base=bars["since"],
        x=length,
        width=height * 0.94,
        marker=bar_look(look, mark_for(state)) | {"line": {"width": 0.5, "color": mark_for(state).colour_in(look)}},
        name=state,
        hovertext=[_say_bar(row) for row in bars.to_dict("records")],
        hoverinfo="text",
        textposition="none",
    )


def _say_bar(row: Mapping[Any, Any]) -> str:
    said = [f"{escape_text(str(row['operation']))}: {row['state']}"]
    whose = []
    if "batch" in row and not pd.isna(row["batch"]):
        whose.append(f"batch {row['batch']}")
    if "piece" in row and not pd.isna(row["piece"]):
        whose.append(f"piece {row['piece']}")
    whose += [escape_text(str(row[who])) for who in ("worker", "station") if row.get(who)]
    if whose:
        said.append(", ".join(whose))
    since, until = row["since"], row["until"]
    hours = (until - since).total_seconds() / 3600
    said.append(f"{since:%a %d %b %H:%M} to {until:%a %d %b %H:%M}, {say_number(hours, 1)} h")
    return "<br>".join(said)
