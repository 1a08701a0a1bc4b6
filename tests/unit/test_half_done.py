"""What is left of half-done work, and what this run's own pace is: against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special, stats

from shopsim.engine.half_done import draw_remainder
from shopsim.engine.keyed import WORK
from shopsim.engine.learned import learn_times
from shopsim.engine.luck import LuckPlan, draw_block, draw_shared
from shopsim.engine.materials import MaterialLuck
from shopsim.engine.task_times import KINDS
from shopsim.engine.worklist import build_worklist
from shopsim.scenario import parse_scenario
from shopsim.scenario.evidence import LoggedTimes

N = 4000


def make(work: str, count: int = 1, more: str = "") -> LuckPlan:
    text = f"""\
[shop]
open = "always"
[luck]
bias = 1.0
bias_spread = 0.0
pace_spread = 0.0
guess_spread = 0.0
guess_widening = 1.0
[design]
name = "tray"
parts = {{ side = {count} }}
operations = [{{ name = "cut", per = "side", work = {work} }}]
{more}
[run]
orders = 1
start = 2027-01-11
"""
    return LuckPlan(build_worklist(parse_scenario(text)))


def remainder(plan: LuckPlan, spent: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(minutes as drawn, minutes given what was spent, weights) of the one task."""
    numbers = np.arange(N)
    drawn = draw_block(plan, 3, range(N))
    shared = [draw_shared(plan, 3, number) for number in range(N)]
    found = draw_remainder(plan, 3, numbers, shared, drawn.minutes, [0], spent, False)
    return drawn.minutes[:, KINDS.index(WORK), 0], found.work[:, 0], np.exp(found.log_weight)


#: A handwork guess whose claimed spread is the unit's own: ln(high / low) / 2.563 = 0.25, so that all of it is unit noise.
RANGE = f'"{10 * math.exp(-0.25 * 1.2815515655446004):.6f} / 10 / {10 * math.exp(0.25 * 1.2815515655446004):.6f} min"'


@pytest.mark.parametrize("work", [RANGE, '{ law = "lognormal", median = "10 min", sigma = 0.25 }'])
def test_work_is_drawn_given_that_it_is_not_over_yet(work: str) -> None:
    _, given, weight = remainder(make(work), 12.0)
    law = stats.lognorm(0.25, scale=10.0)
    assert weight == pytest.approx(np.full(N, law.sf(12.0)), rel=1e-3)
    assert (given >= 12.0).all()
    place = (law.cdf(given) - law.cdf(12.0)) / law.sf(12.0)  # even on (0, 1) if it is the law given more than 12
    assert stats.kstest(place, "uniform").pvalue > 0.001


def test_nothing_spent_changes_nothing() -> None:
    drawn, given, weight = remainder(make(RANGE), 0.0)
    assert np.array_equal(drawn, given)
    assert (weight == 1.0).all()


def test_of_several_units_the_weights_make_up_for_what_was_drawn_without_knowing() -> None:
    # two sides together, given that they take more than 24 minutes: by weighing what is drawn, and by throwing away what is less
    _, given, weight = remainder(make(RANGE, 2), 24.0)
    rng = np.random.default_rng(5)
    both = 10 * np.exp(0.25 * rng.standard_normal((400_000, 2))).sum(axis=1)
    wanted = both[both > 24.0]
    assert (given > 24.0 - 1e-9).all()
    assert float(weight.mean()) == pytest.approx(wanted.size / both.size, rel=0.08)
    assert float(np.average(given, weights=weight)) == pytest.approx(float(wanted.mean()), rel=0.01)


def test_far_beyond_the_range_a_little_more_is_left_by_the_laws_own_tail() -> None:
    _, given, weight = remainder(make(RANGE), 5000.0)  # a score of 25: no double holds 1 - F
    assert (given > 5000.0).all()
    assert float(np.median(given / 5000.0)) == pytest.approx(
        math.exp(0.25 * math.log(2) / (math.log(500) / 0.25)), rel=0.002
    )
    _, given, _ = remainder(make(RANGE), 5e6)
    assert (given > 5e6).all()
    assert np.isfinite(given).all()
    assert weight.max() < 1e-100


