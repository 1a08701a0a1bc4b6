"""A task as a priority rule sees it: what stands in a ``Waiting``, looked up in the worklist.

A station that is already set for a task's operation always goes before the rule; ties always go by batch, operation,
piece, unit. A built-in rule is asked once for each entry of the queue, one of the user's own for each task when
it becomes ready.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.engine.routing import RoutingStep
from shopsim.engine.worklist import Worklist
from shopsim.priority import Waiting


def tail_of(step: RoutingStep, n_units: int) -> float:
    """``RoutingStep.tail_min`` for a task of so many units."""
    return step.tail_min + step.operation.work.likely * (n_units - step.units_a_piece)


def look_at(work: Worklist, task: int, ready_min: float) -> Waiting:
    """A task as a rule sees it."""
    return _see(
        work, work.task_step[task], work.task_batch[task], work.task_units[task], work.task_batches[task], ready_min,
        work.task_piece[task] + 1, work.task_unit[task] + 1,
    )  # fmt: skip


def look_at_entries(work: Worklist) -> list[Waiting]:
    """For each entry of the queue what its tasks have in common; ``piece``, ``unit`` and ``ready_min`` are not known."""
    first: dict[int, int] = {}
    for task, entry in enumerate(work.task_entry):
        first.setdefault(entry, task)
    return [
        _see(
            work, work.entry_step[entry], work.entry_batch[entry], work.entry_units[entry],
            work.task_batches[first[entry]], math.nan, 0, 0,
        )
        for entry in range(len(work.entry_step))
    ]  # fmt: skip


def _see(
    work: Worklist, n: int, batch: int, units: int, serves: Sequence[int], ready_min: float, piece: int, unit: int
) -> Waiting:
    """``serves``: the batches whose pieces it is for, from 0."""
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
        opens_min=min(work.batches[one].opens_at for one in serves),
        due_min=min(work.batches[one].due_at for one in serves),
        ready_min=ready_min,
    )
