"""Rules about time: the shop opens, the people meet, and what cannot be left half done fits before closing."""

from __future__ import annotations

import pytest

from shopsim.scenario import read_scenario_text


def scenario_text(operation: str = "", shop: str = 'open = "always"', more: str = "") -> str:
    """A shop with one operation called "glue", beginning on Monday, 11 January 2027."""
    return f"""\
[shop]
{shop}
[design]
name = "counter stool"
parts = {{ frame = 2 }}
[[design.operations]]
name = "glue"
{operation}
[run]
start = 2027-01-11
orders = 4
{more}
"""


def told(operation: str = "", **lines: str) -> list[str]:
    return [
        " · ".join((fault.place, fault.rule, fault.mend))
        for fault in read_scenario_text(scenario_text(operation, **lines)).faults
    ]


def hours(hours: str, *workers: str) -> str:
    """The shop's lines: its hours, and a worker for each of the given hours (empty: the shop's)."""
    lines = [f"open = {hours}"]
    for number, own in enumerate(workers):
        lines.append(f'[[shop.workers]]\nname = "worker {number}"' + (f"\nopen = {own}" if own else ""))
    return "\n".join(lines)


@pytest.mark.parametrize("never", ["{}", '{ mon = "" }'])
def test_a_shop_that_never_opens_is_refused(never: str) -> None:
    assert told(shop=f"open = {never}") == [
        'shop.open · the shop never opens · give it hours, like { sat = "08:30-12:30" }'
    ]


@pytest.mark.parametrize(
    ("shop", "since"),
    [
        ('open = "always"\nclosed = ["2027-01-01..2199-12-31"]', "2027-01-11"),
        ('open = "always"\nclosed = ["2028-01-01..2029-02-01"]', "2028-01-12"),
        ('open = { mon = "08:00-12:00" }\nclosed = ["2027-01-01..2027-07-31", "2027-08-01..2028-03-01"]', "2027-01-11"),
    ],
)
def test_a_shop_that_is_closed_for_a_whole_year_is_refused(shop: str, since: str) -> None:
    assert told(shop=shop) == [
        f"shop.closed · the shop does not open for a whole year from {since} · "
        "shorten the days off, or begin the run after them"
    ]


def test_a_shop_that_opens_after_long_holidays_is_fine() -> None:
    assert told(shop='open = { mon = "08:00-12:00" }\nclosed = ["2027-01-01..2027-11-30"]') == []


def test_something_is_left_of_the_working_day() -> None:
    assert told(shop='open = "always"\nlost_days = "100 %"\ninterrupted = "96 %"') == [
        "shop.lost_days · every open day is lost · write less than 100 %",
        "shop.interrupted · hardly anything is left of an open day · write 95 % or less",
    ]
    assert told(shop='open = "always"\nlost_days = "99 %"\ninterrupted = "10 / 95 / 100 %"') == []
    assert told(shop='open = "always"\nlost_days = "5 / 10 / 100 %"') == [
        "shop.lost_days · at its high, every open day is lost · write a high under 100 %"
    ]


WEEK = '{ mon-fri = "08:00-12:00, 13:00-17:00" }'


