"""Working time against clock time."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from shopsim import parse_scenario
from shopsim.engine.calendars import Calendar, CalendarEnds
from shopsim.engine.hours import Hours, SharedHours

MONDAY = dt.date(2027, 1, 11)


def calendar(open_text: str, worker: str = "", closed: str = "") -> Calendar:
    scenario = parse_scenario(
        f"""
        [shop]
        open = {open_text}
        closed = [{closed}]
        [[shop.workers]]
        name = "maker"
        {worker}
        [design]
        name = "tray"
        operations = [{{ name = "saw", work = "1 min" }}]
        [run]
        orders = 1
        start = 2027-01-11
        """
    )
    return Calendar(scenario.shop, 0, MONDAY, day_luck=False)


class Half:
    """Every day half interrupted, the second day lost."""

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        return np.full(n_days, 0.5), np.arange(n_days) == 1


def at(day: int, hour: int, minute: int = 0) -> float:
    return day * 1440.0 + hour * 60 + minute


def test_work_goes_on_at_the_next_opening() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-12:00, 13:00-17:00" }'), None)
    assert hours.seek(at(0, 11))
    assert hours.finish(at(0, 11), 60) == at(0, 12)  # to the minute of closing, not the next opening
    assert hours.finish(at(0, 11), 90) == at(0, 13, 30)
    assert hours.finish(at(0, 11), 60 + 240 + 30) == at(1, 8, 30)


def test_nobody_is_at_work_at_the_minute_of_closing() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-12:00, 13:00-17:00" }'), None)
    assert hours.seek(at(0, 8))
    assert not hours.seek(at(0, 12))
    assert hours.next_start(at(0, 12)) == at(0, 13)
    assert hours.next_at_work(at(4, 17)) == at(7, 8)


def test_hours_past_midnight_belong_to_the_day_they_begin() -> None:
    hours = Hours(calendar('{ fri = "22:00-02:00" }'), None)
    assert not hours.seek(at(4, 21))
    assert hours.seek(at(5, 1))
    assert hours.finish(at(5, 1), 90) == at(11, 22, 30)


def test_own_hours_count_only_while_the_shop_is_open() -> None:
    hours = Hours(calendar('{ sat = "08:00-12:00" }', 'open = { sat = "07:00-09:00", sun = "08:00-12:00" }'), None)
    assert hours.pieces(0.0, at(14, 0)) == [(at(5, 8), at(5, 9), 1.0), (at(12, 8), at(12, 9), 1.0)]


def test_days_off_are_days_off_and_long_ones_are_got_over() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-17:00" }', closed='"2027-01-12..2028-06-30"'), None)
    hours.seek(at(0, 16))
    back = (dt.date(2028, 7, 3) - MONDAY).days  # a Monday
    assert hours.finish(at(0, 16), 61) == at(back, 8, 1)


def test_a_shop_that_never_closes_has_no_next_opening() -> None:
    hours = Hours(calendar('"always"'), None)
    assert hours.seek(5e6)
    assert hours.next_start(5e6) == math.inf
    assert hours.finish(5e6, 12.5) == 5e6 + 12.5


def test_interrupted_days_slow_the_work_down_and_lost_days_have_none() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-17:00" }'), Half())
    assert hours.seek(at(0, 8))
    assert hours.finish(at(0, 8), 60) == at(0, 10)
    assert hours.finish(at(0, 8), 271) == at(2, 8, 2)  # 4.5 h on Monday, none on Tuesday


def test_work_that_is_not_split_goes_on_past_closing_at_the_same_pace() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-17:00" }'), Half())
    hours.seek(at(0, 16))
    assert hours.finish_late(at(0, 16), 45) == at(0, 17, 30)


def test_several_workers_share_only_the_hours_of_all() -> None:
    one = Hours(calendar('{ sat = "08:00-12:00, 13:00-17:00" }'), None)
    two = Hours(calendar('{ sat = "08:00-12:00, 13:00-17:00" }', 'open = { sat = "09:00-14:00" }'), None)
    shared = SharedHours([one, two])
    assert shared.pieces(0.0, at(7, 0)) == [(at(5, 9), at(5, 12), 1.0), (at(5, 13), at(5, 14), 1.0)]
    assert shared.seek(at(5, 9))
    assert shared.finish(at(5, 9), 241) == at(12, 9, 1)


def test_laying_out_more_days_changes_nothing_laid_out_before() -> None:
    hours = Hours(calendar('{ tue = "18:00-21:30", sat = "08:30-12:30" }'), None)
    before = (hours.start.copy(), hours.end.copy(), hours.worked_before.copy())
    hours.extend(1000)
    assert (hours.start[: len(before[0])], hours.end[: len(before[1])]) == before[:2]
    assert hours.worked_before[: len(before[2])] == pytest.approx(before[2])


def test_a_stretch_that_ends_where_the_next_begins_is_one() -> None:
    # 8-12 and 12-16 without a break; lunch from 16 to 17. The first closing after 9:00 is 16:00, the next opening 17:00.
    hours = Hours(calendar('{ mon = "08:00-12:00, 12:00-16:00, 17:00-18:00" }'), None)
    assert hours.seek(at(0, 9))
    assert hours.closes_at[hours.cursor] == at(0, 16)
    assert hours.next_start(at(0, 9)) == at(0, 17)
    assert hours.finish_late(at(0, 9), 8 * 60) == at(0, 17)  # an hour more than there is before closing: stays on


def test_what_is_not_split_goes_on_past_closing_at_the_pace_of_the_last_stretch() -> None:
    # Half the pace: from 11:00 an hour of work would take until 13:00, past the lunch at 12:00.
    hours = Hours(calendar('{ mon-fri = "08:00-12:00, 13:00-17:00" }'), Half())
    assert hours.seek(at(0, 11))
    assert hours.finish_late(at(0, 11), 60) == at(0, 13)
    assert hours.finish(at(0, 11), 60) == at(0, 14)  # split at lunch: 30 min of work before it, 30 from 13:00


def test_nothing_is_known_of_what_comes_after_22_years() -> None:
    hours = Hours(calendar('{ mon-fri = "08:00-17:00" }'), None)
    assert hours.seek(at(8000, 9)) is (8000 % 7 < 5)
    with pytest.raises(CalendarEnds):
        hours.seek(at(8192, 9))
    with pytest.raises(CalendarEnds):
        hours.next_at_work(at(9000, 9))


def test_a_shop_that_opens_no_more_has_no_next_opening() -> None:
    # No file may say so, but the calendar ends somewhere. Open on this one day, in two stretches that touch.
    known = calendar('{ mon = "08:00-12:00, 12:00-17:00" }')
    known.shop_closed = ((dt.date(2027, 1, 12), dt.date(2060, 12, 31)),)
    hours = Hours(known, None)
    hours.extend(8192)
    assert hours.seek(at(0, 9))
    assert hours.next_start(at(0, 9)) == math.inf
    with pytest.raises(CalendarEnds):
        hours.finish(at(0, 9), 8 * 60 + 1)


def test_of_those_who_always_work_and_those_with_hours_the_hours_count() -> None:
    always = Hours(calendar('"always"'), None)
    other = Hours(calendar('"always"', 'open = { sat = "09:00-14:00" }'), None)
    both = SharedHours([always, other])
    assert both.pieces(0.0, at(7, 0)) == [(at(5, 9), at(5, 14), 1.0)]
    alone = SharedHours([always, Hours(calendar('"always"'), None)])
    assert alone.seek(1e6)
    assert alone.finish(1e6, 90) == 1e6 + 90
    assert alone.closes_at[alone.cursor] == math.inf


def test_what_two_share_closes_where_their_unbroken_time_ends() -> None:
    # 8-12 and 12-16 touch for both, so what must not be split may run from 9:00 until 16:00; the other comes at 17:00.
    one = Hours(calendar('{ mon = "08:00-12:00, 12:00-16:00, 17:00-18:00" }'), None)
    two = Hours(calendar('{ mon = "08:00-12:00, 12:00-16:00, 17:00-18:00" }', 'open = { mon = "09:00-18:00" }'), None)
    both = SharedHours([one, two])
    assert both.seek(at(0, 9))
    assert both.closes_at[both.cursor] == at(0, 16)
    assert both.finish_late(at(0, 9), 8 * 60) == at(0, 17)
    assert both.seek(at(0, 17))
    assert both.closes_at[both.cursor] == at(0, 18)


def test_two_who_meet_only_after_months_do_what_needs_both_then() -> None:
    # The helper is away for 200 days and comes on Saturdays: the first one after 2027-07-30, a Friday, is the next day.
    one = Hours(calendar('{ sat = "08:00-12:00" }'), None)
    away = calendar('{ sat = "08:00-12:00" }', 'closed = ["2027-01-11..2027-07-30"]')
    both = SharedHours([one, Hours(away, None)])
    back = (dt.date(2027, 7, 31) - MONDAY).days
    assert not both.seek(at(5, 8))
    assert both.next_start(at(5, 8)) == at(back, 8)
    assert both.seek(at(back, 8))
    assert both.finish(at(back, 8), 90) == at(back, 9, 30)
