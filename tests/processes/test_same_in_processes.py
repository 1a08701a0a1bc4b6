"""What is run in several processes comes to the same numbers, to the last bit, as in one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shopsim import load_scenario
from shopsim.answers import Answer, decide, find_holdups
from shopsim.scenario import Scenario
from shopsim.study import extend_study, open_study, run_study


@pytest.fixture
def scenario(trays: Path) -> Scenario:
    return load_scenario(trays)


def assert_same(apart: Answer, alone: Answer) -> None:
    assert apart.rows.equals(alone.rows)
    assert apart.sentence == alone.sentence
    assert all(apart.tables[key].equals(table) for key, table in alone.tables.items())


def test_the_three_answers(scenario: Scenario) -> None:
    alone, apart = (decide(scenario, sizes=(2, 6), replications=30, compare_replications=10, jobs=n) for n in (1, 2))
    for one, other in zip(alone, apart, strict=True):
        assert_same(other, one)


def test_what_holds_the_run_back(scenario: Scenario) -> None:
    alone, apart = (find_holdups(scenario, replications=6, seed=5, accounted=2, jobs=jobs) for jobs in (1, 2))
    assert_same(apart, alone)


def test_a_study_in_even_blocks(scenario: Scenario) -> None:
    alone, apart = (run_study({"now": scenario}, replications=24, seed=3, sobol_block=8, jobs=jobs) for jobs in (1, 2))
    assert np.array_equal(apart.outcomes["now"].measured, alone.outcomes["now"].measured)


def test_a_kept_study_that_is_extended(scenario: Scenario, tmp_path: Path) -> None:
    run_study({"now": scenario}, replications=6, seed=9).save(tmp_path / "kept.study")
    apart = extend_study(open_study(tmp_path / "kept.study"), 10, jobs=2)
    alone = run_study({"now": scenario}, replications=10, seed=9)
    assert apart.scenario_hash == alone.scenario_hash
    for array in ("replications", "measured", "order_days", "clamp_peaks"):
        assert getattr(apart.outcomes["now"], array).tobytes() == getattr(alone.outcomes["now"], array).tobytes()
