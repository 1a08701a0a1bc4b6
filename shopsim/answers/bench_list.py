"""What is next on the bench, and what is under way there: read from the run gone on with from now at likely times."""

from __future__ import annotations

import math

import pandas as pd

from shopsim.answers.logged_run import say_moment
from shopsim.dates import day_number, moment
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
HALF, CLAMPED, CURING = "half done", "in clamps", "curing or drying"


def list_next(going: GoingOn, first_day_only: bool = True) -> pd.DataFrame:
    """What to do on the next day on which something is to be done by hand, in order: columns of ``NEXT_COLUMNS``.

    One row for work of one kind that follows on itself: ``begin_at``: its likely clock time, ``minutes`` by hand. ``do``: "begin", "go on
    with" or "take clamps off". Nothing where nothing is left to be done.
    """
    work, record, now = going.plan.worklist, going.run_likely(), going.now
    told: list[tuple[float, str, int, float, int]] = []
    half = {task for group in going.state.half_done for task in group.tasks[:1]}
    for task in range(work.n_tasks):
        step = work.steps[work.task_step[task]]
        if step.operation.hands and record.start[task] >= now:
            minutes = float(record.work_min[task] + record.setup_min[task])
            told.append((float(record.start[task]), BEGIN, task, minutes, int(record.workers[task])))
        elif task in half and step.operation.hands:
            later = [span for span in record.stretches.get(task, ()) if span[1] > now]
            since = max(now, later[0][0]) if later else now
            minutes = sum(until - max(start, now) for start, until, _ in later)
            told.append((since, GO_ON, task, minutes, later[0][2] if later else int(record.workers[task])))
        if record.unclamp_start[task] >= now:
            minutes = float(record.unclamp_end[task] - record.unclamp_start[task])
            told.append((float(record.unclamp_start[task]), OFF, task, minutes, 1 << int(record.unclamp_worker[task])))
    told.sort(key=lambda one: one[:3])
    if told and first_day_only:
        told = [one for one in told if day_number(one[0]) == day_number(told[0][0])]
    rows: list[dict[str, object]] = []
    last: tuple[object, ...] = ()
    for since, do, task, minutes, crew in told:
        step, batch = work.steps[work.task_step[task]], work.task_batch[task]
        key = (day_number(since), do, work.task_step[task], batch, crew)
        if key != last:
            rows.append(
                {
                    "day": moment(since, work.day0).date().isoformat(),
                    "begin_at": f"{moment(since, work.day0):%H:%M}",
                    "do": do,
                    "operation": step.operation.name,
                    "batch": batch + 1,
                    "pieces": set(),
                    "minutes": 0.0,
                    "worker": " + ".join(name for n, name in enumerate(work.worker_names) if crew >> n & 1),
                    "station": "" if step.station < 0 or do == OFF else work.station_names[step.station],
                    "caution": join_cautions(step.operation.caution),
                }
            )
            last = key
        row = rows[-1]
        row["minutes"] = float(str(row["minutes"])) + minutes
        pieces = row["pieces"]
        if isinstance(pieces, set) and work.task_piece[task] >= 0:
            pieces.add(work.task_piece[task])
    table = pd.DataFrame(
        [{**row, "pieces": say_pieces(row["pieces"])} for row in rows if isinstance(row["pieces"], set)],
        columns=list(NEXT_COLUMNS),
    )
    return table.astype(NEXT_COLUMNS)


def list_under_way(going: GoingOn) -> pd.DataFrame:
    """What has begun and is not over: columns of ``UNDER_WAY_COLUMNS``.

    ``state``: "half done" (``minutes`` spent on it), "in clamps" or "curing or drying" (by their likely times, ``minutes`` of the
    clock since the work ended); ``since``: when it was begun, or its work ended.
    """
    work, state = going.plan.worklist, going.state
    record = going.run_likely()
    groups: dict[tuple[str, int, int, float], tuple[set[int], float]] = {}

    def note(kind: str, task: int, since: float, minutes: float) -> None:
        key = (kind, work.task_step[task], work.task_batch[task], since)
        pieces, _ = groups.setdefault(key, (set(), minutes))
        if work.task_piece[task] >= 0:
            pieces.add(work.task_piece[task])

    for group in state.half_done:
        for task in group.tasks:
            note(HALF, task, group.begun_min, group.spent_min)
    for task in going.start.waiting.tolist():
        if record.done[task] <= going.now:
            continue
        on = bool(work.steps[work.task_step[task]].clamps) and not record.clamps_off[task] <= going.now
        note(CLAMPED if on else CURING, task, float(state.ended_min[task]), going.now - float(state.ended_min[task]))
    rows = [
        {
            "operation": work.steps[step].operation.name,
            "batch": batch + 1,
            "pieces": say_pieces(pieces),
            "state": kind,
            "since": say_moment(work, since),
            "minutes": minutes,
        }
        for (kind, step, batch, since), (pieces, minutes) in groups.items()
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


__all__ = ["BEGIN", "GO_ON", "OFF", "count_done", "list_next", "list_under_way"]
