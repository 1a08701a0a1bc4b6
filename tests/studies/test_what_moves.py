"""What moves the date: shares of variance, what to time first, and the check by running again."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shopsim import parse_scenario
from shopsim.answers.what_moves import find_what_moves
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario
from shopsim.screen_tables import what_moves_screen
from shopsim.study import run_study
from shopsim.study.imagined_logs import imagine_logs, rank_timing
from shopsim.study.shared_factors import BIAS, ESTIMATE, PACE, Factors, draw_factors, fit_result

# one worker, one piece after the other, open round the clock: the makespan is the sum of the work
CHAIN = """
[shop]
open = "always"
[design]
name = "tray"
operations = [
  { name = "long", work = "250 / 500 / 1000 min" },
  { name = "short", work = "25 / 50 / 100 min" },
  { name = "sure", work = "400 min" },
]
[run]
orders = 30
batch = 30
start = 2027-01-11
"""


@pytest.fixture
def chain() -> Scenario:
    return parse_scenario(CHAIN)


def test_the_shares_are_those_that_a_sum_must_have(chain: Scenario) -> None:
    study = run_study({"now": chain}, replications=1500)
    makespan = study.values("now", "makespan_days")
    factors = draw_factors(chain, 1, study.outcomes["now"].replications, 10)
    fit = fit_result(np.log(makespan - 400 * 30 / 1440), factors)
    shares = {(found.factor.kind, found.factor.name): found.share for found in fit.shares}
    # to first order log(sum) = bias + pace + w_long e_long + w_short e_short, with weights 10/11 and 1/11 of the work
    tau = math.sqrt((1.7 * math.log(2) / 1.2815515655446004) ** 2 - 0.25**2)
    parts = {
        (BIAS, ""): 0.25**2, (PACE, ""): 0.12**2,
        (ESTIMATE, "long"): (10 / 11 * tau) ** 2, (ESTIMATE, "short"): (1 / 11 * tau) ** 2,
    }  # fmt: skip
    for key, part in parts.items():
        assert shares[key] == pytest.approx(part / sum(parts.values()), abs=0.05), key
    assert (ESTIMATE, "sure") not in shares
    assert fit.total > 0.95


def test_timing_first_what_tells_most_of_bias_and_own_error_together(chain: Scenario) -> None:
    study = run_study({"now": chain}, replications=2000)
    factors = draw_factors(chain, 1, study.outcomes["now"].replications, 10)
    result = np.log(study.values("now", "makespan_days") - 400 * 30 / 1440)
    ranked = rank_timing(result, imagine_logs(chain, factors, 1, 5, 20), 3)
    assert [factor.name for factor, _ in ranked] == ["long", "short"]
    assert ranked[0][1] > 0.5 > ranked[1][1]
    # to first order log(sum) = bias + pace + w_long e_long + w_short e_short; the gain of the first in closed form:
    # Cov(result, look)^2 / (Var(look) Var(result)), where the run that is timed has a pace of its own
    tau = math.sqrt((1.7 * math.log(2) / 1.2815515655446004) ** 2 - 0.25**2)
    covariance = 0.25**2 + 10 / 11 * tau**2
    look = 0.25**2 + 0.12**2 + tau**2 + 0.25**2 / 5
    variance = 0.25**2 + 0.12**2 + (10 / 11 * tau) ** 2 + (1 / 11 * tau) ** 2
    assert ranked[0][1] == pytest.approx(covariance**2 / look / variance, abs=0.05)


def test_running_again_with_such_a_log_narrows_the_window_as_foretold() -> None:
    even = CHAIN.replace("250 / 500 / 1000 min", "400 / 500 / 625 min").replace("25 / 50 / 100 min", "40 / 50 / 62 min")
    answer = find_what_moves(parse_scenario(even), replications=399)
    rows = answer.rows.set_index("name")
    long = rows.loc["long"]
    assert long["time_first"] == 1
    narrower = long["window_then_days"] / long["window_days"]
    assert narrower == pytest.approx(math.sqrt(1 - long["gain"]), abs=0.12)
    assert 'Time this first: "long"' in answer.sentence
    assert f"from {long['window_days']} days to about {long['window_then_days']}." in answer.sentence
    told = rows[rows["time_first"].notna()]
    assert (told["window_then_days"] < told["window_days"]).all()  # what does not narrow is not told to be timed


def test_a_shop_whose_days_are_the_trouble_is_told_to_log_them_first() -> None:
    text = CHAIN.replace(
        '"always"', '{ mon-sun = "08:00-16:00" }\ninterrupted = "5 / 40 / 80 %"\nlost_days = "10 / 30 / 50 %"'
    )
    text = text.replace("250 / 500 / 1000 min", '240 / 250 / 260 min", basis = "timed').replace(
        "25 / 50 / 100 min", "50 min"
    )
    answer = find_what_moves(
        parse_scenario(text + "[luck]\nbias_spread = 0.02\npace_spread = 0.02\n"), replications=299
    )
    assert answer.rows.iloc[0]["what"] == "calendar"
    assert "Log your days first" in answer.sentence


def test_what_was_timed_already_is_not_asked_for_again() -> None:
    # Forty units of the long operation were logged, ten in each of four runs: what is not known of it is 0.5 / sqrt 40.
    logged = "".join(
        f'[[learned.times]]\noperation = "long"\nrun = "{run}"\nunits = 10\nmean = {math.log(1.2):.6f}\nsquares = 0.5\nlog = "own"\n'
        for run in ("a", "b", "c", "d")
    )
    scenario = parse_scenario(CHAIN + logged)
    study = run_study({"now": scenario}, replications=300)
    factors = draw_factors(scenario, 1, study.outcomes["now"].replications, 10)
    days = study.values("now", "makespan_days")
    fit = fit_result(days, factors)
    ranked = rank_timing(days, imagine_logs(scenario, factors, 1, 5, 20), 3)
    assert [factor.name for factor, _ in ranked] == ["short", "long"]
    shares = {(found.factor.kind, found.factor.name): found.share for found in fit.shares}
    assert shares[PACE, ""] > shares[ESTIMATE, "long"]


def test_a_date_that_hangs_on_material_says_to_have_it_on_the_shelf() -> None:
    text = CHAIN.replace("250 / 500 / 1000 min", "500 min").replace("25 / 50 / 100 min", "50 min")
    text += '[[materials]]\nname = "boards"\nlead = "5 / 10 / 40 d"\nneeded_by = ["long"]\n'
    answer = find_what_moves(parse_scenario(text), replications=199)
    assert answer.rows.iloc[0][["what", "name"]].tolist() == ["material", "boards"]
    assert answer.rows.iloc[0]["share"] > 0.9
    assert answer.sentence == (
        'The day on which the last order ships depends most on when "boards" comes (99 % of its variance). Neither timing nor logging days would '
        'narrow the window by a day that these runs can tell. Have "boards" on the shelf before you begin.'
    )


@pytest.mark.parametrize("confidence", [0, 1, 80, True, "0.8"])
def test_a_confidence_that_is_no_share_is_refused(chain: Scenario, confidence: Any) -> None:
    with pytest.raises(InputError, match=r"is not between 0 and 1 · write 0\.8 for 80 %"):
        find_what_moves(chain, confidence=confidence, replications=99)


def test_a_window_of_one_day_is_not_told_to_narrow_from_nothing_to_about_nothing() -> None:
    # some five hours of work from midnight on: the same day in nearly all runs, and the next where all guesses are far out
    short = CHAIN.replace("250 / 500 / 1000 min", "4 / 8 / 16 min").replace("25 / 50 / 100 min", "1 / 2 / 3 min")
    answer = find_what_moves(parse_scenario(short.replace("400 min", "1 min")), replications=300)
    assert set(answer.rows["window_days"]) == {0}
    assert "it is one and the same day in the 80 % window: there is nothing to narrow." in answer.sentence
    assert "would narrow" not in answer.sentence


def test_where_nothing_is_shared_the_answer_says_so() -> None:
    text = CHAIN.replace("250 / 500 / 1000 min", "500 min").replace("25 / 50 / 100 min", "50 min")
    answer = find_what_moves(parse_scenario(text), replications=99)
    assert answer.sentence.startswith("Nothing that the whole run shares moves the day")
    assert (answer.rows["share"] == 0).all()


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
@pytest.mark.parametrize("runs", [300, 400])
def test_stopped_before_anything_was_timed_in_thought_it_still_says_what_moves_the_date(
    chain: Scenario, runs: int
) -> None:
    """Stopped among the runs of the scenario as it is (300 of 400), or before the first of those with a log."""
    done = 0

    def count(finished: int, _total: int) -> None:
        nonlocal done
        done = finished

    answer = find_what_moves(chain, replications=400, on_progress=count, should_stop=lambda: done >= runs)
    assert answer.partial
    assert answer.replications == runs
    assert answer.rows["share"].iloc[0] > 0.3
    assert answer.rows["window_then_days"].isna().all()
    assert answer.sentence.endswith('Time "long" and "short" first.')
    assert "Stopped before it was run how far a log would narrow the window." in answer.notes


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_too_soon_it_says_nothing(chain: Scenario) -> None:
    done = 0

    def count(finished: int, _total: int) -> None:
        nonlocal done
        done = finished

    with pytest.raises(Cancelled, match="stopped after 3 replications, too few"):
        find_what_moves(chain, replications=400, on_progress=count, should_stop=lambda: done >= 3)


def test_too_few_replications_are_refused(chain: Scenario) -> None:
    with pytest.raises(InputError, match="take at least"):
        find_what_moves(chain, replications=5)


def test_too_few_runs_to_tell_what_moves_the_date_are_refused_with_how_many_it_takes(chain: Scenario) -> None:
    # two guesses, bias, pace, curing and four numbers of the calendar: three runs for each and for two more
    with pytest.raises(InputError, match=r"^32 replications are too few .* · ask for 33 or more$"):
        find_what_moves(chain, replications=32)
    assert len(find_what_moves(chain, replications=33).rows) == 6
    factors = Factors((), ((0,),), np.arange(8.0).reshape(8, 1), np.arange(8.0).reshape(8, 1))
    with pytest.raises(InputError, match=r"^8 replications are too few to tell apart 1 things"):
        fit_result(np.arange(8.0), factors)


def test_the_table_names_what_moves_the_date_in_a_makers_words(chain: Scenario) -> None:
    shown = what_moves_screen(find_what_moves(chain, replications=60))["what"].tolist()
    assert set(shown) == {
        "how far all your guesses are out together", "your pace in this run", "how fast things cure",
        "interruptions and lost days", 'the guess for "long"', 'the guess for "short"',
    }  # fmt: skip


def test_the_command_without_a_log_says_what_to_time_first(
    shopsim: Callable[..., tuple[int, str, str]], trays: Path
) -> None:
    code, out, _ = shopsim("times", trays, "--replications", 99, "--jobs", 1, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["title"] == "What moves the date"
    assert {row["what"] for row in told["rows"]} >= {"estimate of", "bias", "pace", "calendar"}
    code, out, _ = shopsim("times", trays, "--replications", 99, "--jobs", 1)
    assert code == 0
    assert "What moves the date" in out
