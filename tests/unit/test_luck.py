"""Keyed draws and the luck of a run."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from scipy import special, stats

from shopsim import parse_scenario
from shopsim.engine import keyed as luck
from shopsim.engine.days import DayBeliefs, DrawnDays, LikelyDays
from shopsim.engine.keyed import draw_uniform, unit_key
from shopsim.engine.learned_days import LearnedDays
from shopsim.engine.luck import draw_luck, likely_luck
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.spreads import spread_of
from shopsim.scenario.model import Luck

PLAIN = """
[shop]
open = {{ mon-fri = "08:00-17:00" }}
interrupted = "0 %"
lost_days = "0 %"
[design]
name = "tray"
parts = {{ side = 2 }}
operations = [{operations}]
[run]
orders = {orders}
batch = {batch}
start = 2027-01-11
{more}
"""


def plan_for(operations: str, orders: int = 4, batch: int = 2, more: str = "") -> SimulationPlan:
    return build_plan(parse_scenario(PLAIN.format(operations=operations, orders=orders, batch=batch, more=more)))


def test_a_million_draws_are_uniform_and_distinct() -> None:
    u = draw_uniform(7, 3, luck.WORK, unit_key(12345, np.arange(1_000_000)))
    assert stats.kstest(u, "uniform").pvalue > 1e-3
    assert np.unique(u).size == u.size
    assert u.min() > 0.0
    assert u.max() < 1.0


@pytest.mark.parametrize("along", ["replication", "seed", "purpose", "step", "unit"])
def test_draws_along_every_key_are_uncorrelated(along: str) -> None:
    n = 20_000
    if along == "unit":
        u = draw_uniform(1, 0, 1, unit_key(9, np.arange(n)))
    elif along == "step":
        u = draw_uniform(1, 0, 1, np.array([unit_key(k, 0) for k in range(n)]).astype(np.uint64))
    else:
        one = unit_key(9, np.zeros(1, dtype=np.int64))
        make = {
            "replication": lambda k: draw_uniform(1, k, 1, one),
            "seed": lambda k: draw_uniform(k, 0, 1, one),
            "purpose": lambda k: draw_uniform(1, 0, k, one),
        }[along]
        u = np.array([make(k)[0] for k in range(n)])
    assert stats.kstest(u, "uniform").pvalue > 1e-3
    assert abs(np.corrcoef(u[:-1], u[1:])[0, 1]) < 4.5 / math.sqrt(n)


def test_one_changed_bit_of_the_key_changes_about_half_of_the_draw() -> None:
    keys = unit_key(3, np.arange(4000))
    before = (draw_uniform(1, 0, 1, keys) * 2**53).astype(np.uint64)
    changed = []
    for bit in range(0, 64, 7):
        after = (draw_uniform(1, 0, 1, keys ^ np.uint64(1 << bit)) * 2**53).astype(np.uint64)
        changed.append(np.mean([int(x).bit_count() for x in before ^ after]) / 53)
    assert all(0.47 < share < 0.53 for share in changed), changed


def test_the_same_seed_gives_the_same_luck_in_another_process() -> None:
    code = (
        "import numpy as np; from shopsim.engine.keyed import draw_uniform, unit_key;"
        "print(draw_uniform(42, 7, 1, unit_key(99, np.arange(3))).tolist())"
    )
    there = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip()
    assert there == str(draw_uniform(42, 7, 1, unit_key(99, np.arange(3))).tolist())


def test_a_range_keeps_the_low_and_high_it_claims_when_it_is_not_widened() -> None:
    # One time in ten under the low, one in ten over the high: with bias, pace and widening off,
    # the marginal of a unit's time has exactly those points (claimed spread above the unit noise).
    plan = plan_for(
        '{ name = "plane", work = "8 / 10 / 25 min", basis = "timed" }',
        orders=1,
        more="[luck]\nbias = 1.0\nbias_spread = 0.0\npace_spread = 0.0\ntimed_spread = 0.0\n",
    )
    minutes = np.array([draw_luck(plan.luck, 5, r).work[0] for r in range(6000)])
    for point, value in ((0.1, 8.0), (0.5, 10.0), (0.9, 25.0)):
        below = float((minutes <= value).mean())
        assert abs(below - point) < 4 * math.sqrt(point * (1 - point) / 6000), (point, below)


def test_a_guess_is_widened_and_split_as_stated() -> None:
    # Claimed sd = ln(16/6.25) / (2 x 1.28155) = 0.3668; widened x 1.7 = 0.6235;
    # estimate error = sqrt(0.6235^2 - 0.25^2) = 0.5712 (above the least error 0.35).
    plan = plan_for('{ name = "plane", work = "6.25 / 10 / 16 min" }')
    operation = plan.worklist.steps[0].operation
    spread = spread_of(operation, operation.work, Luck())
    assert spread.below == pytest.approx(0.6235, abs=1e-4)
    assert spread.above == pytest.approx(0.6235, abs=1e-4)
    assert spread.below * spread.error == pytest.approx(0.5712, abs=1e-4)
    assert spread.below * spread.noise == pytest.approx(0.25, abs=1e-9)


def test_estimate_error_is_shared_by_the_units_of_a_step_and_not_between_steps() -> None:
    plan = plan_for(
        '{ name = "plane", work = "5 / 10 / 20 min" }, { name = "sand", work = "5 / 10 / 20 min" }',
        orders=2,
        more="[luck]\nbias_spread = 0.0\npace_spread = 0.0\n",
    )
    steps = np.array(plan.worklist.task_step)
    runs = np.log([draw_luck(plan.luck, 1, r).work for r in range(1500)])
    first, second = (runs[:, steps == n] for n in (0, 1))
    spread = spread_of(plan.worklist.steps[0].operation, plan.worklist.steps[0].operation.work, Luck())
    same = np.corrcoef(first[:, 0], first[:, 1])[0, 1]
    other = np.corrcoef(first[:, 0], second[:, 0])[0, 1]
    assert same == pytest.approx(spread.error**2, abs=0.05)
    assert abs(other) < 4.5 / math.sqrt(1500)


def test_bias_and_pace_move_all_hands_on_ranges_together() -> None:
    plan = plan_for(
        '{ name = "plane", work = "9 / 10 / 11 min", basis = "timed" }, { name = "glue", work = "9 / 10 / 11 min", basis = "timed" }',
        orders=1,
        more="[luck]\nhand_spread = 0.0\ntimed_spread = 0.0\nbias_spread = 0.3\npace_spread = 0.4\n",
    )
    runs = np.log([draw_luck(plan.luck, 1, r).work for r in range(3000)])
    # log time = ln 10 + ln 1.2 + N(0, 0.3^2) + N(0, 0.4^2) + the claimed spread of 0.0783
    assert runs.mean() == pytest.approx(math.log(12.0), abs=4 * 0.51 / math.sqrt(3000))
    assert runs[:, 0].std() == pytest.approx(math.hypot(0.5, 0.0783), rel=0.06)
    assert np.corrcoef(runs.T)[0, 1] > 0.95


def test_one_number_or_a_named_law_is_taken_at_its_word() -> None:
    plan = plan_for(
        '{ name = "saw", work = "10 min" }, { name = "sand", work = { law = "exponential", mean = "20 min" } }',
        orders=1,
    )
    runs = np.array([draw_luck(plan.luck, 1, r).work for r in range(4000)])
    assert set(runs[:, 0]) == {10.0}
    assert runs[:, 1].mean() == pytest.approx(20.0, abs=4 * 20 / math.sqrt(4000))
    assert stats.kstest(runs[:, 1], "expon", args=(0, 20)).pvalue > 1e-3


def test_a_piece_has_the_same_luck_whatever_the_batch_and_the_clamps() -> None:
    operations = '{ name = "plane", per = "side", handful = 1, work = "5 / 10 / 20 min" }'
    one = draw_luck(plan_for(operations, batch=1).luck, 3, 8)
    four = draw_luck(plan_for(operations, batch=4).luck, 3, 8)
    assert one.work == four.work


def test_an_added_operation_changes_no_other_draw() -> None:
    alone = plan_for('{ name = "plane", work = "5 / 10 / 20 min" }')
    both = plan_for(
        '{ name = "new", after = [], work = "1 / 2 / 9 min" }, { name = "plane", work = "5 / 10 / 20 min" }'
    )
    old = draw_luck(alone.luck, 1, 2).work
    new = draw_luck(both.luck, 1, 2)
    assert old == [m for m, n in zip(new.work, both.worklist.task_step, strict=True) if n == 1]


def test_a_most_likely_nothing_still_has_its_high() -> None:
    plan = plan_for(
        '{ name = "scrape", work = "0 / 0 / 6 min", basis = "timed" }',
        orders=1,
        more="[luck]\nbias = 1.0\nbias_spread = 0.0\npace_spread = 0.0\n",
    )
    minutes = np.array([draw_luck(plan.luck, 5, r).work[0] for r in range(3000)])
    assert abs((minutes > 0).mean() - 0.5) < 4 * 0.5 / math.sqrt(3000)
    assert abs((minutes > 6).mean() - 0.1) < 4 * 0.3 / math.sqrt(3000)


def test_days_keep_the_stated_interruptions_and_losses() -> None:
    text = PLAIN.replace('interrupted = "0 %"', 'interrupted = "5 / 10 / 25 %"').replace(
        'lost_days = "0 %"', 'lost_days = "4 %"'
    )
    plan = build_plan(
        parse_scenario(text.format(operations='{ name = "saw", work = "1 min" }', orders=1, batch=1, more=""))
    )
    shares, lost = [], []
    for r in range(1200):
        days = draw_luck(plan.luck, 1, r).days
        assert days is not None
        share, gone = days.days(2)
        shares.append(1 - share[0])
        lost.append(gone[1])
    taken = np.array(shares)
    for point, value in ((0.1, 0.05), (0.5, 0.10), (0.9, 0.25)):
        assert abs((taken <= value).mean() - point) < 4 * math.sqrt(point * (1 - point) / 1200)
    assert abs(np.mean(lost) - 0.04) < 4 * math.sqrt(0.04 * 0.96 / 1200)


def test_interrupted_days_of_one_run_hang_together_and_are_not_alike() -> None:
    # Normal scores of two days of a run correlate by 0.45^2 / (0.45^2 + 0.75^2) = 0.265, so their ranks by
    # 6/pi asin(0.265 / 2) = 0.254; the mean over 66 pairs of days has a standard error of about 0.02 in 900 runs.
    text = PLAIN.replace('interrupted = "0 %"', 'interrupted = "5 / 10 / 25 %"')
    plan = build_plan(
        parse_scenario(text.format(operations='{ name = "saw", work = "1 min" }', orders=1, batch=1, more=""))
    )
    shares = np.array([days.days(12)[0] for r in range(900) if (days := draw_luck(plan.luck, 3, r).days) is not None])
    assert shares.shape == (900, 12)
    between = stats.spearmanr(shares).statistic[np.triu_indices(12, 1)]
    assert between.mean() == pytest.approx(0.254, abs=0.07)


def test_days_unknown_to_the_file_follow_the_cautious_beliefs() -> None:
    # Median open share 0.90 with 10 % / 90 % points 1/(1+exp(-(2.197 -+ 1.2816 x 0.8746))), lost days 5 % on average.
    text = PLAIN.replace('interrupted = "0 %"\nlost_days = "0 %"\n', "")
    plan = build_plan(
        parse_scenario(text.format(operations='{ name = "saw", work = "1 min" }', orders=1, batch=1, more=""))
    )
    days = [draw_luck(plan.luck, 1, r).days for r in range(1500)]
    share = np.array([d.days(1)[0][0] for d in days if d is not None])
    lost = np.array([d.days(40)[1].mean() for d in days if d is not None])
    assert abs((share <= 0.9).mean() - 0.5) < 4 * 0.5 / math.sqrt(1500)
    assert abs((share <= 0.7458).mean() - 0.1) < 4 * 0.3 / math.sqrt(1500)
    assert lost.mean() == pytest.approx(0.05, abs=0.006)
    assert likely_luck(plan.luck).days is None


def test_the_level_of_the_days_differs_from_run_to_run_as_stated() -> None:
    # What the run shares: a spread of 0.45 on the logit scale, of 0.75 from day to day; over 400 days the mean has
    # sqrt(0.45^2 + 0.75^2 / 400) = 0.4516. Lost days, Beta(1.5, 28.5): a variance of 1.5 x 28.5 / (30^2 x 31) = 0.001532 between
    # runs, and of (0.05 - 0.05^2 - 0.001532) / 400 = 0.000115 within: a spread of 0.0406, where chance alone has 0.0109.
    text = PLAIN.replace('interrupted = "0 %"\nlost_days = "0 %"\n', "")
    plan = build_plan(
        parse_scenario(text.format(operations='{ name = "saw", work = "1 min" }', orders=1, batch=1, more=""))
    )
    days = [found.days(400) for r in range(1500) if (found := draw_luck(plan.luck, 4, r).days) is not None]
    level = np.array([special.logit(share).mean() for share, _ in days])
    assert level.std() == pytest.approx(0.4516, abs=4 * 0.4516 / math.sqrt(2 * 1500))
    assert np.std([lost.mean() for _, lost in days]) == pytest.approx(0.0406, rel=0.12)


def test_what_logged_days_leave_open_differs_from_run_to_run_as_stated() -> None:
    # Level 2 +- 0.3, from day to day 0.5: over 400 days sqrt(0.3^2 + 0.5^2 / 400) = 0.3010 between runs.
    learned = LearnedDays(lost=(2.0, 38.0), level=2.0, level_sd=0.3, day_sd=0.5)
    beliefs = DayBeliefs(None, None, False, 0.0, learned)
    days = [DrawnDays(beliefs, 4, r).days(400) for r in range(1500)]
    level = np.array([special.logit(share).mean() for share, _ in days])
    assert level.mean() == pytest.approx(2.0, abs=4 * 0.301 / math.sqrt(1500))
    assert level.std() == pytest.approx(0.301, abs=4 * 0.301 / math.sqrt(2 * 1500))


def test_bias_and_pace_move_work_that_is_done_again_as_they_move_all_hands_on_ranges() -> None:
    # 10 min as stated, and then always 8 / 10 / 12.5 min more, without a spread of its own: log(10 x 1.5) on average, with
    # 0.3 of bias and 0.4 of pace: a spread of 0.5 between runs, and the claimed 0.1741 of the range.
    plan = plan_for(
        '{ name = "plane", work = "10 min", basis = "timed", redo = { chance = "100 %", work = "8 / 10 / 12.5 min" } }',
        orders=1,
        more="[luck]\nbias = 1.5\nhand_spread = 0.0\ntimed_spread = 0.0\nbias_spread = 0.3\npace_spread = 0.4\n",
    )
    again = np.log([draw_luck(plan.luck, 1, r).work[0] - 10.0 for r in range(3000)])
    assert again.mean() == pytest.approx(math.log(15.0), abs=4 * 0.53 / math.sqrt(3000))
    assert again.std() == pytest.approx(math.hypot(0.5, 0.1741), rel=0.06)


def test_a_cure_keeps_the_low_and_high_it_claims_and_half_of_its_spread_is_the_runs() -> None:
    # One in ten under 10 h and one in ten over 20 h; the logarithms of two pieces of a run correlate by a half.
    plan = plan_for('{ name = "glue", work = "10 min", cure = "10 / 12 / 20 h" }', orders=2)
    hours = np.array([draw_luck(plan.luck, 6, r).cure for r in range(6000)]) / 60
    for point, value in ((0.1, 10.0), (0.5, 12.0), (0.9, 20.0)):
        below = float((hours[:, 0] <= value).mean())
        assert abs(below - point) < 4 * math.sqrt(point * (1 - point) / 6000), (point, below)
    # normal scores correlate by 0.5, so ranks by 6/pi asin(0.25) = 0.483
    assert stats.spearmanr(hours).statistic == pytest.approx(0.483, abs=0.05)


def test_units_need_work_again_as_often_as_said_and_then_take_that_much_more() -> None:
    # 2 sides in each of 500 trays, 10 min each and 5 min more where it is done again: one unit in ten.
    operation = '{ name = "fill", per = "side", work = "10 min", redo = { chance = "10 %", work = "5 min" } }'
    plan = plan_for(operation, orders=500, batch=50)
    work, again = [], []
    for r in range(8):
        draws = draw_luck(plan.luck, 2, r)
        work += draws.work
        again += draws.redone
    assert set(again) == {0, 1, 2}
    assert work == [20.0 + 5.0 * times for times in again]
    assert abs(np.sum(again) / 8000 - 0.1) < 4 * math.sqrt(0.1 * 0.9 / 8000)


def test_late_material_comes_whole_days_late_about_as_often_as_said() -> None:
    more = '[[materials]]\nname = "boards"\nlead = "5 d"\nlate = "20 %"\nneeded_by = ["saw"]\n'
    plan = plan_for('{ name = "saw", work = "1 min" }', more=more)
    at = np.array([draw_luck(plan.luck, 1, r).material_at[0] for r in range(3000)]) / 1440
    assert set(np.unique(at - 5)) <= set(range(40))
    assert abs((at > 5).mean() - 0.2) < 4 * 0.4 / math.sqrt(3000)
    # whole days over an exponential with mean 2: the mean is 1 / (1 - exp(-1/2)) = 2.5415
    late = at[at > 5] - 5
    assert late.mean() == pytest.approx(2.5415, abs=4 * late.std() / math.sqrt(late.size))
    assert likely_luck(plan.luck).material_at == [5 * 1440.0]


def test_material_that_came_before_the_run_is_there_at_its_first_moment_and_no_sooner() -> None:
    # Ordered on Monday the 4th, 5 days: on Saturday the 9th, two days before the run; on the shelf: at its first moment.
    more = '[[materials]]\nname = "boards"\nlead = "5 d"\nordered = 2027-01-04\nneeded_by = ["saw"]\n'
    more += '[[materials]]\nname = "glue"\nlead = "9 d"\non_shelf = true\nneeded_by = ["saw"]\n'
    plan = plan_for('{ name = "saw", work = "1 min" }', more=more)
    assert likely_luck(plan.luck).material_at == draw_luck(plan.luck, 1, 0).material_at == [0.0, 0.0]


def test_interruptions_stated_by_one_number_or_by_a_named_law_are_those() -> None:
    def shares(law: str) -> np.ndarray:
        text = PLAIN.replace('interrupted = "0 %"', f"interrupted = {law}")
        text = text.format(operations='{ name = "saw", work = "1 min" }', orders=1, batch=1, more="")
        plan = build_plan(parse_scenario(text))
        return np.array([days.days(40)[0] for r in range(60) if (days := draw_luck(plan.luck, 1, r).days) is not None])

    assert set(shares('"25 %"').ravel()) == {0.75}
    # triangular from 10 to 40 %, most likely 10: the mean is 20 %, over 2,400 days that hang together by 0.26
    drawn = 1 - shares('{{ law = "triangular", low = "10 %", likely = "10 %", high = "40 %" }}')
    assert drawn.min() >= 0.1 - 1e-6
    assert drawn.max() <= 0.4 + 1e-6
    assert drawn.mean() == pytest.approx(0.2, abs=0.025)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.3])
def test_likely_days_lose_their_share_to_within_half_a_tick_and_none_is_lost(share: float) -> None:
    left, lost = LikelyDays(share).days(3)
    assert (left * 2.0**20 == np.round(left * 2.0**20)).all()
    assert np.abs(left - (1 - share)).max() <= 2.0**-21
    assert not lost.any()


def test_minutes_by_their_own_score_are_those_that_are_drawn() -> None:
    """Work that is half done is drawn by its score, given what it shares; a range from nothing has no logarithm, and is as well."""
    plan = plan_for(
        '{ name = "scrape", work = "0 / 0 / 6 min", basis = "timed" }, { name = "cut", work = "4 / 6 / 11 min" }, '
        '{ name = "fit", work = "0 / 5 / 9 min" }'
    )
    ranges = plan.luck.times.ranges
    assert ranges is not None
    assert ranges.odd
    numbers, rng = np.arange(40), np.random.default_rng(5)
    z_shared, shift = rng.normal(size=(40, ranges.shared.max() + 2)), 0.2 * rng.normal(size=40)
    drawn = ranges.draw(9, numbers, z_shared, shift)
    scores = special.ndtri(luck.draw_for(9, numbers, ranges.purposes, ranges.purpose_of, ranges.key, ranges.spread_key))
    for cell in range(ranges.key.size):
        minutes_at = ranges.minutes_at(cell, z_shared[:, ranges.shared[cell]], shift)
        np.testing.assert_allclose(minutes_at(scores[:, cell]), drawn[:, cell], rtol=1e-12)
