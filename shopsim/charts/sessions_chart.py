"""The sessions of a run: open hours only, a column a day and a strip a week, who is at work, what is in clamps, what opens and ships."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import bar_look, escape_text, finish, new_figure
from shopsim.charts.theme import find_theme, mark_for
from shopsim.dates import DAY_NAMES

#: Weeks and people that are drawn before the rest is left out.
MAX_WEEKS, MAX_PEOPLE = 30, 6
#: How much of its column a session takes; the rest is the night after it.
_WIDE = 0.88
#: States of hands, and that of clamps, as they are drawn.
_HANDS, _CLAMPS, _TIE = ("hands-on", "taking clamps off"), "in clamps", "in clamps overnight"
_Bars = list[tuple[float, float, float, str]]


@dataclass(frozen=True)
class _Session:
    """One day on which something can be done: its ``column``, its ``week``, and its ``hours`` as pairs of moments."""

    column: int
    week: int
    hours: tuple[tuple[pd.Timestamp, pd.Timestamp], ...]

    def place(self, at: pd.Timestamp) -> float:
        """Where a moment stands in the column, 0 at opening to 1 at closing; closed hours take no room."""
        total = sum((until - since).total_seconds() for since, until in self.hours)
        gone = sum(max(0.0, (min(at, until) - since).total_seconds()) for since, until in self.hours)
        return gone / total if total > 0 else 0.0


def build_sessions(
    spans: pd.DataFrame, closed: pd.DataFrame, pieces: pd.DataFrame, theme: str = "light"
) -> go.Figure | None:
    """A run by sessions. ``spans``, ``closed``: those of ``list_spans`` and ``list_closed``; ``pieces``: of a run, for ``ships``.

    None where nobody does anything. A note in the figure says what is left out.
    """
    hands = spans[spans["state"].isin(_HANDS)]
    if hands.empty:
        return None
    ships = pieces["ships"].dropna().dt.date.value_counts()
    sessions = _list_sessions(hands, closed, set(ships.index))
    first = min(sessions)
    monday = first - dt.timedelta(days=first.weekday())
    people = list(dict.fromkeys(name for cell in hands["worker"] for name in str(cell).split(" + ") if name))
    lanes = [*people[:MAX_PEOPLE], "clamps"]
    tall = len(lanes) + 1.9
    look = find_theme(theme)
    figure = new_figure(
        look,
        "The weeks, session by session",
        "Each strip is a week and each column a day, as wide as its open hours: a bar is who works with their hands, the lowest row "
        "what is in clamps; a band from one column into the next stays in clamps overnight.",
    )
    drawn = {day: one for day, one in sessions.items() if one.week < MAX_WEEKS}
    for state in _HANDS:
        bars = []
        for row in hands[hands["state"] == state].to_dict("records"):
            session = drawn.get(row["since"].date())
            for name in str(row["worker"]).split(" + ") if session is not None else ():
                if session is not None and name in lanes[:-1]:
                    start, end = session.place(row["since"]), session.place(row["until"])
                    y = session.week * tall + 1.4 + lanes.index(name)
                    bars.append(
                        (session.column + _WIDE * start, _WIDE * (end - start), y, f"{name}: {row['operation']}")
                    )
        _add_bars(figure, bars, state, look)
    held = spans[spans["state"] == _CLAMPS]
    bars, ties = [], []
    for row in held.to_dict("records"):
        for session, start, end, stays in _cross(drawn, row["since"], row["until"]):
            y = session.week * tall + 1.4 + len(lanes) - 1
            bars.append((session.column + _WIDE * start, _WIDE * (end - start), y, f"in clamps: {row['operation']}"))
            if stays:
                ties.append((session.column + _WIDE, 1 - _WIDE, y, f"overnight in clamps: {row['operation']}"))
    _add_bars(figure, bars, _CLAMPS, look)
    _add_bars(figure, ties, _TIE, look)
    opens = spans[spans["batch"].notna()].groupby("batch")["since"].min().dt.date
    for day, session in drawn.items():
        batches = [str(batch) for batch, since in opens.items() if since == day]
        said = [f"<b>{DAY_NAMES[day.weekday()].capitalize()} {day.day}</b>"]
        said += [f"opens {', '.join(batches)}"] if batches else []
        said += [f"ships {ships[day]}"] if day in ships.index else []
        figure.add_annotation(
            x=session.column, y=session.week * tall - 0.35, text="<br>".join(said), showarrow=False, xanchor="left",
            yanchor="top", align="left", font={"size": 10, "color": look.text},
        )  # fmt: skip
    n_weeks = 1 + max(one.week for one in sessions.values())
    shown = min(n_weeks, MAX_WEEKS)
    ticks = [
        (week * tall + 1.4 + lane, escape_text(name if len(name) <= 9 else f"{name[:8]}…"))
        for week in range(shown) for lane, name in enumerate(lanes)
    ] + [(week * tall, f"<b>{monday + dt.timedelta(weeks=week):%d %b}</b>") for week in range(shown)]  # fmt: skip
    columns = 1 + max(one.column for one in sessions.values())
    figure.update_layout(barmode="overlay")
    figure.update_xaxes(range=[-0.03, columns], showticklabels=False, ticks="", showgrid=False, fixedrange=True)
    figure.update_yaxes(
        tickmode="array", tickvals=[at for at, _ in ticks], ticktext=[text for _, text in ticks], ticks="",
        range=[shown * tall - 0.3, -0.6], showgrid=False, fixedrange=True,
    )  # fmt: skip
    notes = [f"The first {MAX_WEEKS} of {n_weeks} weeks."] if n_weeks > MAX_WEEKS else []
    notes += [f"The first {MAX_PEOPLE} of {len(people)} people."] if len(people) > MAX_PEOPLE else []
    return finish(figure, 25 * tall * shown, left_px=64, axis_px=24, notes=" ".join(notes))


def _list_sessions(hands: pd.DataFrame, closed: pd.DataFrame, ships: set[dt.date]) -> dict[dt.date, _Session]:
    """Days with open hours, work or shipping, from the first work to the last work or shipping; a column for each weekday that occurs."""
    first, last = hands["since"].min(), hands["until"].max()
    gaps: dict[dt.date, list[tuple[pd.Timestamp, pd.Timestamp]]] = {}
    at = first.normalize()
    end = last.normalize() + pd.Timedelta(days=1)
    edges = [*zip(closed["since"], closed["until"], strict=True), (end, end)]
    for since, until in edges:
        while at < since:  # open until the next closing, cut at midnights
            stop = min(since, at.normalize() + pd.Timedelta(days=1))
            gaps.setdefault(at.date(), []).append((at, stop))
            at = stop
        at = max(at, until)
    for row in hands.to_dict("records"):
        if row["since"].date() not in gaps:
            gaps[row["since"].date()] = [(row["since"], row["until"])]
    days = sorted({*gaps, *(day for day in ships if day >= first.date())})
    weekdays = sorted({day.weekday() for day in days})
    monday = days[0] - dt.timedelta(days=days[0].weekday())
    return {
        day: _Session(weekdays.index(day.weekday()), (day - monday).days // 7, tuple(gaps.get(day, ()))) for day in days
    }


def _cross(
    sessions: dict[dt.date, _Session], since: pd.Timestamp, until: pd.Timestamp
) -> Iterator[tuple[_Session, float, float, bool]]:
    """The sessions that a stay in clamps touches: from and to where, and whether it stays there after that day."""
    for day, session in sessions.items():
        if since.date() <= day <= until.date():
            start = session.place(since) if day == since.date() else 0.0
            stays = day < until.date()
            yield session, start, 1.0 if stays else session.place(until), stays


def _add_bars(figure: go.Figure, bars: _Bars, state: str, look: Any) -> None:
    if bars:
        figure.add_bar(
            orientation="h", base=[bar[0] for bar in bars], x=[bar[1] for bar in bars], y=[bar[2] for bar in bars],
            width=0.34 if state == _TIE else 0.74, marker=bar_look(look, mark_for(_CLAMPS if state == _TIE else state)), name=state,
            hovertext=[escape_text(bar[3]) for bar in bars], hoverinfo="text", textposition="none",
        )  # fmt: skip
