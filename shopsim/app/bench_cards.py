"""What is under way and what is next on the bench, each with its buttons; a tap is a row of the log."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import streamlit as st

from shopsim.answers.bench_choices import find_waiting
from shopsim.answers.bench_list import (
    BEGIN,
    CLAMPED,
    CURING,
    HALF,
    IN_HAND,
    InWork,
    ToDo,
    find_next,
    find_under_way,
    pieces_of,
)
from shopsim.answers.new_rows import Cells, rows_of
from shopsim.app.bench_log import write_rows
from shopsim.app.bench_moment import let_go
from shopsim.app.markdown_text import escape_markdown
from shopsim.dates import day_number, moment
from shopsim.engine.record import RunRecord
from shopsim.say import say_day, say_number
from shopsim.scenario.cautions import join_cautions
from shopsim.scenario.happenings import BEGUN, CLAMPS_OFF, DONE, PAUSED, SPOILED
from shopsim.study.going_on import GoingOn

#: Cards that stand open on the page; more are folded away.
MAX_NEXT, MAX_UNDER_WAY = 3, 6
#: Pieces that are chosen from buttons; more from a list.
MAX_PILLS = 40


@dataclass(frozen=True, eq=False)
class Bench:
    """The run as it stands at the moment of the next tap. ``record``: gone on with at likely times. ``when``: of the next tap, None
    means now; ``worker``: who taps, "" where nobody is named; ``mark``: of this state of the log, for which alone its buttons are."""

    going: GoingOn
    record: RunRecord
    when: dt.datetime | None
    worker: str
    mark: str

    def button(self, label: str, rows: Sequence[Cells], key: str, main: bool = False, disabled: bool = False) -> None:
        """A large button that writes rows."""
        tap = f"{key} {label} {self.mark}"
        if self.worker:
            rows = [{**row, "worker": self.worker} if row["what"] in (BEGUN, PAUSED, DONE) else row for row in rows]
        st.button(
            label, key=tap, type="primary" if main else "secondary", width="stretch", disabled=disabled,
            on_click=_tap, args=(tap, rows, self.when),
        )  # fmt: skip

    def buttons(self, labels: Mapping[str, Sequence[Cells]], key: str) -> None:
        """Buttons beside each other, on a phone below each other, the first one foremost."""
        for number, (place, (label, rows)) in enumerate(zip(st.columns(len(labels)), labels.items(), strict=True)):
            with place:
                self.button(label, rows, key, main=number == 0)


def _tap(tap: str, rows: Sequence[Cells], when: dt.datetime | None) -> None:
    write_rows(tap, rows, when)
    let_go()


def draw_under_way(bench: Bench) -> None:
    """What has begun and is not over."""
    found = find_under_way(bench.going, bench.record)
    at_work = [one for one in found if one.state != CURING]
    if at_work:
        st.header("Under way", anchor=False)
        for number, one in enumerate(at_work[:MAX_UNDER_WAY]):
            _draw_in_work(bench, one, f"way {number}")
        if len(at_work) > MAX_UNDER_WAY:
            with st.expander(f"More under way ({len(at_work) - MAX_UNDER_WAY})"):
                for number, one in enumerate(at_work[MAX_UNDER_WAY:]):
                    _draw_in_work(bench, one, f"more way {number}", whole=True)
    curing = [one for one in found if one.state == CURING]
    if curing:
        with st.expander(f"Curing or drying ({len(curing)})"):
            for one in curing:
                over = moment(one.over, bench.going.plan.worklist.day0)
                st.markdown(f"{_say_tasks(bench, one.tasks)}; likely until {over:%a %d %b %H:%M}")


def _draw_in_work(bench: Bench, one: InWork, key: str, whole: bool = False) -> None:
    work = bench.going.plan.worklist
    since = moment(one.since, work.day0)
    with st.container(border=True):
        st.markdown(_say_tasks(bench, one.tasks))
        if one.state == CLAMPED:
            off = moment(one.over, work.day0)
            st.markdown(f"In clamps since {since:%a %H:%M}; they may come off from about {off:%a %H:%M}.")
            bench.buttons({"Clamps are off": rows_of(work, one.tasks, CLAMPS_OFF)}, key)
            return
        done = {"Done": rows_of(work, one.tasks, DONE)}
        if one.state == IN_HAND:
            st.markdown(f"In hand; begun {since:%a %H:%M}, {say_number(one.minutes)} min so far.")
            bench.buttons({**done, "Pause": rows_of(work, one.tasks, PAUSED)}, key)
        else:
            assert one.state == HALF
            st.markdown(f"Half done and resting; begun {since:%a %H:%M}, {say_number(one.minutes)} min so far.")
            bench.buttons({"Go on": rows_of(work, one.tasks, BEGUN), **done}, key)
        if not whole:
            _draw_some(bench, one, key)


def _draw_some(bench: Bench, one: InWork, key: str) -> None:
    """Some of the pieces in hand are done, or spoiled."""
    work = bench.going.plan.worklist
    pieces = sorted({work.task_piece[task] for task in one.tasks} - {-1})
    if not pieces:
        return
    with st.expander("Only some of it, or spoiled"):
        chosen = choose_pieces("Which pieces", pieces, f"{key} some {bench.mark}", pieces if len(pieces) == 1 else [])
        tasks = [task for task in one.tasks if work.task_piece[task] in chosen]
        for place, (label, what) in zip(
            st.columns(2), {"These are done": DONE, "These are spoiled": SPOILED}.items(), strict=True
        ):
            with place:
                bench.button(label, rows_of(work, tasks, what) if tasks else [], key, disabled=not tasks)


def choose_pieces(label: str, pieces: Sequence[int], key: str, first: Sequence[int] = ()) -> list[int]:
    """Pieces, from 0, chosen by taps."""
    said = {piece: str(piece + 1) for piece in pieces}
    if len(pieces) <= MAX_PILLS:
        chosen = st.pills(
            label, list(pieces), selection_mode="multi", default=list(first), format_func=said.__getitem__, key=key
        )
    else:
        chosen = st.multiselect(label, list(pieces), list(first), format_func=said.__getitem__, key=key)
    return list(chosen)


def draw_next(bench: Bench) -> None:
    """What is to be begun next, the day's first work foremost."""
    work = bench.going.plan.worklist
    told = [one for one in find_next(bench.going, bench.record) if one.do == BEGIN]
    if not told:
        st.header("Next on the bench", anchor=False)
        st.write("Nothing is left to be begun by hand.")
        return
    first = moment(told[0].since, work.day0)
    st.header(f"Next on the bench, {say_day(first.date(), weekday=True)}", anchor=False)
    told = _split([one for one in told if day_number(one.since) == day_number(told[0].since)], bench.going)
    for number, one in enumerate(told[:MAX_NEXT]):
        _draw_to_do(bench, one, f"next {number}")
    if len(told) > MAX_NEXT:
        with st.expander(f"Later that day ({len(told) - MAX_NEXT})"):
            for number, one in enumerate(told[MAX_NEXT:]):
                _draw_to_do(bench, one, f"later {number}")


