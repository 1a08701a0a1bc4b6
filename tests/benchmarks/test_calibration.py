"""Stated chances hold in shops that no forecast has seen: a smaller edition of bench_calibration.py."""

from __future__ import annotations

import functools

import numpy as np
import pytest
from calibration import Case, Judged, calibrate
from scipy import stats

SEED = 7
REPLICATIONS = 59
#: The joint promise falls short with few replications: its dates are found in the runs that are then counted.
TOGETHER = 400


@functools.cache
def judge(case: Case, shops: int, replications: int = REPLICATIONS) -> Judged:
    return calibrate(case, shops, replications, SEED)


def fits(hits: int, n: int, share: float) -> bool:
    """Whether so many hits are compatible with a share: the central 99.8 % of the binomial law."""
    return bool(stats.binom.ppf(0.001, n, share) <= hits <= stats.binom.ppf(0.999, n, share))


@pytest.mark.slow
def test_windows_and_promises_hold_as_often_as_stated_in_150_true_shops() -> None:
    judged = judge(Case(), 150)
    assert judged.shops == 150
    # one order of each shop, picked at random, so that the shops are independent tries; ties of whole days drawn
    for level in (0.8, 0.9):
        inside = int((np.abs(judged.random_pits - 0.5) <= level / 2).sum())
        assert fits(inside, 150, level), (level, inside)
    assert fits(int((judged.last_pits <= 0.8).sum()), 150, 0.8)
    assert judged.uniform() > 0.002
    # whole days as they are printed, against the chance printed beside them
    for level in ("80", "90"):
        assert abs(judged.mean(f"in {level}") - judged.mean(f"stated {level}")) < 0.10
    assert judged.mean("stated 80") >= 0.8


@pytest.mark.slow
def test_promises_to_all_buyers_together_hold_as_often_as_stated_in_60_true_shops() -> None:
    assert fits(int(judge(Case(), 60, TOGETHER).joint_exact.sum()), 60, 0.8)


@pytest.mark.slow
def test_logs_narrow_the_window_and_it_still_holds() -> None:
    before, after = judge(Case(), 150), judge(Case(pieces=5, days=20), 60)
    assert fits(int((np.abs(after.random_pits - 0.5) <= 0.4).sum()), 60, 0.8)
    assert after.mean("width 80") < 0.7 * before.mean("width 80")
    assert after.mean("crps") < 0.8 * before.mean("crps")


@pytest.mark.slow
def test_windows_hold_in_a_world_that_is_not_as_believed_once_it_is_logged() -> None:
    judged = judge(Case(own=False, pieces=5, days=20), 60)
    inside = int((np.abs(judged.random_pits - 0.5) <= 0.4).sum())
    assert stats.binom.ppf(0.001, 60, 0.75) <= inside <= stats.binom.ppf(0.999, 60, 0.90)


@pytest.mark.slow
def test_a_forecast_of_unit_noise_alone_is_nearly_always_wrong() -> None:
    judged = judge(Case(without=("estimate errors", "bias", "pace", "days", "material")), 40)
    assert judged.inside[:, 0].mean() < 0.2
    assert judged.mean("crps") > 1.3 * judge(Case(), 150).mean("crps")
