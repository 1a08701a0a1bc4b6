"""Amounts of money, rough thicknesses and lengths of boards as a file writes them; amounts are decimal numbers, exact to the last digit."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import PlainSerializer, WithJsonSchema

from shopsim import units
from shopsim.limits import MAX_AMOUNT, MAX_LENGTH_MM, MAX_LENGTHS
from shopsim.scenario import cell_texts
from shopsim.scenario.value_reader import reader
from shopsim.units import MM_PER_INCH, UnitError

#: Digits that an amount may have behind its point: a board foot may cost 9.455.
MAX_PLACES = 4
_WRITTEN = re.compile(r"\s*([+-]?)([0-9]{1,3}(?:[ _][0-9]{3})+|[0-9]+)(\.[0-9]*)?\s*")
_QUARTERS = re.compile(r"\s*([0-9]{1,2})\s*/\s*4\s*")


def parse_amount(value: Any, least: int | None = 0) -> Decimal:
    """An amount of money, ``480``, ``9.455`` or ``"1 480.00"``, exactly as it is written.

    A number of the file is read as the shortest decimal that it can be written as, so 9.45 is 9.45. The currency is
    written once, under [money]. UnitError for what is none, is under ``least``, or has more than four places.
    """
    like = "write a number in your own money, like 34.50"
    if isinstance(value, Decimal):
        amount = value
    elif isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnitError(f"{units.say_value(value)} is not an amount of money", like)
    elif isinstance(value, str):
        amount = _parse_text(value, like)
    else:
        amount = Decimal(repr(value)) if abs(value) <= 1e15 else Decimal("Infinity")  # nan compares as false
    if not amount.is_finite() or abs(amount) > MAX_AMOUNT:
        raise UnitError(f"{units.say_value(value)} is too large an amount", f"write at most {MAX_AMOUNT:,}")
    if least is not None and amount < least:
        raise UnitError(f"{units.say_value(value)} is negative", "an amount here is zero or more")
    exponent = amount.normalize().as_tuple().exponent
    if isinstance(exponent, int) and -exponent > MAX_PLACES:
        raise UnitError(
            f"{units.say_value(value)} has more than {MAX_PLACES} digits behind the point", "round it to fewer"
        )
    return amount


def _parse_text(text: str, like: str) -> Decimal:
    found = _WRITTEN.fullmatch(text) if len(text) <= 60 else None
    if found:
        return Decimal(found[1] + found[2].replace(" ", "").replace("_", "") + (found[3] or "").rstrip("."))
    number = re.search(r"[0-9][0-9.,]*", text)
    if number and re.search(r"[^0-9.,\s+-]", text):
        plain = number[0].rstrip(".,")
        raise UnitError(
            f"{units.say_value(text)} has something beside its number",
            f'write {plain} alone, and the currency once: currency = "…" under [money]',
        )
    if number and "," in text:
        raise UnitError(f"{units.say_value(text)} has a comma", "write a point before the cents, and no other mark")
    raise UnitError(f"{units.say_value(text)} is not an amount of money", like)


def amount_value(amount: Decimal) -> int | float:
    """An amount as a file has it: read again it is the same amount."""
    return int(amount) if amount == amount.to_integral_value() else float(amount)


_AMOUNT: dict[str, Any] = {"type": "number", "minimum": 0}
_TEXT: dict[str, Any] = {"type": "string", "pattern": r"^\s*\+?[0-9][0-9 _]*(\.[0-9]*)?\s*$"}
_SIGNED_TEXT: dict[str, Any] = {"type": "string", "pattern": r"^\s*[+-]?[0-9][0-9 _]*(\.[0-9]*)?\s*$"}
#: An amount of money of zero or more, in the money of the file.
Amount = Annotated[
    Decimal,
    reader(parse_amount),
    PlainSerializer(amount_value),
    WithJsonSchema({"description": "An amount in your own money.", "anyOf": [_AMOUNT, _TEXT]}),
]
#: An amount that may be less than nothing: what an option adds to a price.
SignedAmount = Annotated[
    Decimal,
    reader(lambda value: parse_amount(value, None)),
    PlainSerializer(amount_value),
    WithJsonSchema(
        {"description": "An amount in your own money, or less.", "anyOf": [{"type": "number"}, _SIGNED_TEXT]}
    ),
]


def parse_thickness(value: Any) -> float:
    """A rough thickness in mm: a length, or quarters of an inch as sawn boards are sold: ``"8/4"`` is 2 in."""
    if isinstance(value, float):
        return value
    quarters = _QUARTERS.fullmatch(value) if isinstance(value, str) else None
    if quarters and int(quarters[1]):
        return round(int(quarters[1]) * MM_PER_INCH / 4, 6)  # as "1.5 in" is read
    try:
        thick = units.parse_mm(value)
    except UnitError as error:
        raise UnitError(error.rule, 'write a length like "52 mm", or quarters of an inch like "8/4"') from None
    return _more_than_nothing(value, thick)


def parse_dimension(value: Any) -> float:
    """A length of more than nothing, in mm."""
    return value if isinstance(value, float) else _more_than_nothing(value, units.parse_mm(value))


def _more_than_nothing(value: Any, length: float) -> float:
    if length <= 0:
        raise UnitError(f"{units.say_value(value)} is nothing", "write a length of more than nothing")
    return length


_LENGTH: dict[str, Any] = {
    "type": "string",
    "pattern": r"^\s*\+?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?\s*([A-Za-z]+|\")\s*$",
    "description": 'A length with its unit, like "24 in" or "600 mm".',
}
#: A length of more than nothing, in mm.
Dimension = Annotated[float, reader(parse_dimension), PlainSerializer(units.format_mm), WithJsonSchema(_LENGTH)]
#: A rough thickness, in mm.
Thickness = Annotated[
    float,
    reader(parse_thickness),
    PlainSerializer(units.format_mm),
    WithJsonSchema({"anyOf": [_LENGTH, {"type": "string", "pattern": r"^\s*[0-9]{1,2}\s*/\s*4\s*$"}]}),
]


def _read_lengths(value: Any) -> tuple[float, ...]:
    given = (value,) if isinstance(value, str) else tuple(value) if isinstance(value, list | tuple) else None
    if given is None or not given:
        raise UnitError(f"{units.say_value(value)} is not a list of lengths", 'write lengths like ["8 ft", "10 ft"]')
    if len(given) > MAX_LENGTHS:
        raise UnitError(f"{len(given)} lengths are more than can be compared", f"write at most {MAX_LENGTHS}")
    found = tuple(parse_dimension(one) for one in given)
    for number, one in enumerate(found):
        if one in found[:number]:
            raise UnitError(f"{units.say_value(given[number])} is given twice", "write each length once")
        if one > MAX_LENGTH_MM:
            raise UnitError(f"{units.say_value(given[number])} is too long", "write the length of a board")
    return found


#: The lengths in which boards are sold, in mm.
Lengths = Annotated[
    tuple[float, ...],
    reader(_read_lengths),
    PlainSerializer(lambda lengths: [units.format_mm(one) for one in lengths]),
    WithJsonSchema({"anyOf": [_LENGTH, {"type": "array", "items": _LENGTH, "minItems": 1}]}),
    cell_texts.NAMES,
]
