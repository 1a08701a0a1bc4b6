"""The three answers at once are the three answers one by one, from shared runs."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim.answers import compare_batch_sizes, compare_clamps, decide, forecast_delivery
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, parse_scenario

STEPS = """
{ name = "cut", work = "10 / 20 / 45 min", setup = "15 min", station = "saw" },
{ name = "glue", work = "5 / 10 / 20 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "2 / 4 / 9 h" },
{ name = "sand", work = "10 / 15 / 30 min", station = "saw", setup = "5 min" },
"""
SHOP = """
[[shop.stations]]
name = "saw"
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 2
price = 30.0
"""


@pytest.fixture
def scenario(write_shop: Callable[..., str]) -> Scenario:
    return parse_scenario(write_shop(STEPS, shop=SHOP, run="orders = 6\nbatch = 3"))


def test_the_three_answers_are_those_given_one_by_one(scenario: Scenario) -> None:
    seen: list[tuple[int, int]] = []
    batches, clamps, delivery = decide(
        scenario, sizes=(2, 6), replications=90, compare_replications=30, seed=6,
        on_progress=lambda done, total: seen.append((done, total)),
    )  # fmt: skip
    alone = compare_batch_sizes(scenario, (2, 6), replications=30, seed=6)
    assert batches.rows.equals(alone.rows)
    assert batches.sentence == alone.sentence
    alone = compare_clamps(scenario, replications=30, seed=6, steps=(1, 2), everything=False)
    assert clamps.rows.equals(alone.rows)
    assert clamps.sentence == alone.sentence
    alone = forecast_delivery(scenario, replications=90, seed=6)
    assert delivery.rows.equals(alone.rows)
    assert delivery.sentence == alone.sentence
    assert {answer.scenario_hash for answer in (batches, clamps, delivery)} == {alone.scenario_hash}
    done = [one for one, _ in seen]
    assert done == sorted(done)
    assert seen[-1][0] == seen[-1][1]
    assert len({total for _, total in seen}) == 1


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_in_the_middle_all_three_rest_on_what_was_finished(scenario: Scenario) -> None:
    runs: list[int] = []
    answers = decide(
        scenario, sizes=(2,), on_progress=lambda done, _: runs.append(done), should_stop=lambda: len(runs) >= 500
    )
    assert all(answer.partial for answer in answers)
    assert len({answer.replications for answer in answers}) == 1
    assert 10 < answers[0].replications < 200


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_during_the_last_part_only_the_window_is_partial(scenario: Scenario) -> None:
    runs: list[int] = []
    batches, clamps, delivery = decide(
        scenario, sizes=(2,), compare_replications=20, on_progress=lambda done, _: runs.append(done),
        should_stop=lambda: bool(runs) and runs[-1] > 20 * 12,
    )  # fmt: skip
    assert (batches.partial, clamps.partial, delivery.partial) == (False, False, True)
    assert 20 < delivery.replications < 1537


def test_stopped_at_once_it_is_cancelled(scenario: Scenario) -> None:
    with pytest.raises(Cancelled):
        decide(scenario, should_stop=lambda: True)


def test_too_few_replications_are_refused(scenario: Scenario) -> None:
    with pytest.raises(InputError, match="at least"):
        decide(scenario, replications=5)
    with pytest.raises(InputError, match="at least 2"):
        decide(scenario, compare_replications=1)
