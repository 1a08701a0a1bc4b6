"""Schedules worked out by hand: clamps, how long they stay on, who takes them off.

Monday is 2027-01-11 unless a start is given; the shop is open 8:00 to 16:00 on weekdays unless a test says so.
A row reads: start of the glue-up - clamps off - done.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

WITH_LUNCH = '{ mon-fri = "08:00-12:00, 13:00-17:00" }'
CLAMPED = ("start", "in_clamps_until", "done")
TWO_CLAMPS = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]'
NEEDS_TWO = 'clamps = [{ count = 2, reach = "20 in" }]'


@pytest.mark.parametrize(
    ("start", "off"),
    [("2026-03-06", "Mon 09 08:00"), ("2026-03-10", "Wed 11 08:00")],
    ids=["set on Friday at 16:00", "set on Tuesday at 16:00"],
)
def test_a_set_glued_at_four_for_twelve_hours_is_free_when_the_shop_next_opens(
    schedule: Schedule, start: str, off: str
) -> None:
    # Milling 8-12 is 4 h, 13:00-15:50 the other 2 h 50. Gluing 15:50-16:00. 12 h later it is 4:00 and nobody is
    # there: from Friday until Monday 8:00 (64 h), from Tuesday until Wednesday 8:00 (16 h).
    operations = f"""
    {{ name = "mill", work = "410 min" }},
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "12 h" }},
    {{ name = "plane", work = "30 min" }},
    """
    rows = schedule(operations, CLAMPED, open=WITH_LUNCH, start=start, shop=TWO_CLAMPS)
    assert rows["glue 1"].split(" - ", 1)[1] == f"{off} - {off}"
    assert rows["plane 1"] == f"{off} - - - {off.replace('08:00', '08:30')}"


def test_clamps_come_off_at_the_end_of_their_time_while_the_shop_is_open(schedule: Schedule) -> None:
    # Gluing 8:00-8:10, an hour in clamps until 9:10, planing from 9:10.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h" }},
    {{ name = "plane", work = "30 min" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:10 - Mon 11 09:10",
        "plane 1": "Mon 11 09:10 - - - Mon 11 09:40",
    }


def test_clamps_whose_time_ends_at_lunch_come_off_after_lunch(schedule: Schedule) -> None:
    # 8:10 + 4 h = 12:10, in the lunch hour: off at 13:00.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "4 h" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, open=WITH_LUNCH) == {
        "glue 1": "Mon 11 08:00 - Mon 11 13:00 - Mon 11 13:00"
    }


def test_the_second_glue_up_waits_until_the_clamps_of_the_first_are_off(schedule: Schedule) -> None:
    # Two clamps, two needed: 8:00-8:10, off 9:10; second 9:10-9:20, off 10:20.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:10 - Mon 11 09:10",
        "glue 2": "Mon 11 09:10 - Mon 11 10:20 - Mon 11 10:20",
    }


def test_clamps_stay_on_until_somebody_has_spent_the_time_to_take_them_off(schedule: Schedule) -> None:
    # 8:00-8:10, an hour until 9:10, taken off 9:10-9:15. Only then the second: 9:15-9:25, 10:25, off 10:30.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h", unclamp = "5 min" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:15 - Mon 11 09:15",
        "glue 2": "Mon 11 09:15 - Mon 11 10:30 - Mon 11 10:30",
    }


def test_taking_clamps_off_waits_for_work_in_progress_and_goes_before_other_work(schedule: Schedule) -> None:
    # Gluing 8:00-8:10, half an hour until 8:40. Labelling 8:10-8:50 is not interrupted. Clamps off 8:50-8:55,
    # before planing and waxing: planing (earlier in the file) 8:55-9:05, waxing 9:05-9:35.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "30 min", unclamp = "5 min" }},
    {{ name = "plane", work = "10 min" }},
    {{ name = "label", after = [], work = "40 min" }},
    {{ name = "wax", after = [], work = "30 min" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Mon 11 08:55 - Mon 11 08:55",
        "label 1": "Mon 11 08:10 - - - Mon 11 08:50",
        "plane 1": "Mon 11 08:55 - - - Mon 11 09:05",
        "wax 1": "Mon 11 09:05 - - - Mon 11 09:35",
    }


def test_taking_clamps_off_goes_before_work_that_becomes_ready_at_the_same_minute(schedule: Schedule) -> None:
    # Gluing 8:00-8:10, 40 min until 8:50; labelling 8:10-8:50 ends at that minute. Clamps first 8:50-8:55.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "40 min", unclamp = "5 min" }},
    {{ name = "label", after = [], work = "40 min" }},
    {{ name = "wax", work = "30 min" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Mon 11 08:55 - Mon 11 08:55",
        "label 1": "Mon 11 08:10 - - - Mon 11 08:50",
        "wax 1": "Mon 11 08:55 - - - Mon 11 09:25",
    }


def test_clamps_of_the_night_come_off_first_thing_in_the_morning(schedule: Schedule) -> None:
    # Gluing 8:00-8:10, 20 h until Tuesday 4:10. Labelling 8:10-15:10 (7 h). Waxing must not be split, and
    # 15:10 + 1 h is past closing. Tuesday: clamps off 8:00-8:10, planing 8:10-8:20, waxing 8:20-9:20.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "20 h", unclamp = "10 min" }},
    {{ name = "plane", work = "10 min" }},
    {{ name = "label", after = [], work = "7 h" }},
    {{ name = "wax", after = [], work = "1 h", pausable = false }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Tue 12 08:10 - Tue 12 08:10",
        "label 1": "Mon 11 08:10 - - - Mon 11 15:10",
        "plane 1": "Tue 12 08:10 - - - Tue 12 08:20",
        "wax 1": "Tue 12 08:20 - - - Tue 12 09:20",
    }


def test_work_left_half_done_at_closing_goes_on_before_clamps_are_taken_off(schedule: Schedule) -> None:
    # Labelling 10 h from 8:10: 470 min on Monday, 130 min on Tuesday, until 10:10: it is work in progress, and the
    # only worker stays with it. Clamps off 10:10-10:20.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "20 h", unclamp = "10 min" }},
    {{ name = "label", after = [], work = "10 h" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Tue 12 10:20 - Tue 12 10:20",
        "label 1": "Mon 11 08:10 - - - Tue 12 10:10",
    }


def test_taking_clamps_off_stops_at_lunch_and_goes_on_afterwards(schedule: Schedule) -> None:
    # 8:10 + 228 min = 11:58; two of the five minutes before lunch, three from 13:00: off 13:03.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "228 min", unclamp = "5 min" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, open=WITH_LUNCH) == {
        "glue 1": "Mon 11 08:00 - Mon 11 13:03 - Mon 11 13:03"
    }


def test_a_free_helper_takes_clamps_off_whatever_he_can_do_otherwise(schedule: Schedule) -> None:
    # The helper can only sand. Gluing 8:00-8:10, until 9:10; the maker cuts 8:10-10:10. The helper: 9:10-9:15.
    workers = 'workers = [{ name = "maker" }, { name = "helper", can = ["sand"] }]\n'
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h", unclamp = "5 min" }},
    {{ name = "cut", after = [], work = "2 h" }},
    {{ name = "sand", after = ["glue"], work = "10 min" }},
    """
    assert schedule(operations, CLAMPED, shop=workers + TWO_CLAMPS) == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:15 - Mon 11 09:15",
        "cut 1": "Mon 11 08:10 - - - Mon 11 10:10",
        "sand 1": "Mon 11 09:15 - - - Mon 11 09:25",
    }


