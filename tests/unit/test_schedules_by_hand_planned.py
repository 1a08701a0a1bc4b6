"""Schedules worked out by hand: a plan of one's own, in which the list alone decides what comes first.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays, with one maker.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import parse_scenario, run_once
from shopsim.engine.task_holdups import PLANNED
from shopsim.engine.waits import sum_wait

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

SAW = 'stations = [{ name = "saw" }]\nworkers = [{ name = "maker" }]'
RIP_AND_CROSSCUT = """
{ name = "rip", station = "saw", setup = "10 min", work = "5 min" },
{ name = "crosscut", station = "saw", setup = "10 min", work = "5 min" },
"""
CUT_AND_SAND = '{ name = "cut", work = "20 min" }, { name = "sand", work = "10 min" }'


def planned(*lines: str, run: str = "orders = 2") -> str:
    """The lines of ``[run]`` for a plan; a line is ``operation``, ``operation/batch`` or ``operation/batch/moment``."""
    rows = []
    for line in lines:
        name, batch, moment = (*line.split("/"), "", "")[:3]
        row = f'operation = "{name}"' + (f", batch = {batch}" if batch else "")
        rows.append(f"{{ {row}, not_before = {moment} }}" if moment else f"{{ {row} }}")
    return f'{run}\npriority = "as planned"\nplan = {{ order = [{", ".join(rows)}] }}'


def test_the_list_decides_and_not_the_station_that_is_set(schedule: Schedule) -> None:
    # Rip 1 8:00 + 10 + 5 = 8:15. Crosscutting stands first, so the saw is set for it though it is set for ripping: 8:30.
    # Rip 2 with its set-up 8:45, crosscut 2 9:00. (Under "glue first" both are ripped first, and it is over at 8:40.)
    columns = ("start", "setup_min")
    assert schedule(RIP_AND_CROSSCUT, columns, shop=SAW, run=planned("crosscut/1", "rip/1")) == {
        "rip 1": "Mon 11 08:00 - 10",
        "crosscut 1": "Mon 11 08:15 - 10",
        "rip 2": "Mon 11 08:30 - 10",
        "crosscut 2": "Mon 11 08:45 - 10",
    }


def test_a_later_batch_may_go_first(schedule: Schedule) -> None:
    # Cutting of batch 2 stands first, and sanding of either last.
    run = planned("cut/2", "cut/1", "sand/1", "sand/2", run="orders = 2\nbatch = 1")
    assert schedule(CUT_AND_SAND, ("start",), run=run) == {
        "cut 2": "Mon 11 08:00",
        "cut 1": "Mon 11 08:20",
        "sand 1": "Mon 11 08:40",
        "sand 2": "Mon 11 08:50",
    }


def test_what_cannot_start_yet_lets_the_next_go_ahead(schedule: Schedule) -> None:
    # Sanding of batch 2 stands first of all, and waits for its cutting, which stands last.
    run = planned("sand/2", "cut/1", "sand/1", "cut/2", run="orders = 2\nbatch = 1")
    assert schedule(CUT_AND_SAND, ("start",), run=run) == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Mon 11 08:20",
        "cut 2": "Mon 11 08:30",
        "sand 2": "Mon 11 08:50",
    }


def test_a_line_held_back_to_a_moment_may_leave_hands_idle(schedule: Schedule) -> None:
    # Cut 8:00-8:20; sanding is held to 9:30 though hands are free from 8:20.
    assert schedule(CUT_AND_SAND, ("start",), run=planned("cut/1", "sand/1/2027-01-11T09:30:00", run="orders = 1")) == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Mon 11 09:30",
    }


def test_a_line_held_back_to_a_day_begins_when_the_shop_opens(schedule: Schedule) -> None:
    assert schedule(CUT_AND_SAND, ("start",), run=planned("cut/1", "sand/1/2027-01-13", run="orders = 1")) == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Wed 13 08:00",
    }


def test_a_wait_for_the_moment_of_a_line_is_a_holdup_of_its_own(run_shop: Callable[..., object]) -> None:
    # Cut until 8:20, sanding not before 9:30: 70 minutes held back by the plan.
    run = run_shop(CUT_AND_SAND, run=planned("cut/1", "sand/1/2027-01-11T09:30:00", run="orders = 1"))
    assert sum_wait(run.history, 1, 500.0, 570.0) == [(PLANNED, "", 70.0)]  # type: ignore[attr-defined]


def test_what_has_no_line_goes_after_all_that_have_in_the_usual_order(schedule: Schedule) -> None:
    # Of label, cut and coat only labelling has a line. Then "glue first": the coat, once it is cut, before the next cut.
    operations = """
    { name = "cut", after = [], work = "20 min" },
    { name = "coat", after = ["cut"], work = "10 min", cure = "24 h" },
    { name = "label", after = [], work = "30 min" },
    """
    assert schedule(operations, ("start",), run=planned("label/1")) == {
        "label 1": "Mon 11 08:00",
        "label 2": "Mon 11 08:30",
        "cut 1": "Mon 11 09:00",
        "coat 1": "Mon 11 09:20",
        "cut 2": "Mon 11 09:30",
        "coat 2": "Mon 11 09:50",
    }


def test_a_line_without_a_batch_is_about_every_batch_that_has_no_line_of_its_own(schedule: Schedule) -> None:
    run = planned("cut/2", "sand", "cut", run="orders = 3\nbatch = 1\npieces_open = 3")
    assert schedule(CUT_AND_SAND, ("start",), run=run) == {
        "cut 2": "Mon 11 08:00",
        "sand 2": "Mon 11 08:20",
        "cut 1": "Mon 11 08:30",
        "sand 1": "Mon 11 08:50",
        "cut 3": "Mon 11 09:00",
        "sand 3": "Mon 11 09:20",
    }


def test_between_equals_the_set_station_goes_first() -> None:
    # One line for ripping, of stools (batch 1) and trays (batch 2) alike. Tray 1 is ripped 8:00 + 10 + 5 = 8:15; the stool
    # is drawn until 8:20, and could be ripped then, the older batch; but the saw is set for trays: tray 2 8:20-8:25,
    # then the stool 8:25 + 10 + 5 = 8:40. Drawing is held to 8:10, so that the tray is begun first.
    text = """
    shop = { open = { mon-fri = "08:00-16:00" }, workers = [{ name = "maker" }], stations = [{ name = "saw" }] }
    [[designs]]
    name = "stool"
    operations = [{ name = "draw", work = "5 min" }, { name = "rip", station = "saw", setup = "10 min", work = "5 min" }]
    [[designs]]
    name = "tray"
    operations = [{ name = "rip", station = "saw", setup = "10 min", work = "5 min" }]
    [run]
    start = 2027-01-11
    priority = "as planned"
    pieces_open = 3
    lines = [{ design = "stool", orders = 1 }, { design = "tray", orders = 2 }]
    plan = { order = [{ operation = "draw", not_before = "2027-01-11 08:10" }, { operation = "rip" }] }
    """
    run = run_once(parse_scenario(text), likely=True)
    assert run.check() == []
    rows = run.tasks.sort_values("start")
    assert [f"{row.operation} {row.piece} {row.start:%H:%M}" for row in rows.itertuples()] == [
        "rip 2 08:00", "draw 1 08:15", "rip 3 08:20", "rip 1 08:25",
    ]  # fmt: skip
