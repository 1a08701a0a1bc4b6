"""No order of work ends before the bound: random shops, under every named rule and under plans at random."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from shopsim import Scenario
from shopsim.engine.lower_bound import find_lower_bound
from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.reordering import list_lines
from shopsim.engine.run import run
from shopsim.priority import PRIORITY_RULES

from . import strategies as shop


@given(shop.shops(), st.data())
def test_no_order_of_work_at_likely_times_ends_before_the_bound(data: shop.Data, more: st.DataObject) -> None:
    scenario = Scenario.model_validate(data)
    lines = list_lines(scenario)
    luck = likely_luck(lines.plan.luck)
    plans = []
    for name in PRIORITY_RULES:
        changed = scenario.run.model_copy(update={"priority": name})
        plans.append(build_plan(scenario.model_copy(update={"run": changed})))
    for _ in range(4):
        plans.append(lines.reorder(np.array(more.draw(st.permutations(range(len(lines.work)))))))
    ends = [float(np.nanmax(run(plan, luck).done)) for plan in plans]
    bound = find_lower_bound(lines.plan, max(ends))
    assert bound.minutes <= min(ends)
