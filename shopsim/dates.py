"""Dates, times of day and opening hours, read and printed; moments of a run as dates."""

from __future__ import annotations

import datetime as dt
import math
import re
from itertools import pairwise

from shopsim.units import MINUTES_PER_DAY, UnitError, say_value

DAY_NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

_CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})")


def parse_clock(text: str) -> float:
    """A time of day ``"08:30"`` in minutes after midnight, ``"24:00"`` allowed."""
    found = _CLOCK.fullmatch(text.strip())
    if not found or int(found[2]) > 59 or int(found[1]) * 60 + int(found[2]) > 1440:
        raise UnitError(f"{say_value(text)} is not a time of day", 'write it like "08:30"')
    return float(int(found[1]) * 60 + int(found[2]))


def parse_stretches(text: object) -> tuple[tuple[float, float], ...]:
    """Opening hours of one day, ``"08:30-12:30, 13:30-17:30"``, as pairs of minutes after midnight.

    An end at or before its start runs past midnight: ``"22:00-02:00"`` is (1320, 1560).
    """
    if not isinstance(text, str):
        raise UnitError(f"{say_value(text)} is not a stretch of hours", 'write it like "08:30-12:30, 13:30-17:30"')
    if not text.strip():
        return ()
    plain = re.sub(r"\s*[\u2010-\u2015\u2212]\s*", "-", text)
    if plain != text:
        raise UnitError(f"{say_value(text)} has a long dash in it", f"write a plain one, like {say_value(plain)}")
    stretches = []
    for part in text.split(","):
        ends = part.split("-")
        if len(ends) != 2:
            raise UnitError(f"{say_value(text)} cannot be read as hours", 'write it like "08:30-12:30, 13:30-17:30"')
        start, end = parse_clock(ends[0]), parse_clock(ends[1])
        if start == end:
            raise UnitError(f"{say_value(part.strip())} is no time at all", "let it end later than it starts")
        stretches.append((start, end if end > start else end + MINUTES_PER_DAY))
    for (_, end), (start, _) in pairwise(stretches):
        if start < end:
            raise UnitError(f"the hours in {say_value(text)} overlap", "write them one after the other")
    return tuple(stretches)


def format_stretches(stretches: tuple[tuple[float, float], ...]) -> str:
    """Opening hours of one day as a file states them."""
    return ", ".join(f"{_clock(a)}-{_clock(b if b <= MINUTES_PER_DAY else b - MINUTES_PER_DAY)}" for a, b in stretches)


def _clock(minutes: float) -> str:
    return f"{int(minutes) // 60:02d}:{int(minutes) % 60:02d}"


def parse_date(text: object) -> dt.date:
    """A date in ISO form, ``2027-01-08``."""
    if isinstance(text, dt.datetime):
        raise UnitError(f"{text} has a time of day", "write the date alone, like 2027-01-08")
    if isinstance(text, dt.date):
        date = text
    else:
        if not isinstance(text, str) or not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text.strip()):
            raise UnitError(f"{say_value(text)} is not a date", "write it like 2027-01-08 (year, month, day)")
        try:
            date = dt.date.fromisoformat(text.strip())
        except ValueError:
            raise UnitError(
                f"{say_value(text)} is not in the calendar", "write a date that exists, like 2027-01-08"
            ) from None
    if not 1990 <= date.year <= 2200:
        raise UnitError(f"{date} is too far away", "dates lie between 1990 and 2200")
    return date


def parse_moment(text: object) -> dt.datetime:
    """A day, ``2027-01-19`` (its midnight), or a day and a local time of day, ``2027-01-19 18:00``, to the minute."""
    if isinstance(text, dt.datetime):
        if text.tzinfo is not None:
            raise UnitError(f"{text} names a time zone", "write the local time alone, like 2027-01-19 18:00")
        parse_date(text.date())
        return text.replace(second=0, microsecond=0)
    if isinstance(text, str) and (found := re.fullmatch(r"\s*(\S+)[ T]\s*([0-9]{1,2}:[0-9]{2})(?::00)?\s*", text)):
        return dt.datetime.combine(parse_date(found[1]), dt.time()) + dt.timedelta(minutes=parse_clock(found[2]))
    return dt.datetime.combine(parse_date(text), dt.time())


def format_moment(when: dt.datetime) -> str:
    """A moment as a file states it: the day alone where it is midnight."""
    return f"{when:%Y-%m-%d}" if when.time() == dt.time() else f"{when:%Y-%m-%d %H:%M}"


_MOMENT = re.compile(
    r"(\S{10})[T ]\s*(\d{1,2}:\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*(?:Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?", re.IGNORECASE
)
_DOTTED = re.compile(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})(.*)")


def parse_timestamp(text: str) -> tuple[dt.date, float]:
    """(date, minutes after midnight) of a day with a time: ``2027-02-03 21:00``, ``2027-02-03T21:00:30+01:00``.

    Also with the day as spreadsheets of many countries save it, ``03.02.2027 21:00``. A zone is passed over: times are
    local. Raises UnitError, for a day without a time too.
    """
    plain = text.strip()
    if (dotted := _DOTTED.fullmatch(plain)) is not None:
        plain = f"{dotted[3]}-{int(dotted[2]):02d}-{int(dotted[1]):02d}{dotted[4]}"
    timed = _MOMENT.fullmatch(plain)
    if timed is None:
        raise UnitError(f"{say_value(text)} is not a day with a time", "write it like 2027-02-03 21:00")
    seconds = float((timed[3] or "0").replace(",", "."))
    if seconds >= 60:
        raise UnitError(f"{say_value(text)} is not a time of day", "write it like 2027-02-03 21:00")
    return parse_date(timed[1]), parse_clock(timed[2]) + seconds / 60.0


def moment(minutes: float, day0: dt.date) -> dt.datetime:
    """The local date and time ``minutes`` after midnight of ``day0``, rounded to the second."""
    return dt.datetime.combine(day0, dt.time()) + dt.timedelta(seconds=round(minutes * 60.0))


def minutes_at(date: dt.date, day0: dt.date) -> float:
    """Midnight of ``date`` in minutes from midnight of ``day0``."""
    return (date - day0).days * MINUTES_PER_DAY


def day_number(minutes: float) -> int:
    """The day on which a moment lies; midnight belongs to the day it begins."""
    return math.floor(minutes / MINUTES_PER_DAY)
