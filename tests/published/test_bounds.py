"""The lower bound on the last finish against published problems: never above the shortest makespan that is known.

Job shops of Fisher & Thompson (1963, in Muth & Thompson, Industrial Scheduling), optima in two public instance lists, 930
proven by Carlier & Pinson 1989 (from memory); PSPLIB J30 instances of Kolisch & Sprecher 1997 (EJOR 96:205-216) with the
optima of a public repository's list. Printed numbers, compared as they are.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from shopsim import Scenario
from shopsim.engine.lower_bound import find_lower_bound
from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run

from .test_job_shops import OPTIMA
from .test_project_scheduling import EXPECTED

Published = Callable[[str], Scenario]


def bound_of(scenario: Scenario) -> float:
    plan = build_plan(scenario)
    return find_lower_bound(plan, float(np.nanmax(run(plan, likely_luck(plan.luck)).done))).minutes


@pytest.mark.parametrize(("name", "least"), [("ft06", 47), ("ft10", 655)])
def test_the_bound_of_a_job_shop_lies_between_its_longest_job_and_the_shortest_makespan(
    published: Published, name: str, least: int
) -> None:
    # The longest jobs, 47 and 655, are sums by hand over the printed tables (test_job_shops).
    assert least - 0.1 < bound_of(published(name)) <= OPTIMA[name]


@pytest.mark.parametrize("name", EXPECTED)
def test_the_bound_of_a_project_lies_between_its_critical_path_and_the_optimum(published: Published, name: str) -> None:
    critical_path, optimum = EXPECTED[name][:2]
    assert critical_path - 0.1 < bound_of(published(name)) <= optimum
