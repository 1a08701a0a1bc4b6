"""What state follows from the log of a run, worked out by hand; and what cannot be true is told by row."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from shopsim.engine.worklist import build_worklist
from shopsim.scenario import parse_scenario
from shopsim.scenario.run_log import read_run_log
from shopsim.study.order_queue import OrderQueue
from shopsim.study.run_state import RunState, read_state

SHOP = """\
[shop]
open = { mon = "09:00-12:00, 13:00-17:00", tue = "09:00-17:00", wed = "09:00-17:00" }
interrupted = "0 %"
lost_days = "0 %"
workers = [{ name = "maker" }, { name = "helper", can = ["cut"] }]
clamps = [{ name = "bar clamp", count = 8 }]
stations = [{ name = "saw" }]
[[materials]]
name = "boards"
lead = "5 d"
needed_by = ["cut"]
[design]
name = "tray"
parts = { side = 2 }
[[design.operations]]
name = "cut"
station = "saw"
setup = "10 min"
work = "10 / 20 / 30 min"
[[design.operations]]
name = "glue"
per = "side"
handful = 1
work = "5 / 10 / 15 min"
clamps = [{ kind = "bar clamp", count = 2 }]
in_clamps = "60 min"
[[design.operations]]
name = "rest"
hands = 0
cure = "2 d"
[[design.operations]]
name = "oil"
work = "5 / 10 / 15 min"
cure = "1 d"
[run]
orders = 3
round_up_to = 4
batch = 2
start = 2027-01-11
"""
HEAD = "when,what,operation,batch,pieces,part,units,worker,order,material,minutes\n"
SCENARIO = parse_scenario(SHOP)
WORK = build_worklist(SCENARIO)
#: Tasks by name: "cut, batch 1, piece 2" and so on.
TASK = {WORK.task_name(task): task for task in range(WORK.n_tasks)}


def state_of(*rows: str, now: str = "2027-01-13 17:00") -> tuple[RunState, list[str]]:
    log = read_run_log(HEAD + "".join(f"{row}\n" for row in rows), "log.csv")
    assert not log.faults
    minutes = (dt.datetime.fromisoformat(now) - dt.datetime(2027, 1, 11)).total_seconds() / 60
    state, faults = read_state(WORK, OrderQueue(SCENARIO), log.rows, minutes, "log.csv")
    return state, [str(fault) for fault in faults]


def at(day: int, hour: int, minute: int = 0) -> float:
    """Minutes from midnight of day 0."""
    return day * 1440.0 + hour * 60 + minute


def test_an_empty_log_says_nothing() -> None:
    state, faults = state_of()
    assert state.is_empty
    assert not faults
    assert np.isnan(state.begun_min).all()


def test_the_clock_measures_what_lies_between_begun_and_done() -> None:
    # the saw is set up for cutting: of 35 minutes 35 * 20 / (20 + 10) = 23.3 are cutting; then 20 minutes for piece 2
    state, faults = state_of(
        "2027-01-11 09:00,begun,cut,1,,,,,,,",
        "2027-01-11 09:35,done,cut,1,1,,,,,,",
        "2027-01-11 09:55,done,cut,,2,,,,,,",
    )
    assert not faults
    assert state.ended_min[TASK["cut, batch 1, piece 1"]] == at(0, 9, 35)
    assert [(row.operation, row.piece, row.units, row.minutes) for row in state.times] == [
        ("cut", "1", 1, 23.3333), ("cut", "2", 1, 20.0),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("since", "until", "minutes"),
    [
        ("2027-01-11 11:30", "2027-01-11 13:30", 60),  # lunch from 12 to 13
        ("2027-01-11 16:30", "2027-01-12 09:30", 60),  # the night
        ("2027-01-12 16:50", "2027-01-12 17:20", 30),  # stayed late
        ("2027-01-12 08:45", "2027-01-12 09:15", 30),  # came early
        ("2027-01-14 10:00", "2027-01-14 10:40", 40),  # a Thursday, on which the shop is closed
    ],
)
def test_closed_hours_are_no_work_unless_somebody_worked(since: str, until: str, minutes: float) -> None:
    state, faults = state_of(
        "2027-01-11 09:00,done,cut,1,1,,,,,,30", f"{since},begun,cut,,2,,,,,,", f"{until},done,cut,,2,,,,,,",
        now="2027-01-15 17:00",
    )  # fmt: skip
    assert not faults
    assert state.times[-1].minutes == minutes


def test_what_is_half_done_has_so_many_minutes_in_it() -> None:
    # glue of piece 1: 9:00 to 9:10, paused; cut of piece 2 from 9:10 until now, 9:25: the helper's own, and no set-up of anything
    state, faults = state_of(
        "2027-01-12 09:00,done,cut,,1,,,,,,20",
        "2027-01-13 09:00,begun,glue,1,1,,1,maker,,,",
        "2027-01-13 09:10,paused,glue,1,1,,1,,,,",
        "2027-01-13 09:10,begun,cut,,2,,,helper,,,",
        now="2027-01-13 09:25",
    )
    assert not faults
    glue, cut = state.half_done
    assert (glue.tasks, glue.spent_min, glue.running) == ((TASK["glue, batch 1, piece 1, unit 1"],), 10.0, False)
    assert (cut.tasks, cut.spent_min, cut.running, cut.pays) == ((TASK["cut, batch 1, piece 2"],), 15.0, True, False)
    assert state.crew[TASK["cut, batch 1, piece 2"]] == 0b10


def test_who_begins_something_else_lets_go_and_goes_on_afterwards() -> None:
    # cut 9:00-9:20, glue 9:20-9:35, cut again 9:35-9:45: 30 minutes of which 10 are the set-up
    state, faults = state_of(
        "2027-01-11 09:00,done,cut,1,1,,,,,,30",
        "2027-01-12 09:00,begun,cut,,3,,,maker,,,",
        "2027-01-12 09:20,begun,glue,,1,,,,,,",
        "2027-01-12 09:35,done,glue,,1,,,,,,",
        "2027-01-12 09:45,done,cut,,3,,,,,,",
    )
    assert not faults
    assert [(row.operation, row.units, row.minutes) for row in state.times] == [
        ("cut", 1, 20.0), ("glue", 2, 15.0), ("cut", 1, 30.0),
    ]  # fmt: skip


def test_pieces_of_a_batch_may_be_counted_from_its_first() -> None:
    state, faults = state_of("2027-01-11 09:30,done,cut,2,1,,,,,,30")
    assert not faults
    assert state.ended_min[TASK["cut, batch 2, piece 3"]] == at(0, 9, 30)


def test_clamps_are_off_when_they_are_logged_or_when_the_next_step_has_begun() -> None:
    rows = [
        "2027-01-11 09:30,done,cut,1,1,,,,,,30", "2027-01-11 10:00,done,glue,1,1,,,,,,",
        "2027-01-11 11:20,clamps off,glue,1,1,,1,,,,",
    ]  # fmt: skip
    one, other = (TASK[f"glue, batch 1, piece 1, unit {unit}"] for unit in (1, 2))
    state, faults = state_of(*rows)
    assert not faults
    assert (state.off_min[one], state.keeps_off) == (at(0, 11, 20), True)
    assert math.isnan(state.off_min[other])
    state, faults = state_of(*rows, "2027-01-13 12:00,begun,oil,1,1,,,,,,")
    assert not faults
    assert state.off_min[other] == state.passed_min[other] == at(2, 12)
    rest = TASK["rest, batch 1, piece 1"]  # went by itself, and is over
    assert state.ended_min[rest] == state.passed_min[rest] == at(2, 12)


GLUED = ("2027-01-11 09:30,done,cut,1,1,,,,,,30", "2027-01-11 10:00,done,glue,1,1,,,,,,20")


def test_a_spoiled_part_is_made_again_from_its_first_operation() -> None:
    state, faults = state_of(*GLUED, "2027-01-11 11:00,spoiled,,,1,side,2,,,,")
    assert not faults
    assert state.made_again == 1
    assert math.isnan(state.ended_min[TASK["glue, batch 1, piece 1, unit 2"]])
    assert state.ended_min[TASK["glue, batch 1, piece 1, unit 1"]] == at(0, 10)
    assert state.ended_min[TASK["cut, batch 1, piece 1"]] == at(0, 9, 30)
    assert len(state.times) == 2  # what was done teaches all the same


def test_a_spoiled_piece_gives_way_to_a_spare_while_there_is_one() -> None:
    more = "2027-01-11 10:30,done,cut,1,2,,,,,,30"
    state, faults = state_of(*GLUED, "2027-01-11 11:00,spoiled,,,1,,,,,,")
    assert not faults
    assert (state.taken_out, state.made_again) == ((0,), 0)
    assert state.ended_min[TASK["oil, batch 1, piece 1"]] == at(0, 11)
    state, faults = state_of(*GLUED, more, "2027-01-11 11:00,spoiled,,,1-2,,,,,,")
    assert not faults
    assert (state.taken_out, state.made_again) == ((0,), 1)
    assert math.isnan(state.ended_min[TASK["cut, batch 1, piece 2"]])


WHOLE = (*GLUED, "2027-01-13 11:00,done,oil,,1,,,,,,10")


def test_orders_that_shipped_and_material_that_came_are_known() -> None:
    state, faults = state_of(
        "2027-01-11 08:00,material came,,,,,,,,boards,", *WHOLE, "2027-01-13 16:00,shipped,,,,,,,2,,"
    )
    assert not faults
    assert state.shipped == {1: dt.date(2027, 1, 13)}
    assert state.came_min == {0: at(0, 8)}


def test_days_that_were_lost_or_shortened_are_known_and_teach() -> None:
    state, faults = state_of(
        *GLUED, "2027-01-11,day shortened,,,,,,,,,42", "2027-01-12,day lost,,,,,,,,,", "2027-01-13 10:00,done,cut,,2,,,,,,20",
        now="2027-01-13 12:00",
    )  # fmt: skip
    assert not faults
    assert state.lost == {1}
    assert state.shares == {0: 0.9}  # 42 of 420 minutes
    assert [(row.date.day, row.share, row.lost) for row in state.days] == [(11, 0.9, False), (12, None, True)]


def test_what_happens_later_than_now_is_left_out() -> None:
    state, faults = state_of(*WHOLE, now="2027-01-11 09:45")
    assert not faults
    assert math.isnan(state.ended_min[TASK["glue, batch 1, piece 1, unit 1"]])
    assert state.last_min == at(0, 9, 30)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (
            ["2027-01-11 10:00,done,glue,1,1,,,,,,"],
            '2 · "glue" · "glue" comes after cut, batch 1, piece 1, which is not done · log that as done first, or take this row back',
        ),
        (
            ["2027-01-11 10:00,done,glue,1,1,,,,,,", "2027-01-11 11:00,done,cut,1,1,,,,,,"],
            '2 · "glue" · "glue" comes after cut, batch 1, piece 1, which row 3 says was done only later · one of the two times is wrong: take that row back',
        ),
        (
            [GLUED[0], "2027-01-11 10:00,done,cut,1,1,,,,,,"],
            '3 · "cut" · cut, batch 1, piece 1 is done already, as row 2 says · take this row back; if it was made again, log it as spoiled first',
        ),
        (
            ["2027-01-11 10:00,begun,cut,1,1,,,,,,", "2027-01-11 10:05,begun,cut,1,1,,,,,,"],
            '3 · "cut" · cut, batch 1, piece 1 was begun on row 2 and is in hand · take this row back; if it was made again, log it as spoiled first',
        ),
        (
            ["2027-01-11 10:00,paused,cut,1,1,,,,,,"],
            '2 · "cut" · cut, batch 1, piece 1 is not in hand · begin it first',
        ),
        (["2027-01-11 10:00,done,cut,,5,,,,,,"], "2 · pieces · there is no piece 5, the run has 4 · write pieces from 1 to 4"),
        (
            ["2027-01-11 10:00,done,cut,1,3,,,,,,"],
            "2 · pieces · batch 1 has pieces 1-2, so 3 are more than there are · write numbers of its pieces, or leave the batch out",
        ),
        (["2027-01-11 10:00,done,cut,3,,,,,,,"], "2 · batch · there is no batch 3, the run has 2 · write a batch from 1 to 2"),
        (["2027-01-11 10:00,done,cut,1,1,,2,,,,"], "2 · units · there is no unit 2, a piece has 1 · write 1"),
        (["2027-01-11 10:00,done,clue,1,1,,,,,,"], '2 · operation · there is no operation "clue" · write "glue"'),
        (["2027-01-11 10:00,done,cut,1,1,,,makr,,,"], '2 · worker · there is no worker "makr" · write "maker"'),
        (["2027-01-11 10:00,material came,,,,,,,,bords,"], '2 · material · there is no material "bords" · write "boards"'),
        (["2027-01-11 10:00,done,cut,,,,,,,,"], '2 · batch · is blank, and batches 1, 2 have it to be done · say which, or which pieces'),
        (
            ["2027-01-11 10:00,clamps off,glue,1,1,,,,,,"],
            '2 · "glue" · glue, batch 1, piece 1, unit 1 has no clamps on · log it as done first, or take this row back',
        ),
        (
            [*GLUED, "2027-01-13 16:00,shipped,,,,,,,1,,"],
            "4 · order · needs 1 and only 0 that would do are done, of which 0 shipped · log first what is done, packing too, or take this row back",
        ),
        ([*WHOLE, "2027-01-13 12:00,spoiled,,,1,side,1,,,,"],
         '5 · part · "side" of piece 1 is built in already, by rest, batch 1, piece 1 · log the whole piece as spoiled, without a part'),
        (["2027-01-12 12:00,spoiled,,,1,,,,,,"], "2 · pieces · nothing of piece 1 has been begun · look at the piece, or the part"),
        (["2027-01-08 12:00,done,cut,1,1,,,,,,"], "2 · when · 2027-01-08 is before the run begins, on 2027-01-11 · look at the date, or let the run start earlier"),
        (
            [GLUED[0], "2027-01-11,day lost,,,,,,,,,"],
            "3 · what · 2027-01-11 was lost, and yet row 2 tells of work on it · take one of them back, or log the day as shortened",
        ),
        (["2027-01-14,day lost,,,,,,,,,"], "2 · when · the shop is not open on 2027-01-14 · look at the date"),
    ],
)  # fmt: skip
def test_what_cannot_be_true_is_told_by_row(rows: list[str], told: str) -> None:
    _, faults = state_of(*rows, now="2027-01-15 17:00")
    assert f"log.csv:{told}" in faults


def test_a_taking_back_leaves_the_run_as_if_the_row_had_never_been() -> None:
    text = "when,what,operation,pieces,row\n2027-01-11 09:30,done,cut,5,\n2027-01-11 09:31,taken back,,,2\n"
    state, faults = read_state(WORK, OrderQueue(SCENARIO), read_run_log(text, "log.csv").rows, 1e4, "log.csv")
    assert state.is_empty
    assert not faults
