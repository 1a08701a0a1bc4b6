"""When each material is first wanted, were everything there, and by which day it has to be ordered so that it holds nothing back."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace

import numpy as np

from shopsim.engine.luck import draw_luck
from shopsim.engine.materials import MaterialLuck
from shopsim.engine.run import run as run_engine
from shopsim.engine.worklist import build_worklist
from shopsim.errors import Cancelled
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.units import MINUTES_PER_DAY


@dataclass(frozen=True)
class FirstNeeds:
    """Of each replication (rows) and material (columns): ``wanted_min``, when the first task that needs it starts where everything
    is there, inf where none does; ``takes_min``: from ordering until it may be used (lead, lateness, rest). Minutes; from midnight
    of ``day0`` the first. Both rest on the same luck as a study."""

    day0: dt.date
    wanted_min: np.ndarray
    takes_min: np.ndarray

    def order_by(self, material: int, sure: float) -> dt.date | None:
        """The last day on which to order it so that it holds nothing back with this chance; None where nothing needs it.

        An order statistic, its rank rounded so that the chance is never less than asked; whole days, never later.
        """
        slack = self._slack(material)
        if not np.isfinite(slack).all():
            return None
        rank = max(1, math.floor(round((slack.size + 1) * (1 - sure), 9)))
        return self.day0 + dt.timedelta(days=math.floor(np.sort(slack)[rank - 1] / MINUTES_PER_DAY))

    def in_time(self, material: int, ordered: dt.date) -> np.ndarray:
        """Of each replication whether it holds nothing back where it is ordered on this day."""
        return self._slack(material) >= (ordered - self.day0).days * MINUTES_PER_DAY

    def _slack(self, material: int) -> np.ndarray:
        return np.asarray(self.wanted_min[:, material] - self.takes_min[:, material])


def find_first_needs(scenario: Scenario, execution: Execution) -> FirstNeeds:
    """When each material of the scenario is first wanted, in as many replications as the execution says.

    Run with every material in the shop: what is ordered by such a day then holds back neither its own operations nor, by them,
    what comes after. After a stop, of the replications that were done; Cancelled where there are none.
    """
    assert execution.replications is not None
    key = ("first needs", execution.hash_of(scenario), execution.seed, execution.replications)
    known: FirstNeeds | None = execution.known.get(key)
    if known is not None:
        return known
    there = tuple(material.model_copy(update={"on_shelf": True}) for material in scenario.materials)
    found = execution.call(
        _run_with_all,
        scenario.model_copy(update={"materials": there}),
        scenario,
        Execution(execution.replications, execution.seed) if execution.apart else replace(execution, on_progress=None),
    )
    if found.wanted_min.shape[0] == execution.replications:
        execution.known.put(key, found)
    return found


def _run_with_all(supplied: Scenario, scenario: Scenario, execution: Execution) -> FirstNeeds:
    assert execution.replications is not None
    plan = execution.plans.get(execution.hash_of(supplied), lambda: (supplied, None)).plan
    work = plan.worklist
    own = build_worklist(scenario)
    day0 = work.day0
    luck = [
        MaterialLuck(material.model_copy(update={"ordered": day0, "on_shelf": False}), own)
        for material in scenario.materials
    ]
    needs: list[list[int]] = [[] for _ in scenario.materials]
    for task, entry in enumerate(work.task_entry):
        for material in work.entry_materials[entry]:
            needs[material].append(task)
    tasks = [np.array(of, dtype=np.int64) for of in needs]
    wanted: list[list[float]] = []
    for number in range(execution.replications):
        if execution.stopped:
            break
        record = run_engine(plan, draw_luck(plan.luck, execution.seed, number, None))
        wanted.append([float(record.start[of].min()) if of.size else math.inf for of in tasks])
    if not wanted:
        raise Cancelled("stopped before any run was made")
    numbers = np.arange(len(wanted), dtype=np.int64)
    takes = (
        np.column_stack([one.draw_block(execution.seed, numbers) for one in luck])
        if luck
        else np.zeros((len(wanted), 0))
    )
    return FirstNeeds(day0, np.array(wanted).reshape(len(wanted), len(luck)), takes)
