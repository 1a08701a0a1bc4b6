"""Studies on the compiled floor: the same numbers as on the SimPy model, wherever and in whatever blocks they are run."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import AbstractContextManager

import numpy as np
import pytest

from shopsim import Waiting, load_scenario
from shopsim.engine import compiling
from shopsim.errors import RunError
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import Study, run_study
from shopsim.study import chunks as chunks_module

Floors = dict[str, Callable[[], AbstractContextManager[None]]]
FILES = ("scenarios/counter-stools.toml", "scenarios/serving-trays.toml", "scenarios/wall-cabinets.toml")


def alternatives(file: str) -> dict[str, Scenario]:
    now = load_scenario(file)
    return {
        "now": now,
        "in fives": change_scenario(now, {"run.batch": 5}),
        "due first": change_scenario(now, {"run.priority": "due first"}),
    }


def assert_same(one: Study, other: Study) -> None:
    assert one.rows.equals(other.rows)
    for name in one.names:
        assert np.array_equal(one.outcomes[name].order_days, other.outcomes[name].order_days)
        assert np.array_equal(one.outcomes[name].clamp_peaks, other.outcomes[name].clamp_peaks)


@pytest.mark.parametrize("file", FILES)
def test_a_study_comes_to_the_same_on_either_floor(file: str, floors: Floors) -> None:
    with floors["SimPy"]():
        by_simpy = run_study(alternatives(file), replications=40, seed=3)
    with floors["compiled"]():
        assert_same(run_study(alternatives(file), replications=40, seed=3), by_simpy)


@pytest.fixture
def _compiled(floors: Floors) -> Iterator[None]:
    with floors["compiled"]():
        yield


@pytest.mark.usefixtures("_compiled")
def test_blocks_threads_and_executors_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    trays = alternatives(FILES[1])
    alone = run_study(trays, replications=150, seed=9)
    assert_same(run_study(trays, replications=150, seed=9, jobs=3), alone)
    with ThreadPoolExecutor(2) as threads:
        assert_same(run_study(trays, replications=150, seed=9, executor=threads), alone)
    monkeypatch.setattr(chunks_module, "MAX_AT_ONCE", 7)
    assert_same(run_study(trays, replications=150, seed=9), alone)
    assert_same(
        run_study(trays, replications=100, seed=9).extend(
            run_study(trays, replications=50, seed=9, first_replication=100)
        ),
        alone,
    )


def test_luck_in_even_blocks_is_the_same_on_either_floor(floors: Floors) -> None:
    trays = alternatives(FILES[1])
    with floors["SimPy"]():
        by_simpy = run_study(trays, replications=64, sobol_block=32)
    with floors["compiled"]():
        assert_same(run_study(trays, replications=64, sobol_block=32), by_simpy)


def test_a_study_changes_over_in_the_middle(monkeypatch: pytest.MonkeyPatch, floors: Floors) -> None:
    trays = alternatives(FILES[1])
    with floors["SimPy"]():
        by_simpy = run_study(trays, replications=60, seed=2)
    monkeypatch.setattr(compiling, "_state", compiling._State())
    told: list[int] = []

    def come_to_its_end(done: int, total: int) -> None:
        told.append(done)
        if done == 30:
            compiling.load_now()

    assert_same(run_study(trays, replications=60, seed=2, on_progress=come_to_its_end), by_simpy)
    assert compiling.is_compiled()
    assert len(told) < 180  # runs were told of one by one, then in blocks
    assert told[-1] == 180


def last_in_first_out(waiting: Waiting) -> object:
    return -waiting.ready_min


def test_a_rule_of_the_users_own_is_run_by_the_simpy_model(floors: Floors) -> None:
    trays = {"now": load_scenario(FILES[1])}
    with floors["SimPy"]():
        by_simpy = run_study(trays, replications=5, rule=last_in_first_out)
    with floors["compiled"]():
        assert_same(run_study(trays, replications=5, rule=last_in_first_out), by_simpy)


FOR_EVER = """
[shop]
open = { mon = "08:00-08:10" }
lost_days = "97 %"
[[shop.workers]]
name = "me"
[design]
name = "box"
operations = [{ name = "make", work = "2 h / 4 h / 9 h" }]
[run]
orders = 12
start = 2027-01-11
"""


def test_a_run_that_cannot_end_is_told_as_ever(floors: Floors) -> None:
    scenario = parse_scenario(FOR_EVER)
    with floors["SimPy"](), pytest.raises(RunError, match="takes more than 20 years") as by_simpy:
        run_study({"slow": scenario}, replications=3)
    with floors["compiled"](), pytest.raises(RunError) as by_compiled:
        run_study({"slow": scenario}, replications=3)
    assert str(by_compiled.value) == str(by_simpy.value)
