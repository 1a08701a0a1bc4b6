"""The kinds of value a scenario file holds, as pydantic types: each reads, checks, prints and describes itself."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainSerializer, PlainValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from shopsim import units
from shopsim.laws import LAW_PARAMETERS, Law, law_name, law_problem
from shopsim.units import UnitError

MOST_LOGGED_VALUES = 100_000


def _faulty(rule: str, mend: str) -> PydanticCustomError:
    return PydanticCustomError("shop_value", "{rule}", {"rule": rule, "mend": mend})


def _reader(parse: Callable[[Any], Any]) -> PlainValidator:
    def read(value: Any) -> Any:
        try:
            return parse(value)
        except UnitError as error:
            raise _faulty(error.rule, error.mend) from None

    return PlainValidator(read)


def _read_law(value: Any, one: Callable[[object], list[float]], example: str) -> Law:
    if isinstance(value, Law):
        return value
    if isinstance(value, dict):
        return _read_named_law(value, one, example)
    numbers = one(value)
    if len(numbers) == 1:
        return Law("fixed", (numbers[0],))
    if len(numbers) != 3:
        raise UnitError(
            f'"{value}" is {len(numbers)} numbers', f'write one number, or low / likely / high like "{example}"'
        )
    problem = law_problem("range", tuple(numbers))
    if problem:
        raise UnitError(f'in "{value}" {problem[0]}', problem[1])
    if numbers[0] == numbers[2]:
        return Law("fixed", (numbers[0],))
    return Law("range", (numbers[0], numbers[1], numbers[2]))


def _read_named_law(value: dict[str, Any], one: Callable[[object], list[float]], example: str) -> Law:
    def single(text: object) -> float:
        numbers = one(text)
        if len(numbers) != 1:
            raise UnitError(f'"{text}" is {len(numbers)} numbers where one is wanted', f'write one, like "{example}"')
        return numbers[0]

    given = {str(key): item for key, item in value.items()}
    if "logged" in given and "law" not in given:
        values = given.pop("logged")
        if given:
            raise UnitError(f'"{next(iter(given))}" does not go with logged values', "write { logged = [..] } alone")
        if not isinstance(values, list | tuple) or len(values) > MOST_LOGGED_VALUES:
            raise UnitError("logged is not a list of times", f'write {{ logged = ["{example}", ..] }}')
        numbers = tuple(single(item) for item in values)
        name = "logged"
    else:
        if "law" not in given:
            raise UnitError(
                "the table names no law", f'write "{example}", {{ law = "triangular", .. }} or {{ logged = [..] }}'
            )
        name = law_name(given.pop("law"))
        parameters = LAW_PARAMETERS.get(name)
        if parameters is None or name in ("range", "logged"):
            known = ", ".join(n for n in LAW_PARAMETERS if n not in ("range", "logged"))
            raise UnitError(
                f"{units.say_value(value['law'])} is not a law", f"name one of {known}, or give {{ logged = [..] }}"
            )
        unknown = [key for key in given if key not in parameters]
        missing = [key for key in parameters if key not in given]
        if unknown or missing:
            wrong = f'"{unknown[0]}" is not a number of it' if unknown else f'"{missing[0]}" is missing'
            raise UnitError(f"the law {name}: {wrong}", f"give it {', '.join(parameters)}")
        numbers = tuple(
            _plain_number(given[key]) if key in ("shape", "sigma") else single(given[key]) for key in parameters
        )
    problem = law_problem(name, numbers)
    if problem:
        raise UnitError(*problem)
    return Law(name, numbers)


def _plain_number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise UnitError(f"{units.say_value(value)} is not a plain number", "write a number without quotes, like 2")
    return float(value)


def _law_text(law: Law, form: Callable[..., str]) -> Any:
    """What a file would say for this law, read back as the same law; ``form`` prints one number or several."""
    if law.name in ("fixed", "own"):
        return form(law.numbers[0])
    if law.name == "range":
        return form(*law.numbers)
    if law.name == "logged":
        return {"logged": [form(number) for number in law.numbers]}
    said: dict[str, Any] = {"law": law.name}
    for key, number in zip(LAW_PARAMETERS[law.name], law.numbers, strict=True):
        said[key] = number if key in ("shape", "sigma") else form(number)
    return said


_TIME_SCHEMA: dict[str, Any] = {
    "description": 'A time with its unit ("12 min", "1.5 h", "3 d"), low / likely / high ("8 / 10 / 16 min"), or a named law.',
    "anyOf": [
        {"type": "string", "pattern": r"^[0-9./ ]+\s*[A-Za-z]+(\s*/\s*[0-9.]+\s*[A-Za-z]+)*\s*$"},
        {
            "type": "object",
            "properties": {
                "law": {"enum": [name for name in LAW_PARAMETERS if name not in ("range", "logged")]},
                "logged": {"type": "array", "items": {"type": "string"}},
                **{
                    key: {"type": ["string", "number"]}
                    for key in ("value", "mean", "median", "low", "likely", "high", "shape", "sigma")
                },
            },
            "additionalProperties": False,
        },
    ],
}
_SHARE_PATTERN = r"^[0-9./ ]+\s*%\s*$"

#: Minutes that may vary: one time, low / likely / high, a named law or logged values.
TimeLaw = Annotated[
    Law,
    _reader(lambda value: _read_law(value, lambda v: units.parse_times(v, "8 / 10 / 16 min"), "8 / 10 / 16 min")),
    PlainSerializer(lambda law: _law_text(law, units.format_minutes)),
    WithJsonSchema(_TIME_SCHEMA),
]
#: A share that may vary, in 0..1.
ShareLaw = Annotated[
    Law,
    _reader(lambda value: _read_law(value, lambda v: units.parse_shares(v, "5 / 10 / 25 %"), "5 / 10 / 25 %")),
    PlainSerializer(lambda law: _law_text(law, units.format_share)),
    WithJsonSchema({"type": "string", "pattern": _SHARE_PATTERN, "description": 'A share: "4 %" or "5 / 10 / 25 %".'}),
]
#: One time in minutes.
Minutes = Annotated[
    float,
    _reader(units.parse_minutes),
    PlainSerializer(lambda minutes: units.format_minutes(minutes)),
    WithJsonSchema({"type": "string", "description": 'One time with its unit, like "10 min".'}),
]
#: One length in millimetres.
Millimetres = Annotated[
    float,
    _reader(units.parse_mm),
    PlainSerializer(units.format_mm),
    WithJsonSchema({"type": "string", "description": 'A length with its unit, like "24 in" or "600 mm".'}),
]
#: One share in 0..1.
Share = Annotated[
    float,
    _reader(units.parse_share),
    PlainSerializer(lambda share: units.format_share(share)),
    WithJsonSchema({"type": "string", "pattern": _SHARE_PATTERN, "description": 'A share in percent, like "4 %".'}),
]
#: A calendar date.
Date = Annotated[
    dt.date,
    _reader(units.parse_date),
    PlainSerializer(lambda day: day, when_used="always"),
    WithJsonSchema({"description": "A date, like 2027-01-08."}),
]


def _read_days_off(value: Any) -> tuple[dt.date, dt.date]:
    if isinstance(value, tuple) and len(value) == 2 and all(isinstance(day, dt.date) for day in value):
        return value
    if isinstance(value, str) and ".." in value:
        first, _, last = value.partition("..")
        days = (units.parse_date(first), units.parse_date(last))
        if days[1] < days[0]:
            raise UnitError(f'"{value}" ends before it begins', "write the earlier date first")
        return days
    day = units.parse_date(value)
    return (day, day)


#: A day, or the first and last of several days, on which nobody works.
DaysOff = Annotated[
    tuple[dt.date, dt.date],
    _reader(_read_days_off),
    PlainSerializer(lambda days: days[0] if days[0] == days[1] else f"{days[0]}..{days[1]}"),
    WithJsonSchema({"description": 'A date, or a range of dates: "2027-02-15..2027-02-21".'}),
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
                raise UnitError(f"{units.DAY_NAMES[day]} is given twice", "name each day once")
            named.add(day)
            week[day] = units.parse_stretches(text)
    for day in range(7):
        nights = [end - units.MINUTES_PER_DAY for _, end in week[day] if end > units.MINUTES_PER_DAY]
        following = week[(day + 1) % 7]
        if nights and following and following[0][0] < nights[0]:
            raise UnitError(
                f"the night hours of {units.DAY_NAMES[day]} run into the next day's", "end them before the next begin"
            )
    return tuple(week)


def _days_of(key: str) -> list[int]:
    names = list(units.DAY_NAMES)
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
    return {units.DAY_NAMES[day]: units.format_stretches(hours) for day, hours in enumerate(week) if hours}


#: Opening hours: a WeekHours, or the word "always".
Open = Annotated[
    Any,
    _reader(_read_open),
    PlainSerializer(_open_text),
    WithJsonSchema(
        {
            "description": 'Hours by day, like { sat = "08:30-12:30, 13:30-17:30" } or { mon-fri = "8:00-12:00" }; or "always".',
            "anyOf": [{"const": "always"}, {"type": "object", "additionalProperties": {"type": "string"}}],
        }
    ),
]


def _read_clock(value: Any) -> float:
    if isinstance(value, dt.time):
        return float(value.hour * 60 + value.minute)
    if not isinstance(value, str):
        raise UnitError(f"{units.say_value(value)} is not a time of day", 'write it like "16:00"')
    return units.parse_clock(value)


#: A time of day in minutes after midnight.
ClockTime = Annotated[
    float,
    _reader(_read_clock),
    PlainSerializer(lambda minutes: units.format_stretches(((minutes, minutes),)).split("-")[0]),
    WithJsonSchema({"description": 'A time of day, like "16:00".'}),
]


def _read_weekdays(value: Any) -> tuple[int, ...]:
    if isinstance(value, str):
        value = [value]
    if not isinstance(value, list | tuple) or not value:
        raise UnitError(f"{units.say_value(value)} is not a list of days", 'write it like ["tue", "fri"]')
    days = [day for item in value for day in ([item] if isinstance(item, int) else _days_of(str(item)))]
    return tuple(sorted(set(days)))


#: Days of the week, Monday 0.
Weekdays = Annotated[
    tuple[int, ...],
    _reader(_read_weekdays),
    PlainSerializer(lambda days: [units.DAY_NAMES[day] for day in days]),
    WithJsonSchema({"description": 'Days, like ["tue", "fri"].', "type": ["array", "string"]}),
]


def _as_tuple(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


#: Put before a tuple field so that a TOML array is taken.
ListIn = BeforeValidator(_as_tuple)


def _read_after(value: Any) -> Any:
    return (value,) if isinstance(value, str) else _as_tuple(value)


#: A list of names; one name alone may stand without brackets.
Names = Annotated[
    tuple[str, ...],
    Field(max_length=2000),
    BeforeValidator(_read_after),
    WithJsonSchema({"anyOf": [{"type": "array", "items": {"type": "string"}}, {"type": "string"}]}),
]


def _read_handful(value: Any) -> int | str:
    if value == "batch" or (isinstance(value, int) and not isinstance(value, bool) and 1 <= value <= 10_000):
        return value  # type: ignore[no-any-return]
    raise UnitError(
        f"{units.say_value(value)} is not a handful", 'write how many units make one task, like 2, or "batch"'
    )


#: Units in one task, or "batch".
Handful = Annotated[
    int | str,
    _reader(_read_handful),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 1}, {"const": "batch"}]}),
]


def _read_rest(value: Any) -> tuple[str, int]:
    if isinstance(value, tuple):
        return value
    if isinstance(value, str) and value:
        return (value, 1)
    if isinstance(value, dict) and set(value) <= {"rack", "spots"} and isinstance(value.get("rack"), str):
        spots = value.get("spots", 1)
        if isinstance(spots, int) and not isinstance(spots, bool) and 1 <= spots <= 10_000:
            return (value["rack"], spots)
    raise UnitError(
        f"{units.say_value(value)} is not a rack",
        'name a rack, like "drying rack", or write { rack = "..", spots = 2 }',
    )


#: A rack's name and the spots each unit fills there.
Rest = Annotated[
    tuple[str, int],
    _reader(_read_rest),
    PlainSerializer(lambda rest: rest[0] if rest[1] == 1 else {"rack": rest[0], "spots": rest[1]}),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {
                    "type": "object",
                    "properties": {"rack": {"type": "string"}, "spots": {"type": "integer", "minimum": 1}},
                    "additionalProperties": False,
                },
            ]
        }
    ),
]


@dataclass(frozen=True)
class Order:
    """One order of a book: who gets how many, and since when.

    ``id``: the buyer's or the maker's reference. ``date``: day it came in.
    ``quantity``: pieces. ``minute``: time of day, where the file gives one. ``destination``, ``option``: plain text, may be empty.
    """

    id: str
    date: dt.date
    quantity: int = 1
    destination: str = ""
    option: str = ""
    minute: float = 0.0  # time of day it came in, minutes after midnight


@dataclass(frozen=True)
class OrderBook:
    """A CSV file of orders: ``path`` as the scenario states it, and its rows in file order."""

    path: str
    orders: tuple[Order, ...] = ()


def _read_orders(value: Any) -> int | OrderBook:
    if isinstance(value, OrderBook):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        if 1 <= value <= 100_000:
            return value
        raise UnitError(f"{value} orders cannot be made", "write a whole number from 1 to 100000")
    if isinstance(value, str) and value.lower().endswith(".csv"):
        return OrderBook(value)
    raise UnitError(
        f"{units.say_value(value)} is not a number of orders",
        'write a whole number, or the name of a CSV file, like "orders.csv"',
    )


#: A number of orders, or a CSV file of orders.
Orders = Annotated[
    int | OrderBook,
    _reader(_read_orders),
    PlainSerializer(lambda orders: orders.path if isinstance(orders, OrderBook) else orders),
    WithJsonSchema({"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "pattern": r"\.csv$"}]}),
]


def _read_transit(value: Any) -> Any:
    if isinstance(value, dict) and not ({"law", "logged"} & set(value)):
        if not value:
            raise UnitError("no destination is given", 'write { local = "0 d", far = "2 / 4 / 8 d" }, or one time')
        return tuple((str(place), _read_law(law, _days, "1 / 4 / 7 d")) for place, law in value.items())
    if isinstance(value, tuple):
        return value
    return (("", _read_law(value, _days, "1 / 4 / 7 d")),)


def _days(value: object) -> list[float]:
    return units.parse_times(value, "1 / 4 / 7 d")


def _transit_text(value: Any) -> Any:
    if len(value) == 1 and value[0][0] == "":
        return _law_text(value[0][1], units.format_minutes)
    return {place: _law_text(law, units.format_minutes) for place, law in value}


#: Time in the carrier's hands: pairs of destination and law; destination "" is any.
Transit = Annotated[
    tuple[tuple[str, Law], ...],
    _reader(_read_transit),
    PlainSerializer(_transit_text),
    WithJsonSchema({"anyOf": [_TIME_SCHEMA, {"type": "object", "additionalProperties": _TIME_SCHEMA}]}),
]
