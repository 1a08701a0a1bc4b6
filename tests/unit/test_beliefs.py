"""What follows from logs: the posterior against closed forms, against plain conditioning, and as it is drawn."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from scipy import special, stats

from shopsim import parse_scenario
from shopsim.engine.learned import LearnedTimes, lean_of, split_spread
from shopsim.engine.learned_days import learn_days, logit_share, prior_days
from shopsim.engine.luck import draw_luck, draw_shared
from shopsim.engine.plan import build_plan
from shopsim.laws import Law
from shopsim.scenario import Scenario
from shopsim.scenario.logs import read_times
from shopsim.scenario.model import LoggedDays
from shopsim.study.beliefs import believe_bias, believe_days, believe_pace, believe_times, list_loggable
from shopsim.study.contradictions import flag_contradictions
from shopsim.study.taking_in import take_times

HEAD = """
[shop]
open = { mon-fri = "08:00-17:00" }
MORE
[design]
name = "tray"
operations = [
  { name = "plane", work = "5 / 10 / 20 min" },
  { name = "glue", work = "6 / 12 / 24 min" },
  { name = "sand", work = "8 / 16 / 32 min", setup = "3 / 4 / 6 min" },
]
[run]
orders = 4
batch = 2
start = 2027-01-11
[learned]
LEARNED
"""
#: Spread ln(2) / 1.28155 = 0.54086, widened by 1.7 to 0.91947; unit noise 0.25 taken off in squares.
TAU = math.sqrt((1.7 * math.log(2) / 1.2815515655446004) ** 2 - 0.25**2)
BIAS, TAU_B, TAU_R = math.log(1.2), 0.25, 0.12


def shop(learned: str = "", more: str = "") -> Scenario:
    return parse_scenario(HEAD.replace("LEARNED", learned).replace("MORE", more))


def posterior(scenario: Scenario) -> LearnedTimes:
    learned = build_plan(scenario).luck.learned
    assert learned is not None
    return learned


def test_one_logged_run_gives_the_closed_form() -> None:
    # v_o = tau^2 + s^2/n_o; c = b + r has precision 1/(tau_b^2 + tau_r^2) + sum 1/v_o; b | c shrinks by g, e_o | c by k_o.
    logged = {"plane": (5, 0.35), "glue": (2, 0.05)}
    text = "times = [" + ", ".join(
        f'{{ operation = "{name}", units = {n}, times = 1, mean = {mean} }}' for name, (n, mean) in logged.items()
    )
    found = posterior(shop(text + "]"))
    s2 = 0.25**2  # a single time an operation says nothing of the noise
    shared = TAU_B**2 + TAU_R**2
    v = {name: TAU**2 + s2 / n for name, (n, _) in logged.items()}
    precision = 1 / shared + sum(1 / one for one in v.values())
    c = (BIAS / shared + sum(mean / v[name] for name, (_, mean) in logged.items())) / precision
    g = TAU_B**2 / shared
    assert found.noise_factor == pytest.approx(1.0)
    assert found.mean[0] == pytest.approx(BIAS + g * (c - BIAS), rel=1e-9)
    assert found.covariance[0, 0] == pytest.approx((1 - g) * TAU_B**2 + g**2 / precision, rel=1e-9)
    for place, (n, mean) in enumerate(logged.values(), start=1):
        k = TAU**2 / (TAU**2 + s2 / n)
        assert found.mean[place] == pytest.approx(k * (mean - c), rel=1e-9)
        assert found.covariance[place, place] == pytest.approx((1 - k) * TAU**2 + k**2 / precision, rel=1e-9)
    assert found.pace_mean[0] == pytest.approx((1 - g) * (c - BIAS), rel=1e-9)


def test_several_runs_give_what_plain_conditioning_gives() -> None:
    cells = [("spring", 0, 3, 0.31, 0.09), ("spring", 1, 4, -0.12, 0.30), ("autumn", 0, 2, 0.55, 0.02), ("autumn", 2, 6, 0.20, 0.41)]  # fmt: skip
    names = ("plane", "glue", "sand")
    text = "times = [" + ", ".join(
        f'{{ run = "{run}", operation = "{names[o]}", units = {n}, mean = {mean}, squares = {squares} }}'
        for run, o, n, mean, squares in cells
    )
    found = posterior(shop(text + "]"))
    # sigma pooled: 8 degrees of freedom at 0.25, and the squares within the cells
    s2 = (8 * 0.25**2 + sum(cell[4] for cell in cells)) / (8 + sum(cell[2] - 1 for cell in cells))
    assert found.noise_factor * 0.25 == pytest.approx(math.sqrt(s2), rel=1e-9)
    # unknowns b, r_spring, r_autumn, e_plane, e_glue, e_sand; what was seen is a linear map of them plus noise
    prior = np.diag([TAU_B**2, TAU_R**2, TAU_R**2, TAU**2, TAU**2, TAU**2])
    mean = np.array([BIAS, 0, 0, 0, 0, 0])
    looks = np.zeros((len(cells), 6))
    for row, (run, o, *_) in enumerate(cells):
        looks[row, [0, 1 if run == "spring" else 2, 3 + o]] = 1
    seen = np.array([cell[3] for cell in cells])
    gain = prior @ looks.T @ np.linalg.inv(looks @ prior @ looks.T + np.diag([s2 / cell[2] for cell in cells]))
    after = mean + gain @ (seen - looks @ mean)
    spread = prior - gain @ looks @ prior
    keep = [0, 3, 4, 5]
    assert found.mean == pytest.approx(after[keep], rel=1e-8)
    assert found.covariance == pytest.approx(spread[np.ix_(keep, keep)], rel=1e-7, abs=1e-12)
    assert found.root @ found.root.T == pytest.approx(found.covariance, abs=1e-12)
    assert {run: pytest.approx(value) for run, value in zip(found.runs, after[1:3], strict=True)} == {
        run: value for run, value, _ in believe_pace(shop(text + "]"))
    }


def test_machine_work_is_trusted_more_by_the_same_pooled_factor() -> None:
    text = 'times = [{ operation = "plane", units = 4, mean = 0.2, squares = 0.27 }]'
    machine = parse_scenario(
        HEAD.replace("LEARNED", text)
        .replace("MORE", "")
        .replace('"5 / 10 / 20 min"', '"5 / 10 / 20 min", work_kind = "machine"')
    )
    found = posterior(machine)
    assert found.noise_factor**2 == pytest.approx((8 + 0.27 / 0.12**2) / 11, rel=1e-9)
    assert found.steps[0].noise == 0.12


def test_an_uneven_range_keeps_the_mean_that_it_has_before_any_log() -> None:
    # of a two-piece law about likely, the score is stretched by 0.2 below and 0.6 above: mean 0.4 / sqrt(2 pi)
    law = Law("range", (10 * math.exp(-0.2 * 1.2815515655446004), 10.0, 10 * math.exp(0.6 * 1.2815515655446004)))
    z = special.ndtri((np.arange(400_000) + 0.5) / 400_000)
    stretched = z * np.where(z < 0, 0.2, 0.6)
    assert lean_of(law, 0.4) == pytest.approx(float(stretched.mean()), abs=1e-5)
    assert lean_of(law, 0.4) == pytest.approx(0.4 / math.sqrt(2 * math.pi), rel=1e-9)
    assert lean_of(Law("range", (5.0, 10.0, 20.0)), 0.7) == 0.0


def test_runs_are_drawn_from_the_posterior_and_a_new_run_has_a_fresh_pace() -> None:
    text = 'times = [{ operation = "plane", units = 6, mean = 0.6, squares = 0.2 }, { operation = "glue", units = 3, mean = 0.1 }]'
    scenario = shop(text)
    plan = build_plan(scenario).luck
    found = posterior(scenario)
    n = 6000
    shared = [draw_shared(plan, 3, r) for r in range(n)]
    drawn = np.array(
        [[one.bias, *(found.steps[k].error * one.errors[found.steps[k].steps[0]] for k in (0, 1))] for one in shared]
    )
    assert np.abs((drawn.mean(axis=0) - found.mean) / np.sqrt(np.diag(found.covariance) / n)).max() < 4
    assert np.cov(drawn.T) == pytest.approx(found.covariance, abs=0.05 * float(found.covariance.max()))
    pace = np.array([one.pace for one in shared])
    assert abs(pace.mean()) < 4 * 0.12 / math.sqrt(n)
    assert pace.std() == pytest.approx(0.12, rel=0.05)
    assert abs(np.corrcoef(pace, drawn[:, 0])[0, 1]) < 4 / math.sqrt(n)
    # a unit's time: log likely + bias + pace + error + pooled noise, all normal
    work = np.log([draw_luck(plan, 3, r).work[0] for r in range(2500)])
    middle = math.log(10.0) + found.mean[0] + found.mean[1]
    looks = np.array([1.0, 1.0, 0.0])
    sd = math.sqrt(float(looks @ found.covariance @ looks) + 0.12**2 + (found.noise_factor * 0.25) ** 2)
    assert stats.kstest((work - middle) / sd, "norm").pvalue > 1e-3


def test_an_operation_without_logs_keeps_its_own_error_and_follows_the_learned_bias() -> None:
    text = 'times = [{ operation = "plane", units = 40, mean = 0.9 }, { operation = "glue", units = 40, mean = 0.9 }]'
    before, after = build_plan(shop()).luck, build_plan(shop(text)).luck
    sand = 2
    one, other = draw_shared(before, 5, 8), draw_shared(after, 5, 8)
    assert one.errors[sand] == other.errors[sand]
    assert believe_bias(shop(text))[0] > believe_bias(shop())[0] + 0.05
    assert believe_bias(shop(text))[1] < believe_bias(shop())[1]


def test_with_nothing_learned_every_draw_stays_the_same() -> None:
    plain = parse_scenario(HEAD.replace("[learned]\nLEARNED\n", "").replace("MORE", ""))
    empty = shop("times = []")
    for r in range(20):
        one, other = (draw_luck(build_plan(scenario).luck, 9, r) for scenario in (plain, empty))
        assert (one.work, one.setup) == (other.work, other.setup)


def test_changing_the_likely_time_later_does_not_change_what_was_seen() -> None:
    cell = '{ operation = "plane", units = 30, mean = 0.4, likely = "10 min" }'
    was = {b.operation: b.typical for b in believe_times(shop(f"times = [{cell}]"))}["plane"]
    corrected = (
        HEAD.replace("MORE", "").replace("5 / 10 / 20 min", "7.5 / 15 / 30 min").replace("LEARNED", f"times = [{cell}]")
    )
    now = {b.operation: b.typical for b in believe_times(parse_scenario(corrected))}["plane"]
    assert now == pytest.approx(was, rel=0.02)
    assert was == pytest.approx(10 * math.exp(0.4), rel=0.12)


def test_logged_days_update_the_calendar_by_the_closed_form() -> None:
    logged = LoggedDays(days=20, lost=3, shares=17, mean_logit=1.4)
    found = learn_days([logged], shop().shop)
    assert found is not None
    assert found.lost == pytest.approx((1.5 + 3, 28.5 + 17))
    precision = 1 / 0.45**2 + 17 / 0.75**2
    assert found.level_sd == pytest.approx(precision**-0.5)
    assert found.level == pytest.approx((math.log(9) / 0.45**2 + 17 * 1.4 / 0.75**2) / precision)
    stated = learn_days([logged], shop(more='interrupted = "5 / 10 / 25 %"\nlost_days = "10 %"').shop)
    assert stated is not None
    assert stated.lost == pytest.approx((3 + 3, 27 + 17))
    assert stated.level == pytest.approx(1.5, abs=0.15)
    # two logs are one long log
    half = LoggedDays(days=10, lost=1, shares=9, mean_logit=1.0)
    rest = LoggedDays(days=10, lost=2, shares=8, mean_logit=(17 * 1.4 - 9) / 8)
    both = learn_days([half, rest], shop().shop)
    assert both is not None
    assert (*both.lost, both.level, both.level_sd) == pytest.approx((*found.lost, found.level, found.level_sd))


def test_days_are_drawn_from_what_was_logged() -> None:
    text = "days = [{ days = 200, lost = 60, shares = 140, mean_logit = 0.5 }]"
    plan = build_plan(shop(text)).luck
    share, lost = [], []
    for r in range(800):
        days = draw_luck(plan, 4, r).days
        assert days is not None
        one, gone = days.days(10)
        share.append(float(np.median(special.logit(one))))
        lost.append(gone.mean())
    assert np.mean(lost) == pytest.approx(61.5 / 230, abs=0.02)
    found = learn_days(shop(text).learned.days, shop().shop)
    assert found is not None
    assert np.mean(share) == pytest.approx(found.level, abs=0.05)


def test_a_shop_always_open_learns_of_lost_days_once_they_are_logged() -> None:
    text = HEAD.replace('{ mon-fri = "08:00-17:00" }', '"always"').replace("MORE", "")
    quiet = build_plan(parse_scenario(text.replace("LEARNED", ""))).luck
    told = build_plan(parse_scenario(text.replace("LEARNED", "days = [{ days = 30, lost = 15 }]"))).luck
    assert draw_luck(quiet, 1, 0).days is None
    days = draw_luck(told, 1, 0).days
    assert days is not None
    assert 0 < days.days(400)[1].mean() < 0.7


def test_a_share_of_all_or_nothing_is_kept_off_the_edge() -> None:
    assert logit_share(1.0) == pytest.approx(math.log(49))
    assert logit_share(0.0) == pytest.approx(-math.log(49))
    assert prior_days(shop().shop).level == pytest.approx(math.log(9))


def test_the_split_of_a_claimed_spread_is_the_one_that_the_luck_uses() -> None:
    operation = shop().all_designs[0].operations[0]
    error, noise = split_spread(operation, operation.work, shop().luck)
    assert (error, noise) == pytest.approx((TAU, 0.25))


WITH_OPTIONS = """
[shop]
open = { mon-fri = "08:00-17:00" }
[design]
name = "tray"
operations = [
  { name = "plane", work = "5 / 10 / 20 min" },
  { name = "sand", work = "8 / 16 / 32 min" },
]
[[design.options]]
name = "inlay"
change = [{ operation = "sand", work = "16 / 32 / 64 min" }]
add = [{ name = "rout inlay", after = ["plane"], work = "6 / 12 / 24 min" }]
[run]
orders = 4
start = 2027-01-11
"""


def test_what_only_an_option_brings_can_be_logged_and_is_believed_though_nobody_has_ordered_it() -> None:
    scenario = parse_scenario(WITH_OPTIONS)
    before = {belief.operation: belief for belief in believe_times(scenario)}
    assert list(before) == ["plane", "rout inlay", "sand"]
    assert before["rout inlay"].typical == pytest.approx(12 * 1.2)
    assert before["sand"].typical == pytest.approx(16 * 1.2)  # as the pieces of the run have it
    log = "run,operation,piece,minutes\n" + "".join(f"march,rout inlay,{n},36\n" for n in (1, 2, 3, 4))
    rows, faults = read_times(log, "march.csv", list_loggable(scenario))
    assert faults == []
    learned = take_times(scenario, rows, "march.csv").learned
    known = scenario.model_copy(update={"learned": learned})
    after = {belief.operation: belief for belief in believe_times(known)}
    assert after["rout inlay"].typical == pytest.approx(36, rel=0.05)
    assert after["rout inlay"].low < 36 < after["rout inlay"].high
    assert after["rout inlay"].high / after["rout inlay"].low < before["rout inlay"].high / before["rout inlay"].low / 2
    assert after["plane"].typical > before["plane"].typical  # what it tells of the shop's bias
    assert flag_contradictions(known) == []  # three times as long is what such a guess can be out by
    drawn = build_plan(known).luck.learned  # the runs believe the same, though none of them has an inlay
    assert drawn is not None
    bias, spread = believe_bias(known)
    assert float(drawn.mean[0]) == pytest.approx(bias, rel=1e-12)
    assert float(drawn.covariance[0, 0]) == pytest.approx(spread**2, rel=1e-12)


def test_what_is_believed_of_an_operation_is_of_the_version_that_the_run_makes(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date,option\n1,2027-01-02,inlay\n2,2027-01-03,inlay\n", encoding="utf-8")
    text = WITH_OPTIONS.replace("orders = 4", 'orders = "orders.csv"')
    believed = {belief.operation: belief for belief in believe_times(parse_scenario(text, folder=tmp_path))}
    assert list(believed) == ["plane", "rout inlay", "sand"]
    assert believed["sand"].typical == pytest.approx(32 * 1.2)


@pytest.mark.parametrize("learned", ["", 'times = [{ operation = "plane", units = 6, mean = 0.6, squares = 0.2 }]'])
def test_typical_times_told_before_logs_are_the_ones_that_the_runs_draw(learned: str) -> None:
    # 8 / 10 / 25 min leans far to the long side. Without noise of units and pace of a run, what is drawn is the typical
    # time itself; quantiles of 4,000 draws are known to about 2 in a hundred of the sd of the logarithm.
    luck = "[luck]\nhand_spread = 0.0\npace_spread = 0.0\n"
    text = HEAD.replace("MORE", "").replace("6 / 12 / 24 min", "8 / 10 / 25 min").replace("LEARNED", learned) + luck
    scenario = parse_scenario(text)
    told = {belief.operation: belief for belief in believe_times(scenario)}["glue"]
    plan = build_plan(scenario).luck
    glue = list(plan.worklist.task_step).index(1)
    drawn = np.log([draw_luck(plan, 6, r).work[glue] for r in range(4000)])
    low, middle, high = np.quantile(drawn, [0.1, 0.5, 0.9])
    spread = float(drawn.std())
    assert math.log(told.low) == pytest.approx(low, abs=0.08 * spread)
    assert math.log(told.typical) == pytest.approx(middle, abs=0.08 * spread)
    assert math.log(told.high) == pytest.approx(high, abs=0.08 * spread)
    if not learned:
        # worked out apart: half of the law lies on either side of 12 min, each with its own spread
        z = special.ndtri((np.arange(300) + 0.5) / 300)
        total = 1.7 * math.log(25 / 8) / (2 * 1.2815515655446004)
        sides = total * np.where(z < 0, math.log(10 / 8), math.log(2.5)) / (math.log(25 / 8) / 2)
        grid = np.log(12.0) + np.add.outer(z * sides, 0.25 * z).ravel()
        assert np.log([told.low, told.typical, told.high]) == pytest.approx(
            np.quantile(grid, [0.1, 0.5, 0.9]), abs=0.02
        )


@pytest.mark.parametrize(
    "calendar", ["", 'interrupted = "2 / 5 / 40 %"\nlost_days = "10 %"\n', 'interrupted = "10 %"\n']
)
def test_the_calendar_told_before_logs_is_the_one_that_the_runs_draw(calendar: str) -> None:
    scenario = shop(more=calendar)
    told = believe_days(scenario)
    plan = build_plan(scenario).luck
    level, lost = [], []
    for r in range(800):
        days = plan.draw_days(4, r)
        assert days is not None
        share, gone = days.days(3000)
        level.append(float(np.median(share)))  # of many days, the median is the run's own level
        lost.append(float(gone.mean()))
    low, middle, high = np.quantile(level, [0.1, 0.5, 0.9])
    assert told.open_share == pytest.approx((middle, low, high), abs=0.012)
    assert told.lost == pytest.approx(tuple(np.quantile(lost, [0.5, 0.1, 0.9])), abs=0.02)
