"""The calendar file, read back by a library that the project does not use: sessions, clamps, floating times, entries replaced.

RFC 5545 is the source: 3.3.5 (a date with local time has no zone), 3.6.1 (UID and DTSTAMP are needed), 3.8.4.7 (UID), 3.8.7.4
(SEQUENCE), 3.1 (lines of at most 75 octets, ended by CRLF).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pandas as pd
import vobject

from shopsim.answers.day_plan import plan_days
from shopsim.answers.glue_rounds import find_rounds
from shopsim.calendar_file import format_calendar, list_sessions

MADE = dt.datetime(2027, 1, 1, 12, 0, tzinfo=dt.UTC)
SHOP = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]\nworkers = [{ name = "maker" }]'
#: A frame is glued for 30 min and in clamps for 12 h; then 2 h of sanding.
FRAME = """
{ name = "glue, \\"cold\\"; 1st", work = "30 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "12 h" },
{ name = "sand", work = "2 h" },
"""


def entries(run: Any, title: str = "Frames", made: dt.datetime = MADE) -> list[Any]:
    """All entries of a file, in its order."""
    return list(read(run, title, made).vevent_list)


def read(run: Any, title: str = "Frames", made: dt.datetime = MADE) -> Any:
    content = format_calendar(plan_days(run), find_rounds(run), title, made)
    for line in content.split(b"\r\n"):
        assert len(line) <= 75
        assert b"\n" not in line
    return vobject.readOne(content.decode())


def test_a_session_a_day_and_clamps_that_may_come_off(run_shop: Callable[..., Any]) -> None:
    # Frame 1 glued Monday 8:00-8:30, its clamps hold until 20:30, so off on Tuesday at 8:00. Tuesday: frame 2 is glued 8:00-8:30
    # as gluing goes first, frame 1 sanded 8:30-10:30. Wednesday 8:00: clamps of frame 2 off, sanded until 10:00.
    found = entries(run_shop(FRAME, shop=SHOP, run="orders = 2"))
    said = [(one.dtstart.value, one.dtend.value) for one in found]
    day = dt.datetime(2027, 1, 11)
    hour = dt.timedelta(hours=1)
    assert said == [
        (day + 8 * hour, day + 8.5 * hour),
        (day + 32 * hour, day + 34.5 * hour),
        (day + 56 * hour, day + 58 * hour),
        (day + 32 * hour, day + 32.25 * hour),
        (day + 56 * hour, day + 56.25 * hour),
    ]
    assert found[0].summary.value == 'Shop: glue, "cold"; 1st (glue-up)'
    assert found[3].summary.value == 'Clamps off: glue, "cold"; 1st, batch 1, piece 1'
    assert "2 bar clamps may come off from now on" in found[3].description.value


def test_times_are_local_and_float(run_shop: Callable[..., Any]) -> None:
    for one in entries(run_shop(FRAME, shop=SHOP, run="orders = 1")):
        assert one.dtstart.value.tzinfo is None
        assert one.dtend.value.tzinfo is None
        assert one.dtstamp.value == MADE  # in UTC, as it has to be


def test_a_session_keeps_its_hour_where_clocks_change(run_shop: Callable[..., Any]) -> None:
    # In much of Europe clocks go forward on Sunday 2027-03-28: Friday's and Monday's work both begin at 8:00.
    found = entries(run_shop(FRAME, shop=SHOP, run="orders = 2", start="2027-03-26"))
    assert [(one.dtstart.value.day, one.dtstart.value.hour) for one in found[:3]] == [(26, 8), (29, 8), (30, 8)]


def test_a_new_plan_moves_the_entries_of_the_old_one_and_doubles_none(run_shop: Callable[..., Any]) -> None:
    old = entries(run_shop(FRAME, shop=SHOP, run="orders = 2"))
    new = entries(run_shop(FRAME, shop=SHOP, run="orders = 2", start="2027-01-18"), made=MADE + dt.timedelta(minutes=5))
    assert [one.uid.value for one in old] == [one.uid.value for one in new]
    assert len({one.uid.value for one in old}) == len(old)
    assert all(int(late.sequence.value) > int(early.sequence.value) for early, late in zip(old, new, strict=True))
    other = entries(run_shop(FRAME, shop=SHOP, run="orders = 2"), title="Other frames")
    assert not {one.uid.value for one in other} & {one.uid.value for one in old}


def test_the_same_plan_at_the_same_moment_is_the_same_file(run_shop: Callable[..., Any]) -> None:
    run = run_shop(FRAME, shop=SHOP, run="orders = 1")
    one, again = (format_calendar(plan_days(run), find_rounds(run), "Frames", MADE) for _ in range(2))
    assert one == again
    assert read(run).version.value == "2.0"


def test_lunch_does_not_part_a_session_and_an_afternoon_off_does() -> None:
    def row(since: str, until: str) -> dict[str, Any]:
        day = dt.date(2027, 1, 11)
        clock = {"from": pd.Timestamp(f"{day} {since}"), "until": pd.Timestamp(f"{day} {until}")}
        return {"day": day, "do": "work", **clock}

    plan = pd.DataFrame([row("08:00", "12:00"), row("13:00", "14:00"), row("18:00", "20:00")])
    assert [len(session) for session in list_sessions(plan)] == [2, 1]
