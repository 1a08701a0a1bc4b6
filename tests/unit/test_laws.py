"""Laws of uncertain values, against an independent library and printed numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from shopsim.laws import LAW_PARAMETERS, Z90, Law, fixed, law_name, law_problem, own_law

U = np.array([1e-6, 0.01, 0.1, 0.25, 0.5, 0.75, 0.9, 0.99, 1 - 1e-6])
MANY = (np.arange(200_000) + 0.5) / 200_000


def moments(law: Law) -> tuple[float, float]:
    """Mean and variance of a law by the midpoints of 200,000 strips."""
    values = law.quantile(MANY)
    return float(values.mean()), float(values.var())


def test_beta_pert_has_the_printed_mean_and_variances() -> None:
    # Malcolm, Roseboom, Clark & Fazar (1959): mean (a + 4m + b)/6, here of 2, 3, 10. The exact variance of that beta is
    # (mean - a)(b - mean)/7 = 12/7; the textbooks' ((b - a)/6)^2 = 16/9 is another number.
    law = Law("beta-pert", (2.0, 3.0, 10.0))
    assert law.mean == pytest.approx(4.0, rel=1e-12)
    mean, variance = moments(law)
    assert mean == pytest.approx(4.0, rel=1e-6)
    assert variance == pytest.approx(12 / 7, rel=1e-4)
    assert abs(variance - 16 / 9) > 0.05
    # quantiles of the same beta, worked out with an independent library
    assert law.quantile(np.array([0.1, 0.5, 0.9])) == pytest.approx([2.478469, 3.768959, 5.871226], abs=5e-7)


def test_the_triangular_law_has_the_standard_mean_variance_and_quantiles() -> None:
    # mean (a + b + c)/3 and variance (a^2 + b^2 + c^2 - ab - ac - bc)/18, in any handbook; here of 2, 3, 10
    law = Law("triangular", (2.0, 3.0, 10.0))
    assert law.mean == pytest.approx(5.0, rel=1e-12)
    mean, variance = moments(law)
    assert mean == pytest.approx(5.0, rel=1e-6)
    assert variance == pytest.approx(57 / 18, rel=1e-4)
    assert law.quantile(np.array([0.1, 0.5, 0.9])) == pytest.approx([2.894427, 4.708497, 7.633568], abs=5e-7)


def test_the_lognormal_law_has_the_moments_of_aitchison_and_brown() -> None:
    # Aitchison & Brown (1957), from memory: mean m exp(s^2/2), variance m^2 exp(s^2)(exp(s^2) - 1); median 8, sigma 0.5
    law = Law("lognormal", (8.0, 0.5))
    assert law.mean == pytest.approx(9.065188, abs=5e-7)
    mean, variance = moments(law)
    assert mean == pytest.approx(9.065188, rel=1e-4)
    assert variance == pytest.approx(23.340535, rel=2e-3)
    assert law.quantile(np.array([0.1, 0.9])) == pytest.approx([4.215068, 15.183622], abs=5e-7)


def test_a_range_that_is_even_on_both_sides_is_the_lognormal_law_through_its_ends() -> None:
    # 10 % at 6 and 90 % at 12: sigma ln(12/6)/(2 x 1.281552) = 0.270433, median 8.485281, mean 8.801305 (own working)
    median = math.sqrt(6.0 * 12.0)
    law = Law("range", (6.0, median, 12.0))
    assert median == pytest.approx(8.485281, abs=5e-7)
    assert math.log(2.0) / (2 * Z90) == pytest.approx(0.270433, abs=5e-7)
    assert moments(law)[0] == pytest.approx(8.801305, rel=1e-5)
    assert law.mean == pytest.approx(8.801305, rel=1e-4)
    assert law.quantile(U) == pytest.approx(Law("lognormal", (median, 0.2704330)).quantile(U), rel=1e-5)


@pytest.mark.parametrize(
    ("law", "reference"),
    [
        (Law("exponential", (20.0,)), stats.expon(scale=20.0)),
        (Law("erlang", (20.0, 1.0)), stats.expon(scale=20.0)),
        (Law("erlang", (20.0, 4.0)), stats.gamma(4, scale=5.0)),
        (Law("erlang", (1.0, 1000.0)), stats.gamma(1000, scale=1e-3)),
        (Law("lognormal", (8.0, 0.5)), stats.lognorm(0.5, scale=8.0)),
        (Law("triangular", (2.0, 3.0, 10.0)), stats.triang(1 / 8, loc=2.0, scale=8.0)),
        (Law("triangular", (0.0, 0.0, 5.0)), stats.triang(0.0, loc=0.0, scale=5.0)),
        (Law("triangular", (1.0, 5.0, 5.0)), stats.triang(1.0, loc=1.0, scale=4.0)),
        (Law("beta-pert", (2.0, 3.0, 10.0)), stats.beta(1.5, 4.5, loc=2.0, scale=8.0)),
        (Law("beta-pert", (1.0, 1.0, 2.0)), stats.beta(1.0, 5.0, loc=1.0, scale=1.0)),
    ],
)
def test_quantiles_and_means_are_those_of_an_independent_library(law: Law, reference: object) -> None:
    assert law.quantile(U) == pytest.approx(reference.ppf(U), rel=1e-9, abs=1e-12)  # type: ignore[attr-defined]
    assert law.mean == pytest.approx(reference.mean(), rel=1e-9)  # type: ignore[attr-defined]


def test_two_exponential_times_add_up_to_an_erlang_time() -> None:
    one = Law("exponential", (10.0,)).quantile(np.random.default_rng(1).random((2, 100_000))).sum(axis=0)
    two = Law("erlang", (20.0, 2.0))
    assert np.quantile(one, [0.1, 0.5, 0.9]) == pytest.approx(two.quantile(np.array([0.1, 0.5, 0.9])), rel=0.02)


rising = st.tuples(st.floats(0.0, 1e4), st.floats(0.0, 1e4), st.floats(0.0, 1e4)).map(sorted)


@settings(deadline=None)
@given(rising)
def test_one_time_in_ten_is_under_the_low_and_one_in_ten_over_the_high(three: list[float]) -> None:
    low, likely, high = three
    found = Law("range", (low, likely, high)).quantile(np.array([0.1, 0.5, 0.9]))
    if likely < 1e-6:  # as good as nothing
        low = likely = 0.0
    assert found == pytest.approx([low, likely, high], rel=1e-9, abs=1e-6)


every_law = st.one_of(
    rising.flatmap(
        lambda three: st.sampled_from([Law(name, tuple(three)) for name in ("range", "triangular", "beta-pert")])
    ),
    st.floats(0, 1e4).map(lambda mean: Law("exponential", (mean,))),
    st.builds(lambda mean, shape: Law("erlang", (mean, float(shape))), st.floats(0, 1e4), st.integers(1, 50)),
    st.builds(lambda median, sigma: Law("lognormal", (median, sigma)), st.floats(0, 1e4), st.floats(0, 2)),
    st.lists(st.floats(0, 1e4), min_size=1, max_size=9).map(lambda seen: Law("logged", tuple(seen))),
    st.floats(0, 1e4).map(fixed),
)


@settings(deadline=None)
@given(every_law)
def test_every_law_is_finite_never_negative_and_rises_with_its_uniform(law: Law) -> None:
    values = law.quantile(U)
    assert values.shape == U.shape
    assert np.isfinite(values).all()
    assert (values >= 0).all()
    assert (np.diff(values) >= -1e-9 * (1 + values[1:])).all()
    assert law.largest >= values[4] - 1e-9 * (1 + abs(values[4]))
    assert law.quantile(np.empty((0,))).shape == (0,)


@settings(deadline=None)
@given(every_law)
def test_the_middle_of_many_draws_is_the_mean(law: Law) -> None:
    values = law.quantile((np.arange(4096) + 0.5) / 4096)
    assert float(values.mean()) == pytest.approx(law.mean, rel=0.05, abs=1e-9)


def test_logged_values_come_back_as_often_as_they_were_seen() -> None:
    law = Law("logged", (5.0, 5.0, 8.0, 20.0))
    values = law.quantile((np.arange(400) + 0.5) / 400)
    assert {value: int((values == value).sum()) for value in (5.0, 8.0, 20.0)} == {5.0: 200, 8.0: 100, 20.0: 100}
    assert law.likely == 6.5
    assert law.mean == 9.5


@pytest.mark.parametrize(
    ("law", "likely", "varies"),
    [
        (fixed(4), 4.0, False),
        (Law("range", (1.0, 2.0, 5.0)), 2.0, True),
        (Law("triangular", (1.0, 2.0, 5.0)), 2.0, True),
        (Law("exponential", (3.0,)), 3.0, True),
        (Law("erlang", (3.0, 2.0)), 3.0, True),
        (Law("lognormal", (7.0, 0.4)), 7.0, True),
        (own_law(np.sqrt, 0.5), 0.5, True),
    ],
)
def test_the_likely_value_is_what_a_maker_would_name(law: Law, likely: float, varies: bool) -> None:
    assert law.likely == likely
    assert law.varies is varies


def test_a_law_of_ones_own_is_used_as_it_is() -> None:
    law = own_law(np.sqrt, 0.5)
    assert law.quantile(np.array([0.25, 0.64])) == pytest.approx([0.5, 0.8])
    assert law.mean == pytest.approx(2 / 3, rel=1e-4)


@pytest.mark.parametrize(
    ("name", "numbers"),
    [
        ("range", (3.0, 2.0, 5.0)),
        ("range", (3.0, 4.0, 4001.0)),
        ("triangular", (1.0, 6.0, 5.0)),
        ("beta-pert", (3.0, 2.0, 1.0)),
        ("erlang", (1.0, 0.0)),
        ("erlang", (1.0, 1.5)),
        ("erlang", (1.0, 1001.0)),
        ("lognormal", (1.0, -0.1)),
        ("lognormal", (1.0, 6.0)),
        ("logged", ()),
    ],
)
def test_numbers_that_make_no_law_are_refused_with_a_mend(name: str, numbers: tuple[float, ...]) -> None:
    problem = law_problem(name, numbers)
    assert problem is not None
    assert all(problem)


def test_numbers_that_make_a_law_are_taken() -> None:
    assert law_problem("range", (2.0, 2.0, 2.0)) is None
    assert law_problem("erlang", (1.0, 3.0)) is None


@pytest.mark.parametrize(
    ("written", "name"),
    [("Erlang", "erlang"), ("beta-PERT", "beta-pert"), ("Beta Pert", "beta-pert"), ("betaPERT", "beta-pert"), (" fixed ", "fixed")],
)  # fmt: skip
def test_a_law_may_be_spelt_as_in_a_book(written: str, name: str) -> None:
    assert law_name(written) == name
    assert name in LAW_PARAMETERS
