"""A value uncertain to one side more than to the other: its chances and quantiles against plain sums over normal scores."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from shopsim.engine.lopsided import Lopsided

LAWS = [Lopsided(0.18, 0.28, 1.15, 0.25), Lopsided(-1.0, 0.9, 0.1, 0.4), Lopsided(0.0, 0.0, 0.5, 0.3)]


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("value", [-2.5, -0.6, 0.0, 0.3, 1.9])
def test_the_chance_is_the_integral_over_the_normal_score_of_each_side(law: Lopsided, value: float) -> None:
    def given(z: float) -> float:
        side = law.below if z < 0 else law.above
        return float(stats.norm.pdf(z) * stats.norm.cdf((value - law.middle - side * z) / law.sd))

    chance = sum(integrate.quad(given, *ends, epsabs=1e-12)[0] for ends in ((-10, 0), (0, 10)))
    assert law.cdf(value) == pytest.approx(chance, abs=1e-9)
    step = 1e-5
    slope = (law.cdf(value + step) - law.cdf(value - step)) / (2 * step)
    assert math.exp(law.log_density(value)) == pytest.approx(slope, rel=1e-4)


@pytest.mark.parametrize("law", LAWS)
def test_quantiles_turn_chances_round_and_tails_count_both_sides(law: Lopsided) -> None:
    for share in (0.001, 0.1, 0.5, 0.9, 0.999):
        assert law.cdf(law.quantile(share)) == pytest.approx(share, abs=1e-9)
        assert law.tail(law.quantile(share)) == pytest.approx(2 * min(share, 1 - share), abs=1e-9)
    mean, square = (
        integrate.quad(lambda value, power=power: value**power * math.exp(law.log_density(value)), -12, 12, points=[0])[0]
        for power in (1, 2)
    )  # fmt: skip
    assert law.mean == pytest.approx(mean, abs=1e-6)
    assert law.variance == pytest.approx(square - mean**2, abs=1e-6)


def test_with_both_sides_alike_it_is_the_normal_law_and_without_error_two_halves_of_one() -> None:
    even = Lopsided(1.0, 0.6, 0.6, 0.8)
    assert [even.quantile(share) for share in (0.1, 0.5, 0.9)] == pytest.approx(
        stats.norm(1.0, 1.0).ppf([0.1, 0.5, 0.9])
    )
    bare = Lopsided(0.0, 0.5, 2.0, 0.0)
    assert [bare.quantile(share) for share in (0.1, 0.9)] == pytest.approx(
        [-0.5 * 1.2815516, 2.0 * 1.2815516], abs=1e-6
    )
    assert np.isfinite(bare.log_density(1.0))
