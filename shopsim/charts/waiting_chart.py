"""Where the elapsed time of pieces went, by cause."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, finish, new_figure
from shopsim.charts.theme import MARKS, find_theme, mark_for
from shopsim.say import say_number
from shopsim.units import MINUTES_PER_DAY

#: Bars that still can be read; with more pieces than that their batches are drawn.
MAX_BARS = 60
#: Share of all time under which causes are drawn together, and what they are then called.
MIN_SHARE, OTHER = 0.01, "other causes"


def build_waiting(holdups: pd.DataFrame, by: str = "piece", theme: str = "light") -> go.Figure:
    """The elapsed time of every piece (or, on average, of the pieces of a batch) split by cause.

    ``holdups``: the table ``Run.holdups``: ``piece``, ``batch``, ``part``, ``detail``, ``minutes``.
    ``by``: "piece" or "batch". With more than 60 pieces batches are drawn, of more than 60
    batches the first 60; a note in the figure says so. Bars of a piece add up to its elapsed days.
    """
    look = find_theme(theme)
    notes = []
    n_pieces = holdups["piece"].nunique()
    if by == "piece" and n_pieces > MAX_BARS:
        by = "batch"
        notes.append(f"{n_pieces:,} pieces are too many bars: drawn by batch, the average of its pieces.")
    figure = new_figure(
        look,
        f"Where the time of each {by} goes",
        "Each bar is the time from the opening of the batch to the finished piece, in days: solid is hands-on, the "
        "rest is glue, finish and waiting, each wait under the first thing that was missing.",
    )
    members = holdups.groupby(by)["piece"].nunique()
    shown = list(members.index)
    if len(shown) > MAX_BARS:
        notes.append(f"The first {MAX_BARS} of {len(shown):,}.")
        shown = shown[:MAX_BARS]
    rows = holdups[holdups[by].isin(shown)]
    rows = _fold_small(rows)
    if OTHER in set(rows["part"]):
        notes.append("Causes of less than 1 % each are drawn together.")
    known = [part for part in MARKS if part in set(rows["part"])]
    for part in [*known, *sorted(set(rows["part"]) - set(known))]:
        mine = rows[rows["part"] == part]
        days = mine.groupby(by)["minutes"].sum() / (members * MINUTES_PER_DAY)
        days = days.dropna()
        details = {
            key: ", ".join(
                f"{escape_text(detail)} {say_number(minutes / MINUTES_PER_DAY / members[key], 1)} d"
                for detail, minutes in group.groupby("detail")["minutes"].sum().sort_values(ascending=False).items()
                if detail
            )
            for key, group in mine.groupby(by)
        }
        figure.add_bar(
            orientation="h",
            y=days.index,
            x=days,
            width=0.75,
            marker=bar_look(look, mark_for(part)),
            name=part,
            hovertext=[
                f"{by} {key}: {part}<br>{say_number(value, 2)} days" + (f"<br>{details[key]}" if details[key] else "")
                for key, value in days.items()
            ],
            hoverinfo="text",
            textposition="none",
        )
    figure.update_layout(barmode="stack")
    figure.update_xaxes(title_text="days since its batch opened" if by == "piece" else "days, average of its pieces")
    figure.update_yaxes(
        title_text=by,
        autorange="reversed",
        tickformat=",d",
        nticks=20,
        showgrid=False,
        dtick=1 if len(shown) < 21 else None,
    )
    return finish(figure, max(110, 26 * len(shown)) if len(shown) <= 30 else 16 * len(shown), notes=" ".join(notes))


def _fold_small(rows: pd.DataFrame) -> pd.DataFrame:
    """Causes that come to less than one per cent of all time, together as one; their names become the details."""
    shares = rows.groupby("part")["minutes"].sum() / max(float(rows["minutes"].sum()), 1e-9)
    small = [part for part, share in shares.items() if share < MIN_SHARE and part not in ("hands-on", "in clamps")]
    if len(small) < 2:
        return rows
    folded = rows["part"].isin(small)
    return rows.assign(detail=rows["detail"].where(~folded, rows["part"]), part=rows["part"].where(~folded, OTHER))


def build_waiting_by_piece(times: pd.DataFrame, theme: str = "light") -> go.Figure:
    """``build_waiting`` of the pieces."""
    return build_waiting(times, "piece", theme)