def _split(told: Sequence[ToDo], going: GoingOn) -> list[ToDo]:
    """Work apart that can be begun at once, and that comes after something which is not done, so that a tap is not refused."""
    waiting = find_waiting(going, (task for one in told for task in one.tasks))
    parts: list[ToDo] = []
    for one in told:
        for waits in (False, True):
            tasks = tuple(task for task in one.tasks if (task in waiting) == waits)
            share = len(tasks) / len(one.tasks)
            parts += [replace(one, tasks=tasks, minutes=share * one.minutes)] if tasks else []
    return parts


def _draw_to_do(bench: Bench, one: ToDo, key: str) -> None:
    work = bench.going.plan.worklist
    step = work.steps[work.task_step[one.tasks[0]]]
    with st.container(border=True):
        st.markdown(_say_tasks(bench, one.tasks))
        who = " + ".join(name for n, name in enumerate(work.worker_names) if one.crew >> n & 1)
        by = f", {who}" if len(work.worker_names) > 1 else ""
        where = f", {work.station_names[step.station]}" if step.station >= 0 else ""
        st.markdown(
            escape_markdown(f"About {moment(one.since, work.day0):%H:%M}, {say_number(one.minutes)} min{by}{where}.")
        )
        caution = join_cautions(step.operation.caution)
        if caution:
            st.caption(escape_markdown(f"Caution: {caution}"))
        bench.buttons({"Begin": rows_of(work, one.tasks, BEGUN), "Done already": rows_of(work, one.tasks, DONE)}, key)


def _say_tasks(bench: Bench, tasks: Sequence[int]) -> str:
    """Work of one operation and batch, for the head of a card."""
    work = bench.going.plan.worklist
    pieces = pieces_of(work, tasks)
    name = work.steps[work.task_step[tasks[0]]].operation.name
    batch = f"batch {work.task_batch[tasks[0]] + 1}" + (f", pieces {pieces}" if pieces else "")
    return f"**{escape_markdown(name)}**, {escape_markdown(batch)}"
