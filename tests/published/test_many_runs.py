"""The comparisons themselves: they pass what is right, fail what is wrong, and give luck one second chance only."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from .many_runs import (
    FIRST_SEED,
    average_number,
    control_queue,
    erlang_moments,
    estimate_mean,
    expect_means,
    expect_quantile,
    interval_ranks,
    known_of_queue,
    share_of_time_above,
)


def draw_normal(seed: int) -> dict[str, np.ndarray]:
    return {"size": np.random.default_rng(seed).normal(10.0, 0.2, 400)}


def test_a_mean_that_is_right_passes() -> None:
    expect_means(draw_normal, {"size": 10.0})


def test_a_mean_that_is_off_fails_with_both_results_in_the_message() -> None:
    with pytest.raises(
        pytest.fail.Exception, match=r"printed 10\.1; the runs gave 10\.0.*; and with a fresh seed 9\.9"
    ):
        expect_means(draw_normal, {"size": 10.1})


def test_a_failure_that_does_not_repeat_does_not_count() -> None:
    expect_means(lambda seed: {"size": draw_normal(seed)["size"] + (seed == FIRST_SEED)}, {"size": 10.0})


def test_runs_too_few_to_tell_fail() -> None:
    with pytest.raises(pytest.fail.Exception, match="over 1 %"):
        expect_means(lambda seed: {"size": draw_normal(seed)["size"] * 100 - 990}, {"size": 10.0})


def test_fewer_than_twenty_replications_are_not_accepted() -> None:
    with pytest.raises(AssertionError):
        expect_means(lambda seed: {"size": draw_normal(seed)["size"][:19]}, {"size": 10.0})


def test_what_is_known_makes_the_interval_narrower_and_leaves_the_mean_right() -> None:
    dice = np.random.default_rng(5)
    service, own = dice.normal(3.0, 1.0, 500), dice.normal(0.0, 0.1, 500)
    sample = {"wait": 4.0 + 2.0 * (service - 3.0) + own, "service": service}
    mean, error = estimate_mean(sample, "wait", {"service": 3.0})
    assert abs(mean - 4.0) <= 4 * error
    assert error < estimate_mean(sample, "wait", {})[1] / 10


def test_the_interval_of_a_quantile_has_the_chance_of_four_standard_errors_and_no_rank_to_spare() -> None:
    # B(u - 1) - B(l - 1) for ranks l and u: Hahn & Meeker 1991, ch. 5.
    low, high = interval_ranks(1000, 0.9)
    missed = stats.norm.sf(4.0)
    assert stats.binom.cdf(low - 1, 1000, 0.9) <= missed < stats.binom.cdf(low, 1000, 0.9)
    assert stats.binom.sf(high - 1, 1000, 0.9) <= missed < stats.binom.sf(high - 2, 1000, 0.9)


def test_the_columns_that_steer_a_queue_have_the_means_that_are_said_to_be_known() -> None:
    # Two servers, exponential gaps of mean 1, Erlang services of mean 1.5 and shape 2.
    gap, service = erlang_moments(1.0), erlang_moments(1.5, 2)
    dice = np.random.default_rng(9)
    rows = [
        control_queue(np.cumsum(dice.exponential(1.0, 2000)), dice.gamma(2.0, 0.75, 2000), gap, service, servers=2)
        for _ in range(1000)
    ]
    for name, mean in known_of_queue(gap, service, servers=2).items():
        values = np.array([row[name] for row in rows])
        assert abs(values.mean() - mean) <= 4 * values.std(ddof=1) / np.sqrt(values.size), name


def test_the_average_number_and_the_share_of_time_above_are_those_of_a_small_case() -> None:
    # In 0-4, 1-3 and 2-6: one for an hour, two, three, two (3-4), one (4-6).
    came, left = np.array([0.0, 1.0, 2.0]), np.array([4.0, 3.0, 6.0])
    assert average_number(came, left, 0.0, 6.0) == 10 / 6
    assert average_number(came, left, 1.0, 3.0) == 2.5
    assert share_of_time_above(came, left, 1, 0.0, 6.0) == 3 / 6
    assert share_of_time_above(came, left, 2, 2.0, 6.0) == 1 / 4


def test_a_quantile_that_is_right_passes_and_one_that_is_off_fails() -> None:
    expect_quantile(lambda seed: np.random.default_rng(seed).exponential(1.0, 20_000), 0.9, 2.302585)
    with pytest.raises(pytest.fail.Exception, match=r"printed 2\.6; the runs gave .*; and with a fresh seed "):
        expect_quantile(lambda seed: np.random.default_rng(seed).exponential(1.0, 20_000), 0.9, 2.6)
