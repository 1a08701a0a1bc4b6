"""It holds that rows say of which tasks something happened and of no others, and that what is next can be told apart by what is done."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import pytest

from shopsim.answers.bench_choices import find_ready_orders, find_waiting, list_days
from shopsim.answers.bench_list import GO_ON, IN_HAND, find_next, find_under_way, list_next
from shopsim.answers.logged_run import RunLogReading
from shopsim.answers.new_rows import NOT_WRITTEN, find_new_faults, rows_of
from shopsim.scenario import parse_scenario
from shopsim.study.going_on import GoingOn

SHOP = """\
[shop]
open = { mon-sun = "09:00-17:00" }
interrupted = "0 %"
lost_days = "0 %"
workers = [{ name = "maker" }]
stations = [{ name = "saw" }]
[design]
name = "tray"
parts = { side = 4 }
[[design.operations]]
name = "mill"
per = "batch"
work = "30 min"
[[design.operations]]
name = "cut"
per = "side"
station = "saw"
setup = "10 min"
handful = 2
work = "20 min"
[[design.operations]]
name = "rest"
hands = 0
cure = "1 h"
[[design.operations]]
name = "oil"
work = "30 min"
[run]
orders = 4
batch = 2
start = 2027-01-11
"""
SCENARIO = parse_scenario(SHOP)
HEAD = "when,what,operation,batch,pieces,units\n"
MILLED = HEAD + "2027-01-11 09:30,done,mill,1,,\n"


def go(text: str, at: str) -> GoingOn:
    reading = RunLogReading(SCENARIO, text, "log.csv")
    run = reading.at(reading.minutes_at(dt.datetime.fromisoformat(at)))
    return GoingOn(run.known, run.state, run.run_name)


def tasks_of(going: GoingOn, operation: str, *places: tuple[int, int]) -> list[int]:
    """Tasks of an operation by (piece, first unit), both from 0."""
    work = going.plan.worklist
    return [
        task
        for task in range(work.n_tasks)
        if work.steps[work.task_step[task]].operation.name == operation
        and (work.task_piece[task], work.task_unit[task]) in places
    ]


@pytest.mark.parametrize(
    ("places", "rows"),
    [
        (((0, 0), (0, 2), (1, 0), (1, 2)), [{"pieces": "1-2"}]),
        (((1, 2),), [{"pieces": "2", "units": "3-4"}]),
        (((0, 0), (0, 2), (1, 0)), [{"pieces": "1"}, {"pieces": "2", "units": "1-2"}]),
        (((2, 0), (2, 2)), [{"pieces": "3", "batch": "2"}]),
    ],
)
def test_rows_name_these_tasks_and_no_others(places: tuple[tuple[int, int], ...], rows: list[dict[str, str]]) -> None:
    going = go("", "2027-01-11T09:00")
    wanted = tasks_of(going, "cut", *places)
    assert len(wanted) == len(places)
    said = rows_of(going.plan.worklist, wanted, "done")
    assert said == [{"what": "done", "operation": "cut", "batch": "1", **row} for row in rows]
    milled = MILLED + "2027-01-11 09:30,done,mill,2,,\n"
    text = milled + "".join(
        f"2027-01-11 11:00,done,cut,{row['batch']},{row['pieces']},{row.get('units', '')}\n" for row in said
    )
    ended = go(text, "2027-01-11T11:00").state.ended_min
    cut = [
        task
        for task in range(len(ended))
        if going.plan.worklist.steps[going.plan.worklist.task_step[task]].operation.name == "cut"
    ]
    assert [task for task in cut if not math.isnan(ended[task])] == wanted


def test_what_is_done_once_a_batch_is_named_by_its_batch() -> None:
    going = go("", "2027-01-11T09:00")
    (mill,) = [one for one in find_next(going, going.run_likely()) if one.since == going.now]
    assert rows_of(going.plan.worklist, mill.tasks, "begun") == [{"what": "begun", "operation": "mill", "batch": "1"}]


def test_all_that_was_begun_together_is_gone_on_with_and_in_hand() -> None:
    going = go(MILLED + "2027-01-11 09:30,begun,cut,1,1-2,\n", "2027-01-11T09:45")
    first = list_next(going).to_dict("records")[0]
    assert (first["do"], first["operation"], first["pieces"]) == (GO_ON, "cut", "1-2")
    assert not [
        one
        for one in find_next(going, going.run_likely())
        if one.do == "begin" and "cut, batch 1" in going.plan.worklist.task_name(one.tasks[0])
    ]
    (cut,) = [one for one in find_under_way(going, going.run_likely()) if one.state == IN_HAND]
    assert (len(cut.tasks), cut.minutes) == (4, 15.0)


def test_what_comes_after_work_that_is_not_done_has_to_wait() -> None:
    going = go(MILLED + "2027-01-11 11:00,done,cut,1,1,\n", "2027-01-11T11:00")
    oil = tasks_of(going, "oil", (0, 0), (1, 0))
    assert find_waiting(going, oil) == {oil[1]}  # it rests by itself, which nobody has to log


def test_orders_are_ready_once_enough_pieces_are_done_and_days_are_those_of_the_run() -> None:
    rows = MILLED + "2027-01-11 11:00,done,cut,1,1-2,\n2027-01-12 10:00,done,oil,1,1-2,\n2027-01-13,day lost,,,,\n"
    going = go(rows, "2027-01-14T12:00")
    assert [order.id for order in find_ready_orders(going)] == ["1", "2", "3", "4"]
    shipped = go(
        rows.replace(HEAD, "when,what,operation,batch,pieces,units,order\n")
        + "2027-01-14 11:00,shipped,,,,,2\n2027-01-14 11:00,shipped,,,,,4\n",
        "2027-01-14T12:00",
    )
    assert find_ready_orders(shipped) == []
    assert list_days(going, dt.date(2027, 1, 14), 9) == [dt.date(2027, 1, day) for day in (14, 12, 11)]
    assert list_days(going, dt.date(2027, 1, 14), 1) == [dt.date(2027, 1, 14)]


def test_faults_of_new_rows_and_of_those_that_stand_are_told_apart() -> None:
    row: dict[str, Any] = {"when": "2027-01-11 09:00", "what": "done", "operation": "cut", "batch": "1", "pieces": "1"}
    mine, others = find_new_faults(SCENARIO, "", [row], "log.csv")
    assert [(fault.file, fault.line) for fault in mine] == [(NOT_WRITTEN, None)]
    assert "comes after mill, batch 1, which is not done" in mine[0].rule
    assert others == ()
    # a row that is true by itself and makes one untrue that stands: milled only after it was cut
    before = (MILLED + "2027-01-11 11:00,done,cut,1,1,\n").replace("units", "row")
    mine, others = find_new_faults(
        SCENARIO, before, [{"when": "2027-01-11 12:00", "what": "taken back", "row": "2"}], "log.csv"
    )
    assert mine == ()
    assert [fault.line for fault in others] == [3]
