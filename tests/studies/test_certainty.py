"""It holds that the certainty which is printed is there: intervals, choices, and what sharing luck is worth.

Replications are independent draws, so windows of one long study stand for studies of as many seeds.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from shopsim import load_scenario
from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS, SAVED
from shopsim.answers.batch_size import BatchSizes
from shopsim.scenario import Scenario, change_scenario, parse_scenario
from shopsim.study import Study, choose_best, find_survivors, run_study

DAY = "average_ship_day"
#: Small enough to be run ten thousand times: what cures overnight, two kinds of luck that are shared, days that are lost.
SMALL = """
[shop]
open = { mon-fri = "08:00-12:00" }
interrupted = "5 / 15 / 30 %"
lost_days = "6 %"
[[shop.clamps]]
name = "bar clamp"
count = 2
price = 30.0
[design]
name = "box"
operations = [
  { name = "cut", work = "20 / 30 / 50 min", setup = "20 min" },
  { name = "glue", work = "10 / 15 / 25 min", clamps = [{ kind = "bar clamp", count = 2 }], in_clamps = "3 / 4 / 7 h" },
  { name = "oil", work = "5 / 10 / 20 min", cure = "18 / 24 / 40 h", setup = "15 min" },
]
[run]
orders = 8
batch = 2
start = 2027-01-11
"""
SIZES = (1, 2, 4, 8)
MIN_CHANCE = 1e-4


def fewest_hits(tries: int, share: float) -> int:
    """So few hits or fewer come with a chance of one in ten thousand where ``share`` of tries hit."""
    return int(stats.binom.ppf(MIN_CHANCE, tries, share))


@pytest.fixture(scope="module")
def box() -> Scenario:
    return parse_scenario(SMALL)


@pytest.fixture(scope="module")
def plan(box: Scenario) -> BatchSizes:
    return BatchSizes(box, SIZES)


@pytest.fixture(scope="module")
def long_study(plan: BatchSizes) -> Study:
    return run_study(plan.alternatives, replications=6000, seed=11)


def windows(study: Study, size: int) -> list[Study]:
    return [study.only(np.arange(first, first + size)) for first in range(0, study.replications - size + 1, size)]


@pytest.mark.slow
def test_printed_intervals_hold_the_truth_as_often_as_they_say(plan: BatchSizes, long_study: Study) -> None:
    truth = plan.answer(long_study).rows
    single = BatchSizes(plan.scenario, (8,))
    hits = {"one": 0, "all": 0}
    studies = windows(long_study, 40)
    names = {size: next(name for name in plan.alternatives if f"of {size}," in name or (size == 2 and name == "now"))
             for size in SIZES}  # fmt: skip
    for study in studies:
        rows = plan.answer(study).rows
        wanted = truth[f"{SAVED[DAY]}"]
        inside = (rows[f"{SAVED[DAY]}_low"] <= wanted) & (wanted <= rows[f"{SAVED[DAY]}_high"])
        hits["all"] += bool(inside.all())
        two = single.answer(study.pick(["now", names[8]])).rows.set_index("batch").loc[8]
        hits["one"] += two[f"{SAVED[DAY]}_low"] <= wanted[rows["batch"] == 8].iloc[0] <= two[f"{SAVED[DAY]}_high"]
    tries = len(studies)
    assert tries == 150
    assert hits["one"] >= fewest_hits(tries, 0.95)
    assert hits["one"] < tries  # an interval that always holds the truth is no 95 % interval
    assert hits["all"] >= fewest_hits(tries, 0.95)


@pytest.mark.slow
def test_the_choice_is_right_within_a_quarter_of_a_day_in_nearly_every_study(long_study: Study) -> None:
    names = long_study.names
    values = np.column_stack([long_study.values(name, DAY) for name in names])
    truth = values.mean(axis=0)
    tries, right, kept_best, runs = 60, 0, 0, 0
    for number in range(tries):
        table = values[number * 100 : (number + 1) * 100]

        def deliver(which: Sequence[int], first: int, last: int, table: np.ndarray = table) -> np.ndarray:
            return table[first:last, list(which)]

        choice = choose_best(deliver, len(names), delta=MATTERS_DAYS, alpha=1 - CONFIDENCE, n0=25, most=100)
        right += truth[choice.survivors[0]] <= truth.min() + MATTERS_DAYS
        runs += choice.runs
        kept_best += bool(find_survivors(table, CONFIDENCE)[int(truth.argmin())])
    assert right >= 0.95 * tries
    assert kept_best >= fewest_hits(tries, CONFIDENCE)
    assert runs < 0.7 * tries * 100 * len(names)  # and does not run everything to the end for it


def ratio(one: np.ndarray, other: np.ndarray) -> float:
    """Variance of a difference on luck of its own each, over that on shared luck."""
    return float((one.var(ddof=1) + other.var(ddof=1)) / (one - other).var(ddof=1))


@pytest.mark.slow
def test_sharing_luck_is_worth_fifteen_times_the_runs_for_batches_and_a_hundred_for_clamps() -> None:
    # measured with 800 replications: batches 5 against 10: 26 and 27, 10 against 20: 23; clamps: 220 and more
    stools = load_scenario("scenarios/counter-stools.toml")
    alternatives = {
        "now": stools,
        "10": change_scenario(stools, {"run.batch": 10}),
        "20": change_scenario(stools, {"run.batch": 20}),
        "more": change_scenario(stools, {'shop.clamps."bar clamp".count': 12, 'shop.clamps."band clamp".count': 3}),
        "fewer": change_scenario(stools, {'shop.clamps."bar clamp".count': 6}),
    }
    study = run_study(alternatives, replications=400, seed=5)
    days = {name: study.values(name, DAY) for name in study.names}
    assert ratio(days["10"], days["now"]) >= 15
    assert ratio(days["20"], days["10"]) >= 15
    assert ratio(days["more"], days["now"]) >= 100
    assert ratio(days["fewer"], days["now"]) >= 100
