"""Schedules worked out by hand: who does what, two pairs of hands, and a helper who comes and goes.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays unless a test says so.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

WITH_LUNCH = '{ mon-fri = "08:00-12:00, 13:00-17:00" }'
TWO = 'workers = [{ name = "maker" }, { name = "helper" }]'
HELPER_TEN_TO_TWELVE = 'workers = [{ name = "maker" }, { name = "helper", open = { mon-fri = "10:00-12:00" } }]'
BY_WHOM = ("start", "done", "worker")


def test_two_workers_do_two_things_at_once(schedule: Schedule) -> None:
    operations = '{ name = "cut", after = [], work = "60 min" }, { name = "sand", after = [], work = "30 min" }'
    assert schedule(operations, BY_WHOM, shop=TWO) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
        "sand 1": "Mon 11 08:00 - Mon 11 08:30 - helper",
    }


def test_one_worker_does_them_one_after_the_other(schedule: Schedule) -> None:
    operations = '{ name = "cut", after = [], work = "60 min" }, { name = "sand", after = [], work = "30 min" }'
    assert schedule(operations, BY_WHOM) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
        "sand 1": "Mon 11 09:00 - Mon 11 09:30 - maker",
    }


def test_work_for_two_waits_until_the_helper_is_there(schedule: Schedule) -> None:
    # The helper comes at 10:00.
    operations = '{ name = "assemble", hands = 2, work = "30 min" }'
    assert schedule(operations, BY_WHOM, shop=HELPER_TEN_TO_TWELVE) == {
        "assemble 1": "Mon 11 10:00 - Mon 11 10:30 - maker + helper"
    }


def test_the_maker_does_not_idle_while_waiting_for_the_helper(schedule: Schedule) -> None:
    # Labelling 8:00-11:00 starts at once and is not interrupted at 10:00; assembly by both 11:00-11:30.
    operations = """
    { name = "assemble", hands = 2, work = "30 min" },
    { name = "label", after = [], work = "3 h" },
    """
    shop = HELPER_TEN_TO_TWELVE.replace('name = "helper",', 'name = "helper", can = ["assemble"],')
    assert schedule(operations, shop=shop) == {
        "label 1": "Mon 11 08:00 - Mon 11 11:00",
        "assemble 1": "Mon 11 11:00 - Mon 11 11:30",
    }


def test_when_the_helper_leaves_the_maker_is_freed_and_the_work_goes_on_when_both_are_there(
    schedule: Schedule,
) -> None:
    # Assembly of 3 h: 10:00-12:00 on Monday is 2 h. The maker labels 12:00-16:00 (4 h). Tuesday at 10:00 both are
    # free: the last hour, until 11:00.
    operations = """
    { name = "assemble", hands = 2, work = "3 h" },
    { name = "wait for glue", after = [], hands = 0, work = "12 h" },
    { name = "label", work = "4 h" },
    """
    shop = HELPER_TEN_TO_TWELVE.replace('name = "helper",', 'name = "helper", can = ["assemble"],')
    assert schedule(operations, shop=shop) == {
        "wait for glue 1": "Mon 11 00:00 - Mon 11 12:00",
        "assemble 1": "Mon 11 10:00 - Tue 12 11:00",
        "label 1": "Mon 11 12:00 - Mon 11 16:00",
    }


def test_work_for_two_that_was_broken_off_goes_on_before_other_work_once_both_are_free(schedule: Schedule) -> None:
    # Assembly 10:00-12:00 (2 of 3 h). Labelling 7 h: Monday 12-16 (4 h), Tuesday 8-11 (3 h). At 11:00 both are there:
    # assembly goes on 11:00-12:00, before waxing, which comes at 12:00.
    operations = """
    { name = "wax", after = ["label"], work = "30 min" },
    { name = "assemble", after = [], hands = 2, work = "3 h" },
    { name = "wait for glue", after = [], hands = 0, work = "12 h" },
    { name = "label", work = "7 h" },
    """
    shop = HELPER_TEN_TO_TWELVE.replace('name = "helper",', 'name = "helper", can = ["assemble"],')
    assert schedule(operations, shop=shop) == {
        "wait for glue 1": "Mon 11 00:00 - Mon 11 12:00",
        "assemble 1": "Mon 11 10:00 - Tue 12 12:00",
        "label 1": "Mon 11 12:00 - Tue 12 11:00",
        "wax 1": "Tue 12 12:00 - Tue 12 12:30",
    }


def test_work_for_two_stops_for_lunch_and_goes_on_with_both(schedule: Schedule) -> None:
    # 5 h: 8:00-12:00 and 13:00-14:00.
    operations = '{ name = "assemble", hands = 2, work = "5 h" }'
    assert schedule(operations, BY_WHOM, shop=TWO, open=WITH_LUNCH) == {
        "assemble 1": "Mon 11 08:00 - Mon 11 14:00 - maker + helper"
    }


def test_work_for_two_that_must_not_be_split_fits_into_the_hours_of_both(schedule: Schedule) -> None:
    # Cutting 8:00-11:00 by the maker. The helper leaves at 12:00; 90 min from 11:00 would end at 12:30: Tuesday.
    shop = 'workers = [{ name = "maker" }, { name = "helper", can = ["assemble"], open = { mon-fri = "08:00-12:00" } }]'
    operations = """
    { name = "cut", work = "3 h" },
    { name = "assemble", hands = 2, work = "90 min", pausable = false },
    """
    assert schedule(operations, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Mon 11 11:00",
        "assemble 1": "Tue 12 08:00 - Tue 12 09:30",
    }


def test_a_helper_on_holiday_is_missed(schedule: Schedule) -> None:
    # Away on Monday and Tuesday: assembly on Wednesday at 10:00.
    shop = HELPER_TEN_TO_TWELVE.replace('"10:00-12:00" }', '"10:00-12:00" }, closed = ["2027-01-11..2027-01-12"]')
    operations = '{ name = "assemble", hands = 2, work = "30 min" }'
    assert schedule(operations, shop=shop) == {"assemble 1": "Wed 13 10:00 - Wed 13 10:30"}


def test_a_helper_on_holiday_pauses_his_work_until_he_is_back(schedule: Schedule) -> None:
    # He alone sands. Monday 10-12 (2 h), away on Tuesday, Wednesday 10:00-11:00 the third hour.
    shop = """workers = [
      { name = "maker", can = ["cut"] },
      { name = "helper", open = { mon-fri = "10:00-12:00" }, closed = ["2027-01-12"], can = ["sand"] },
    ]"""
    operations = '{ name = "sand", work = "3 h" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, shop=shop) == {
        "sand 1": "Mon 11 10:00 - Wed 13 11:00",
        "cut 1": "Mon 11 08:00 - Mon 11 09:00",
    }


def test_a_helper_does_only_what_he_can(schedule: Schedule) -> None:
    # The maker cuts both, 8:00-10:00; the helper can only sand, and sands what is there: 9:00 and 10:00.
    shop = 'workers = [{ name = "maker" }, { name = "helper", can = ["sand"] }]'
    operations = '{ name = "cut", work = "1 h" }, { name = "sand", work = "20 min" }'
    assert schedule(operations, BY_WHOM, shop=shop, run="orders = 2") == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
        "cut 2": "Mon 11 09:00 - Mon 11 10:00 - maker",
        "sand 1": "Mon 11 09:00 - Mon 11 09:20 - helper",
        "sand 2": "Mon 11 10:00 - Mon 11 10:20 - helper",
    }


def test_work_goes_to_the_one_who_can_do_the_fewest_things(schedule: Schedule) -> None:
    # Both could sand; the maker, first in the file, is kept for what only the maker can do.
    shop = 'workers = [{ name = "maker" }, { name = "helper", can = ["sand"] }]'
    operations = '{ name = "sand", after = [], work = "20 min" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, BY_WHOM, shop=shop) == {
        "sand 1": "Mon 11 08:00 - Mon 11 08:20 - helper",
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - maker",
    }


def test_of_two_who_can_do_the_same_the_first_in_the_file_works(schedule: Schedule) -> None:
    assert schedule('{ name = "cut", work = "1 h" }', BY_WHOM, shop=TWO) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - maker"
    }


def test_work_that_is_broken_off_goes_on_with_whoever_comes_in_next(schedule: Schedule) -> None:
    # The maker works 8-12 (4 of 6 h); the helper comes at noon and goes on at once: 12:00-14:00.
    shop = """workers = [
      { name = "maker", open = { mon-fri = "08:00-12:00" } },
      { name = "helper", open = { mon-fri = "12:00-16:00" } },
    ]"""
    assert schedule('{ name = "cut", work = "6 h" }', BY_WHOM, shop=shop) == {
        "cut 1": "Mon 11 08:00 - Mon 11 14:00 - maker, then helper"
    }


def test_own_hours_count_only_while_the_shop_is_open(schedule: Schedule) -> None:
    # The helper says 6:00-9:00, the shop opens at 8:00: one hour a day. 90 min of sanding: Monday 8-9, Tuesday 8-8:30.
    shop = """workers = [
      { name = "maker", can = ["cut"] },
      { name = "helper", open = { mon-fri = "06:00-09:00" }, can = ["sand"] },
    ]"""
    operations = '{ name = "sand", work = "90 min" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, shop=shop)["sand 1"] == "Mon 11 08:00 - Tue 12 08:30"


def test_own_hours_stop_for_the_lunch_of_the_shop(schedule: Schedule) -> None:
    # The helper says 10:00-15:00; the shop closes 12-13: 2 h before, 2 h after. 3 h of sanding end at 14:00.
    shop = """workers = [
      { name = "maker", can = ["cut"] },
      { name = "helper", open = { mon-fri = "10:00-15:00" }, can = ["sand"] },
    ]"""
    operations = '{ name = "sand", work = "3 h" }, { name = "cut", after = [], work = "1 h" }'
    assert schedule(operations, shop=shop, open=WITH_LUNCH)["sand 1"] == "Mon 11 10:00 - Mon 11 14:00"


def test_work_for_two_does_not_hold_one_while_waiting_for_the_other(schedule: Schedule) -> None:
    # The maker cuts until 9:00, the helper sands until 9:30. From 9:00 the maker polishes three knobs of 10 min rather
    # than stand and wait; assembly by both at 9:30.
    shop = 'workers = [{ name = "maker" }, { name = "helper", can = ["sand", "assemble"] }]'
    operations = """
    { name = "cut", after = [], work = "60 min" },
    { name = "sand", after = [], work = "90 min" },
    { name = "assemble", after = [], hands = 2, work = "30 min" },
    { name = "polish", per = "knob", handful = 1, after = ["cut"], work = "10 min" },
    """
    assert schedule(operations, shop=shop, parts='"knob" = 3') == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00",
        "sand 1": "Mon 11 08:00 - Mon 11 09:30",
        "polish 1.1": "Mon 11 09:00 - Mon 11 09:10",
        "polish 1.2": "Mon 11 09:10 - Mon 11 09:20",
        "polish 1.3": "Mon 11 09:20 - Mon 11 09:30",
        "assemble 1": "Mon 11 09:30 - Mon 11 10:00",
    }


def test_three_pairs_of_hands_take_those_who_can_do_the_fewest_things(schedule: Schedule) -> None:
    # Two of three are needed: the two helpers; the maker cuts at the same time.
    shop = """workers = [
      { name = "maker" },
      { name = "first helper", can = ["lift"] },
      { name = "second helper", can = ["lift", "sand"] },
    ]"""
    operations = """
    { name = "lift", after = [], hands = 2, work = "15 min" },
    { name = "cut", after = [], work = "1 h" },
    { name = "sand", after = ["cut"], work = "5 min" },
    """
    rows = schedule(operations, ("start", "worker"), shop=shop)
    assert set(rows["lift 1"].removeprefix("Mon 11 08:00 - ").split(" + ")) == {"first helper", "second helper"}
    assert rows["cut 1"] == "Mon 11 08:00 - maker"


def test_while_one_of_two_has_a_break_the_other_does_something_else(schedule: Schedule) -> None:
    # The helper is away 11-12. Assembly of 4 h: 8-11. The maker labels 11:00-12:30; then both: 12:30-13:30.
    shop = """workers = [
      { name = "maker" },
      { name = "helper", can = ["assemble"], open = { mon-fri = "08:00-11:00, 12:00-16:00" } },
    ]"""
    operations = """
    { name = "assemble", after = [], hands = 2, work = "4 h" },
    { name = "label", after = [], work = "90 min" },
    """
    assert schedule(operations, shop=shop) == {
        "assemble 1": "Mon 11 08:00 - Mon 11 13:30",
        "label 1": "Mon 11 11:00 - Mon 11 12:30",
    }


def test_somebody_else_steps_in_for_the_one_who_went_home(schedule: Schedule) -> None:
    # Maker and helper begin, 8:00-10:00 (2 of 3 h); a second helper is there: the maker goes on with them, 10:00-11:00.
    shop = """workers = [
      { name = "maker" },
      { name = "helper", open = { mon-fri = "08:00-10:00" } },
      { name = "second helper" },
    ]"""
    assert schedule('{ name = "assemble", hands = 2, work = "3 h" }', BY_WHOM, shop=shop) == {
        "assemble 1": "Mon 11 08:00 - Mon 11 11:00 - maker + helper, then maker + second helper"
    }


def test_of_three_who_can_and_two_who_are_wanted_one_who_leaves_too_soon_is_passed_over(schedule: Schedule) -> None:
    # The maker cuts until 11:00. Lifting of 90 min must not be split and Ben leaves at 12:00: the maker and Cora, who
    # stands after him in the file, 11:00-12:30.
    shop = """workers = [
      { name = "ben", can = ["lift"], open = { mon-fri = "08:00-12:00" } },
      { name = "cora", can = ["lift"] },
      { name = "maker" },
    ]"""
    operations = '{ name = "cut", work = "3 h" }, { name = "lift", hands = 2, work = "90 min", pausable = false }'
    assert schedule(operations, BY_WHOM, shop=shop)["lift 1"] == "Mon 11 11:00 - Mon 11 12:30 - cora + maker"
