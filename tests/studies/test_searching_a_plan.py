"""The search for a better plan: never worse than its start, the same for the same seed, on either floor, stopped or not."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from itertools import count

import numpy as np
import pytest

from shopsim import Scenario, parse_scenario, run_once
from shopsim.engine.luck import draw_block, likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.reordering import list_lines
from shopsim.engine.run import run
from shopsim.priority import PRIORITY_RULES
from shopsim.study import plan_search
from shopsim.study.plan_search import search_order, with_plan, with_rule
from shopsim.study.plan_values import MEASURE_OF, OrderValues

#: One maker and two clamps. A tray is cut for 3 h, glued in 30 min and sits in its clamps for 12 h; a lid is planed for 3 h
#: and packed with it. Glued on the first evening, a tray is free the next morning; planed first, a day is lost.
TRAYS = """
title = "Trays and lids"
[shop]
open = { mon-fri = "08:00-16:00" }
lost_days = "0 %"
interrupted = "0 %"
workers = [{ name = "maker" }]
clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]
[design]
name = "tray"
operations = [
  { name = "plane lid", after = [], work = "3 h" },
  { name = "cut", after = [], work = "150 / 180 / 220 min" },
  { name = "glue", after = ["cut"], work = "30 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "12 h" },
  { name = "finish", after = ["plane lid", "glue"], work = "1 h" },
]
[run]
orders = 4
batch = 1
start = 2027-01-11
pieces_open = 4
priority = "oldest batch"
"""


@pytest.fixture(scope="module")
def trays() -> Scenario:
    return parse_scenario(TRAYS)


@pytest.fixture
def little(monkeypatch: pytest.MonkeyPatch) -> None:
    """So little is looked at that no time limit is ever met, however busy the machine."""
    monkeypatch.setattr(plan_search, "TASKS_A_SECOND", 1_000)


def finish_min(scenario: Scenario) -> float:
    return float(run_once(scenario, likely=True).record.done.max())


def test_at_likely_times_it_finds_the_plan_that_is_worked_out_by_hand(trays: Scenario) -> None:
    # Work: 4 x (3 h + 3 h + 30 min + 1 h) = 30 h, days of 8 h: day 4 at 14:00 at the earliest, if nobody ever waits. Each
    # day one set of clamps, so trays are glued on days 1, 2, 3 and 4, and the last is free on day 5 at 8:00: finished at 9:00.
    # The first tray cannot be free before day 2, so no plan ends before Friday 9:00 = 4 x 24 h + 9 h.
    found = search_order(trays, "last", seed=1, seconds=2, likely=True)
    assert finish_min(with_plan(trays, found.plan)) == (4 * 24 + 9) * 60


@pytest.mark.parametrize("wish", ["average", "last", "idle"])
def test_what_it_finds_is_as_good_as_every_named_rule_on_the_luck_of_the_search(trays: Scenario, wish: str) -> None:
    found = search_order(trays, wish, seed=3, seconds=2)
    luck = draw_block(found.lines.plan.luck, 3, range(2_000_000_000, 2_000_000_032))
    values = OrderValues(found.lines, luck, wish)
    mine = values.measure(found.order).mean()
    for rule in PRIORITY_RULES:
        assert mine <= values.measure(found.lines.order_of(build_plan(with_rule(trays, rule)))).mean() + 1e-9
    assert MEASURE_OF[wish] in ("average_ship_day", "last_ship_day", "idle_h")


@pytest.mark.usefixtures("little")
def test_the_same_seed_finds_the_same_plan(trays: Scenario) -> None:
    one, again = (search_order(trays, "average", seed=5, seconds=120) for _ in range(2))
    assert (one.stopped, again.stopped) == ("", "")
    assert one.plan == again.plan
    assert one.plan.seed == 5


@pytest.mark.usefixtures("little")
def test_each_floor_finds_the_same_plan(
    trays: Scenario, floors: dict[str, Callable[[], AbstractContextManager[None]]]
) -> None:
    plans = []
    for floor in floors.values():
        with floor():
            found = search_order(trays, "average", seed=2, seconds=120)
            assert found.stopped == ""
            plans.append(found.plan)
    assert plans[0] == plans[1]


def test_a_stop_keeps_the_best_so_far_and_says_who_stopped(trays: Scenario) -> None:
    asked = count()
    found = search_order(trays, "average", seed=1, seconds=60, should_stop=lambda: next(asked) > 40)
    assert found.stopped == "you"
    assert sorted(found.order.tolist()) == list(range(len(found.lines.work)))
    late = search_order(trays, "average", seed=1, seconds=1e-6)
    assert late.stopped == "the time limit"


def test_progress_rises_to_the_whole(trays: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_search, "TASKS_A_SECOND", 200)  # so little that it is over long before the time limit
    told: list[tuple[int, int]] = []
    found = search_order(trays, "last", seed=1, seconds=600, likely=True, on_progress=lambda *at: told.append(at))
    assert found.stopped == ""
    done = [at for at, _ in told]
    assert done == sorted(done)
    assert {total for _, total in told} == {done[-1]}


def test_a_plan_in_the_file_runs_as_the_order_that_was_searched(trays: Scenario) -> None:
    lines = list_lines(trays)
    order = np.random.default_rng(1).permutation(len(lines.work))
    here = run(lines.reorder(order), likely_luck(lines.plan.luck))
    there = run_once(with_plan(trays, lines.as_plan(order, "last", 1)), likely=True).record
    assert np.array_equal(here.done, there.done)


def test_what_the_file_holds_back_stays_held_back(trays: Scenario) -> None:
    held = parse_scenario(
        TRAYS.replace('"oldest batch"', '"as planned"')
        + 'plan = { order = [{ operation = "cut", batch = 1, not_before = 2027-01-13 }] }\n'
    )
    found = search_order(held, "average", seed=1, seconds=0.5)
    assert [str(line.not_before) for line in found.plan.order if line.not_before is not None] == ["2027-01-13 00:00:00"]
    tasks = run_once(with_plan(held, found.plan), likely=True).tasks
    cut = tasks[(tasks["operation"] == "cut") & (tasks["batch"] == 1)]
    assert str(cut["start"].iloc[0])[:10] >= "2027-01-13"
