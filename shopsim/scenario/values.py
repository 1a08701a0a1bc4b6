"""The kinds of value a scenario file holds, as pydantic types: each reads, checks, prints and describes itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema

from shopsim import units
from shopsim.laws import Law
from shopsim.limits import MAX_CAUTION_LETTERS, MAX_CAUTIONS, MAX_ORDERS
from shopsim.priority import PRIORITY_NAMES
from shopsim.scenario import cell_texts, shapes
from shopsim.scenario.base_record import has_control_letter
from shopsim.scenario.book import Order, OrderBook
from shopsim.scenario.hour_values import ClockTime, Date, DaysOff, Moment, Open, Weekdays, WeekHours
from shopsim.scenario.law_values import law_text, read_law
from shopsim.scenario.logged_rows import LoggedRow, format_logged_row, parse_logged_row
from shopsim.scenario.value_reader import reader
from shopsim.units import UnitError

#: Minutes that may vary: one time, low / likely / high, a named law or logged values.
TimeLaw = Annotated[
    Law,
    reader(lambda value: read_law(value, lambda v: units.parse_times(v, "8 / 10 / 16 min"), "8 / 10 / 16 min")),
    PlainSerializer(lambda law: law_text(law, units.format_minutes)),
    WithJsonSchema(shapes.TIME_LAW_MARK),
]
#: A share that may vary, in 0..1.
ShareLaw = Annotated[
    Law,
    reader(lambda value: read_law(value, lambda v: units.parse_shares(v, "5 / 10 / 25 %"), "5 / 10 / 25 %")),
    PlainSerializer(lambda law: law_text(law, units.format_share)),
    WithJsonSchema(shapes.SHARES),
]
#: A number of things that may vary: one whole number, low / likely / high, or a named law.
CountLaw = Annotated[
    Law,
    reader(lambda value: read_law(value, lambda v: units.parse_counts(v, "9 / 18 / 36"), "9 / 18 / 36")),
    PlainSerializer(lambda law: law_text(law, units.format_counts)),
    WithJsonSchema(shapes.COUNTS),
]
#: One time in minutes.
Minutes = Annotated[
    float,
    reader(units.parse_minutes),
    PlainSerializer(lambda minutes: units.format_minutes(minutes)),
    WithJsonSchema(shapes.ONE_TIME),
]
#: One logged time: its piece, units and minutes.
LoggedTime = Annotated[
    LoggedRow,
    reader(parse_logged_row),
    PlainSerializer(format_logged_row),
    WithJsonSchema(shapes.LOGGED_ROW),
]
#: One length in millimetres.
Millimetres = Annotated[
    float,
    reader(units.parse_mm),
    PlainSerializer(units.format_mm),
    WithJsonSchema(shapes.LENGTH),
]
#: One share in 0..1.
Share = Annotated[
    float,
    reader(units.parse_share),
    PlainSerializer(lambda share: units.format_share(share)),
    WithJsonSchema(shapes.SHARE),
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
    WithJsonSchema(shapes.NAMES),
    cell_texts.NAMES,
]


def _read_cautions(value: Any) -> tuple[str, ...]:
    given = (value,) if isinstance(value, str) else _as_tuple(value)
    like = 'write a key like "dust", words of your own, or several in brackets'
    if not isinstance(given, tuple):
        raise UnitError(f"{units.say_value(value)} is not a caution", like)
    if len(given) > MAX_CAUTIONS:
        raise UnitError(f"{len(given)} cautions are more than anybody reads", f"name at most {MAX_CAUTIONS}")
    for caution in given:
        if not isinstance(caution, str) or not caution.strip():
            raise UnitError(f"{units.say_value(caution)} is not a caution", like)
        if len(caution) > MAX_CAUTION_LETTERS:
            raise UnitError("is too long a caution", f"write at most {MAX_CAUTION_LETTERS} letters")
        if has_control_letter(caution):
            raise UnitError("holds a line break or another control character", "write plain letters on one line")
    twice = [caution for number, caution in enumerate(given) if caution in given[:number]]
    if twice:
        raise UnitError(f"{units.say_value(twice[0])} is named twice", "name it once")
    return given


#: Keys of cautions, or words of the user's own; one alone may stand without brackets.
Cautions = Annotated[
    tuple[str, ...],
    reader(_read_cautions),
    PlainSerializer(lambda cautions: cautions[0] if len(cautions) == 1 else list(cautions)),
    WithJsonSchema(shapes.ONE_OR_MORE_CAUTIONS),
    cell_texts.CAUTIONS,
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
    reader(_read_handful),
    WithJsonSchema(shapes.HANDFUL),
    cell_texts.WHOLE_OR_WORD,
]


if TYPE_CHECKING:
    PriorityName = str
else:
    #: The name of a built-in priority rule, or of a plan of one's own.
    PriorityName = Literal[PRIORITY_NAMES]


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
    reader(_read_rest),
    PlainSerializer(lambda rest: rest[0] if rest[1] == 1 else {"rack": rest[0], "spots": rest[1]}),
    WithJsonSchema(shapes.REST),
    cell_texts.REST,
]


#: How the names of workbooks end.
_WORKBOOKS = (".xlsx", ".xls", ".xlsm", ".ods", ".numbers")


def _read_orders(value: Any) -> int | OrderBook:
    if isinstance(value, OrderBook):
        return value
    if isinstance(value, int) and not isinstance(value, bool):
        if 1 <= value <= 10 * MAX_ORDERS:  # of up to ten times too many, the rules of size say more
            return value
        raise UnitError(f"{value} orders cannot be made", f"write a whole number from 1 to {MAX_ORDERS}")
    if isinstance(value, str) and value.lower().endswith(".csv"):
        return OrderBook(value)
    if isinstance(value, str) and value.lower().endswith(_WORKBOOKS):
        plain = f"{value.rpartition('.')[0]}.csv"
        raise UnitError(
            f"{units.say_value(value)} is a workbook, and orders are read from CSV",
            f"in the spreadsheet, save the sheet as CSV, and write {units.say_value(plain)}",
        )
    raise UnitError(
        f"{units.say_value(value)} is not a number of orders",
        'write a whole number, or the name of a CSV file, like "orders.csv"',
    )


#: A number of orders, or a CSV file of orders.
Orders = Annotated[
    int | OrderBook,
    reader(_read_orders),
    PlainSerializer(lambda orders: orders.path if isinstance(orders, OrderBook) else orders),
    WithJsonSchema(shapes.ORDERS),
    cell_texts.WHOLE_OR_WORD,
]


def _read_transit(value: Any) -> Any:
    if isinstance(value, dict) and not ({"law", "logged"} & set(value)):
        if not value:
            raise UnitError("no destination is given", 'write { local = "0 d", far = "2 / 4 / 8 d" }, or one time')
        return tuple((str(place), read_law(law, _days, "1 / 4 / 7 d")) for place, law in value.items())
    if isinstance(value, tuple):
        return value
    return (("", read_law(value, _days, "1 / 4 / 7 d")),)


def _days(value: object) -> list[float]:
    return units.parse_times(value, "1 / 4 / 7 d")


def _transit_text(value: Any) -> Any:
    if len(value) == 1 and value[0][0] == "":
        return law_text(value[0][1], units.format_minutes)
    return {place: law_text(law, units.format_minutes) for place, law in value}


#: Time in the carrier's hands: pairs of destination and law; destination "" is any.
Transit = Annotated[
    tuple[tuple[str, Law], ...],
    reader(_read_transit),
    PlainSerializer(_transit_text),
    WithJsonSchema(shapes.TRANSIT),
    cell_texts.TRANSIT,
]


__all__ = [
    "Cautions",
    "ClockTime",
    "CountLaw",
    "Date",
    "DaysOff",
    "Handful",
    "ListIn",
    "LoggedTime",
    "Millimetres",
    "Minutes",
    "Moment",
    "Names",
    "Open",
    "Order",
    "OrderBook",
    "Orders",
    "PriorityName",
    "Rest",
    "Share",
    "ShareLaw",
    "TimeLaw",
    "Transit",
    "WeekHours",
    "Weekdays",
]
