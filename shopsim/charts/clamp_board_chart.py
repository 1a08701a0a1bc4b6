"""The clamp board: every kind of clamps over the days, how many glue-ups hold, where all are out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, finish, name_rows, new_figure
from shopsim.charts.theme import find_theme, mark_for
from shopsim.say import say_number

#: Bars that are drawn before the rest is left out.
MAX_BARS = 3_000
HELD, ALL_OUT = "in clamps", "clamps"
_MS = np.timedelta64(1, "ms")


def build_clamp_board(board: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """A row for each kind of clamps, as high as the shop owns; a bar for each glue-up, as high as it holds, in the places that are free.

    ``board``: the table of ``build_clamp_board`` of the answers: ``kind``, ``owned``, ``operation``, ``batch``, ``pieces``, ``round``,
    ``taken``, ``since``, ``until``, ``in_use``, ``all_out``. A glue-up after which no clamp of the kind is left has a mark of its own. None without glue-ups.
    """
    if board.empty:
        return None
    look = find_theme(theme)
    figure = new_figure(
        look,
        "The clamp board",
        "Each row is one kind of clamps, as high as you own; each bar is what glue-ups hold, from the glue-up until they are "
        "off. Crossed bars leave none of the kind on the wall: the next round waits for them.",
    )
    kinds = list(dict.fromkeys(board["kind"]))
    notes = "" if len(board) <= MAX_BARS else f"The first {MAX_BARS:,} of {len(board):,} bars."
    placed = _place(board.sort_values("since", kind="stable").head(MAX_BARS), kinds)
    for full, name, mark in ((False, "in clamps", HELD), (True, "all of the kind are out", ALL_OUT)):
        bars = placed[placed["all_out"] == full]
        if bars.empty:
            continue
        figure.add_bar(
            orientation="h",
            y=bars["middle"],
            base=bars["since"],
            x=(bars["until"] - bars["since"]).to_numpy().astype("timedelta64[ms]") / _MS,
            width=bars["height"],
            marker=bar_look(look, mark_for(mark)) | {"line": {"width": 0.5, "color": mark_for(mark).colour_in(look)}},
            name=name,
            hovertext=[_say_bar(row) for row in bars.to_dict("records")],
            hoverinfo="text",
            textposition="none",
        )
    figure.update_layout(barmode="overlay", dragmode="zoom")
    figure.update_xaxes(title_text="date", type="date", nticks=6, tickangle=0)
    owned = board.groupby("kind", sort=False)["owned"].first()
    name_rows(figure, [f"{kind} ({owned[kind]})" for kind in kinds], 70)
    figure.update_yaxes(fixedrange=True)
    return finish(figure, 70 * max(2, len(kinds)), notes=notes)


def _place(board: pd.DataFrame, kinds: list[str]) -> pd.DataFrame:
    """The lowest places of its kind that are free for each bar: ``middle`` and ``height`` within rows of height 0.84."""
    middles: list[float] = []
    heights: list[float] = []
    held: dict[str, list[tuple[pd.Timestamp, int, int]]] = {kind: [] for kind in kinds}
    for row in board.to_dict("records"):
        kept = held[row["kind"]] = [one for one in held[row["kind"]] if one[0] > row["since"]]
        first = 0
        for _, start, stop in sorted(kept, key=lambda one: one[1]):
            if start - first >= row["taken"]:
                break
            first = max(first, stop)
        kept.append((row["until"], first, first + row["taken"]))
        owned = max(row["owned"], first + row["taken"])
        top = kinds.index(row["kind"]) - 0.42
        heights.append(0.84 * row["taken"] / owned)
        middles.append(top + 0.84 * (first + row["taken"] / 2) / owned)
    return board.assign(middle=middles, height=heights)


def _say_bar(row: Mapping[Any, Any]) -> str:
    pieces = f", pieces {row['pieces']}" if row["pieces"] else ""
    batch = "" if pd.isna(row["batch"]) else f", batch {row['batch']}"
    whole = (
        f"{escape_text(str(row['operation']))}{batch}{pieces}<br>round {row['round']}: {row['taken']} of {row['owned']} "
        f"{escape_text(str(row['kind']))}<br>{row['since']:%a %d %b %H:%M} to {row['until']:%a %d %b %H:%M}"
    )
    return f"{whole}<br>{say_number(row['in_use'])} of the kind in use"
