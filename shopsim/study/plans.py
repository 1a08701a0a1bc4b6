"""Plans that are kept ready, so that each is built once for what it depends on."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import NamedTuple

from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.quasi_random import QuasiRandomFactors
from shopsim.engine.refitting import refit_plan, refit_tasks
from shopsim.priority import Rule
from shopsim.scenario.model import Scenario
from shopsim.study.measures import Measurer

#: Tasks in all the plans that are kept ready, about 1.5 kB each.
MAX_TASKS_KEPT = 500_000


class ReadyPlan(NamedTuple):
    """A plan, and what measures its runs."""

    plan: SimulationPlan
    measurer: Measurer


class PlanStore:
    """The plans that were asked for last, for one thread. A plan of the same work as one that is there shares its tasks and luck, one of the same tasks its tasks.

    ``most_tasks``: tasks in all of them together, though the last plan always stays; ``most_plans``: how many, None for any number.
    """

    def __init__(self, most_tasks: int = MAX_TASKS_KEPT, most_plans: int | None = None) -> None:
        self.most_tasks, self.most_plans = most_tasks, most_plans
        self._ready: OrderedDict[Hashable, ReadyPlan] = OrderedDict()
        self._even: QuasiRandomFactors | None = None

    def __len__(self) -> int:
        return len(self._ready)

    def get(self, key: Hashable, read: Callable[[], tuple[Scenario, Rule | None]]) -> ReadyPlan:
        """The plan that ``key`` stands for; ``read`` gives its scenario and rule where it is not there."""
        if key in self._ready:
            self._ready.move_to_end(key)
            return self._ready[key]
        plan = self._make(*read())
        ready = self._ready[key] = ReadyPlan(plan, Measurer(plan))
        while len(self._ready) > 1 and self._is_full():
            self._ready.popitem(last=False)
        return ready

    def _make(self, scenario: Scenario, rule: Rule | None) -> SimulationPlan:
        for refit in (refit_plan, refit_tasks):  # what shares the luck too is the quicker one
            for other in reversed(self._ready.values()):
                plan = refit(other.plan, scenario, rule)
                if plan is not None:
                    return plan
        return build_plan(scenario, rule)

    def _is_full(self) -> bool:
        tasks = sum(ready.plan.worklist.n_tasks for ready in self._ready.values())
        return tasks > self.most_tasks or (self.most_plans is not None and len(self._ready) > self.most_plans)

    def sobol_factors(self, plan: SimulationPlan, sobol_block: int) -> QuasiRandomFactors | None:
        """The shared luck of a plan in even blocks (see ``run_study``), kept for the next plan of the same work; None for blocks of 0."""
        if not sobol_block:
            return None
        if self._even is None or self._even.plan is not plan.luck or self._even.block != sobol_block:
            self._even = QuasiRandomFactors(plan.luck, sobol_block)
        return self._even
