"""Choosing among alternatives: the best is found, and what cannot be told apart is said so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from shopsim.errors import InputError
from shopsim.study import choose_best, find_survivors


def make_deliver(means: Sequence[float], seed: int, shared: float = 4.0, own: float = 0.5):  # type: ignore[no-untyped-def]
    """Paired values with shared luck, the same for the same replication however they are asked for."""
    asked: list[tuple[tuple[int, ...], int, int]] = []

    def deliver(which: Sequence[int], first: int, last: int) -> np.ndarray:
        asked.append((tuple(which), first, last))
        rows = []
        for replication in range(first, last):
            rng = np.random.default_rng([seed, replication])
            common, noise = rng.normal(0, shared), rng.normal(0, own, size=len(means))
            rows.append(np.asarray(means) + common + noise)
        return np.array(rows)[:, list(which)]

    return deliver, asked


def test_the_best_is_chosen_in_nearly_all_searches() -> None:
    means = [20.0, 19.2, 21.0, 20.6]
    right = 0
    for seed in range(60):
        deliver, _ = make_deliver(means, seed)
        choice = choose_best(deliver, 4, delta=0.25, n0=20)
        right += choice.settled and choice.survivors == (1,)
    assert right >= 57  # 95 % of 60


def test_the_worse_are_dropped_early_and_not_run_again() -> None:
    deliver, asked = make_deliver([10.0, 10.05, 30.0], 1)
    choice = choose_best(deliver, 3, delta=0.05, n0=20, block=25, most=400)
    assert asked[0] == ((0, 1, 2), 0, 20)
    assert all(2 not in which for which, _, _ in asked[1:])
    assert np.isnan(choice.values[20:, 2]).all()
    assert choice.runs == sum(len(which) * (last - first) for which, first, last in asked)
    assert [first for _, first, _ in asked[1:]] == [last for _, _, last in asked[:-1]]


def test_when_the_search_ends_without_one_best_all_that_may_be_are_kept() -> None:
    deliver, _ = make_deliver([10.0, 10.0, 14.0], 2)
    choice = choose_best(deliver, 3, delta=0.01, n0=20, most=60)
    assert not choice.settled
    assert set(choice.survivors) == {0, 1}
    assert choice.replications == 60


def test_the_user_can_stop_a_search() -> None:
    deliver, _ = make_deliver([10.0, 10.0], 3)
    choice = choose_best(deliver, 2, delta=0.001, n0=20, should_stop=lambda: True)
    assert choice.replications == 20
    assert not choice.settled


def test_alternatives_that_are_the_same_are_never_told_apart() -> None:
    choice = choose_best(lambda which, first, last: np.ones((last - first, len(which))), 3, n0=5)
    assert choice.survivors == (0, 1, 2)
    assert not choice.settled
    assert choice.replications == 5


def test_the_kept_set_holds_the_best_as_often_as_it_says() -> None:
    rng = np.random.default_rng(4)
    tries = 1000
    held = 0
    for _ in range(tries):
        shared = rng.normal(0, 3, size=(30, 1))
        values = np.array([5.0, 5.1, 5.1, 5.4]) + shared + rng.normal(size=(30, 4))
        held += find_survivors(values, 0.95)[0]
    assert held / tries >= 0.94


def test_pairing_tells_apart_what_shared_luck_would_hide() -> None:
    rng = np.random.default_rng(5)
    shared = rng.normal(0, 10, size=(50, 1))
    values = np.array([5.0, 6.0]) + shared + rng.normal(0, 0.1, size=(50, 2))
    assert find_survivors(values).tolist() == [True, False]
    apart = values.copy()
    apart[:, 1] = np.roll(apart[:, 1], 1)  # the same numbers, no longer on the same luck
    assert find_survivors(apart).tolist() == [True, True]


def test_one_replication_is_too_few_to_choose() -> None:
    with pytest.raises(InputError, match="at least 2"):
        find_survivors(np.ones((1, 3)))


def test_close_alternatives_with_much_noise_are_still_chosen_rightly() -> None:
    """The gap is just what matters and a quarter of the noise; an early dropper would be wrong one time in four."""
    right = 0
    for seed in range(100):
        deliver, _ = make_deliver([0.25, 0.0], 100 + seed, own=1.0)
        right += choose_best(deliver, 2, delta=0.25, n0=10, block=10).survivors == (1,)
    assert right >= 92  # 95 % of 100, less two standard errors


@pytest.mark.parametrize(("gap", "kept"), [(0.30, True), (0.45, True), (0.50, False), (1.0, False)])
def test_an_alternative_is_kept_within_t_standard_errors_of_the_best(gap: float, kept: bool) -> None:
    # differences of sd 1.5 over 30 pairs: t(.95, 29) = 1.699 (t table, from memory), so the reach is 1.699 * 1.5 / sqrt(30) = 0.465
    noise = np.tile([1.0, -1.0], 15)
    noise *= 1.5 / noise.std(ddof=1)
    values = np.column_stack([np.zeros(30), gap + noise])
    assert find_survivors(values, 0.95).tolist() == [True, kept]
