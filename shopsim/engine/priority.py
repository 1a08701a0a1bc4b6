"""Which startable task comes first: the priority rules, each a plain function.

A station that is already set for a task's operation always goes before the
rule; ties always go by batch, operation, piece, unit. A rule gets a ``Waiting``
task and returns a tuple that sorts first what shall be done first; it is asked once,
when the task becomes ready, and must be pure.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopsim.engine.steps import Step
from shopsim.engine.worklist import Worklist


@dataclass(frozen=True)
class Waiting:
    """A task that waits to be started, as a rule sees it.

    ``batch`` counts from 1 in the order of opening; ``step`` is the operation's place
    in the file, from 0; ``piece`` from 1, or 0 for a task of a whole batch or run;
    ``unit`` from 1. ``early``: it goes into clamps or dries. ``likely_min``: likely
    hands-on minutes, set-up left out. ``tail_min``: likely minutes of the longest
    chain from its start to the end of its piece, curing included. ``ready_min``: when
    it became ready, minutes from midnight of the first day.
    """

    design: str
    operation: str
    batch: int
    step: int
    piece: int
    unit: int
    early: bool
    likely_min: float
    tail_min: float
    ready_min: float


Rule = Callable[[Waiting], Any]


def glue_first(task: Waiting) -> tuple[int, ...]:
    """The oldest batch first and, within it, what goes into clamps or dries before other work."""
    return (task.batch, 0 if task.early else 1)


def oldest_batch(task: Waiting) -> tuple[int, ...]:
    """The oldest batch first, in the order of the file."""
    return (task.batch,)


def longest_tail(task: Waiting) -> tuple[float, ...]:
    """What has most likely time still to come on its piece, curing included."""
    return (-task.tail_min,)


def nearest_done(task: Waiting) -> tuple[float, ...]:
    """What has least likely time still to come on its piece."""
    return (task.tail_min,)


RULES: dict[str, Rule] = {
    "glue first": glue_first,
    "oldest batch": oldest_batch,
    "longest tail": longest_tail,
    "nearest done": nearest_done,
}


def tail_of(step: Step, n_units: int) -> float:
    """``Step.tail_min`` for a task of so many units."""
    return step.tail_min + step.operation.work.likely * (n_units - step.units_a_piece)


def look_at(work: Worklist, task: int, ready_min: float) -> Waiting:
    """A task as a rule sees it."""
    return _see(
        work, work.task_step[task], work.task_batch[task], work.task_units[task], ready_min, work.task_piece[task] + 1,
        work.task_unit[task] + 1,
    )  # fmt: skip


def look_at_entry(work: Worklist, entry: int) -> Waiting:
    """What all tasks of an entry of the queue have in common; ``piece``, ``unit`` and ``ready_min`` are not known."""
    return _see(work, work.entry_step[entry], work.entry_batch[entry], work.entry_units[entry], math.nan, 0, 0)


def _see(work: Worklist, n: int, batch: int, units: int, ready_min: float, piece: int, unit: int) -> Waiting:
    step = work.steps[n]
    return Waiting(
        design=work.scenario.all_designs[step.design].name,
        operation=step.operation.name,
        batch=batch + 1,
        step=n,
        piece=piece,
        unit=unit,
        early=step.early,
        likely_min=step.operation.work.likely * units,
        tail_min=tail_of(step, units),
        ready_min=ready_min,
    )
