"""How a value of more than one part is written in one cell of a table: said and read again, for each kind beside its type.

A ``CellText`` stands with a value's type in values.py or with its field; ``say`` puts what a file holds into words, ``read``
gives what a file would hold. Both raise ValueError, KeyError, TypeError or AttributeError for what has no such form.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopsim.dates import DAY_NAMES
from shopsim.units import UnitError, parse_mm

#: Written for a list of earlier operations that is empty.
AT_ONCE = "at once"
_COUNTED = re.compile(r"(\d{1,9})\s*(?:x\b|×|of\b)?\s*(\S.*)", re.IGNORECASE)
_SPOTS = re.compile(r"(\S.*?)\s*\(\s*(\d{1,9})\s*spots?\s*\)", re.IGNORECASE)


@dataclass(frozen=True)
class CellText:
    """``kind``: its name. ``hint``: what to know when writing one, in words."""

    kind: str
    say: Callable[[Any], str]
    read: Callable[[str], Any]
    hint: str = ""


def _say_names(value: Any) -> str:
    if isinstance(value, str):
        raise ValueError(value)
    return ", ".join(value)


def _read_names(text: str) -> list[str]:
    return [name.strip() for name in re.split(r"[,;]", text) if name.strip()]


def _say_cautions(value: Any) -> str:
    return value if isinstance(value, str) else "; ".join(value)


def _read_cautions(text: str) -> Any:
    cautions = [caution.strip() for caution in text.split(";") if caution.strip()]
    return cautions[0] if len(cautions) == 1 else cautions


def _say_after(value: Any) -> str:
    return AT_ONCE if value == [] else _say_names(value)


def _read_after(text: str) -> list[str]:
    return [] if text.casefold() == AT_ONCE else _read_names(text)


def _say_clamps(value: Any) -> str:
    said = []
    for need in value:
        what = f"of {need['reach']}" if "reach" in need else str(need["kind"])
        said.append(f"{need['count']} {what}")
    return ", ".join(said)


def _read_clamps(text: str) -> list[dict[str, Any]]:
    return [_read_need(part.strip()) for part in re.split(r"[,;]", text) if part.strip()]


def _read_need(text: str) -> dict[str, Any]:
    if _is_length(text):
        return {"count": 1, "reach": text}
    found = _COUNTED.fullmatch(text)
    if not found:
        return {"count": 1, "kind": text}
    what = found[2].strip()
    return {"count": int(found[1]), "reach" if _is_length(what) else "kind": what}


def _is_length(text: str) -> bool:
    try:
        parse_mm(text)
    except UnitError:
        return False
    return True


def _say_rest(value: Any) -> str:
    return str(value) if isinstance(value, str) else f"{value['rack']} ({value['spots']} spots)"


def _read_rest(text: str) -> Any:
    found = _SPOTS.fullmatch(text)
    return {"rack": found[1], "spots": int(found[2])} if found else text


def _say_redo(value: Any) -> str:
    return f"{value['chance']}, {value['work']}"


def _read_redo(text: str) -> dict[str, str]:
    chance, comma, work = text.partition(",")
    if not comma:
        raise ValueError(text)
    return {"chance": chance.strip(), "work": work.strip()}


def _say_keyed(value: Any) -> str:
    if isinstance(value, str):
        return value
    return "; ".join(f"{key} {item}" for key, item in value.items())


def _read_hours(text: str) -> Any:
    if text.casefold() == "always":
        return "always"
    hours = {}
    for part in filter(None, (part.strip() for part in text.split(";"))):
        day, _, stretches = part.partition(" ")
        if day.partition("-")[0].lower() not in DAY_NAMES or not stretches.strip() or day.lower() in hours:
            raise ValueError(text)
        hours[day.lower()] = stretches.strip()
    return hours


def _read_transit(text: str) -> Any:
    parts = [part.strip() for part in text.split(";") if part.strip()]
    if len(parts) == 1 and parts[0][0].isdigit():
        return parts[0]
    places = {}
    for part in parts:
        found = re.fullmatch(r"(\D+?)\s+(\d.*)", part)
        if not found:
            raise ValueError(text)
        places[found[1]] = found[2]
    return places


def _say_days(value: Any) -> str:
    return ", ".join(day.isoformat() if isinstance(day, dt.date) else str(day) for day in value)


def _read_days(text: str) -> list[str]:
    return [day for day in re.split(r"[,;\s]+", text.replace(" .. ", "..")) if day]


def _say_day(value: Any) -> str:
    return value.isoformat() if type(value) is dt.date else str(value)


def _read_whole_or_word(text: str) -> Any:
    return int(text) if re.fullmatch(r"-?\d{1,12}", text) else text


NAMES = CellText("names", _say_names, _read_names)
AFTER = CellText("after", _say_after, _read_after, f'With commas between; "{AT_ONCE}" stands for [].')
CAUTIONS = CellText("cautions", _say_cautions, _read_cautions)
CLAMPS = CellText("clamps", _say_clamps, _read_clamps, "How many of which least reach, or of which kind.")
REST = CellText("rest", _say_rest, _read_rest)
REDO = CellText("redo", _say_redo, _read_redo)
HOURS = CellText("hours", _say_keyed, _read_hours)
TRANSIT = CellText("transit", _say_keyed, _read_transit)
DAYS = CellText("days", _say_days, _read_days)
DAY = CellText("day", _say_day, dt.date.fromisoformat)
MOMENT = CellText("moment", str, str.strip)
WHOLE_OR_WORD = CellText("whole or word", str, _read_whole_or_word)

#: All of them, by kind.
CELL_TEXTS = {
    text.kind: text
    for text in (NAMES, AFTER, CAUTIONS, CLAMPS, REST, REDO, HOURS, TRANSIT, DAYS, DAY, MOMENT, WHOLE_OR_WORD)
}
