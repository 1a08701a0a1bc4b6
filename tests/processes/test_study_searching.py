"""It holds that a search for the best drops what is worse, is the same however it is run, and can be stopped."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from shopsim import load_scenario
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, change_scenario
from shopsim.study import Search, run_study, search_best
from shopsim.study.execution import Execution

DAY = "average_ship_day"


@pytest.fixture
def sizes(trays: Path) -> dict[str, Scenario]:
    scenario = load_scenario(trays)
    return {f"batches of {n}": change_scenario(scenario, {"run.batch": n}) for n in (1, 2, 4)}


def values(search: Search) -> dict[str, bytes]:
    return {name: outcome.measured.tobytes() for name, outcome in search.study.outcomes.items()}


def test_the_one_left_is_the_best_and_the_worse_are_run_less(sizes: dict[str, Scenario]) -> None:
    deltas = {"hands_on_h_a_piece": 0.001}
    search = search_best(sizes, deltas, most=400, first_look=20)
    truth = run_study(sizes, replications=400)
    means = {name: truth.values(name, "hands_on_h_a_piece").mean() for name in sizes}
    best = min(means, key=lambda name: means[name])
    assert search.choices["hands_on_h_a_piece"].settled
    assert search.survivors("hands_on_h_a_piece") == (best,)
    runs = {name: outcome.replications.size for name, outcome in search.study.outcomes.items()}
    assert min(runs.values()) < 400
    assert search.study.replications == min(runs.values())
    assert search.study.complete


@pytest.mark.parametrize("way", ["processes", "threads", "held"])
def test_it_comes_to_the_same_however_it_is_run(sizes: dict[str, Scenario], way: str) -> None:
    deltas = {DAY: 0.05, "hands_on_h_a_piece": 0.01}
    alone = search_best(sizes, deltas, most=60, first_look=10, execution=Execution(seed=3))
    if way == "processes":
        other = search_best(sizes, deltas, most=60, first_look=10, execution=Execution(seed=3, jobs=2))
    elif way == "threads":
        with ThreadPoolExecutor(2) as executor:
            execution = Execution(seed=3, executor=executor)
            other = search_best(sizes, deltas, most=60, first_look=10, execution=execution)
    else:
        held = run_study({"it": sizes["batches of 2"]}, replications=10, seed=3)
        other = search_best(sizes, deltas, most=60, first_look=10, execution=Execution(seed=77).reusing(held))
    assert values(other) == values(alone)
    assert {m: choice.survivors for m, choice in other.choices.items()} == {
        m: c.survivors for m, c in alone.choices.items()
    }
    assert other.study.seed == alone.study.seed == 3


def test_a_cost_counts_like_days(sizes: dict[str, Scenario]) -> None:
    plain = search_best(sizes, {DAY: 0.1}, most=40, first_look=20)
    loaded = search_best(sizes, {DAY: 0.1}, cost_in_days={plain.survivors(DAY)[0]: 100.0}, most=40, first_look=20)
    assert plain.survivors(DAY)[0] not in loaded.survivors(DAY)


def test_what_cannot_be_settled_within_the_most_is_kept_together(trays: Path) -> None:
    scenario = load_scenario(trays)
    twins = {"now": scenario, "same": change_scenario(scenario, {"title": "another name"})}
    search = search_best(twins, {DAY: 0.25}, most=30, first_look=10)
    assert set(search.survivors(DAY)) == {"now", "same"}
    assert not search.choices[DAY].settled


@pytest.mark.usefixtures("simpy_only")  # that makes one run at a time
def test_stopped_it_rests_on_what_all_have_finished(sizes: dict[str, Scenario]) -> None:
    asked = iter(range(10**6))
    seen: list[tuple[int, int]] = []
    search = search_best(
        sizes, {DAY: 0.001}, most=300, first_look=20, execution=Execution(
            should_stop=lambda: next(asked) >= 100, on_progress=lambda done, total: seen.append((done, total))
        ),
    )  # fmt: skip
    assert not search.study.complete
    assert 20 <= search.study.replications < 300
    assert search.survivors(DAY)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    assert {total for _, total in seen} == {900}
    with pytest.raises(Cancelled):
        search_best(sizes, {DAY: 0.25}, execution=Execution(should_stop=lambda: True))


def test_what_makes_no_sense_is_refused(sizes: dict[str, Scenario]) -> None:
    with pytest.raises(InputError, match="delta"):
        search_best(sizes, {DAY: 0.0})
    with pytest.raises(InputError, match="most"):
        search_best(sizes, {DAY: 0.25}, most=1)


def test_dropped_alternatives_keep_the_values_they_have(sizes: dict[str, Scenario]) -> None:
    search = search_best(sizes, {"setup_h": 0.01}, most=100, first_look=10)
    whole = run_study(sizes, replications=100)
    for name, outcome in search.study.outcomes.items():
        n = outcome.replications.size
        assert np.array_equal(outcome.measured, whole.outcomes[name].measured[:n])
