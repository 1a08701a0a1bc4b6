"""Reading and printing of times, lengths, shares and clock hours.

Inside the program a time is a float in minutes, a length a float in
millimetres, a share a float in 0..1. Dates become minutes only here.
"""

from __future__ import annotations

import math
import re
import unicodedata
from decimal import Decimal

from shopsim.limits import MAX_COUNTED, MAX_LENGTH_MM, MAX_TIME_DAYS

MINUTES_PER_HOUR = 60.0
MINUTES_PER_DAY = 24.0 * MINUTES_PER_HOUR
MINUTES_PER_WEEK = 7.0 * MINUTES_PER_DAY
MM_PER_INCH = 25.4

#: All simulated times lie on this grid (about 57 microseconds), a power of two, so that sums
#: and differences of times are exact in floating point and equal moments are equal numbers.
TICK_MIN = 2.0**-20
TICKS_PER_MIN = 2.0**20


_TIME_UNITS = {
    "s": 1.0 / 60.0, "sec": 1.0 / 60.0, "secs": 1.0 / 60.0, "second": 1.0 / 60.0, "seconds": 1.0 / 60.0,
    "m": 1.0, "min": 1.0, "mins": 1.0, "minute": 1.0, "minutes": 1.0,
    "h": 60.0, "hr": 60.0, "hrs": 60.0, "hour": 60.0, "hours": 60.0,
    "d": 1440.0, "day": 1440.0, "days": 1440.0,
    "w": 10080.0, "wk": 10080.0, "week": 10080.0, "weeks": 10080.0,
}  # fmt: skip
_LENGTH_UNITS = {
    "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4,
    "ft": 304.8, "foot": 304.8, "feet": 304.8,
}  # fmt: skip
_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z\"%]*)\s*")

#: The longest time a file may state: ten years.
MAX_TIME_MIN = MAX_TIME_DAYS * MINUTES_PER_DAY


class UnitError(ValueError):
    """A value cannot be read. ``mend`` says what would be right."""

    def __init__(self, rule: str, mend: str) -> None:
        super().__init__(rule, mend)
        self.rule = rule
        self.mend = mend

    def __str__(self) -> str:
        return f"{self.rule} · {self.mend}"


def clean(text: str, longest: int = 600) -> str:
    """Text that is safe to print on one line: no control characters, not too long."""
    if not text.isprintable():
        text = "".join(_visible(letter) for letter in text)
    return text if len(text) <= longest else text[: longest - 1] + "…"


def _visible(letter: str) -> str:
    if letter.isprintable():
        return letter
    if letter in "\n\r\t" or unicodedata.category(letter) == "Zs":
        return " "
    return letter.encode("unicode_escape").decode("ascii")


def say_value(value: object) -> str:
    """A value as the user wrote it, shortened."""
    if isinstance(value, str):
        return f'"{clean(value, 60)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        try:
            return clean(str(value), 40)
        except ValueError:  # a whole number of thousands of digits
            return "a number of too many digits"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    return clean(str(value), 60)


def _quantities(text: object, units: dict[str, float], what: str, example: str, limit: float) -> list[float]:
    if isinstance(text, bool) or not isinstance(text, str):
        raise UnitError(
            f"{say_value(text)} is not a {what} with its unit", f'write it in quotes with a unit, like "{example}"'
        )
    if len(text) > 200:
        raise UnitError(f"{len(text)} characters are too many for a {what}", f'write something like "{example}"')
    numbers: list[tuple[str, str]] = []
    for part in text.split("/"):
        found = _QUANTITY.fullmatch(part)
        if not found:
            mend = f'write something like "{example}"'
            if re.search(r"[0-9],[0-9]", text):
                mend = f'write a point for the comma, like "{re.sub("(?<=[0-9]),(?=[0-9])", ".", text)}"'
            raise UnitError(f'"{text}" cannot be read as a {what}', mend)
        numbers.append((found[1], found[2]))
    last_unit = numbers[-1][1]
    if not last_unit and numbers[0][1]:
        plain = f"{' / '.join(number for number, _ in numbers)} {numbers[0][1]}"
        raise UnitError(f'"{text}" has no unit behind its last number', f'write it there, for all, like "{plain}"')
    if not last_unit:
        raise UnitError(f'"{text}" has no unit', f'write something like "{example}"')
    values = []
    for number, unit in numbers:
        unit = unit or last_unit
        factor = units.get(unit, units.get(unit.lower()))
        if factor is None:
            known = ", ".join(dict.fromkeys(u for u in units if len(u) <= 3))
            raise UnitError(f'"{unit}" in "{text}" is not a unit of {what}', f"use one of {known}")
        value = float(number) * factor
        if unit == "%" and math.isfinite(value):
            value = float(Decimal(number).scaleb(-2))  # exactly what is written
        if not math.isfinite(value):
            raise UnitError(f'"{text}" is not finite', f'write something like "{example}"')
        if value < 0:
            raise UnitError(f'"{text}" is negative', f"a {what} is zero or more")
        if value > limit:
            longest = "ten years" if what == "time" else "100 m"
            raise UnitError(f'"{text}" is too large', f"the largest {what} a file may state is {longest}")
        values.append(value + 0.0)  # no minus zero
    return values


