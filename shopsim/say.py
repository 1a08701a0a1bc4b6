"""How a value is said: chances, shares, numbers, days and headings, in tables, sentences, sheets and letters alike.

The one place for it: whatever a reader sees of a chance goes through ``say_chance``, so that a sentence
and its table cannot disagree.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from shopsim.columns import CHANCE, SHARE, Column, find_column

#: A cell that is a number, a share or nothing, and so stands to the right.
_NUMBER = re.compile(r"-|(?:under |[-+])?[\d,.]+(?: %)?")
#: Added before a share is cut, so that 0.29 * 100 = 28.999999999999996 is 29.
_NOISE = 1e-9

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def cut_chance(chance: float) -> float:
    """A chance in 0..1 cut to whole hundredths: never more than it is."""
    return math.floor(chance * 100 + _NOISE) / 100


def say_chance(chance: float) -> str:
    """A chance in 0..1 as whole percent, cut and never rounded up: 0.945 and 0.9499 are ``94 %``, 0.9975 is ``99 %``.

    What is more than nothing and less than one in a hundred is ``under 1 %``; what is not known is "".
    """
    if math.isnan(chance):
        return ""
    whole = math.floor(chance * 100 + _NOISE)
    return "under 1 %" if whole == 0 and chance > 0 else f"{whole} %"


def say_share(share: float) -> str:
    """A share in 0..1 of something that is measured (time, variance), to the nearest whole percent.

    Only the whole is ``100 %``, and only nothing is ``0 %``: 0.998 is ``99 %``, 0.002 is ``under 1 %``. A chance is
    no such share: see ``say_chance``.
    """
    if math.isnan(share):
        return ""
    nearest = math.floor(share * 100 + 0.5 + _NOISE)
    if nearest == 0 and share > 0:
        return "under 1 %"
    return f"{min(nearest, 99) if share < 1 - _NOISE else nearest} %"


def say_number(value: float, places: int = 0) -> str:
    """A number to so many places, thousands apart: ``1,234.5``; never a minus before nothing, and "" for no number."""
    if math.isnan(value):
        return ""
    return f"{round(value, places) + 0.0:,.{places}f}"


def say_money(cents: int, currency: str = "") -> str:
    """An amount of whole cents, thousands apart, after its currency where there is one: ``EUR 1,234.50``, ``-0.05``."""
    sign = "-" if cents < 0 else ""
    said = f"{sign}{abs(cents) // 100:,}.{abs(cents) % 100:02d}"
    return f"{currency} {said}" if currency else said


def say_amount(amount: float, unit: str = "") -> str:
    """How much of something, as far as its unit bears: cubic metres to four places, else two; whole numbers bare."""
    if math.isnan(amount):
        return ""
    places = 4 if unit == "m3" else 2
    return say_number(amount, 0 if abs(amount - round(amount)) < 0.5 * 10**-places else places)


def say_plain(value: float) -> str:
    """A number as somebody wrote it, without what it does not need: ``0.25``, ``7``."""
    return f"{value:g}"


def say_learned(value: float, unit: str) -> str:
    """What logs teach, as far as its unit bears: shares in percent, hours to a tenth, whole days, minutes by their size."""
    if unit == "share":
        return say_share(value)
    if unit == "h":
        return say_number(value, 1)
    if unit in ("day", "days"):
        return say_number(value)
    return say_number(value, 2 if value < 10 else 1)


#: What is said of a difference that no run showed.
IN_NO_RUN = "0.0 in every run"


def say_range(value: float, low: float, high: float, unseen: bool = False, places: int = 1) -> str:
    """A difference with its interval, as tables and sentences have it: ``-4.3 (-5.5 to -3.1)``; "" for no number.

    Without an interval where its ends are one number; ``0.0 in every run`` where no run showed a difference.
    """
    if math.isnan(value):
        return ""
    if unseen and low != high:
        return IN_NO_RUN
    said = [say_number(number, places) for number in (value, low, high)]
    return said[0] if low == high else f"{said[0]} ({said[1]} to {said[2]})"


def say_level(level: float) -> str:
    """A chance that somebody asks for, exactly as it was asked: ``90 %``, ``99.5 %``."""
    return f"{level * 100:.6g} %"


def is_number(cell: str) -> bool:
    """Whether a cell, as it is said, is a number: such columns stand to the right."""
    return _NUMBER.fullmatch(cell) is not None


def say_heading(key: str) -> str:
    """What stands over the column of this key: ``"lead_days"`` gives ``"lead, days"``."""
    return find_column(key).heading


def say_cell(key: str, value: Any) -> str:
    """A value of the column of this key for a reader; see ``find_column``.

    Whole numbers bare, others rounded, chances and shares in percent, moments to the minute, nothing as ``-``.
    """
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or value is pd.NA or value is pd.NaT or value == "":
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        whole = value.time() == dt.time() or (value.hour, value.minute, value.second) == (0, 0, 0)
        return f"{value:%Y-%m-%d}" if whole else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, int | float):
        return _say_number(find_column(key), value)
    if isinstance(value, Mapping):
        return ", ".join(f"{key}: {item}" for key, item in value.items())
    if isinstance(value, list | tuple | set | frozenset | np.ndarray):
        items = sorted(value) if isinstance(value, set | frozenset) else value
        return ", ".join(str(item) for item in items)
    return str(value)


def _say_number(column: Column, value: float) -> str:
    if not math.isfinite(value):
        return "-"
    if isinstance(value, float) and column.kind == CHANCE:
        return say_chance(value)
    if isinstance(value, float) and column.kind == SHARE:
        return say_share(value)
    if isinstance(value, int):
        return str(value)
    if column.unit == "m3":
        return say_amount(value, column.unit)
    return f"{value:,.0f}" if column.unit == "min" or value == int(value) else f"{value:,.2f}"


def say_day(day: dt.date, *, weekday: bool = False) -> str:
    """``8 January 2027``, with ``Friday`` before it if asked for; the same in every locale."""
    said = f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
    return f"{_DAYS[day.weekday()]} {said}" if weekday else said
