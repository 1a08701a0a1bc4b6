"""Working time on a real calendar, every figure worked out in a second way.

Dates are those of the proleptic Gregorian calendar; working days are counted again with NumPy's ``busday`` functions,
working minutes by going through the calendar minute by minute.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim import RunResult, parse_scenario, run_once

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
WEEKDAYS = 'mon-fri = "08:00-12:00, 13:00-17:00"'
EARLY = 'mon-fri = "07:30-11:45, 12:30-16:15"'
EVENINGS = 'tue = "18:00-21:30", thu = "18:00-21:30", sat = "08:30-12:30, 13:30-17:30"'


def run_tasks(
    operations: str, start: str, hours: str = WEEKDAYS, closed: Sequence[str] = (), shop: str = ""
) -> RunResult:
    """One piece by one maker, every value at its likely figure."""
    days = ", ".join(closed)
    run = run_once(
        parse_scenario(
            f"""
            [shop]
            open = {{ {hours} }}
            closed = [{days}]
            {shop}
            [design]
            name = "tray"
            operations = [{operations}]
            [run]
            start = {start}
            orders = 1
            """
        ),
        likely=True,
    )
    assert run.check() == []
    return run


def row(run: RunResult, operation: str) -> Any:
    """The row of the one task of an operation."""
    (task,) = run.tasks[run.tasks["operation"] == operation].itertuples()
    return task


def at(text: str) -> pd.Timestamp:
    return pd.Timestamp(text)


# ---- working days (examples of the NumPy manual's business day page; values from memory, computed again here)


def test_2011_has_260_weekdays() -> None:
    assert np.busday_count("2011-01-01", "2012-01-01") == 260
    one_hour = 'mon-fri = "08:00-09:00"'
    assert row(run_tasks('{ name = "saw", work = "260 h" }', "2011-01-01", one_hour), "saw").done == at(
        "2011-12-30 09:00"
    )
    assert row(run_tasks('{ name = "saw", work = "261 h" }', "2011-01-01", one_hour), "saw").done == at(
        "2012-01-02 09:00"
    )


def test_the_first_weekday_from_the_first_of_october_2011_is_the_third() -> None:
    assert np.busday_offset("2011-10", 0, roll="forward") == np.datetime64("2011-10-03")
    assert row(run_tasks('{ name = "saw", work = "1 h" }', "2011-10-01"), "saw").start == at("2011-10-03 08:00")


def test_the_third_wednesday_of_may_2012_is_the_sixteenth() -> None:
    assert np.busday_offset("2012-05", 2, roll="forward", weekmask="Wed") == np.datetime64("2012-05-16")
    run = run_tasks('{ name = "saw", work = "3 h" }', "2012-05-01", 'wed = "10:00-11:00"')
    assert row(run, "saw").done == at("2012-05-16 11:00")


@pytest.mark.parametrize(
    ("start", "days", "hours", "weekmask", "closed", "last"),
    [
        # Counted on a wall calendar.
        ("2026-02-26", 5, WEEKDAYS, "1111100", [], "2026-03-04"),
        ("2028-02-26", 2, WEEKDAYS, "1111100", [], "2028-02-29"),  # a leap day; the start is a Saturday
        ("2026-12-23", 4, WEEKDAYS, "1111100", ["2026-12-25", "2027-01-01"], "2026-12-29"),
        ("2026-12-30", 3, WEEKDAYS, "1111100", ["2026-12-25", "2027-01-01"], "2027-01-04"),
        ("2026-11-26", 10, 'tue = "9-17", thu = "9-17", sat = "9-17"', "0101010", ["2026-11-28"], "2026-12-19"),
    ],
)
def test_so_many_full_days_of_work_end_on_the_day_that_counting_gives(
    start: str, days: int, hours: str, weekmask: str, closed: list[str], last: str
) -> None:
    assert np.busday_offset(start, days - 1, roll="forward", weekmask=weekmask, holidays=closed) == np.datetime64(last)
    hours = hours.replace("9-17", "09:00-17:00")
    run = run_tasks(f'{{ name = "saw", work = "{8 * days} h" }}', start, hours, closed)
    assert row(run, "saw").done == at(f"{last} 17:00")


# ---- working hours


def test_eleven_hours_from_thursday_afternoon_end_on_tuesday_morning() -> None:
    # Thursday 2026-07-02 14:40-16:15 is 95 min; Friday closed; Monday 4.25 + 3.75 = 8 h; 660 - 95 - 480 = 85 min on
    # Tuesday: 7:30 + 85 = 8:55.
    operations = '{ name = "mill", work = "385 min" }, { name = "saw", work = "11 h" }'  # 4.25 h, and 12:30-14:40
    run = run_tasks(operations, "2026-07-02", EARLY, ["2026-07-03"])
    assert row(run, "mill").done == at("2026-07-02 14:40")
    assert row(run, "saw").done == at("2026-07-07 08:55")


def test_three_hours_that_must_not_be_split_wait_for_the_morning_after_the_holiday() -> None:
    # Thursday 14:40 + 3 h = 17:40, past 16:15; Friday closed; Monday 7:30-10:30.
    operations = '{ name = "mill", work = "385 min" }, { name = "bend", work = "3 h", pausable = false }'
    bend = row(run_tasks(operations, "2026-07-02", EARLY, ["2026-07-03"]), "bend")
    assert (bend.start, bend.done) == (at("2026-07-06 07:30"), at("2026-07-06 10:30"))


@pytest.mark.parametrize(
    ("minutes", "start"),
    [(95, "2026-07-02 14:40"), (96, "2026-07-03 07:30"), (255, "2026-07-03 07:30")],
)
def test_work_that_must_not_be_split_starts_where_it_fits_to_the_minute(minutes: int, start: str) -> None:
    # From Thursday 14:40 there are 95 min to 16:15; the longest stretch of the day is 7:30-11:45, 255 min.
    operations = f'{{ name = "mill", work = "385 min" }}, {{ name = "bend", work = "{minutes} min", pausable = false }}'
    assert row(run_tasks(operations, "2026-07-02", EARLY), "bend").start == at(start)


@pytest.mark.parametrize(
    ("start", "hold", "off", "hours_held"),
    [
        # Sunday 0:00 is due; the next opening is Tuesday 18:00: 10 h on Saturday from 14:00, 24 h + 24 h, 18 h.
        ("2026-03-14", "10 h", "2026-03-17 18:00", 76.0),
        # Tuesday 18:30 + 10 h is 4:30; Thursday 18:00: 5.5 h + 24 h + 18 h.
        ("2026-03-17", "10 h", "2026-03-19 18:00", 47.5),
        # Tuesday 18:30 + 90 min: somebody is still there.
        ("2026-03-17", "90 min", "2026-03-17 20:00", 1.5),
        # Tuesday 18:30 + 3 h ends on the stroke of closing: nobody is there any more.
        ("2026-03-17", "3 h", "2026-03-19 18:00", 47.5),
    ],
)
def test_clamps_are_held_until_somebody_is_in(start: str, hold: str, off: str, hours_held: float) -> None:
    glue = f'name = "glue", work = "30 min", in_clamps = "{hold}", clamps = [{{ count = 2, reach = "24 in" }}]'
    morning = '{ name = "mill", work = "4 h" }, ' if start == "2026-03-14" else ""  # Saturday 8:30-12:30
    clamps = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]'
    glued = row(run_tasks(f"{morning}{{ {glue} }}", start, EVENINGS, shop=clamps), "glue")
    assert glued.in_clamps_until == at(off)
    assert (glued.in_clamps_until - glued.end) == pd.Timedelta(hours=hours_held)


def test_the_shops_clock_is_the_one_on_its_wall_and_knows_no_summer_time() -> None:
    # RFC 5545 counts exact hours: 12 h from 2026-03-07 20:00 in New York end at 9:00 by the wall, as an hour is left
    # out. This program has no time zones: 8:00, an hour early twice a year at most.
    run = run_tasks('{ name = "coat", work = "1 h", cure = "12 h" }', "2026-03-07", 'sat = "19:00-20:00"')
    assert row(run, "coat").done == at("2026-03-08 08:00")


def minutes_at_work(
    hours: dict[int, list[tuple[int, int]]], closed: set[dt.date], start: dt.date, n_days: int
) -> np.ndarray:
    """For every minute from midnight of ``start`` whether somebody is at work."""
    there = np.zeros(n_days * 1440, dtype=bool)
    for day in range(n_days):
        date = start + dt.timedelta(days=day)
        if date not in closed:
            for since, until in hours.get(date.weekday(), []):
                there[day * 1440 + since : day * 1440 + until] = True
    return there


def clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


@pytest.mark.parametrize("number", range(40))
def test_work_ends_at_the_minute_that_counting_every_minute_gives(number: int) -> None:
    dice = random.Random(number)
    start = dt.date(2026, 1, 1) + dt.timedelta(days=dice.randrange(1500))
    hours: dict[int, list[tuple[int, int]]] = {}
    for day in sorted(dice.sample(range(7), dice.randint(1, 6))):
        cuts = sorted(dice.sample(range(360, 1320, 5), dice.choice([2, 4])))
        hours[day] = list(zip(cuts[::2], cuts[1::2], strict=True))
    closed = {start + dt.timedelta(days=dice.randrange(40)) for _ in range(dice.randrange(5))}
    minutes = [dice.randint(1, 2000) for _ in range(4)]
    there = minutes_at_work(hours, closed, start, 500)
    at_work = np.flatnonzero(there)
    run = run_tasks(
        ", ".join(f'{{ name = "step {n}", work = "{work} min" }}' for n, work in enumerate(minutes)),
        start.isoformat(),
        ", ".join(f'{DAYS[day]} = "{", ".join(f"{clock(a)}-{clock(b)}" for a, b in hours[day])}"' for day in hours),
        sorted(day.isoformat() for day in closed),
    )
    done = 0
    for n, work in enumerate(minutes):
        task = row(run, f"step {n}")
        assert task.start == at(start.isoformat()) + pd.Timedelta(minutes=int(at_work[done]))
        done += work
        assert task.done == at(start.isoformat()) + pd.Timedelta(minutes=int(at_work[done - 1]) + 1)