def test_clamps_are_free_as_soon_as_anybody_is_at_work(schedule: Schedule) -> None:
    # Friday 8:00-8:10, 24 h until Saturday 8:10. The shop opens 9-12 on Saturday, when only the helper comes.
    workers = """workers = [
      { name = "maker", open = { mon-fri = "08:00-16:00" } },
      { name = "helper", open = { sat = "09:00-12:00" } },
    ]\n"""
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "24 h" }}'
    hours = '{ mon-fri = "08:00-16:00", sat = "09:00-12:00" }'
    assert schedule(operations, CLAMPED, shop=workers + TWO_CLAMPS, open=hours, start="2027-01-15") == {
        "glue 1": "Fri 15 08:00 - Sat 16 09:00 - Sat 16 09:00"
    }


def test_clamps_are_free_long_before_the_glue_has_cured(schedule: Schedule) -> None:
    # Off after an hour (9:10); cured 24 h after the work: Tuesday 8:10. The second glue-up needs only the clamps:
    # 9:10-9:20, off 10:20, cured Tuesday 9:20.
    operations = f"""
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h", cure = "24 h" }},
    {{ name = "plane", work = "30 min" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:10 - Tue 12 08:10",
        "glue 2": "Mon 11 09:10 - Mon 11 10:20 - Tue 12 09:20",
        "plane 1": "Tue 12 08:10 - - - Tue 12 08:40",
        "plane 2": "Tue 12 09:20 - - - Tue 12 09:50",
    }


def test_a_cure_shorter_than_the_clamp_time_adds_nothing(schedule: Schedule) -> None:
    # In clamps until 10:10, cured at 8:40: done when the clamps are off.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "2 h", cure = "30 min" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS) == {"glue 1": "Mon 11 08:00 - Mon 11 10:10 - Mon 11 10:10"}


def test_clamps_without_clamp_time_are_held_only_while_the_work_lasts(schedule: Schedule) -> None:
    # Two workers but two clamps: the second piece starts when the first is done.
    workers = 'workers = [{ name = "maker" }, { name = "helper" }]\n'
    operations = f'{{ name = "shape", work = "10 min", {NEEDS_TWO} }}'
    assert schedule(operations, shop=workers + TWO_CLAMPS, run="orders = 2") == {
        "shape 1": "Mon 11 08:00 - Mon 11 08:10",
        "shape 2": "Mon 11 08:10 - Mon 11 08:20",
    }


def test_a_glue_up_of_several_parts_takes_its_clamps_once(schedule: Schedule) -> None:
    # Two frames in one task: 2 x 10 min of work, two clamps in all: 8:00-8:20, off 9:20.
    operations = f'{{ name = "glue", per = "frame", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h" }}'
    assert schedule(operations, shop=TWO_CLAMPS, parts='"frame" = 2') == {"glue 1": "Mon 11 08:00 - Mon 11 09:20"}


def test_parts_glued_one_by_one_take_clamps_each(schedule: Schedule) -> None:
    # handful = 1: two tasks of two clamps each, one after the other.
    operations = f'{{ name = "glue", per = "frame", handful = 1, work = "10 min", {NEEDS_TWO}, in_clamps = "1 h" }}'
    assert schedule(operations, shop=TWO_CLAMPS, parts='"frame" = 2') == {
        "glue 1.1": "Mon 11 08:00 - Mon 11 09:10",
        "glue 1.2": "Mon 11 09:10 - Mon 11 10:20",
    }


def test_a_glue_up_starts_the_minute_clamps_come_off_for_a_worker_who_is_free(schedule: Schedule) -> None:
    # Four clamps in all, two glue-ups at once; the third takes the first pair at 9:10, the fourth the second at 9:20.
    operations = f'{{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "1 h" }}'
    shop = TWO_CLAMPS.replace("count = 2", "count = 4")
    assert schedule(operations, ("start",), shop=shop, run="orders = 4") == {
        "glue 1": "Mon 11 08:00",
        "glue 2": "Mon 11 08:10",
        "glue 3": "Mon 11 09:10",
        "glue 4": "Mon 11 09:20",
    }


def test_taking_clamps_off_stops_at_closing_and_goes_on_the_next_day(schedule: Schedule) -> None:
    # Milling 8:00-15:00, gluing 15:00-15:10, 48 min until 15:58; two of the five minutes on Monday, three on Tuesday.
    operations = f"""
    {{ name = "mill", work = "7 h" }},
    {{ name = "glue", work = "10 min", {NEEDS_TWO}, in_clamps = "48 min", unclamp = "5 min" }},
    """
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS)["glue 1"] == "Mon 11 15:00 - Tue 12 08:03 - Tue 12 08:03"


def test_clamps_closed_by_a_machine_at_night_wait_for_somebody_to_open_them(schedule: Schedule) -> None:
    # A press without hands: 0:00-1:00, in clamps until 3:00, off at 8:00. The second 8:00-9:00, off at 11:00.
    operations = f'{{ name = "press", hands = 0, work = "1 h", {NEEDS_TWO}, in_clamps = "2 h" }}'
    assert schedule(operations, CLAMPED, shop=TWO_CLAMPS, run="orders = 2") == {
        "press 1": "Mon 11 00:00 - Mon 11 08:00 - Mon 11 08:00",
        "press 2": "Mon 11 08:00 - Mon 11 11:00 - Mon 11 11:00",
    }


def test_what_is_pressed_without_clamps_that_are_counted_takes_its_time_all_the_same(schedule: Schedule) -> None:
    # Under weights: laid 8:00-8:10, pressed until 10:10; taped: 8:10-8:20, and somebody takes the tape off, 2 min.
    operations = """
    { name = "lay veneer", work = "10 min", in_clamps = "2 h" },
    { name = "tape", after = [], work = "10 min", unclamp = "2 min" },
    { name = "trim", after = ["lay veneer"], work = "5 min" },
    """
    rows = schedule(operations, ("start", "done"))
    assert rows == {
        "lay veneer 1": "Mon 11 08:00 - Mon 11 10:10",
        "tape 1": "Mon 11 08:10 - Mon 11 08:22",
        "trim 1": "Mon 11 10:10 - Mon 11 10:15",
    }


def test_of_clamps_that_wait_to_come_off_those_that_were_due_first_come_off_first(schedule: Schedule) -> None:
    # Frames 8:00-8:10, due at 12:10; panels 8:10-8:20, due at 10:20. The maker cuts 8:20-13:20, then takes the panels' off
    # until 13:30 and the frames' until 13:40, though the frames stand first in the file.
    operations = f"""
    {{ name = "glue frames", after = [], work = "10 min", {NEEDS_TWO}, in_clamps = "4 h", unclamp = "10 min" }},
    {{ name = "glue panels", after = [], work = "10 min", {NEEDS_TWO}, in_clamps = "2 h", unclamp = "10 min" }},
    {{ name = "cut", after = [], work = "5 h" }},
    """
    rows = schedule(operations, ("start", "in_clamps_until"), shop=TWO_CLAMPS.replace("count = 2", "count = 4"))
    assert rows == {
        "glue frames 1": "Mon 11 08:00 - Mon 11 13:40",
        "glue panels 1": "Mon 11 08:10 - Mon 11 13:30",
        "cut 1": "Mon 11 08:20 - -",
    }
