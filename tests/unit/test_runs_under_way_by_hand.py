"""Runs that are gone on with from the middle, worked out by hand: what goes on past closing, and what begins by itself.

Monday is 2027-01-11. The shop is open from 9:00 to 10:00 and from 11:00 to 12:00; work takes twice its likely time where a test says so.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from shopsim.answers.bench_list import list_next
from shopsim.engine.luck import Draws, likely_luck
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.run import run
from shopsim.engine.under_way import cut_run
from shopsim.scenario import parse_scenario
from shopsim.scenario.run_log import read_run_log
from shopsim.study.going_on import GoingOn
from shopsim.study.order_queue import OrderQueue
from shopsim.study.run_state import read_state

SHOP = """\
[shop]
open = { mon-sun = "09:00-10:00, 11:00-12:00" }
interrupted = "0 %"
lost_days = "0 %"
"""
RUN = """\
[run]
orders = 1
round_up_to = 1
start = 2027-01-11
"""
#: Oiled is not left half done: it takes 10 minutes likely, and begun at 9:45 it is to be done by 10:00.
OILED = """\
[design]
name = "tray"
operations = [{ name = "cut", work = "45 min" }, { name = "oil", work = "10 min", pausable = false }]
"""
#: Packed when both are done: what is cut, and what is turned after that.
APART = """\
[design]
name = "tray"
operations = [
  { name = "cut", work = "10 min", after = [] },
  { name = "turn", work = "10 min", after = [] },
  { name = "air", hands = 0, work = "15 min", after = ["cut", "turn"] },
]
"""
#: Glued things stay in their clamps until they are wanted.
GLUED = """\
[[shop.clamps]]
name = "bar clamp"
count = 2
[design]
name = "tray"
[[design.operations]]
name = "glue"
work = "10 min"
clamps = [{ kind = "bar clamp", count = 1 }]
in_clamps = "5 min"
[[design.operations]]
name = "oil"
work = "20 min"
"""
#: Milled without hands, which makes dust.
MILLED = """\
[design]
name = "tray"
operations = [
  { name = "oil", work = "10 min", wet = "30 min", after = [] },
  { name = "cut", work = "10 min", after = [] },
  { name = "mill", work = "5 min", hands = 0, dusty = true, after = ["cut"] },
]
"""
#: What is cut dries for ten minutes; then it may be turned, and by itself lies in the air.
DRIED = """\
[design]
name = "tray"
operations = [
  { name = "cut", work = "10 min", cure = "10 min", after = [] },
  { name = "turn", work = "10 min", after = ["cut"] },
  { name = "air", hands = 0, work = "15 min", after = ["cut"] },
]
"""
#: Oiled at the bench, where it stays until it is dry.
STAYING = """\
[[shop.stations]]
name = "bench"
[design]
name = "tray"
operations = [{ name = "oil", work = "20 min", station = "bench", stays = true, cure = "1 h" }]
"""
#: Two people, two benches that are set up for a step in five minutes.
TWO = """\
[[shop.stations]]
name = "bench"
count = 2
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "partner"
[design]
name = "tray"
operations = [{ name = "oil", work = "10 min", setup = "5 min", station = "bench" }]
"""
#: Glued, and nothing after it.
HELD = """\
[[shop.clamps]]
name = "bar clamp"
count = 4
[design]
name = "tray"
[[design.operations]]
name = "glue"
work = "10 min"
clamps = [{ kind = "bar clamp", count = 1 }]
in_clamps = "20 / 30 / 40 min"
"""
HEAD = "when,what,operation,pieces,minutes\n"


def slow_oil(plan: SimulationPlan) -> Draws:
    """Oiling takes 30 minutes: from 9:45 to 10:15, past closing."""
    draws = likely_luck(plan.luck)
    draws.work[1] = 30.0
    return draws


def going_on(text: str, now_min: float, *rows: str, run: str = RUN) -> GoingOn:
    scenario = parse_scenario(SHOP + text + run)
    plan = build_plan(scenario)
    log = read_run_log(
        HEAD + "".join(f"{row}\n" if row.startswith("2027") else f"2027-01-11 {row}\n" for row in rows), "log.csv"
    )
    state, faults = read_state(plan.worklist, OrderQueue(scenario), log.rows, now_min, "log.csv")
    assert not log.faults
    assert not faults
    return GoingOn(scenario, state, "")


def test_what_is_not_left_half_done_goes_on_past_closing_where_it_was_cut() -> None:
    plan = build_plan(parse_scenario(SHOP + OILED + RUN))
    whole = run(plan, slow_oil(plan))
    assert whole.end.tolist() == [585.0, 615.0]
    for minute in (590.0, 605.0, 614.0):  # open, closed, and just before the end
        state = cut_run(plan, whole, slow_oil(plan), minute)
        assert run(replace(plan, starting=state), slow_oil(plan)).end.tolist() == [585.0, 615.0]


def test_whoever_is_at_it_by_the_log_stays_and_whoever_paused_comes_back() -> None:
    # 15 of 30 minutes were spent by 10:00; at 10:05 twenty have been, or else the rest waits for 11:00
    cut = "09:45,done,cut,1"
    for rows, ends in (
        ([cut, "09:45,begun,oil,1"], 615.0),
        ([cut, "09:45,begun,oil,1", "10:00,paused,oil,1"], 675.0),
    ):
        going = going_on(OILED, 605.0, *rows)
        (group,) = going.state.half_done
        record = going._run(slow_oil(going.plan), [(group, [30.0], 0.0)])
        assert record.end[1] == ends


@pytest.mark.parametrize("first", ["cut", "turn"])
def test_what_begins_by_itself_waits_for_all_it_comes_after(first: str) -> None:
    # one is done at 9:10, the other is made from 9:12 to 9:22: then 15 minutes in the air
    going = going_on(APART, 552.0, f"09:10,done,{first},1")
    record = going.run_likely()
    assert record.start[2] == 562.0
    assert record.done[2] == 577.0


def test_what_was_waited_for_was_over_when_the_next_was_begun_not_when_that_was_done() -> None:
    # glued by 9:10, oiled in 20 minutes by 9:40: it had come out of its clamps by 9:20
    going = going_on(GLUED, 590.0, "09:10,done,glue,1,", "09:40,done,oil,1,20")
    assert going.state.passed_min[0] == 560.0
    assert going.state.off_min[0] == 560.0


def test_dust_that_is_made_without_hands_waits_for_what_is_wet() -> None:
    # oiled by 9:10 and wet for 30 minutes, cut by 9:20, so that it is milled from 9:40 to 9:45
    going = going_on(MILLED, 590.0, "09:10,done,oil,1,10", "09:20,done,cut,1,10")
    record = going.run_likely()
    assert record.start[2] == 580.0
    assert record.done[2] == 585.0


def test_what_begins_by_itself_did_so_when_it_could_though_the_log_says_it_only_later() -> None:
    # cut by 9:10 and dry by 9:20, when the 15 minutes in the air begin; it was turned only from 9:40 on
    going = going_on(DRIED, 590.0, "09:10,done,cut,1,10", "09:50,done,turn,1,10")
    record = going.run_likely()
    assert record.start[2] == 560.0
    assert record.done[2] == 575.0


def test_what_the_log_has_at_a_station_that_is_taken_goes_on_without_it() -> None:
    # two trays stay at the only bench until dry, at 10:10 and 10:20; the third is oiled there from 11:00 to 11:20
    going = going_on(
        STAYING, 590.0, "09:10,done,oil,1,10", "09:20,done,oil,2,10", run=RUN.replace("= 1\nround", "= 3\nround")
    )
    assert len(going.start.remarks) == 1
    record = going.run_likely()
    assert record.done[:2].tolist() == [610.0, 620.0]
    assert record.start[2] == 660.0


def test_work_of_two_people_at_once_was_at_two_benches() -> None:
    # each was set for oiling at 9:00, so that neither is set again for trays 3 and 4
    going = going_on(
        TWO, 570.0, "09:15,done,oil,1,15", "09:15,done,oil,2,15", run=RUN.replace("= 1\nround", "= 4\nround")
    )
    assert going.run_likely().setup_min.tolist() == [0.0, 0.0, 0.0, 0.0]


def test_clamps_that_nobody_logged_off_for_days_are_taken_for_forgotten() -> None:
    # clamps of tray 1 are logged off, those of tray 2 are not; tray 3 is glued two days later, and nobody waits for tray 2
    rows = ["09:10,done,glue,1,10", "09:30,done,glue,2,10", "09:50,clamps off,glue,1,"]
    text = HELD + RUN.replace("= 1\nround", "= 3\nround")
    late = "2027-01-13 09:10,done,glue,3,10"
    going = going_on(text, 3430.0, *rows, late, run="")
    finish = going.go_on(1, range(20)).finish_min
    assert (finish < 2 * 1440 + 720).all()


def test_what_was_done_this_very_moment_is_not_next() -> None:
    # a row without minutes: begun and done at 9:10, which is now
    going = going_on(OILED, 550.0, "09:10,done,cut,1,")
    assert list_next(going)["operation"].tolist() == ["oil"]
