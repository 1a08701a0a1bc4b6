"""Scores of forecasts against printed and exact values, and against an independent library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scoringrules
from scipy import integrate, special, stats

from shopsim.scenario.model import DeliveredOrder, Learned
from shopsim.study.recalibration import find_recalibration
from shopsim.study.scoring import check_uniform, find_pit, interval_score, pinball_loss, sample_crps


def test_mean_pinball_losses_are_those_of_the_manual() -> None:
    # Koenker & Bassett (1978); the example of the scikit-learn manual, mean pinball loss (seen in part).
    y = [1.0, 2.0, 3.0]
    expected = {(0, 2, 3): {0.1: 0.1 / 3, 0.9: 0.3}, (1, 2, 4): {0.1: 0.3, 0.9: 0.1 / 3}}
    for forecast, losses in expected.items():
        for level, loss in losses.items():
            assert float(pinball_loss(y, forecast, level).mean()) == pytest.approx(loss, abs=5e-5)


@pytest.mark.parametrize(("level", "loss"), [(0.1, 0.175498), (0.5, 0.398942), (0.9, 0.175498)])
def test_the_true_quantile_of_a_normal_loses_its_density(level: float, loss: float) -> None:
    # The expected loss at the true quantile z is phi(z) (exact, by parts).
    z = float(special.ndtri(level))
    found, _ = integrate.quad(lambda y: float(pinball_loss(y, z, level)) * stats.norm.pdf(y), -12, 12, points=[z])
    assert found == pytest.approx(loss, abs=5e-7)
    assert found == pytest.approx(float(stats.norm.pdf(z)), abs=1e-9)


@pytest.mark.parametrize(("actual", "crps"), [(0.0, 0.233695), (1.0, 0.602441)])
def test_the_crps_of_a_normal_is_the_printed_one(actual: float, crps: float) -> None:
    # Gneiting & Raftery (2007), closed form for the normal (seen in the formula list of an open R library); also twice the integral of pinball over levels.
    sample = special.ndtri((np.arange(200_000) + 0.5) / 200_000)
    assert sample_crps(actual, sample) == pytest.approx(crps, abs=2e-5)
    twice, _ = integrate.quad(lambda p: 2 * float(pinball_loss(actual, special.ndtri(p), p)), 0, 1, limit=200)
    assert twice == pytest.approx(crps, abs=1e-5)


def test_of_40_deliveries_32_to_39_hits_fit_windows_of_90_percent() -> None:
    # Binomial, worked out here; 5 % two-sided, and P(31 or fewer) = 0.0155.
    law = stats.binom(40, 0.9)
    assert [k for k in range(41) if law.cdf(k) > 0.025 and law.sf(k - 1) > 0.025] == list(range(32, 40))
    assert law.cdf(31) == pytest.approx(0.0155, abs=5e-5)


@pytest.mark.parametrize(("n", "limit"), [(10, 0.409), (20, 0.294), (30, 0.242)])
def test_the_test_of_uniformity_has_the_printed_five_percent_points(n: int, limit: float) -> None:
    # Massey (1951), Miller (1956), from memory: the 5 % points of the one-sample Kolmogorov-Smirnov statistic.
    def shifted(distance: float) -> list[float]:
        return [min(max((i + 1) / n - distance, 0.0), 1.0) for i in range(n)]

    for by, significant in ((-0.0015, False), (0.0015, True)):
        statistic, p_value = check_uniform(shifted(limit + by))
        assert statistic == pytest.approx(limit + by, abs=1e-12)
        assert (p_value < 0.05) is significant


def test_the_next_order_is_below_the_kth_of_n_earlier_ones_with_chance_k_over_n_plus_1() -> None:
    # Exchangeability, worked out here; the 9th of 9 gives 0.9. Here through the recalibration that rests on it: forecasts
    # that are far too sure (places pile up at the ends) hold again as often as asked.
    rng = np.random.default_rng(20270111)
    n, tries, kept = 9, 20_000, 0
    for pits in rng.beta(0.4, 0.3, (tries, n + 1)):
        told = Learned(delivered=tuple(_order(number, pit) for number, pit in enumerate(pits[:n])))
        found = find_recalibration(told)
        assert found is not None
        kept += bool(pits[n] <= found.upper(0.9))
    assert abs(kept / tries - 0.9) < 4 * math.sqrt(0.9 * 0.1 / tries)


def _order(number: int, pit: float) -> DeliveredOrder:
    return DeliveredOrder.model_construct(order=str(number), run=str(number), pit=float(pit))


def test_the_interval_score_of_the_true_90_percent_interval_of_a_normal_is_exact() -> None:
    # Gneiting & Raftery (2007), eq. 43, from memory; expected value 4.125426 = 40 phi(1.645), exact by parts.
    z = float(special.ndtri(0.95))
    found, _ = integrate.quad(
        lambda y: float(interval_score(y, -z, z, 0.9)) * stats.norm.pdf(y), -12, 12, points=[-z, z]
    )
    assert found == pytest.approx(4.125426, abs=5e-7)
    assert found == pytest.approx(40 * float(stats.norm.pdf(z)), abs=1e-9)


def test_scores_agree_with_an_independent_library() -> None:
    # The scoringrules package, version 0.10.
    rng = np.random.default_rng(5)
    for _ in range(50):
        sample, actual = rng.gamma(3.0, 4.0, int(rng.integers(2, 60))), float(rng.gamma(3.0, 4.0))
        low, high = sorted(rng.gamma(3.0, 4.0, 2))
        level = float(rng.uniform(0.05, 0.95))
        assert sample_crps(actual, sample) == pytest.approx(float(scoringrules.crps_ensemble(actual, sample)))
        theirs = float(scoringrules.interval_score(actual, low, high, 1 - level))
        assert float(interval_score(actual, low, high, level)) == pytest.approx(theirs)
        assert float(pinball_loss(actual, low, level)) == pytest.approx(
            float(scoringrules.quantile_score(actual, low, level))
        )


def test_the_place_in_a_forecast_is_uniform_for_whole_days_too() -> None:
    # Czado, Gneiting & Held (2009): drawn within ties, the place of an exchangeable value is uniform.
    rng = np.random.default_rng(11)
    days = rng.poisson(3.0, (4000, 40))
    places = [find_pit(int(row[0]), row[1:], float(rng.random())) for row in days]
    assert check_uniform(places)[1] > 1e-3
    plain = [float((row[1:] < row[0]).mean()) for row in days]
    assert check_uniform(plain)[1] < 1e-6
