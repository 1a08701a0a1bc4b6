"""Intervals, ranks and how many replications they take: printed numbers, and coverage on made-up data."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopsim.answers.promises import find_promise
from shopsim.errors import InputError
from shopsim.study import (
    common_rank,
    least_n_for_bound,
    lower_quantile,
    mean_interval,
    most_share,
    paired_difference,
    quantile,
    quantile_interval,
    quantile_interval_ranks,
    quantile_rank,
    replications_for_chance,
    share_interval,
)

#: Extra hours of sleep of ten patients under two drugs (Student 1908, after Cushny & Peebles 1905; from memory).
SLEEP_1 = (0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0)
SLEEP_2 = (1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4)


@pytest.mark.parametrize(
    ("n", "share", "ranks"),
    [
        (100, 0.9, (85, 97)),  # Hahn & Meeker 1991, Statistical Intervals, ch. 5: 95.23 %
        (200, 0.9, (172, 189)),  # the same: 95.61 %
        (10, 0.5, (2, 9)),  # table A.7 of a statistics text, intervals for the median, source not kept: 97.9 %
        (15, 0.5, (4, 12)),  # there as well: 96.5 %
        (20, 0.5, (6, 15)),  # there as well: 95.9 %
    ],
)
def test_the_ranks_about_a_quantile_are_those_printed(n: int, share: float, ranks: tuple[int, int]) -> None:
    assert quantile_interval_ranks(n, share, 0.95) == ranks


def test_the_least_sample_whose_largest_value_bounds_a_quantile_is_wilks_number() -> None:
    # Wilks 1941: 29 for the 90 % quantile at 95 % (seen), 59 for the 95 % quantile at 95 % (from memory); both are the
    # least n with 1 - p^n of 95 % or more: .9^28 = .0523, .9^29 = .0471; .95^58 = .0510, .95^59 = .0485
    assert least_n_for_bound(0.90, 0.95) == 29
    assert least_n_for_bound(0.95, 0.95) == 59


def test_below_wilks_number_there_is_no_upper_bound() -> None:
    assert quantile_interval_ranks(28, 0.90, 0.95)[1] == 29
    assert quantile_interval(np.arange(28.0), 0.90).high == math.inf
    assert quantile_interval_ranks(2, 0.5, 0.95) == (0, 3)


def test_the_paired_interval_agrees_with_students_sleep_data() -> None:
    # Student 1908: paired t = -4.0621 on 9 degrees of freedom (from memory, worked out again from the data)
    difference = paired_difference(SLEEP_1, SLEEP_2, 0.95)
    t_975 = 2.262  # t table, 9 degrees of freedom (from memory)
    assert difference.value == pytest.approx(-1.58)
    assert difference.value / (difference.half_width / t_975) == pytest.approx(-4.0621, abs=0.002)
    assert difference.excludes_zero


@pytest.mark.parametrize(
    ("df", "t"), [(4, 2.776), (9, 2.262), (19, 2.093), (29, 2.045)]
)  # t table, .975 point (from memory)
def test_the_mean_interval_uses_the_t_table(df: int, t: float) -> None:
    sample = np.random.default_rng(df).normal(size=df + 1)
    se = sample.std(ddof=1) / math.sqrt(df + 1)
    assert mean_interval(sample, 0.95).half_width / se == pytest.approx(t, abs=5e-4)


def test_wilsons_interval_for_18_of_20_is_the_printed_one() -> None:
    # Wilson 1927, from memory: .6990 to .9721
    found = share_interval(18, 20, 0.95)
    assert (round(found.low, 4), round(found.high, 4)) == (0.6990, 0.9721)
    assert share_interval(0, 20).low == 0.0
    assert share_interval(20, 20).high == 1.0


@pytest.mark.parametrize(("half", "n"), [(0.02, 1537), (0.04, 385), (0.011, 5080)])
def test_a_chance_near_80_percent_takes_so_many_replications(half: float, n: int) -> None:
    # 0.16 (1.96 / h)^2
    assert replications_for_chance(half) == pytest.approx(n, abs=1)


def test_the_rank_to_promise_is_exact_where_floating_point_is_not() -> None:
    assert quantile_rank(99, 0.07) == 7  # 100 * 0.07 is 7.000000000000001 in floating point
    assert quantile_rank(100, 0.8) == 81
    assert quantile_rank(9, 0.9) == 9


def test_a_chance_that_the_replications_cannot_tell_is_refused_with_the_number_needed() -> None:
    with pytest.raises(InputError, match="take at least 19"):
        quantile_rank(18, 0.95)
    assert quantile_rank(19, 0.95) == 19


@pytest.mark.parametrize("share", [0.0, 1.0, 80, -0.1, math.nan])
def test_a_share_outside_0_to_1_is_refused(share: float) -> None:
    with pytest.raises(InputError, match="between 0 and 1"):
        quantile([1.0, 2.0, 3.0], share)


def test_one_value_tells_nothing_of_its_mean_and_none_are_refused() -> None:
    alone = mean_interval([4.0])
    assert (alone.value, alone.low, alone.high) == (4.0, -math.inf, math.inf)
    with pytest.raises(InputError, match="a mean of no values is asked for"):
        mean_interval([])


def test_differences_are_taken_on_the_same_replications_only() -> None:
    with pytest.raises(InputError, match="needs the same replications, got 3 and 2"):
        paired_difference([1.0, 2.0, 3.0], [1.0, 2.0])


@pytest.mark.parametrize(("hits", "n"), [(3, 2), (-1, 2), (0, 0)])
def test_what_is_no_share_has_no_interval(hits: int, n: int) -> None:
    with pytest.raises(InputError, match=f"{hits} of {n} is not a share"):
        share_interval(hits, n)


def test_few_values_bound_a_quantile_on_one_side_or_on_none() -> None:
    # Of 20 values the smallest is below the 90 % quantile for certain (0.9^20 is 0.12: P(all below) too), the largest
    # above it in 1 - 0.9^20 = 88 %: at 95 % there is a lower bound and no upper one. Of two values there is neither.
    bounds = quantile_interval(np.arange(1.0, 21.0), 0.9, 0.95)
    assert 1 < bounds.low < 19
    assert bounds.high == math.inf
    low_side = quantile_interval(np.arange(1.0, 21.0), 0.1, 0.95)
    assert low_side.low == -math.inf
    assert 2 < low_side.high < 20
    neither = quantile_interval([3.0, 5.0], 0.5, 0.95)
    assert (neither.low, neither.high) == (-math.inf, math.inf)


def test_a_lower_quantile_is_rounded_outward() -> None:
    assert lower_quantile(np.arange(1, 11), 0.1) == 1
    assert lower_quantile(np.arange(1, 101), 0.1) == 10
    assert quantile(np.arange(1, 101), 0.9) == 91


def test_mean_intervals_cover_the_truth_as_often_as_they_say() -> None:
    rng = np.random.default_rng(20)
    hits = sum(
        interval.low <= 3.0 <= interval.high
        for interval in (mean_interval(rng.normal(3.0, 2.0, size=12), 0.95) for _ in range(4000))
    )
    assert hits / 4000 == pytest.approx(0.95, abs=0.012)  # 3.5 standard errors


def test_intervals_read_together_all_cover_as_often_as_they_say() -> None:
    rng = np.random.default_rng(21)
    tries, k = 2000, 5
    together = 0
    for _ in range(tries):
        values = rng.normal(size=(30, k + 1))
        together += all(
            interval.low <= 0 <= interval.high
            for interval in (paired_difference(values[:, n], values[:, k], 0.95, k) for n in range(k))
        )
    assert 0.94 <= together / tries <= 0.985  # Bonferroni is cautious


@pytest.mark.parametrize(("n", "share"), [(60, 0.5), (200, 0.8), (400, 0.9)])
def test_quantile_intervals_cover_the_truth_at_least_as_often_as_they_say(n: int, share: float) -> None:
    rng = np.random.default_rng(n)
    truth = -math.log(1 - share)  # of an exponential with mean 1
    tries = 2000
    hits = 0
    for _ in range(tries):
        interval = quantile_interval(rng.exponential(size=n), share, 0.95)
        hits += interval.low <= truth <= interval.high
    assert 0.937 <= hits / tries <= 0.985


def test_a_promise_at_the_rank_is_kept_as_often_as_it_says() -> None:
    rng = np.random.default_rng(22)
    tries = 4000
    kept = sum(rng.gamma(3.0) <= quantile(rng.gamma(3.0, size=99), 0.8) for _ in range(tries))
    assert kept / tries == pytest.approx(0.8, abs=0.022)


@pytest.mark.parametrize("whole_days", [False, True])
def test_promises_of_one_common_rank_are_all_kept_as_often_as_asked(whole_days: bool) -> None:
    """Synthetic queues of 15 orders with shared luck; new runs of the same shop, 400 replications each time."""
    rng = np.random.default_rng(23)

    def runs(n: int) -> np.ndarray:
        shared = rng.normal(size=(n, 1))
        steps = rng.gamma(2.0, 0.6, size=(n, 15)).cumsum(axis=1)
        days = 30 + 4 * shared + steps
        return np.ceil(days) if whole_days else days

    shares = []
    for _ in range(60):
        seen, new = runs(400), runs(400)
        level = common_rank(seen, 0.8)
        promised = np.sort(seen, axis=0)[level - 1]
        assert np.mean((seen <= promised).all(axis=1)) >= 0.8
        shares.append(np.mean((new <= promised).all(axis=1)))
    assert 0.78 <= np.mean(shares) <= (0.86 if whole_days else 0.82)  # whole days are rounded up, so kept more often


def test_the_common_rank_of_one_order_is_the_rank_of_that_order_alone() -> None:
    days = np.random.default_rng(24).permutation(400)[:, None].astype(float)
    assert common_rank(days, 0.8) == quantile_rank(400, 0.8)


def test_the_common_rank_of_orders_that_move_together_is_no_later_than_for_one() -> None:
    one = np.random.default_rng(25).normal(size=400)
    assert common_rank(np.column_stack([one, one + 3, one * 2]), 0.8) == quantile_rank(400, 0.8)


def test_days_that_many_runs_share_do_not_push_the_others_promises_out() -> None:
    """One order ships on day 1 in 90 of 100 runs, late just when the other is: promising both takes no more than one."""
    steady = np.repeat([1, 2], [90, 10])
    spread = np.arange(1, 101)
    level = common_rank(np.column_stack([steady, spread]), 0.8)
    assert level == quantile_rank(100, 0.8)
    assert np.sort(spread)[level - 1] == 81


@pytest.mark.parametrize(("n", "confidence", "most"), [(10, 0.95, 0.2589), (30, 0.95, 0.0950), (59, 0.95, 0.0495)])
def test_of_what_was_never_seen_a_share_is_left_open(n: int, confidence: float, most: float) -> None:
    # 1 - 0.05^(1/n), as in tables of exact binomial bounds (Clopper & Pearson 1934); Hanley & Lippman-Hand 1983: about 3/n
    assert most_share(0, n, confidence) == pytest.approx(most, abs=5e-5)
    assert most_share(n, n) == 1.0
    assert most_share(2, 20, 0.975) == pytest.approx(0.3170, abs=5e-5)  # Clopper & Pearson 1934, 2 of 20: .012 to .317


def test_where_no_difference_was_seen_a_bound_stands_and_not_nothing() -> None:
    base = np.array([40.0, 44.0, 61.0, 47.0] * 25)
    bound = paired_difference(base, base, 0.95)
    assert bound.unseen
    assert bound.value == 0
    assert bound.high == -bound.low == pytest.approx((1 - 0.05 ** (1 / 100)) * 21)
    assert paired_difference(base, base, 0.95, 5).high == pytest.approx((1 - 0.01 ** (1 / 100)) * 21)
    assert not paired_difference(base, base + 1, 0.95).unseen
    steady = paired_difference([5.0] * 9, [5.0] * 9)  # what never varies can be told at once
    assert (steady.low, steady.high) == (0, 0)


def test_differences_that_are_rare_are_covered_though_none_may_be_seen() -> None:
    # one run in a hundred is later by 30 days of 60: 0.3 on average; of 200 runs 13 % show none
    rng = np.random.default_rng(7)
    covered = unseen = 0
    tries = 2000
    for _ in range(tries):
        base = rng.uniform(0, 60, size=200)
        late = np.where(rng.random(200) < 0.01, 30.0, 0.0)
        found = paired_difference(base + late, base)
        unseen += found.unseen
        covered += found.low <= 0.3 <= found.high if found.unseen else True
    assert unseen / tries == pytest.approx(0.99**200, abs=0.03)
    assert covered == tries


def test_a_quantile_is_not_said_to_be_bounded_by_the_largest_value_seen() -> None:
    # of 1,537 values the largest is above the 99.9 % point in 79 % only: there is no upper bound at 95 %
    assert pytest.approx(0.785, abs=0.001) == 1 - 0.999**1537
    promise = find_promise(np.arange(1, 1538), 0.8, 0.999)
    assert promise.day_high is None
    assert promise.day_low is not None
    enough = find_promise(np.arange(1, 1538), 0.8, 0.95)
    assert enough.day_low is not None
    assert enough.day_high is not None
    assert enough.day_low < enough.day < enough.day_high
