"""Where the time goes: what every task waited for, and the elapsed time of every piece by cause.

Worked out from a record after the run. For a piece, walk back from its finish along
the tasks that set it; every moment since its batch opened gets exactly one label, so
the parts sum to the whole. A wait is cut at every instant at which anything changes,
and each slice goes to the first true cause in the order of CAUSES. A slice with no true
cause would be a fault of the engine (somebody idle, everything free, a task waiting);
it is labelled UNEXPLAINED, and the laws of a record forbid it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shopsim.engine.history import History

HANDS_ON, IN_CLAMPS, CURING = "hands-on", "in clamps", "curing"
MATERIAL, CLOSED, CLAMPS, RACK, STATION = "material", "shop closed", "clamps", "rack", "station"
WET, WORKER, NO_FIT, MATES = "wet finish", "worker", "does not fit before closing", "batch-mates"
UNEXPLAINED = "unexplained"
#: Of the whole run only: the batch may not open yet, because of dates.
NOT_OPEN = "batch not open yet"
#: Hold-ups in the order in which the first true one is taken.
CAUSES = (MATERIAL, CLOSED, CLAMPS, RACK, STATION, WET, WORKER, NO_FIT, MATES)


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


def split_wait(history: History, task: int, since: float, until: float) -> list[tuple[str, str, float, float]]:
    """What a task waited for between two moments, as (cause, detail, since, until) in order of time."""
    if until <= since:
        return []
    instants = history.instants
    inner = instants[np.searchsorted(instants, since, "right") : np.searchsorted(instants, until, "left")]
    left = np.concatenate(([since], inner))
    right = np.concatenate((inner, [until]))
    cause = np.full(left.size, -1)
    details: list[tuple[str, str]] = []

    def give(true: np.ndarray, name: str, detail: str = "") -> None:
        details.append((name, detail))
        cause[(cause < 0) & true] = len(details) - 1

    work = history.work
    n = work.task_step[task]
    step = work.steps[n]
    for material in work.materials_of(task):
        give(left < history.draws.material_at[material], MATERIAL, work.scenario.materials[material].name)
    hands = step.operation.hands
    if hands:
        give(history.shop_open.at(left) == 0, CLOSED)
    for detail, short in _short_of_clamps(history, n, left):
        give(short, CLAMPS, detail)
    if step.rack >= 0:
        needed = step.spots_a_unit * work.task_units[task]
        give(history.spots_free[step.rack].at(left) < needed, RACK, work.rack_names[step.rack])
    if step.station >= 0:
        give(history.units_free[step.station].at(left) < 1, STATION, work.station_names[step.station])
    if step.operation.dusty:
        give(history.wet.at(left) > 0, WET)
    if step.operation.wet is not None:
        give(history.dusty.at(left) > 0, WET)
    if hands:
        free = [(history.workers_here[w].at(left) > 0) & (history.workers_busy[w].at(left) == 0) for w in step.workers]
        give(sum(there.astype(np.int64) for there in free) < hands, WORKER)
        if not step.pausable and (cause < 0).any():
            no_fit = np.zeros(left.size, dtype=bool)
            for place in np.flatnonzero(cause < 0):
                no_fit[place] = not _fits(history, task, float(left[place]), [bool(there[place]) for there in free])
            give(no_fit, NO_FIT)
    details.append((UNEXPLAINED, ""))
    return [
        (*details[c], float(a), float(b)) for c, a, b in zip(cause.tolist(), left.tolist(), right.tolist(), strict=True)
    ]


def _short_of_clamps(history: History, n: int, left: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """For each need of a step: the smallest kind that serves it, and when it could not be had.

    Needs by name come first; those by reach follow from the longest, so that each may use
    what the longer ones leave.
    """
    work = history.work
    before: list[tuple[tuple[int, ...], int]] = []
    for kinds, count in work.steps[n].clamps:
        free = sum((history.clamps_free[kind].at(left) for kind in kinds), np.zeros(left.size, dtype=np.int64))
        taken = sum(other for theirs, other in before if set(theirs) <= set(kinds))
        before.append((kinds, count))
        yield work.clamp_names[kinds[0]], free - taken < count


def _fits(history: History, task: int, now: float, free: list[bool]) -> bool:
    """Whether enough free workers could finish the task's likely time before they close."""
    work = history.work
    n = work.task_step[task]
    step = work.steps[n]
    was_set = history.is_set(n, now) if step.station >= 0 else history.first_start[n, work.task_batch[task]] < now
    likely = step.operation.work.likely * work.task_units[task] + (0.0 if was_set else step.operation.setup.likely)
    fitting = 0
    for worker, there in zip(step.workers, free, strict=True):
        if there:
            curve = history.hours[history.plan.worker_hours[worker]]
            curve.at = 0
            curve.seek(now)
            fitting += now + likely <= curve.close[curve.at]
    return fitting >= step.operation.hands


