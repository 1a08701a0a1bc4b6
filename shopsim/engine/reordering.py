"""A plan with its entries in another order: what a list of operations and batches makes of the queue, without laying all out anew.

What does not hang on the order, tasks and groups and luck, is shared by all orders of one scenario.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.planned_order import find_lines_of_entries, find_moments_of_lines
from shopsim.engine.ragged import Ragged
from shopsim.priority import PRIORITY_RULES
from shopsim.scenario.model import PlannedWork, Scenario, WorkPlan


@dataclass(frozen=True, eq=False)
class PlanLines:
    """What a plan of a scenario can have lines about, and the plan with its entries in the usual order of ties.

    ``work``: one a line: operation, batch and design, and the moment before which the file lets none of it begin.
    ``plan``: entries by batch, operation and place in the file. ``line_of_entry``: int64, shape (entries,).
    """

    work: tuple[PlannedWork, ...]
    plan: SimulationPlan
    line_of_entry: np.ndarray

    def reorder(self, order: np.ndarray) -> SimulationPlan:
        """The plan whose lines go in this order (numbers of ``work``, each once): what ``build_plan`` gives for such a file."""
        turn = Turn.of(self, order)
        plan, old = self.plan, turn.old
        return replace(
            plan,
            task_entry=turn.new[plan.task_entry],
            entry_step=plan.entry_step[old],
            entry_batch=plan.entry_batch[old],
            entry_units=plan.entry_units[old],
            entry_likely_min=plan.entry_likely_min[old],
            entry_setup=plan.entry_setup[old],
            entry_not_before_min=plan.entry_not_before_min[old],
            entry_stop=turn.stop,
            material_entries=Ragged(plan.material_entries.first, turn.new[plan.material_entries.members]),
        )

    def order_of(self, plan: SimulationPlan) -> np.ndarray:
        """The order of the lines that comes nearest to how another plan of the same work has its entries, a named rule's say."""
        key = {
            (int(step), int(batch)): place
            for place, (step, batch) in reversed(list(enumerate(zip(plan.entry_step, plan.entry_batch, strict=True))))
        }
        first = np.full(len(self.work), len(key), dtype=np.int64)
        for entry, line in enumerate(self.line_of_entry.tolist()):
            place = key[int(self.plan.entry_step[entry]), int(self.plan.entry_batch[entry])]
            first[line] = min(first[line], place)
        return np.argsort(first, kind="stable")

    def as_plan(self, order: np.ndarray, wish: str, seed: int | None) -> WorkPlan:
        """The plan of one's own for a file."""
        return WorkPlan(wish=wish, seed=seed, order=tuple(self.work[line] for line in order.tolist()))


@dataclass(frozen=True, eq=False)
class Turn:
    """Entries in the order of their lines. ``old``: the number that each had; ``new``: the number that each old one has;
    ``stop``: the first entry after its equals."""

    old: np.ndarray
    new: np.ndarray
    stop: np.ndarray

    @classmethod
    def of(cls, lines: PlanLines, order: np.ndarray) -> Turn:
        """For an order of the lines."""
        place = np.empty(order.size, dtype=np.int64)
        place[order] = np.arange(order.size)
        of_entry = place[lines.line_of_entry]
        old = np.argsort(of_entry, kind="stable")
        new = np.empty(old.size, dtype=np.int64)
        new[old] = np.arange(old.size)
        in_order = of_entry[old]
        return cls(old, new, np.searchsorted(in_order, in_order, side="right"))


def list_lines(scenario: Scenario) -> PlanLines:
    """All lines that a plan of this scenario can have, in the order of batch and operation.

    What the file's own plan holds back to a moment stays held back.
    """
    usual = scenario.model_copy(
        update={"run": scenario.run.model_copy(update={"priority": PRIORITY_RULES[0], "plan": None})}
    )
    plan = build_plan(usual)
    work, n = plan.worklist, plan.entry_step.size
    by_ties = np.lexsort((np.arange(n), plan.entry_step, plan.entry_batch))
    keys: dict[tuple[str, int | None, str], int] = {}
    line_of_entry = np.empty(n, dtype=np.int64)
    several = len(scenario.all_designs) > 1
    for place, entry in enumerate(by_ties.tolist()):
        step = work.steps[plan.entry_step[entry]]
        batch = None if step.operation.per == "run" else int(plan.entry_batch[entry]) + 1
        key = (step.operation.name, batch, scenario.all_designs[step.design].name)
        line_of_entry[place] = keys.setdefault(key, len(keys))
    lines = tuple(
        PlannedWork(operation=name, batch=batch, design=design if several else None) for name, batch, design in keys
    )
    moments = np.zeros(len(lines))
    if scenario.run.plan is not None:
        held = find_moments_of_lines(scenario.run.plan, work.day0)
        for entry, line in enumerate(find_lines_of_entries(scenario.run.plan, work)):
            number = keys[_key_of_entry(scenario, plan, entry)]
            moments[number] = max(moments[number], held[line])
            if held[line]:
                lines = _held_back(lines, number, scenario.run.plan.order[line])
    bare = PlanLines(lines, plan, line_of_entry)
    new = np.empty(n, dtype=np.int64)
    new[by_ties] = np.arange(n)
    ordered = replace(
        plan,
        task_entry=new[plan.task_entry],
        entry_step=plan.entry_step[by_ties],
        entry_batch=plan.entry_batch[by_ties],
        entry_units=plan.entry_units[by_ties],
        entry_likely_min=plan.entry_likely_min[by_ties],
        entry_setup=plan.entry_setup[by_ties],
        entry_not_before_min=moments[line_of_entry],
        material_entries=Ragged(plan.material_entries.first, new[plan.material_entries.members]),
    )
    return replace(bare, plan=ordered)


def _key_of_entry(scenario: Scenario, plan: SimulationPlan, entry: int) -> tuple[str, int | None, str]:
    """The line of an entry of the work list, whose numbers are those before any rule has put them into order."""
    work = plan.worklist
    step = work.steps[work.entry_step[entry]]
    batch = None if step.operation.per == "run" else work.entry_batch[entry] + 1
    return step.operation.name, batch, scenario.all_designs[step.design].name


def _held_back(lines: tuple[PlannedWork, ...], number: int, held: PlannedWork) -> tuple[PlannedWork, ...]:
    line = lines[number].model_copy(update={"not_before": held.not_before})
    return (*lines[:number], line, *lines[number + 1 :])
