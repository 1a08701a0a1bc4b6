"""One row of a log of task times as a scenario keeps it: short text, ``1: 44`` or ``1: 98 for 2``, so that it is known again."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from shopsim.units import UnitError, say_value

_ROW = re.compile(
    r"(?:(?P<piece>.*\S)\s*:)?\s*(?P<minutes>[0-9]+(?:\.[0-9]+)?(?:e-?[0-9]+)?)(?:\s+for\s+(?P<units>[0-9]{1,5}))?\s*"
)
_EXAMPLE = 'write piece: minutes, like "1: 44", or "1: 98 for 2" where the minutes are for 2 units'


class LoggedRow(NamedTuple):
    """A piece (may be empty), the units of it that were timed, and the minutes they took together."""

    piece: str
    units: int
    minutes: float


def parse_logged_row(text: object) -> LoggedRow:
    """A row from its text; raises UnitError."""
    if isinstance(text, LoggedRow):
        return text
    found = _ROW.fullmatch(text) if isinstance(text, str) and len(text) <= 200 else None
    if found is None:
        raise UnitError(f"{say_value(text)} cannot be read as a logged time", _EXAMPLE)
    minutes, units = float(found["minutes"]), int(found["units"] or 1)
    if not 0.0 < minutes < math.inf or units < 1:
        raise UnitError(f"{say_value(text)} is no time at all", _EXAMPLE)
    return LoggedRow(found["piece"] or "", units, minutes)


def format_logged_row(row: LoggedRow) -> str:
    """A row as text, read back as it was to nine digits."""
    units = "" if row.units == 1 else f" for {row.units}"
    return f"{row.piece}: {row.minutes:.9g}{units}" if row.piece else f"{row.minutes:.9g}{units}"