def account_task(history: History, task: int) -> list[tuple[str, str, float, float]]:
    """One task from ready to done as (part, detail, since, until), without gaps, in order of time."""
    record = history.record
    ready, start, end, done = (float(column[task]) for column in (record.ready, record.start, record.end, record.done))
    parts = split_wait(history, task, ready, start)
    parts += _account_hands_on(history, task, start, end)
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
            parts += _account_hands_on(history, task, begun, off, int(record.unclamp_worker[task]))
    elif done > due:
        parts.append((CURING, "", due, done))
    return parts


def _cut(history: History, since: float, until: float) -> Iterator[tuple[float, float]]:
    if until > since:
        times = history.shop_open.times
        inner = times[np.searchsorted(times, since, "right") : np.searchsorted(times, until, "left")].tolist()
        yield from zip([since, *inner], [*inner, until], strict=True)


def _account_hands_on(
    history: History, task: int, since: float, until: float, unclamper: int = -1
) -> list[tuple[str, str, float, float]]:
    """The time from start to end of hands-on work: work, and the pauses in it."""
    if until <= since:
        return []
    work, record = history.work, history.record
    step = work.steps[work.task_step[task]]
    if unclamper < 0 and step.operation.hands == 0:
        return [(CURING, "", since, until)]
    if unclamper < 0 and not step.pausable:
        return [(HANDS_ON, "", since, until)]
    workers = [unclamper] if unclamper >= 0 else [w for w in step.workers if int(record.workers[task]) >> w & 1]
    spans = [(since, until)]
    if unclamper < 0 and task in record.pauses:
        spans = record.pauses[task]
    for worker in workers:
        curve = history.hours[history.plan.worker_hours[worker]]
        spans = [(max(a, s), min(b, e)) for s, e in spans for a, b, _ in curve.pieces(s, e) if max(a, s) < min(b, e)]
    parts: list[tuple[str, str, float, float]] = []
    at = since
    for a, b in [*spans, (until, until)]:
        for gap_since, gap_until in _cut(history, at, a):
            closed = not history.shop_open.at(np.array([gap_since]))[0]
            parts.append((CLOSED if closed else WORKER, "", gap_since, gap_until))
        if b > a:
            parts.append((HANDS_ON, "", a, b))
        at = max(at, b)
    return parts


def account_piece(history: History, piece: int) -> list[Slice]:
    """The elapsed time of one piece since its batch opened, along the chain that set its finish; latest slice first."""
    work, record = history.work, history.record
    batch = work.piece_batch[piece]
    opened = float(record.batch_opened[batch])
    task = _last_task(history, piece)
    slices: list[Slice] = []
    while True:
        for part, detail, since, until in reversed(account_task(history, task)):
            if until > opened:
                slices.append(Slice(piece, task, part, detail, max(since, opened), until))
        ready = float(record.ready[task])
        if ready <= opened:
            return slices
        before = [
            member
            for group in work.task_prior[task]
            for member in work.group_members[group]
            if work.covers(member, piece)
        ]
        if not before:  # it waited only for batch-mates that have more to do
            slices.append(Slice(piece, task, MATES, "", opened, ready))
            return slices
        last = max(before, key=lambda member: (float(record.done[member]), -member))
        reached = max(float(record.done[last]), opened)
        if ready > reached:
            slices.append(Slice(piece, task, MATES, "", reached, ready))
        if reached <= opened:
            return slices
        task = last


def account_run(history: History) -> list[Slice]:
    """The time from minute 0 to the end of the last piece, along the chain that set it; latest slice first.

    Where a batch could only open when an earlier one was done, the chain goes on with that one's last piece;
    before the first batch of the chain all time is NOT_OPEN.
    """
    record, pieces_of = history.record, history.work.piece_batch
    finished = np.array([float(record.done[_last_task(history, piece)]) for piece in range(history.work.n_pieces)])
    batch_of = np.asarray(pieces_of)
    piece = int(finished.argmax())
    slices: list[Slice] = []
    while True:
        slices += account_piece(history, piece)
        opened = float(record.batch_opened[batch_of[piece]])
        if opened <= 0.0:
            return slices
        before = np.flatnonzero((record.batch_done == opened) & (record.batch_opened < opened))
        if not before.size:
            slices.append(Slice(piece, slices[-1].task if slices else 0, NOT_OPEN, "", 0.0, opened))
            return slices
        members = np.flatnonzero(batch_of == before[-1])
        piece = int(members[finished[members].argmax()])


def _last_task(history: History, piece: int) -> int:
    """The task that finishes a piece, those of its whole batch and run included."""
    return max(history.tasks_of[piece], key=lambda task: (float(history.record.done[task]), -task))