def parse_times(text: object, example: str = "12 min") -> list[float]:
    """One or three times, ``"12 min"`` or ``"8 / 10 / 16 min"``, in minutes."""
    return _quantities(text, _TIME_UNITS, "time", example, MAX_TIME_MIN)


def parse_minutes(text: object, example: str = "12 min") -> float:
    """One time such as ``"1.5 h"``, in minutes."""
    values = parse_times(text, example)
    if len(values) != 1:
        raise UnitError(f'"{text}" is {len(values)} numbers where one is wanted', f'write something like "{example}"')
    return values[0]


def parse_mm(text: object) -> float:
    """One length such as ``"24 in"`` or ``"600 mm"``, in millimetres."""
    values = _quantities(text, _LENGTH_UNITS, "length", "24 in", MAX_LENGTH_MM)
    if len(values) != 1:
        raise UnitError(f'"{text}" is {len(values)} numbers where one is wanted', 'write something like "24 in"')
    return round(values[0], 6)  # 24 in and 2 ft are the same reach


def parse_shares(text: object, example: str = "5 %") -> list[float]:
    """One or three shares written in percent, ``"4 %"`` or ``"5 / 10 / 25 %"``, in 0..1."""
    values = _quantities(text, {"%": 0.01}, "share", example, math.inf)
    for value in values:
        if value > 1.0:
            raise UnitError(f'"{text}" is over 100 %', "a share lies between 0 % and 100 %")
    return values


def parse_share(text: object, example: str = "5 %") -> float:
    """One share written in percent, in 0..1."""
    values = parse_shares(text, example)
    if len(values) != 1:
        raise UnitError(f'"{text}" is {len(values)} numbers where one is wanted', f'write something like "{example}"')
    return values[0]


def parse_counts(text: object, example: str = "9 / 18 / 36") -> list[float]:
    """One or three whole numbers, ``18``, ``"18"`` or ``"9 / 18 / 36"``."""
    if isinstance(text, int) and not isinstance(text, bool):
        text = str(text)
    if not isinstance(text, str) or len(text) > 200:
        raise UnitError(f"{say_value(text)} is not a whole number", f'write one, or "{example}"')
    numbers = []
    for part in text.split("/"):
        plain = part.strip()
        if not re.fullmatch(r"[+-]?[0-9]{1,9}", plain):
            raise UnitError(f'"{clean(text, 60)}" is not made of whole numbers', f'write something like "{example}"')
        number = int(plain)
        if not 0 <= number <= MAX_COUNTED:
            raise UnitError(f"{number} in {say_value(text)} is out of range", f"write numbers from 0 to {MAX_COUNTED}")
        numbers.append(float(number))
    return numbers


def format_counts(*values: float) -> str:
    """Whole numbers as a file has them, ``"9 / 18 / 36"``."""
    return " / ".join(format_number(value) for value in values)


def format_number(value: float) -> str:
    """A number without needless digits, exact enough to read back as the same float."""
    return repr(int(value)) if value == int(value) and abs(value) < 1e15 else repr(value)


def format_minutes(*values: float) -> str:
    """Times as a file states them, exactly readable again: ``"90 min"``, ``"24 h"``, ``"2 / 4 / 8 d"``."""
    unit, factor = "min", 1.0
    for name, size in (("d", MINUTES_PER_DAY), ("h", MINUTES_PER_HOUR)):
        if max(values) >= 3 * size - MINUTES_PER_HOUR and all(value % size == 0 for value in values):
            unit, factor = name, size
            break
    return " / ".join(format_number(value / factor) for value in values) + f" {unit}"


def format_mm(value: float) -> str:
    """A length as a file states it, exactly readable again: ``"24 in"``, ``"600 mm"``."""
    inches = f"{say_mm(value)}"
    if inches.endswith(" in") and parse_mm(inches) == value:
        return inches
    return f"{format_number(value)} mm"


def format_share(*values: float) -> str:
    """Shares as a file states them, exactly readable again: ``"4 %"``, ``"5 / 10 / 25 %"``."""
    said = []
    for value in values:
        percent = Decimal(repr(value)).scaleb(2).normalize()
        plain = f"{percent:f}"
        said.append(plain if len(plain) < 24 else str(percent))
    return " / ".join(said) + " %"


def say_minutes(value: float) -> str:
    """A time for a reader, in the unit that suits it: ``"45 min"``, ``"3.5 h"``, ``"2.0 d"``."""
    if abs(value) < 90:
        return f"{value:.0f} min"
    if abs(value) < 36 * 60:
        return f"{value / 60:.1f} h"
    return f"{value / 1440:.1f} d"


def say_mm(value: float) -> str:
    """A length for a reader: inches when they come out round, else millimetres."""
    inches = value / MM_PER_INCH
    if abs(inches - round(inches * 4) / 4) < 1e-6:
        return f"{inches:g} in"
    return f"{value:g} mm"


def to_tick(minutes: float) -> float:
    """The nearest moment of the time grid."""
    return round(minutes * TICKS_PER_MIN) / TICKS_PER_MIN
