"""What the shop's workers, stations, clamps and racks did in one run."""

from __future__ import annotations

from typing import Literal

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, fade, finish, name_rows, new_figure, whole_ticks
from shopsim.charts.shading import shade_closed
from shopsim.charts.theme import DASHES, find_theme, mark_for
from shopsim.say import say_number

When = Literal["open hours", "whole run"]

#: States in the order in which they are stacked.
STATES = (
    "working",
    "set-up",
    "taking clamps off",
    "held while curing",
    "held half done",
    "idle",
    "closed",
    "away",
)
#: Height of a row, in pixels.
ROW_PX = 40
#: Moments of a step line that are drawn; more are thinned out.
MAX_STEPS = 5000


def build_use(use: pd.DataFrame, theme: str = "light", when: When = "open hours") -> go.Figure:
    """Shares of the time in which each thing was worked with, held, idle or closed, as stacked bars.

    ``use``: the table of ``measure_use``: ``kind``, ``name``, ``state``, ``hours``, ``share``, ``open_hours``,
    ``open_share`` (0..1). ``when``: "open hours" for the time in which the shop was open, "whole run" for
    all of it, nights and closed days included. One bar a thing in the order of the table; the
    bars of one thing add up to 100 %.
    """
    look = find_theme(theme)
    if when == "open hours":
        figure = new_figure(
            look,
            "Hands and shop while open",
            "Each bar is the time in which the shop was open: the solid part at the left is work going on, the striped "
            "part is kept by glue or finish that needs time, and what is idle was free to be used.",
        )
        hours_column, share_column, whole = "open_hours", "open_share", "open hours"
    else:
        figure = new_figure(
            look,
            "Hands and shop, day and night",
            "Each bar is the whole run, nights and closed days included: glue and finish go on holding clamps and "
            "racks while nobody is there, and only hours that are idle could have been worked.",
        )
        hours_column, share_column, whole = "hours", "share", "the run"
    keys = use[["kind", "name"]].drop_duplicates()
    labels = [_say_thing(kind, name) for kind, name in zip(keys["kind"], keys["name"], strict=True)]
    place = {(kind, name): n for n, (kind, name) in enumerate(zip(keys["kind"], keys["name"], strict=True))}
    there = set(use["state"])
    for state in [*(state for state in STATES if state in there), *sorted(there - set(STATES))]:
        rows = use[(use["state"] == state) & (use[hours_column] > 0)]
        if rows.empty:
            continue
        figure.add_bar(
            orientation="h",
            y=[place[kind, name] + 0.18 for kind, name in zip(rows["kind"], rows["name"], strict=True)],
            x=rows[share_column] * 100,
            width=0.5,
            marker=bar_look(look, mark_for(state)),
            name=state,
            hovertext=[
                f"{escape_text(name)}: {state}<br>{say_number(hours, 1)} h, {say_number(share * 100, 1)} % of {whole}"
                for name, hours, share in zip(rows["name"], rows[hours_column], rows[share_column], strict=True)
            ],
            hoverinfo="text",
            textposition="none",
        )
    figure.update_layout(barmode="stack")
    figure.update_xaxes(title_text=f"share of {whole}, %", range=[0, 100], ticksuffix=" %")
    name_rows(figure, labels, ROW_PX)
    return finish(figure, ROW_PX * max(2, len(labels)), left_px=0)


def _say_thing(kind: str, name: str) -> str:
    return name if kind in name else f"{name} ({kind})"


def build_clamps_in_use(
    use: pd.DataFrame, closed: pd.DataFrame, kind: str, theme: str = "light", thing: str = "clamp"
) -> go.Figure:
    """How many clamps of one kind were in use at each moment of a run, against how many there are.

    ``use``: the table ``Run.use`` (``kind``, ``name``, ``since``, ``until``, ``in_use``, ``owned``), of
    which the rows of ``thing`` "clamp" (or "rack", "station") named ``kind`` are drawn; ``closed``:
    ``since``, ``until`` of the times when the shop was closed, shaded.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        f"In use over time: {kind}" if len(kind) < 26 else f"In use: {kind}",
        "The stepped line says how many are in use at each moment, the broken line how many the shop owns: where they "
        "meet, all are taken. Shaded times are nights and closed days, when clamps go on holding.",
    )
    rows = use[(use["kind"] == thing) & (use["name"] == kind)].sort_values("since")
    note = ""
    if len(rows):
        merged = rows[(rows["in_use"] != rows["in_use"].shift()) | (rows.index == rows.index[0])]
        if len(merged) > MAX_STEPS:
            note = f"Drawn for the first {MAX_STEPS:,} of {len(merged):,} changes."
            merged = merged.head(MAX_STEPS)
        last = merged["until"].iloc[-1] if note else rows["until"].iloc[-1]
        moments = [*merged["since"], last]
        in_use = [*merged["in_use"], merged["in_use"].iloc[-1]]
        owned = int(rows["owned"].iloc[0])
        figure.add_scatter(
            x=moments,
            y=in_use,
            mode="lines",
            line={"shape": "hv", "width": 2, "color": look.series[0]},
            fill="tozeroy",
            fillcolor=fade(look.series[0], 0.25),
            name="in use",
            hovertext=[f"{at:%a %d %b %Y %H:%M}: {n} of {owned} in use" for at, n in zip(moments, in_use, strict=True)],
            hoverinfo="text",
        )
        figure.add_scatter(
            x=[moments[0], moments[-1]],
            y=[owned, owned],
            mode="lines",
            line={"width": 2, "color": look.series[1], "dash": DASHES[1]},
            name="owned",
            hovertext=[f"{owned} owned"] * 2,
            hoverinfo="text",
        )
        figure.update_yaxes(range=[0, owned * 1.12 + 0.3], **whole_ticks(owned))
        figure.update_xaxes(range=[moments[0], moments[-1]])
        shade_closed(figure, closed[closed["since"] < moments[-1]], look)
    figure.update_xaxes(title_text="date", type="date", tickformat="%d %b<br>%Y", nticks=6, tickangle=0)
    figure.update_yaxes(title_text=f"{'spots' if thing == 'rack' else thing + 's'} in use")
    return finish(figure, 250, notes=note)
