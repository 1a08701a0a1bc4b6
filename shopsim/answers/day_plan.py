"""What to do on which day: work, glue-ups and when they are begun, clamps to take off, what stays in them overnight.

Read from one run, so it is as sure as that run is: with likely times it is a plan to
work by, with luck it is one way in which things may go.
"""

from __future__ import annotations

import datetime as dt
import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field

import pandas as pd

from shopsim.dates import day_number, moment
from shopsim.engine.routing import RoutingStep
from shopsim.plurals import say_number_of
from shopsim.scenario.cautions import join_cautions
from shopsim.study.once import RunResult
from shopsim.units import MINUTES_PER_DAY

#: What a row of the plan asks for.
WORK, GLUE_UP, UNCLAMP, OVERNIGHT, SHIP = "work", "glue up", "take clamps off", "stays in clamps overnight", "ship"

#: Columns of the plan and what they hold.
PLAN_COLUMNS = {
    "day": "object", "from": "datetime64[us]", "until": "datetime64[us]", "do": "str", "operation": "str",
    "design": "str", "batch": "Int64", "pieces": "str", "tasks": "int64", "hands_on_min": "float64", "begin_at": "str",
    "worker": "str", "station": "str", "clamps": "str", "caution": "str",
}  # fmt: skip


@dataclass(slots=True)
class _Entry:
    """One row of the plan while it is gathered: times in minutes from midnight of day 0."""

    since: float
    until: float
    tasks: array[int] = field(default_factory=lambda: array("q"))  # one that was broken off may come twice
    workers: set[int] = field(default_factory=set)
    hands_on_min: float = 0.0
    begins: set[float] = field(default_factory=set)


def plan_days(run: RunResult) -> pd.DataFrame:
    """The plan of a run, in order of time: one row for each day, thing to do, operation and batch.

    ``do``: "work", "glue up" (goes into clamps), "take clamps off", "stays in clamps
    overnight" (``until``: when it comes out) or "ship". ``day`` is a date; ``from`` and ``until``
    local moments; ``pieces`` the pieces concerned, "1-3, 5"; ``tasks`` how many tasks are
    touched; ``hands_on_min`` clock minutes at work on that day; ``worker`` who is at it on that day, at
    once or one after the other; ``begin_at`` when each glue-up
    begins, "18:05, 18:20"; ``clamps`` what one task takes ("4 bar clamps each"), overnight
    what all of them hold; ``caution`` those of the operation, joined by "; ". Work that is left half done at
    closing has a row on each day. What a row has nothing to say of is "" or missing.
    """
    rows = [*_work_rows(run), *_overnight_rows(run), *_ship_rows(run)]
    order = {OVERNIGHT: 1, SHIP: 2}
    rows.sort(key=lambda row: (row[0], order.get(str(row[3]), 0), row[1], row[2], str(row[4])))
    return pd.DataFrame(rows, columns=list(PLAN_COLUMNS)).astype(PLAN_COLUMNS)


def _work_rows(run: RunResult) -> list[tuple[object, ...]]:
    work, record = run.plan.worklist, run.record
    entries: dict[tuple[int, str, int, int], _Entry] = {}

    def note(task: int, do: str, since: float, until: float, worker: int | None, is_start: bool) -> None:
        key = (day_number(since), do, work.task_step[task], _batch_of(run, task))
        entry = entries.get(key)
        if entry is None:
            entry = entries[key] = _Entry(since, until)
        entry.since, entry.until = min(entry.since, since), max(entry.until, until)
        entry.tasks.append(task)
        if worker is not None:
            entry.workers.add(worker)
            entry.hands_on_min += until - since
        if is_start:
            entry.begins.add(since)

    for worker in range(len(work.worker_names)):
        hours = run.history.hours[run.plan.worker_calendar[worker]]
        for since, until, task, unclamps in zip(*run.history.busy_spans(worker), strict=True):
            spans = [(start, end) for start, end, _ in hours.pieces(float(since), float(until))]
            last = spans[-1][1] if spans else float(since)
            if last < until:  # stays late
                spans.append((last, float(until)))
            do = UNCLAMP if unclamps else GLUE_UP if record.clamps[task].any() else WORK
            for start, end in _merge(spans):
                note(int(task), do, start, end, worker, start == record.start[task])
    for task, bits in enumerate(record.workers.tolist()):
        if not bits and record.end[task] > record.start[task]:
            note(task, WORK, float(record.start[task]), float(record.end[task]), None, True)
    rows = []
    for (day, do, step, batch), entry in entries.items():
        said = run.plan.worklist.steps[step]
        station = "" if said.station < 0 or do == UNCLAMP else work.station_names[said.station]
        tasks = list(dict.fromkeys(entry.tasks))
        clamps = _say_clamps_each(run, tasks) if do != WORK else ""
        begins = ", ".join(f"{moment(start, work.day0):%H:%M}" for start in sorted(entry.begins))
        rows.append(
            (
                work.day0 + dt.timedelta(days=day),
                moment(entry.since, work.day0),
                moment(entry.until, work.day0),
                do,
                *_about(run, said, batch, tasks),
                entry.hands_on_min,
                begins if do == GLUE_UP else "",
                " + ".join(work.worker_names[worker] for worker in sorted(entry.workers)),
                station,
                clamps,
                join_cautions(said.operation.caution),
            )
        )
    return rows


