"""What a log is foretold to be worth, against logs of true shops: drawn, learned and forecast by sums written out here."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopsim import parse_scenario
from shopsim.answers.what_moves import find_what_moves
from shopsim.engine.learned import learn_times
from shopsim.engine.luck import LuckPlan
from shopsim.engine.worklist import build_worklist
from shopsim.scenario import Scenario
from shopsim.scenario.model import LoggedTimes
from shopsim.study import run_study
from shopsim.study.beliefs import steps_of
from shopsim.study.imagined_logs import expect_from, imagine_logs, pick_rows
from shopsim.study.shared_factors import ESTIMATE, Factor, draw_factors, fit_result

Z90 = 1.2815515655446004
#: One worker, open round the clock, one piece after the other: the makespan is the sum of the work.
CHAIN = """
[shop]
open = "always"
[design]
name = "tray"
operations = [{{ name = "long", work = "{} min" }}, {{ name = "short", work = "{} min" }}, {{ name = "sure", work = "100 min" }}]
[run]
orders = 30
batch = 30
start = 2027-01-11
"""
Guess = tuple[float, float, float]


def chain(long: Guess, short: Guess) -> Scenario:
    return parse_scenario(CHAIN.format(*(" / ".join(f"{one:g}" for one in guess) for guess in (long, short))))


def draw_guess(rng: np.random.Generator) -> Guess:
    """A guess that leans far to the long side."""
    likely = round(float(rng.uniform(60, 200)), 1)
    return round(likely * rng.uniform(0.8, 0.95), 1), likely, round(likely * rng.uniform(2.0, 3.2), 1)


def off(guess: Guess, z: np.ndarray | float, u: np.ndarray) -> np.ndarray:
    """Log of a unit's time over likely at the scores of the estimate and the unit (STATS formulas for handwork that is guessed)."""
    low, likely, high = guess
    claimed = math.log(high / low) / (2 * Z90)
    error = math.sqrt(max(0.35**2, min(1.7 * claimed, max(claimed, 1.0)) ** 2 - 0.25**2))
    total = math.hypot(error, 0.25)
    zeta = (error * z + 0.25 * u) / total
    side = np.where(zeta < 0, math.log(likely / low), math.log(high / likely)) * total / (claimed * Z90)
    return np.asarray(zeta * side)


def real_widths(scenario: Scenario, guesses: dict[str, Guess], timed: list[str], shops: int, seed: int) -> np.ndarray:
    """The 80 % window of the last day after five units of the timed operations were logged, in so many true shops."""
    rng = np.random.default_rng(seed)
    steps, widths = steps_of(scenario), []
    for _ in range(shops):
        shift = math.log(1.2) + 0.25 * rng.standard_normal() + 0.12 * rng.standard_normal()
        cells = []
        for name in timed:
            logs = shift + off(guesses[name], rng.standard_normal(), rng.standard_normal(5))
            squares = float(((logs - logs.mean()) ** 2).sum())
            cells.append(LoggedTimes(operation=name, units=5, mean=float(logs.mean()), squares=squares))
        learned = learn_times(cells, steps, scenario.all_designs, scenario.luck)
        assert learned is not None
        drawn = learned.mean + rng.standard_normal((300, len(learned.mean))) @ learned.root.T
        place = {steps[step.steps[0]].operation.name: 1 + n for n, step in enumerate(learned.steps)}
        pace = drawn[:, :1] + 0.12 * rng.standard_normal((300, 1))
        minutes = np.full(300, 30 * 100.0)
        for name, guess in guesses.items():
            own = rng.standard_normal((300, 30))
            logs = (
                drawn[:, [place[name]]] + learned.noise_factor * 0.25 * own
                if name in place
                else off(guess, rng.standard_normal((300, 1)), own)
            )
            minutes += (guess[1] * np.exp(pace + logs)).sum(axis=1)
        low, high = np.quantile(np.ceil(minutes / 1440), [0.1, 0.9], method="median_unbiased")
        widths.append(high - low)
    return np.array(widths)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_window_told_is_the_one_that_real_logs_leave_on_average(seed: int) -> None:
    rng = np.random.default_rng(seed)
    guesses = {"long": draw_guess(rng), "short": draw_guess(rng)}
    scenario = chain(guesses["long"], guesses["short"])
    rows = find_what_moves(scenario, replications=800, seed=seed).rows
    told = rows[rows["window_then_days"].notna()].set_index("name")
    assert len(told) == 2
    for name, row in told.iterrows():
        real = real_widths(scenario, guesses, [str(name)], 300, seed)
        noise = math.hypot(row["window_then_error_days"], real.std() / math.sqrt(real.size))
        assert abs(row["window_then_days"] - real.mean()) < 3 * noise + 0.5  # told in whole days
        assert real.mean() < row["window_days"]


def test_the_guess_of_55_60_180_min_narrows_to_9_days_and_not_to_3() -> None:
    guesses: dict[str, Guess] = {"long": (55, 60, 180), "short": (50, 54, 160)}
    answer = find_what_moves(chain(guesses["long"], guesses["short"]))
    long = answer.rows.set_index("name").loc["long"]
    real = real_widths(chain(guesses["long"], guesses["short"]), guesses, ["long"], 300, 4)
    assert long["window_days"] == pytest.approx(16, abs=1)
    assert real.mean() == pytest.approx(9.3, abs=1)
    assert long["window_then_days"] == pytest.approx(real.mean(), abs=2)


