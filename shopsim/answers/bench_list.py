"""What is next on the bench, and what is under way there: read from the run gone on with from now at likely times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from shopsim.answers.logged_run import say_moment
from shopsim.dates import day_number, moment
from shopsim.engine.record import RunRecord
from shopsim.engine.worklist import Worklist
from shopsim.scenario.cautions import join_cautions
from shopsim.study.going_on import GoingOn
from shopsim.study.named_tasks import say_pieces

BEGIN, GO_ON, OFF = "begin", "go on with", "take clamps off"
NEXT_COLUMNS = {
    "day": "str", "begin_at": "str", "do": "str", "operation": "str", "batch": "Int64", "pieces": "str", "minutes": "float64",
    "worker": "str", "station": "str", "caution": "str",
}  # fmt: skip
UNDER_WAY_COLUMNS = {
    "operation": "str", "batch": "Int64", "pieces": "str", "state": "str", "since": "str", "minutes": "float64",
}  # fmt: skip
IN_HAND, HALF, CLAMPED, CURING = "in hand", "half done", "in clamps", "curing or drying"


@dataclass(frozen=True)
class ToDo:
    """Work of one kind that follows on itself: ``do`` it from ``since`` on, with ``minutes`` by hand; ``crew``: a bit a worker."""

    do: str
    tasks: tuple[int, ...]
    since: float
    minutes: float
    crew: int


@dataclass(frozen=True)
class InWork:
    """Tasks of one operation and batch that have begun and are not over. ``state``: as the table of what is under way says it;
    ``since``: when they were begun, or their work ended; ``minutes``: spent on them, or passed since; ``over``: when clamps may come
    off, or it has dried, by likely times, NaN of what is half done."""

    state: str
    tasks: tuple[int, ...]
    since: float
    minutes: float
    over: float


def find_next(going: GoingOn, record: RunRecord) -> list[ToDo]:
    """What is to be done by hand from now on, in order; ``record``: the run gone on with at likely times."""
    work, now = going.plan.worklist, going.now
    told: list[ToDo] = []
    first = {task for group in going.state.half_done for task in group.tasks[:1]}
    begun = {task for group in going.state.half_done for task in group.tasks}
    for task in range(work.n_tasks):
        step = work.steps[work.task_step[task]]
        if step.operation.hands and math.isnan(going.start.record.start[task]):
            minutes = float(record.work_min[task] + record.setup_min[task])
            do = GO_ON if task in begun else BEGIN
            told.append(ToDo(do, (task,), float(record.start[task]), minutes, int(record.workers[task])))
        elif task in first and step.operation.hands:
            later = [span for span in record.stretches.get(task, ()) if span[1] > now]
            since = max(now, later[0][0]) if later else now
            minutes = sum(until - max(start, now) for start, until, _ in later)
            told.append(ToDo(GO_ON, (task,), since, minutes, later[0][2] if later else int(record.workers[task])))
        if record.unclamp_start[task] >= now:
            minutes = float(record.unclamp_end[task] - record.unclamp_start[task])
            crew = 1 << int(record.unclamp_worker[task])
            told.append(ToDo(OFF, (task,), float(record.unclamp_start[task]), minutes, crew))
    told.sort(key=lambda one: (one.since, one.do, one.tasks))
    joined: list[ToDo] = []
    for one in told:
        if joined and _kind(work, joined[-1]) == _kind(work, one):
            last = joined[-1]
            joined[-1] = replace(last, tasks=(*last.tasks, *one.tasks), minutes=last.minutes + one.minutes)
        else:
            joined.append(one)
    return joined


def _kind(work: Worklist, one: ToDo) -> tuple[object, ...]:
    task = one.tasks[0]
    return day_number(one.since), one.do, work.task_step[task], work.task_batch[task], one.crew


def list_next(going: GoingOn, first_day_only: bool = True) -> pd.DataFrame:
    """What to do on the next day on which something is to be done by hand, in order: columns of ``NEXT_COLUMNS``.

    One row for work of one kind that follows on itself: ``begin_at``: its likely clock time, ``minutes`` by hand. ``do``: "begin", "go on
    with" or "take clamps off". Nothing where nothing is left to be done.
    """
    work, told = going.plan.worklist, find_next(going, going.run_likely())
    if first_day_only:
        told = [one for one in told if day_number(one.since) == day_number(told[0].since)]
    rows = []
    for one in told:
        step, when = work.steps[work.task_step[one.tasks[0]]], moment(one.since, work.day0)
        rows.append(
            {
                "day": when.date().isoformat(),
                "begin_at": f"{when:%H:%M}",
                "do": one.do,
                "operation": step.operation.name,
                "batch": work.task_batch[one.tasks[0]] + 1,
                "pieces": pieces_of(work, one.tasks),
                "minutes": one.minutes,
                "worker": " + ".join(name for n, name in enumerate(work.worker_names) if one.crew >> n & 1),
                "station": "" if step.station < 0 or one.do == OFF else work.station_names[step.station],
                "caution": join_cautions(step.operation.caution),
            }
        )
    return pd.DataFrame(rows, columns=list(NEXT_COLUMNS)).astype(NEXT_COLUMNS)


def pieces_of(work: Worklist, tasks: Sequence[int]) -> str:
    """The pieces of tasks, as people count them; "" where they are done for several at once."""
    return say_pieces(work.task_piece[task] for task in tasks if work.task_piece[task] >= 0)


def find_under_way(going: GoingOn, record: RunRecord) -> list[InWork]:
    """What has begun and is not over; ``record``: the run gone on with at likely times."""
    work, state = going.plan.worklist, going.state
    groups: dict[tuple[str, int, int, float], tuple[list[int], float, float]] = {}

    def note(kind: str, task: int, since: float, minutes: float, over: float) -> None:
        key = (kind, work.task_step[task], work.task_batch[task], since)
        groups.setdefault(key, ([], minutes, over))[0].append(task)

    for group in state.half_done:
        for task in group.tasks:
            note(IN_HAND if group.running else HALF, task, group.begun_min, group.spent_min, math.nan)
    for task in going.start.waiting.tolist():
        if record.done[task] <= going.now:
            continue
        on = bool(work.steps[work.task_step[task]].clamps) and not record.clamps_off[task] <= going.now
        ended = float(state.ended_min[task])
        over = float(record.clamps_off[task] if on else record.done[task])
        note(CLAMPED if on else CURING, task, ended, going.now - ended, over)
    return [
        InWork(kind, tuple(tasks), since, minutes, over)
        for (kind, _, _, since), (tasks, minutes, over) in groups.items()
    ]


def list_under_way(going: GoingOn) -> pd.DataFrame:
    """What has begun and is not over: columns of ``UNDER_WAY_COLUMNS``.

    ``state``: "in hand" (somebody is at it) or "half done" (it rests), with the ``minutes`` spent on it; "in clamps" or "curing or
    drying" (by their likely times, with the ``minutes`` of the clock since the work ended); ``since``: when it was begun, or its work ended.
    """
    work = going.plan.worklist
    rows = [
        {
            "operation": work.steps[work.task_step[one.tasks[0]]].operation.name,
            "batch": work.task_batch[one.tasks[0]] + 1,
            "pieces": pieces_of(work, one.tasks),
            "state": one.state,
            "since": say_moment(work, one.since),
            "minutes": one.minutes,
        }
        for one in find_under_way(going, going.run_likely())
    ]
    return pd.DataFrame(rows, columns=list(UNDER_WAY_COLUMNS)).astype(UNDER_WAY_COLUMNS)


def count_done(going: GoingOn) -> tuple[int, int]:
    """(pieces all of whose hand work is done, pieces of the run); those that gave way to a spare are no pieces of it."""
    work, ended = going.plan.worklist, going.state.ended_min
    left = {
        piece
        for task in range(work.n_tasks)
        if math.isnan(ended[task]) and work.steps[work.task_step[task]].operation.hands
        for piece in ([work.task_piece[task]] if work.task_piece[task] >= 0 else _covered(going, task))
    }
    pieces = set(range(work.n_pieces)) - set(going.state.taken_out)
    return len(pieces - left), len(pieces)


def _covered(going: GoingOn, task: int) -> list[int]:
    work = going.plan.worklist
    cells = set(work.task_cells[task])
    return [piece for piece, cell in enumerate(work.piece_cell) if cell in cells]


__all__ = [
    "BEGIN", "CLAMPED", "CURING", "GO_ON", "HALF", "IN_HAND", "OFF", "InWork", "ToDo", "count_done", "find_next", "find_under_way",
    "list_next", "list_under_way", "pieces_of",
]  # fmt: skip