def test_work_that_does_not_vary_and_is_over_leaves_nothing() -> None:
    _, given, weight = remainder(make('"10 min"'), 12.0)
    assert (given == 10.0).all()
    assert (weight == 1.0).all()


def test_this_runs_own_pace_is_drawn_with_bias_and_errors_as_the_closed_form_has_them() -> None:
    # one run, operations o with n_o logs of mean y_o: the sum c = bias + pace has precision 1/(0.25^2 + 0.12^2) + sum 1/v_o with
    # v_o = tau_o^2 + s^2/n_o (normal linear model); pooled s^2 = 0.25^2 (8 + squares / 0.25^2) / (8 + sum (n_o - 1))
    work = build_worklist(parse_scenario("""\
[shop]
open = "always"
[design]
name = "tray"
operations = [{ name = "cut", work = "8 / 10 / 12.5 min" }, { name = "oil", work = "8 / 10 / 12.5 min" }]
[run]
orders = 1
start = 2027-01-11
"""))  # fmt: skip
    cells = [
        LoggedTimes(operation="cut", units=4, mean=0.40, squares=0.1875, run="this"),
        LoggedTimes(operation="oil", units=2, mean=0.10, squares=0.0625, run="this"),
    ]
    beliefs = work.scenario.luck
    learned = learn_times(cells, work.steps, work.scenario.all_designs, beliefs, "this")
    assert learned is not None
    assert learned.goes_on
    s2 = 0.25**2 * (8 + 0.25 / 0.25**2) / (8 + 4)
    error2 = {step.steps[0]: step.error**2 for step in learned.steps}
    v = [error2[0] + s2 / 4, error2[1] + s2 / 2]
    precision = 1 / (0.25**2 + 0.12**2) + 1 / v[0] + 1 / v[1]
    mean = (math.log(1.2) / (0.25**2 + 0.12**2) + 0.40 / v[0] + 0.10 / v[1]) / precision
    pick = np.array([1.0, 0.0, 0.0, 1.0])  # bias, errors, pace
    assert float(pick @ learned.mean) == pytest.approx(mean, rel=1e-6)
    assert float(pick @ learned.covariance @ pick) == pytest.approx(1 / precision, rel=1e-6)
    plain = learn_times(cells, work.steps, work.scenario.all_designs, beliefs)
    assert plain is not None
    assert plain.mean == pytest.approx(learned.mean[:3])
    z = special.ndtri(np.random.default_rng(2).random((4000, 4)))
    drawn = [learned.draw(row[0], row[1:3])[0] + learned.draw_pace(row[0], row[1:3], row[3]) for row in z]
    assert float(np.mean(drawn)) == pytest.approx(mean, abs=4 / math.sqrt(precision * 4000))
    assert float(np.std(drawn)) == pytest.approx(1 / math.sqrt(precision), rel=0.05)


def test_material_that_has_not_come_is_drawn_given_that() -> None:
    more = '[[materials]]\nname = "boards"\nneeded_by = ["cut"]\nlead = "2 / 3 / 5 d"\nlate = "20 %"\n'
    plan = make(RANGE, 1, more)
    (material,) = plan.materials
    assert isinstance(material, MaterialLuck)
    now = 4 * 1440.0
    drawn, given = material.draw_block(1, np.arange(60_000)), material.draw_awaited(1, np.arange(4000), now)
    wanted = drawn[drawn > now]
    assert (given >= now).all()
    assert stats.ks_2samp(wanted, given).pvalue > 0.001
    fixed = make(RANGE, 1, more.replace("2 / 3 / 5 d", "3 d").replace("20 %", "0 %")).materials[0]
    assert (fixed.draw_awaited(1, np.arange(50), now) > now).all()  # past all that the file thinks possible
    assert fixed.draw_rested(1, np.arange(3), 100.0).tolist() == [100.0] * 3