def imagine(scenario: Scenario, replications: int):  # type: ignore[no-untyped-def]
    factors = draw_factors(scenario, 1, np.arange(replications), 10)
    return factors, imagine_logs(scenario, factors, 1, 5, 20)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_on_average_over_imagined_logs_what_is_believed_stays_where_it_is(seed: int) -> None:
    """The mean of the posterior mean is the prior mean, of the bias and of the error, each within its noise."""
    rng = np.random.default_rng(seed)
    scenario = chain(draw_guess(rng), draw_guess(rng))
    _, logs = imagine(scenario, 2000)
    steps = steps_of(scenario)
    learned = [
        learn_times([logs.cells(Factor(ESTIMATE, "long", "tray"), row)], steps, scenario.all_designs, scenario.luck)
        for row in range(2000)
    ]
    means = np.array([one.mean for one in learned if one is not None])
    centre = learned[0].steps[0].centre  # type: ignore[union-attr]
    error = means.std(axis=0) / math.sqrt(len(means))
    assert means[:, 0].mean() == pytest.approx(math.log(1.2), abs=4 * error[0])
    assert means[:, 1].mean() == pytest.approx(centre, abs=4 * error[1])


def test_on_average_over_imagined_logs_of_days_the_calendar_stays_where_it_is() -> None:
    shop = CHAIN.replace('open = "always"', 'open = {{ mon-sun = "08:00-16:00" }}')
    scenario = parse_scenario(shop.format("50 / 60 / 75", "20 / 30 / 40"))
    _, logs = imagine(scenario, 4000)
    assert logs.mean_logit is not None
    # Beta(1.5, 28.5): 5 % lost; a median open share of 0.90
    assert logs.lost.mean() == pytest.approx(20 * 0.05, abs=0.1)
    assert np.median(logs.mean_logit) == pytest.approx(math.log(0.9 / 0.1), abs=0.1)
    assert logs.days(0).shares == 20 - logs.lost[0]


def test_a_shop_that_learned_before_imagines_logs_about_what_it_learned() -> None:
    cell = '[[learned.times]]\noperation = "long"\nunits = 40\nmean = 0.9\nsquares = 2.5\n'
    scenario = parse_scenario(CHAIN.format("50 / 60 / 75", "20 / 30 / 40") + cell)
    learned = LuckPlan(build_worklist(scenario)).learned
    assert learned is not None
    _, logs = imagine(scenario, 2000)
    expected = learned.mean[0] + learned.mean[1]
    assert logs.times[Factor(ESTIMATE, "long", "tray")].mean() == pytest.approx(expected, abs=0.03)


def test_what_nobody_does_is_not_imagined_to_be_timed() -> None:
    text = CHAIN.replace('{{ name = "short", ', '{{ name = "short", hands = 0, ')
    _, logs = imagine(parse_scenario(text.format("50 / 60 / 75", "20 / 30 / 40")), 50)
    assert list(logs.times) == [Factor(ESTIMATE, "long", "tray")]


def test_the_share_of_a_lopsided_guess_is_that_of_bins_and_not_of_a_straight_line() -> None:
    """Share of the variance between 100 bins of 20 replications, less what bins of noise would have: no line is assumed there."""
    scenario = chain((55, 60, 120), (50, 54, 90))
    study = run_study({"now": scenario}, replications=2000)
    days = study.values("now", "last_ship_day")
    factors = draw_factors(scenario, 1, study.outcomes["now"].replications, 10)
    shares = {found.factor.name: found.share for found in fit_result(days, factors).shares}
    for column, name in enumerate(("long", "short")):
        bins = np.array_split(days[np.argsort(factors.values[:, column])], 100)
        between = sum(len(part) * (part.mean() - days.mean()) ** 2 for part in bins) / days.size / days.var()
        between = 1 - (1 - between) * 1999 / 1900
        assert shares[name] == pytest.approx(between, abs=0.05), name
        straight = np.corrcoef(factors.values[:, column], days)[0, 1] ** 2
        assert shares[name] > straight + (0.1 if name == "long" else 0.0)


def test_a_bend_is_found_where_a_thing_matters_only_beyond_a_point() -> None:
    rng = np.random.default_rng(3)
    told = rng.standard_normal((4000, 1))
    result = np.maximum(told[:, 0], 1.0)
    expected, share = expect_from(result + 0.01 * rng.standard_normal(4000), told)
    assert share > 0.9 > np.corrcoef(told[:, 0], result)[0, 1] ** 2
    assert expected.mean() == pytest.approx(result.mean(), abs=0.01)


def test_the_logs_run_are_spread_evenly_over_what_they_lead_to_expect() -> None:
    expected = np.random.default_rng(1).permutation(1000).astype(float)
    rows = pick_rows(expected, 20, 7)
    assert (expected[rows] // 50 == np.arange(20)).all()
    assert (pick_rows(expected, 20, 8) != rows).any()