@pytest.mark.parametrize(
    ("operation", "shop", "longest"),
    [
        ('work = "4 h"', hours(WEEK), None),
        ('work = "241 min"', hours(WEEK), "4.0 h"),
        ('setup = "30 min"\nwork = "211 min"', hours(WEEK), "4.0 h"),
        ('setup = "30 min"\nwork = "210 min"', hours(WEEK), None),
        ('per = "frame"\nwork = "121 min"', hours(WEEK), "4.0 h"),
        ('per = "frame"\nhandful = 1\nwork = "121 min"', hours(WEEK), None),
        ('handful = "batch"\nwork = "61 min"', hours(WEEK), "4.0 h"),
        ('work = "100 / 241 / 300 min"', hours(WEEK), "4.0 h"),
        # shifts that touch and nights that run on are one stretch
        ('work = "6 h"', hours('{ fri = "22:00-02:00", sat = "02:00-04:00" }'), None),
        ('work = "7 h"', hours('{ fri = "22:00-02:00", sat = "02:00-04:00" }'), "6.0 h"),
        ('work = "30 h"', hours('{ sun = "00:00-24:00", mon = "00:00-08:00" }'), None),
        ('work = "90 d"', hours('"always"'), None),
        ('work = "90 d"', hours('{ mon-sun = "00:00-24:00" }'), None),
        # the worker's own hours count only while the shop is open
        ('work = "3 h"', hours(WEEK, '{ mon = "06:00-10:00" }'), "2.0 h"),
        ('work = "2 h"', hours(WEEK, '{ mon = "06:00-10:00" }'), None),
        ('work = "3 h"', hours(WEEK, '{ mon = "06:00-10:00" }', '{ tue = "14:00-23:00" }'), None),
        ('hands = 2\nwork = "2 h"', hours(WEEK, '{ mon = "08:00-11:00" }', '{ mon = "09:00-12:00" }'), None),
        ('hands = 2\nwork = "2.1 h"', hours(WEEK, '{ mon = "08:00-11:00" }', '{ mon = "09:00-12:00" }'), "2.0 h"),
        # two at any moment, but never the same two for long
        ('hands = 2\nwork = "90 min"', hours(WEEK, '{ mon = "08:00-10:00" }', '{ mon = "09:00-11:00" }', '{ mon = "10:00-12:00" }'), "60 min"),
        ('hands = 0\nwork = "30 h"', hours(WEEK), None),
    ],
)  # fmt: skip
def test_what_cannot_be_left_half_done_fits_into_the_longest_time_its_people_have_together(
    operation: str, shop: str, longest: str | None
) -> None:
    faults = told(f"{operation}\npausable = false", shop=shop)
    if longest is None:
        assert faults == []
    else:
        (fault,) = faults
        assert fault.startswith('design.operations "glue" · work · one task takes ')
        assert f"cannot be left half done; the longest time {'2' if 'hands = 2' in operation else 'somebody'}" in fault
        assert f"at work without a break is {longest} · write pausable = true" in fault
    assert told(f"{operation}\npausable = true", shop=shop) == []


def test_glue_ups_and_wet_work_cannot_be_left_half_done_unless_said_so() -> None:
    wet = 'wet = "1 h"\nwork = "5 h"'
    assert len(told(wet, shop=hours(WEEK))) == 1
    assert told(wet + "\npausable = true", shop=hours(WEEK)) == []
    assert told('work = "5 h"', shop=hours(WEEK)) == []


def test_days_off_that_leave_no_usual_fortnight_are_laid_out_one_by_one() -> None:
    off = ", ".join(
        f'"{year}-{month:02d}-{day:02d}"' for year in range(2027, 2031) for month in range(1, 13) for day in (1, 12, 23)
    )
    mornings = '{ mon-sat = "08:00-12:00", sun = "08:00-20:00" }'
    assert told('work = "12 h"\npausable = false', shop=f"open = {mornings}\nclosed = [{off}]") == []
    assert len(told('work = "13 h"\npausable = false', shop=f"open = {mornings}\nclosed = [{off}]")) == 1


def test_people_who_are_never_at_work_or_never_together_are_told() -> None:
    assert told("pausable = false", shop=hours(WEEK, '{ sat = "08:00-12:00" }')) == [
        'shop.workers "worker 0" · open · is never at work while the shop is open · '
        "give hours within the shop's, or take the worker out"
    ]
    apart = hours(WEEK, '{ mon = "08:00-12:00" }', '{ tue = "08:00-12:00" }')
    assert told("hands = 2", shop=apart) == [
        'design.operations "glue" · the 2 people it takes are never at work at the same time '
        '(can do it: "worker 0", "worker 1") · let their hours overlap, or lower the hands'
    ]
    assert told(shop=apart) == []


def test_a_worker_who_is_away_for_ever_is_never_at_work() -> None:
    shop = 'open = "always"\n[[shop.workers]]\nname = "maker"\nclosed = ["2020-01-01..2199-01-01"]'
    assert told(shop=shop) == [
        'shop.workers "maker" · closed · is never at work while the shop is open · '
        "give hours within the shop's, or take the worker out"
    ]
    assert told(shop=shop.replace("2020-01-01", "2027-03-01")) == []


def test_packers_meet_too() -> None:
    apart = hours(WEEK, '{ mon = "08:00-12:00" }', '{ tue = "08:00-12:00" }')
    packing = '[shipping]\npacking = "5 min"\n'
    assert told(shop=apart, more=packing) == []
    assert told(shop=apart, more=packing + "packing_hands = 2") == [
        "shipping.packing_hands · the 2 people it takes are never at work at the same time "
        '(can do it: "worker 0", "worker 1") · let their hours overlap, or lower the hands'
    ]


def test_learning_lies_where_it_has_been_seen() -> None:
    assert told('learning = "40 %"') == [
        'design.operations "glue" · learning · 40 % would more than halve the time at each doubling · '
        "write 50 % to 100 %; 95 % is usual"
    ]
    assert told('learning = "50 %"') == told('learning = "100 %"') == []
