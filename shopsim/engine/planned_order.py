"""The plan of one's own in a scenario as the order of the queue's entries."""

from __future__ import annotations

import datetime as dt

from shopsim.dates import minutes_at
from shopsim.engine.worklist import Worklist
from shopsim.priority import AS_PLANNED
from shopsim.scenario.model import Scenario, WorkPlan
from shopsim.units import MINUTES_PER_HOUR


def plan_in_use(scenario: Scenario) -> WorkPlan | None:
    """The plan of one's own that says what comes first; None where a named rule does."""
    return scenario.run.plan if scenario.run.priority == AS_PLANNED else None


def find_lines_of_entries(plan: WorkPlan, work: Worklist) -> list[int]:
    """For each entry of the work list the line of the plan that is about it; the number of lines where none is.

    A line that names the batch counts before one that names none, one that names the design before one that names none.
    """
    lines: dict[tuple[str, int | None, str | None], int] = {}
    for number, line in enumerate(plan.order):
        lines.setdefault((line.operation, line.batch, line.design), number)
    found = []
    for step, batch in zip(work.entry_step, work.entry_batch, strict=True):
        said = work.steps[step]
        name, design = said.operation.name, work.scenario.all_designs[said.design].name
        batches = (None,) if said.operation.per == "run" else (batch + 1, None)
        keys = [(name, number, of) for number in batches for of in (design, None)]
        found.append(next((lines[key] for key in keys if key in lines), len(plan.order)))
    return found


def find_moments_of_lines(plan: WorkPlan, day0: dt.date) -> list[float]:
    """For each line the minute before which nothing of it begins, 0 where it may at once; one more for what has no line."""
    return [
        0.0
        if line.not_before is None
        else max(0.0, minutes_at(line.not_before.date(), day0) + _minutes_of(line.not_before.time()))
        for line in plan.order
    ] + [0.0]


def _minutes_of(time: dt.time) -> float:
    return time.hour * MINUTES_PER_HOUR + time.minute
