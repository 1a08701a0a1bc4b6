"""Where the time goes: what every task waited for, and the elapsed time of every piece by cause.

Worked out from a record after the run. For a piece, walk back from its finish along
the tasks that set it; every moment since its batch opened gets exactly one label, so
the parts sum to the whole. What a task waited for is worked out in waits.py.

``account_`` gives every slice of time, ``sum_`` only the minutes of each part, which stays
quick however often the cause of a long wait changes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from shopsim.engine.history import History, Stretch
from shopsim.engine.pieces import piece_made
from shopsim.engine.waits import (
    CLAMPS,
    CLOSED,
    MATERIAL,
    NO_FIT,
    PLANNED,
    RACK,
    STATION,
    UNEXPLAINED,
    WET,
    WORKER,
    split_wait,
    sum_wait,
)

#: Waiting for other pieces of the batch that have more to do.
MATES = "batch-mates"
HANDS_ON, IN_CLAMPS, CURING = "hands-on", "in clamps", "curing"
#: Of the whole run only: the batch may not open yet, because of dates.
NOT_OPEN = "batch not open yet"
#: Hold-ups in the order in which the first true one is taken.
CAUSES = (MATERIAL, CLOSED, CLAMPS, RACK, STATION, WET, WORKER, NO_FIT, PLANNED, MATES)


@dataclass(frozen=True)
class Slice:
    """A stretch of a piece's elapsed time: ``since``..``until`` minutes, spent on or before ``task``.

    ``part``: HANDS_ON, IN_CLAMPS, CURING or one of CAUSES; ``detail``: which clamp kind,
    rack, station or material, else "".
    """

    piece: int
    task: int
    part: str
    detail: str
    since: float
    until: float

    @property
    def minutes(self) -> float:
        """How long it is."""
        return self.until - self.since


def account_task(history: History, task: int) -> list[tuple[str, str, float, float]]:
    """One task from ready to done as (part, detail, since, until), without gaps, in order of time."""
    ready, start = float(history.record.ready[task]), float(history.record.start[task])
    return [*split_wait(history, task, ready, start), *_account_from_start(history, task)]


def sum_task(history: History, task: int) -> list[tuple[str, str, float]]:
    """Its minutes by (part, detail), in the order in which each part first comes."""
    ready, start = float(history.record.ready[task]), float(history.record.start[task])
    return _add_up([*sum_wait(history, task, ready, start), *_minutes(_account_from_start(history, task))])


def _minutes(parts: Iterable[tuple[str, str, float, float]]) -> Iterator[tuple[str, str, float]]:
    return ((part, detail, until - since) for part, detail, since, until in parts)


def _add_up(parts: Iterable[tuple[str, str, float]]) -> list[tuple[str, str, float]]:
    total: dict[tuple[str, str], float] = {}
    for part, detail, minutes in parts:
        total[part, detail] = total.get((part, detail), 0.0) + minutes
    return [(*key, minutes) for key, minutes in total.items()]


def _account_from_start(history: History, task: int) -> list[tuple[str, str, float, float]]:
    """One task from its start to done."""
    record = history.record
    start, end, done = (float(column[task]) for column in (record.start, record.end, record.done))
    if record.workers[task]:
        parts = _account_hands_on(history, history.hands_on(task), start, end)
    else:
        parts = [(CURING, "", start, end)] if end > start else []
    off = float(record.clamps_off[task])
    if np.isnan(off):
        return [*parts, (CURING, "", end, done)] if done > end else parts
    due = min(end + history.draws.in_clamps[task], done)
    if due > end:
        parts.append((IN_CLAMPS, "", end, due))
    if off >= done:
        begun = float(record.unclamp_start[task])
        if np.isnan(begun):
            begun = off
        for since, until in _cut(history, due, begun):
            closed = not history.shop_open.at(np.array([since]))[0]
            parts.append((CLOSED if closed else WORKER, "", since, until))
        if off > begun:
            parts += _account_hands_on(history, history.unclamping(task), begun, off)
    elif done > due:
        parts.append((CURING, "", due, done))
    return parts


def _cut(history: History, since: float, until: float) -> Iterator[tuple[float, float]]:
    if until > since:
        times = history.shop_open.times
        inner = times[np.searchsorted(times, since, "right") : np.searchsorted(times, until, "left")].tolist()
        yield from zip([since, *inner], [*inner, until], strict=True)


def _account_hands_on(
    history: History, stretches: list[Stretch], since: float, until: float
) -> list[tuple[str, str, float, float]]:
    """The time from start to end of hands-on work: work in its stretches, and the pauses between them."""
    parts: list[tuple[str, str, float, float]] = []
    at = since
    for a, b, _ in [*stretches, (until, until, 0)]:
        for gap_since, gap_until in _cut(history, at, a):
            closed = not history.shop_open.at(np.array([gap_since]))[0]
            parts.append((CLOSED if closed else WORKER, "", gap_since, gap_until))
        if b > a:
            parts.append((HANDS_ON, "", a, b))
        at = max(at, b)
    return parts


def _chain(history: History, piece: int, task: int) -> Iterator[tuple[int, float, float]]:
    """The tasks of a piece that set when one of them is done, that one first: (task, ready, when the one before it was done)."""
    work, record = history.work, history.record
    opened = float(record.batch_opened[work.piece_batch[piece]])
    while True:
        ready = float(record.ready[task])
        before = [
            member for group in work.task_prior.row(task).tolist() for member in history.members_for(group, piece)
        ] if ready > opened else []  # fmt: skip
        if not before:  # ready when the batch opened, or it waited only for batch-mates that have more to do
            yield task, ready, opened
            return
        last = max(before, key=lambda member: (float(record.done[member]), -member))
        reached = max(float(record.done[last]), opened)
        yield task, ready, reached
        if reached <= opened:
            return
        task = last


def account_piece(history: History, piece: int, *, made: bool = False) -> list[Slice]:
    """The elapsed time of one piece since its batch opened, along the chain that set its finish; latest slice first.

    ``made``: until it is no longer under way, without standing and packing.
    """
    last = history.last_task_of_design(piece) if made else history.last_task(piece)
    opened = float(history.record.batch_opened[history.work.piece_batch[piece]])
    slices: list[Slice] = []
    for task, ready, reached in _chain(history, piece, last):
        for part, detail, since, until in reversed(account_task(history, task)):
            if until > opened:
                slices.append(Slice(piece, task, part, detail, max(since, opened), until))
        if ready > reached:
            slices.append(Slice(piece, task, MATES, "", reached, ready))
    return slices


def sum_piece(history: History, piece: int) -> list[tuple[int, str, str, float]]:
    """The time of a piece in minutes, as (task, part, detail, minutes), tasks from the first on."""
    opened = float(history.record.batch_opened[history.work.piece_batch[piece]])
    found: list[tuple[int, str, str, float]] = []
    for task, ready, reached in reversed(list(_chain(history, piece, history.last_task(piece)))):
        if ready > reached:
            found.append((task, MATES, "", ready - reached))
        if ready >= opened:
            found += [(task, *part) for part in sum_task(history, task)]
        else:  # work for the whole run that began before this batch opened
            late = [
                (part, detail, max(since, opened), until)
                for part, detail, since, until in account_task(history, task)
                if until > opened
            ]
            found += [(task, *part) for part in _add_up(_minutes(late))]
    return found


def account_run(history: History) -> list[Slice]:
    """The time from minute 0 to the end of the last piece, along the chain that set it; latest slice first.

    Where a batch could only open when there was room for it, the chain goes on with the piece that made room,
    up to when it did; before the first batch of the chain all time is NOT_OPEN.
    """
    record, work = history.record, history.work
    finished = [float(record.done[history.last_task(piece)]) for piece in range(work.n_pieces)]
    made, batch_opened = piece_made(work, record), record.batch_opened[np.asarray(work.piece_batch)]
    piece = int(np.argmax(finished))
    slices = account_piece(history, piece)
    while True:
        opened = float(batch_opened[piece])
        if opened <= 0.0:
            return slices
        before = np.flatnonzero((made == opened) & (batch_opened < opened))
        if not before.size:
            slices.append(Slice(piece, slices[-1].task if slices else 0, NOT_OPEN, "", 0.0, opened))
            return slices
        piece = int(before[-1])
        slices += account_piece(history, piece, made=True)


__all__ = [
    "CAUSES",
    "CLAMPS",
    "CLOSED",
    "CURING",
    "HANDS_ON",
    "IN_CLAMPS",
    "MATERIAL",
    "MATES",
    "NOT_OPEN",
    "NO_FIT",
    "PLANNED",
    "RACK",
    "STATION",
    "UNEXPLAINED",
    "WET",
    "WORKER",
    "Slice",
    "account_piece",
    "account_run",
    "account_task",
    "sum_piece",
    "sum_task",
]
