"""Kinds of value that say when: days, days off, weekdays, times of day and opening hours."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import PlainSerializer, WithJsonSchema

from shopsim import dates, units
from shopsim.priority import PRIORITY_NAMES
from shopsim.scenario import cell_texts, shapes
from shopsim.units import UnitError

if TYPE_CHECKING:
    PriorityName = str
else:
    #: The name of a built-in priority rule, or of a plan of one's own.
    PriorityName = Literal[PRIORITY_NAMES]
from shopsim.scenario.value_reader import reader

#: A calendar date.
Date = Annotated[
    dt.date,
    reader(dates.parse_date),
    PlainSerializer(lambda day: day, when_used="always"),
    WithJsonSchema(shapes.DATE),
    cell_texts.DAY,
]

#: A day, or a day and a local time of day.
Moment = Annotated[
    dt.datetime,
    reader(dates.parse_moment),
    PlainSerializer(dates.format_moment, when_used="always"),
    WithJsonSchema(shapes.MOMENT),
    cell_texts.MOMENT,
]


def _read_days_off(value: Any) -> tuple[dt.date, dt.date]:
    if isinstance(value, tuple) and len(value) == 2 and all(isinstance(day, dt.date) for day in value):
        return value
    if isinstance(value, str) and ".." in value:
        first, _, last = value.partition("..")
        if not first.strip() or not last.strip():
            raise UnitError(
                f"{units.say_value(value)} has one end only", "write both days, like 2027-02-01..2027-02-05"
            )
        days = (dates.parse_date(first), dates.parse_date(last))
        if days[1] < days[0]:
            raise UnitError(f'"{value}" ends before it begins', "write the earlier date first")
        return days
    day = dates.parse_date(value)
    return (day, day)


#: A day, or the first and last of several days, on which nobody works.
DaysOff = Annotated[
    tuple[dt.date, dt.date],
    reader(_read_days_off),
    PlainSerializer(lambda days: days[0] if days[0] == days[1] else f"{days[0]}..{days[1]}"),
    WithJsonSchema(shapes.DAYS_OFF),
    cell_texts.DAYS,
]

#: Weekly hours: for each weekday 0 (Monday) to 6 its stretches in minutes after midnight; or "always".
WeekHours = tuple[tuple[tuple[float, float], ...], ...]


def _read_open(value: Any) -> Any:
    if isinstance(value, tuple) and len(value) == 7:
        return value
    if value == "always":
        return "always"
    if not isinstance(value, dict):
        raise UnitError(
            f"{units.say_value(value)} is not opening hours",
            'write open = { tue = "18:00-21:30", sat = "08:30-12:30" }, or "always"',
        )
    week: list[tuple[tuple[float, float], ...]] = [()] * 7
    named: set[int] = set()
    for key, text in value.items():
        for day in _days_of(str(key)):
            if day in named:
                raise UnitError(f"{dates.DAY_NAMES[day]} is given twice", "name each day once")
            named.add(day)
            week[day] = dates.parse_stretches(text)
    for day in range(7):
        nights = [end - units.MINUTES_PER_DAY for _, end in week[day] if end > units.MINUTES_PER_DAY]
        following = week[(day + 1) % 7]
        if nights and following and following[0][0] < nights[0]:
            raise UnitError(
                f"the night hours of {dates.DAY_NAMES[day]} run into the next day's", "end them before the next begin"
            )
    return tuple(week)


def _days_of(key: str) -> list[int]:
    names = list(dates.DAY_NAMES)
    first, _, last = key.strip().lower().partition("-")
    if first not in names or (last and last not in names):
        raise UnitError(f'"{key}" is not a day', f"name days {', '.join(names)}, or a span like mon-fri")
    start = names.index(first)
    if not last:
        return [start]
    return [(start + step) % 7 for step in range((names.index(last) - start) % 7 + 1)]


def _open_text(week: Any) -> Any:
    if week == "always":
        return "always"
    return {dates.DAY_NAMES[day]: dates.format_stretches(hours) for day, hours in enumerate(week) if hours}


#: Opening hours: a WeekHours, or the word "always".
Open = Annotated[
    Any,
    reader(_read_open),
    PlainSerializer(_open_text),
    WithJsonSchema(shapes.OPEN),
    cell_texts.HOURS,
]


def _read_clock(value: Any) -> float:
    if isinstance(value, dt.time):
        return float(value.hour * 60 + value.minute)
    if not isinstance(value, str):
        raise UnitError(f"{units.say_value(value)} is not a time of day", 'write it like "16:00"')
    return dates.parse_clock(value)


#: A time of day in minutes after midnight.
ClockTime = Annotated[
    float,
    reader(_read_clock),
    PlainSerializer(lambda minutes: dates.format_stretches(((minutes, minutes),)).split("-")[0]),
    WithJsonSchema(shapes.CLOCK),
]


def _read_weekdays(value: Any) -> tuple[int, ...]:
    if isinstance(value, str):
        value = [value]
    if isinstance(value, list | tuple) and not value:
        raise UnitError("no day is named", 'write it like ["tue", "fri"], or leave it out for any day')
    if not isinstance(value, list | tuple):
        raise UnitError(f"{units.say_value(value)} is not a list of days", 'write it like ["tue", "fri"]')
    days = [
        day
        for item in value
        for day in ([item] if type(item) is int and 0 <= item < len(dates.DAY_NAMES) else _days_of(str(item)))
    ]
    return tuple(sorted(set(days)))


#: Days of the week, Monday 0.
Weekdays = Annotated[
    tuple[int, ...],
    reader(_read_weekdays),
    PlainSerializer(lambda days: [dates.DAY_NAMES[day] for day in days]),
    WithJsonSchema(shapes.WEEKDAYS),
    cell_texts.NAMES,
]
