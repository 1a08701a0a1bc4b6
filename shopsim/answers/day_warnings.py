"""What to know beside the plan of a day: what stays overnight, what no longer fits today, and glue that may set too soon."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from shopsim.answers.day_plan import say_numbers
from shopsim.dates import day_number, moment
from shopsim.engine.keyed import WORK
from shopsim.engine.luck import draw_block
from shopsim.engine.task_times import KINDS
from shopsim.engine.waits import NO_FIT, split_wait
from shopsim.study.once import RunResult
from shopsim.units import MINUTES_PER_DAY

CLAMPED, DRIES = "in clamps", "cures or dries"
NIGHT_COLUMNS = {
    "day": "object", "what": "str", "operation": "str", "batch": "Int64", "pieces": "str", "until": "datetime64[us]",
}  # fmt: skip
NO_FIT_COLUMNS = {
    "day": "object", "operation": "str", "batch": "Int64", "pieces": "str", "from": "datetime64[us]", "work_min": "float64",
}  # fmt: skip
OPEN_COLUMNS = {
    "operation": "str", "design": "str", "open_time_min": "float64", "work_min": "float64", "too_long_share": "float64",
    "is_likely": "bool", "mend": "str",
}  # fmt: skip
#: Runs of luck on which work is held against the glue's working time.
OPEN_RUNS = 200


def list_nights(run: RunResult) -> pd.DataFrame:
    """What is in clamps or cures at midnight after each day on which it was begun to, one row an operation and batch.

    ``what``: "in clamps" or "cures or dries"; ``until``: when the last of it is free; ``pieces``: numbers of its pieces.
    """
    work, record = run.plan.worklist, run.record
    held: dict[tuple[int, str, str, int], list[tuple[int, float]]] = {}
    for task in range(work.n_tasks):
        end, off, done = float(record.end[task]), float(record.clamps_off[task]), float(record.done[task])
        day = day_number(end)
        midnight = (day + 1) * MINUTES_PER_DAY
        name = work.steps[work.task_step[task]].operation.name
        if off > midnight:
            held.setdefault((day, CLAMPED, name, _batch_of(run, task)), []).append((task, off))
        elif done > midnight:
            held.setdefault((day, DRIES, name, _batch_of(run, task)), []).append((task, done))
    rows = [
        (
            work.day0 + dt.timedelta(days=day), what, name, batch or pd.NA, _say_pieces(run, [task for task, _ in mine]),
            moment(max(until for _, until in mine), work.day0),
        )
        for (day, what, name, batch), mine in sorted(held.items())
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(NIGHT_COLUMNS)).astype(NIGHT_COLUMNS)


def list_no_fit(run: RunResult) -> pd.DataFrame:
    """What is ready on a day and has to wait because it would not fit before closing, one row a day, operation and batch.

    ``from``: since when it does not fit any more; ``work_min``: likely minutes of one task, set-up left out.
    """
    work, record = run.plan.worklist, run.record
    late: dict[tuple[int, str, int], tuple[float, list[int]]] = {}
    for task in range(work.n_tasks):
        step = work.steps[work.task_step[task]]
        ready, start = float(record.ready[task]), float(record.start[task])
        if step.pausable or start <= ready:
            continue
        for cause, _, since, _ in split_wait(run.history, task, ready, start):
            if cause == NO_FIT:
                key = (day_number(since), step.operation.name, _batch_of(run, task))
                first, mine = late.get(key, (since, []))
                late[key] = (min(first, since), [*mine, task] if task not in mine else mine)
    rows = [
        (
            work.day0 + dt.timedelta(days=day), name, batch or pd.NA, _say_pieces(run, mine), moment(first, work.day0),
            float(run.plan.entry_likely_min[run.plan.task_entry[mine[0]]]),
        )
        for (day, name, batch), (first, mine) in sorted(late.items())
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(NO_FIT_COLUMNS)).astype(NO_FIT_COLUMNS)


def list_open_times(run: RunResult, seed: int) -> pd.DataFrame:
    """Operations whose glue has a working time, and how often the hands-on work of one task passes it over 200 runs of luck.

    ``open_time_min``; ``work_min``: likely minutes of the largest task; ``too_long_share``: of its tasks over all runs;
    ``is_likely``: it passes at its likely time, or in more than half of all; ``mend``: what would help.
    """
    work = run.plan.worklist
    steps = [n for n, step in enumerate(work.steps) if step.operation.open_time is not None]
    if not steps:
        return pd.DataFrame(columns=list(OPEN_COLUMNS)).astype(OPEN_COLUMNS)
    drawn = draw_block(run.plan.luck, seed, range(OPEN_RUNS)).minutes[:, KINDS.index(WORK)]
    rows = []
    for n in steps:
        step = work.steps[n]
        mine = np.flatnonzero(run.plan.task_step == n)
        if not mine.size:
            continue
        open_min = float(step.operation.open_time or 0.0)
        likely = float(run.plan.entry_likely_min[run.plan.task_entry[mine]].max())
        share = float((drawn[:, mine] > open_min).mean())
        several = int(run.plan.task_units[mine].max()) > 1
        fewer = (
            "glue fewer joints at once (a smaller handful)" if several else "glue it in two steps, a sub-assembly first"
        )
        mend = f"{fewer}, use another pair of hands, or a glue that stays open longer"
        is_likely = likely > open_min or share > 0.5
        rows.append(
            (step.operation.name, work.scenario.all_designs[step.design].name, open_min, likely, share, is_likely, mend)
        )
    return pd.DataFrame(rows, columns=list(OPEN_COLUMNS)).astype(OPEN_COLUMNS)


def _batch_of(run: RunResult, task: int) -> int:
    work = run.plan.worklist
    return 0 if work.steps[work.task_step[task]].operation.per == "run" else work.task_batch[task] + 1


def _say_pieces(run: RunResult, tasks: list[int]) -> str:
    work = run.plan.worklist
    return say_numbers(sorted({int(work.task_piece[task]) + 1 for task in tasks if work.task_piece[task] >= 0}))
