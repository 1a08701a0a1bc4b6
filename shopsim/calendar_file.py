"""The days as a calendar file (RFC 5545): one entry a session in the shop, one for each round's clamps that may come off.

Times are local and float: they name no time zone, so that 18:00 stays 18:00 whatever the clocks do, in whichever place the
calendar is read. An entry is known by its number among its kind and by the title of the run: loaded again, a new plan moves
the entries of the old one and doubles none. Where a new plan has fewer entries, the last of the old ones stay and are to be
taken out by hand.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pandas as pd
from icalendar import Calendar, Event

from shopsim.answers.day_plan import GLUE_UP, UNCLAMP, WORK
from shopsim.answers.one_run import say_plan_row
from shopsim.version import VERSION

#: The names of the files: of the days, and of days to order by.
CALENDAR, ORDER_DAYS = "days.ics", "order-days.ics"
#: A session ends where nothing is done for so long: lunch does not part a day, a morning and an evening do.
PAUSE = dt.timedelta(minutes=90)
#: How long the entry of clamps that may come off is shown.
OFF_LASTS = dt.timedelta(minutes=15)
#: Where identifiers come from; never to be changed, as entries in calendars are known by it.
_NAMESPACE = uuid.UUID("7c0f7e1e-4f7c-5a53-9a0b-6a1f3b5d2c11")
#: From when on new files count as newer, in minutes.
_SINCE = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)

Row = Mapping[str, Any]


def format_calendar(plan: pd.DataFrame, rounds: pd.DataFrame, title: str, made_at: dt.datetime) -> bytes:
    """The bytes of the file; pure.

    ``plan``: of ``plan_days``; ``rounds``: of ``find_rounds``; ``title``: of the run, by which entries are known again;
    ``made_at``: the moment, with its time zone, by which a calendar tells the newer of two files.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//shopsim//shopsim {VERSION}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    made = made_at.astimezone(dt.UTC).replace(microsecond=0)
    for number, rows in enumerate(list_sessions(plan), start=1):
        first, last = min(row["from"] for row in rows), max(row["until"] for row in rows)
        glue_ups = sum(row["do"] == GLUE_UP for row in rows)
        what = list(dict.fromkeys(str(row["operation"]) for row in rows))
        summary = f"Shop: {', '.join(what[:3])}" + (f" and {len(what) - 3} more" if len(what) > 3 else "")
        said = [_say(row) for row in rows]
        calendar.add_component(
            _event(
                title,
                "session",
                number,
                first,
                last,
                summary + (" (glue-up)" if glue_ups else ""),
                "\n".join(said),
                made,
            )
        )
    for number, row in enumerate(rounds.to_dict("records"), start=1):
        off = row["off_from"]
        until = "" if row["off_until"] == off else f", the last from {row['off_until']:%a %d %b %H:%M}"
        text = f"Round {row['round']}: {row['what']}. {row['clamps']} may come off from now on{until}."
        calendar.add_component(
            _event(title, "clamps", number, off, off + OFF_LASTS, f"Clamps off: {row['what']}", text, made)
        )
    return bytes(calendar.to_ical())


def format_order_days(rows: pd.DataFrame, title: str, made_at: dt.datetime) -> bytes:
    """The bytes of a calendar file with one entry, of a whole day, for each material that is to be ordered by a day; pure.

    ``rows``: of ``find_buying``; ``title`` and ``made_at`` as of ``format_calendar``. An entry is known by its material.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//shopsim//shopsim {VERSION}//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", title)
    made = made_at.astimezone(dt.UTC).replace(microsecond=0)
    days = {str(row["material"]): str(row["order_by"]) for row in rows.to_dict("records") if row["order_by"]}
    for name, said in days.items():
        day = dt.date.fromisoformat(said)
        event = Event()
        event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{title} order {name}')}@shopsim")
        event.add("dtstamp", made)
        event.add("last-modified", made)
        event.add("sequence", int((made - _SINCE).total_seconds() // 60))
        event.add("dtstart", day)
        event.add("dtend", day + dt.timedelta(days=1))
        event.add("summary", f"Order {name}")
        event.add("description", f"The last day on which to order {name} for {title}, so that it holds nothing back.")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def list_sessions(plan: pd.DataFrame) -> Iterator[Sequence[Row]]:
    """The rows of the plan that are work, parted into sessions of a day, in order of time."""
    rows: list[Row] = [
        {str(key): value for key, value in row.items()}
        for row in plan.sort_values("from", kind="stable").to_dict("records")
        if row["do"] in (WORK, GLUE_UP, UNCLAMP)
    ]
    session: list[Row] = []
    until = None
    for row in rows:
        if session and (row["day"] != session[0]["day"] or row["from"] - until > PAUSE):
            yield session
            session, until = [], None
        session.append(row)
        until = row["until"] if until is None else max(until, row["until"])
    if session:
        yield session


def _say(row: Row) -> str:
    time, what, caution = say_plan_row(row)
    return f"{time} {what}" + (f" (! {caution})" if caution else "")


def _event(
    title: str, kind: str, number: int, first: pd.Timestamp, last: pd.Timestamp, summary: str, text: str, made: dt.datetime
) -> Event:  # fmt: skip
    event = Event()
    event.add("uid", f"{uuid.uuid5(_NAMESPACE, f'{title} {kind} {number}')}@shopsim")
    event.add("dtstamp", made)
    event.add("last-modified", made)
    event.add("sequence", int((made - _SINCE).total_seconds() // 60))
    event.add("dtstart", _local(first))
    event.add("dtend", _local(max(last, first + dt.timedelta(minutes=1))))
    event.add("summary", summary)
    event.add("description", text)
    return event


def _local(when: pd.Timestamp) -> dt.datetime:
    """A moment to the minute, without a time zone."""
    return when.to_pydatetime().replace(second=0, microsecond=0, tzinfo=None)