def _merge(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans that touch within one day, as one."""
    merged: list[tuple[float, float]] = []
    for since, until in spans:
        if merged and merged[-1][1] == since and day_number(merged[-1][0]) == day_number(since):
            merged[-1] = (merged[-1][0], until)
        elif until > since or not merged:
            merged.append((since, until))
    return merged


def _overnight_rows(run: RunResult) -> list[tuple[object, ...]]:
    """What is in clamps at midnight after each day on which something was put into them."""
    work, record = run.plan.worklist, run.record
    held: dict[tuple[int, int, int], list[int]] = {}
    for task in range(work.n_tasks):
        if math.isnan(record.clamps_off[task]):
            continue
        first = day_number(float(record.end[task]))
        if record.clamps_off[task] > (first + 1) * MINUTES_PER_DAY:
            held.setdefault((first, work.task_step[task], _batch_of(run, task)), []).append(task)
    rows = []
    for (day, step, batch), tasks in held.items():
        said = work.steps[step]
        rows.append(
            (
                work.day0 + dt.timedelta(days=day),
                moment(float(record.end[tasks].min()), work.day0),
                moment(float(record.clamps_off[tasks].max()), work.day0),
                OVERNIGHT,
                *_about(run, said, batch, tasks),
                0.0,
                "",
                "",
                "",
                _say_clamps(run, tasks),
                join_cautions(said.operation.caution),
            )
        )
    return rows


def _ship_rows(run: RunResult) -> list[tuple[object, ...]]:
    rows: list[tuple[object, ...]] = []
    for keys, pieces in run.pieces.groupby(["ships", "design", "batch"]):
        _, design, batch = keys
        names = say_numbers(pieces["piece"].tolist())
        day = pieces["ships"].iloc[0]
        rows.append((day.date(), day, day, SHIP, "", design, batch, names, 0, 0.0, "", "", "", "", ""))
    return rows


def _about(run: RunResult, step: RoutingStep, batch: int, tasks: list[int]) -> tuple[object, ...]:
    """Operation, design, batch, pieces and number of tasks."""
    work = run.plan.worklist
    pieces = sorted({work.task_piece[task] + 1 for task in tasks if work.task_piece[task] >= 0})
    design = work.scenario.all_designs[step.design].name
    return step.operation.name, design, batch or pd.NA, say_numbers(pieces), len(tasks)


def _batch_of(run: RunResult, task: int) -> int:
    """The number of the task's batch, 0 for one of the whole run."""
    work = run.plan.worklist
    return 0 if work.steps[work.task_step[task]].operation.per == "run" else work.task_batch[task] + 1


def _say_clamps_each(run: RunResult, tasks: list[int]) -> str:
    taken = dict.fromkeys(map(tuple, run.record.clamps[tasks].tolist()))
    kinds = [_say_taken(run, one) for one in taken]
    return " or ".join(kinds) + (" each" if len(tasks) > 1 else "")


def _say_clamps(run: RunResult, tasks: list[int]) -> str:
    return _say_taken(run, run.record.clamps[tasks].sum(axis=0).tolist())


def _say_taken(run: RunResult, taken: Sequence[int]) -> str:
    return ", ".join(say_number_of(n, name) for n, name in zip(taken, run.plan.worklist.clamp_names, strict=True) if n)


def say_numbers(numbers: list[int]) -> str:
    """Whole numbers, rising, with neighbours drawn together: ``"1-3, 5"``."""
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number == parts[-1][-1] + 1:
            parts[-1] = [parts[-1][0], number]
        else:
            parts.append([number])
    return ", ".join("-".join(str(end) for end in part) for part in parts)
