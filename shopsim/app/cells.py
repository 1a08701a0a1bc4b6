"""Values of a scenario file as text in a cell or a field, and back.

What has no plain way of writing, a named law or a name with a comma in it, is shown as the file has it.
A text that means nothing goes into the file as it is: the checks of the file then say what is wrong with it.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable
from typing import Any, Literal

from shopsim.errors import InputError
from shopsim.scenario.plain import value_text
from shopsim.units import DAY_NAMES, UnitError, parse_mm

#: What a cell may hold; "" stands for a key that is not in the file.
Cell = str | int | float | bool | dt.date
#: How a value is written in a cell.
Kind = Literal[
    "text", "whole", "number", "choice", "yes", "maybe", "names", "after", "clamps", "rest", "redo", "hours", "days", "date", "day", "transit",
    "cautions",
]  # fmt: skip

#: Written for a list of earlier operations that is empty.
AT_ONCE = "at once"
#: Numbers from here on are shown as text: a browser does not hold them exactly.
LARGEST_NUMBER = 10**15
_COUNTED = re.compile(r"(\d{1,9})\s*(?:x\b|×|of\b)?\s*(\S.*)", re.IGNORECASE)
_SPOTS = re.compile(r"(\S.*?)\s*\(\s*(\d{1,9})\s*spots?\s*\)", re.IGNORECASE)


def to_cell(kind: Kind, value: Any) -> Cell:
    """A value of the file as what a cell shows; None, a key that is not there, is an empty cell."""
    if value is None:
        return False if kind == "yes" else ""
    if kind == "yes" and isinstance(value, bool):
        return value
    if kind == "maybe" and isinstance(value, bool):
        return "yes" if value else "no"
    if kind == "date":
        return _date_cell(value)
    if kind in ("whole", "number") and isinstance(value, int | float) and not isinstance(value, bool):
        return value if abs(value) < LARGEST_NUMBER else value_text(value)  # nan is not
    say = _SAY.get(kind)
    if say is not None:
        try:
            text = say(value)
            if _plain(_READ[kind](text)) == _plain(value):
                return text
        except (TypeError, KeyError, ValueError, AttributeError):
            pass
    if isinstance(value, str) and not value.lstrip().startswith(("{", "[")):
        return value
    try:
        return value_text(value)
    except InputError:  # a time of day, which no key takes
        return str(value)


def from_cell(kind: Kind, cell: Any) -> Any:
    """What a cell means as a value of the file; None takes the key out."""
    if isinstance(cell, bool):
        return cell
    if isinstance(cell, float) and kind == "whole" and cell.is_integer():
        return int(cell)
    if not isinstance(cell, str):
        return cell
    text = cell.strip()
    if not text:
        return None
    if text.startswith(("{", "[", '"')):
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except (ValueError, RecursionError, KeyError):
            return text
    read = _READ.get(kind)
    if read is None:
        return text
    try:
        return read(text)
    except ValueError:
        return text


def _plain(value: Any) -> Any:
    """For comparison: dates as text, and a list of one as its item where a file may write either."""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, list):
        return _plain(value[0]) if len(value) == 1 else [_plain(item) for item in value]
    return value


def _date_cell(value: Any) -> Cell:
    if isinstance(value, dt.datetime):
        return value.isoformat()
    if isinstance(value, dt.date):
        return value
    try:
        return dt.date.fromisoformat(str(value))
    except ValueError:
        return str(value)


def _say_names(value: Any) -> str:
    if isinstance(value, str):
        raise ValueError(value)
    return ", ".join(value)


def _read_names(text: str) -> list[str]:
    return [name.strip() for name in re.split(r"[,;]", text) if name.strip()]


def list_cell(cell: Any) -> list[str] | None:
    """The texts in a cell of cautions; None where it holds anything else."""
    meant = from_cell("cautions", cell)
    if meant is None:
        return []
    texts = meant if isinstance(meant, list) else [meant]
    return texts if all(isinstance(text, str) for text in texts) else None


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


def _read_number(text: str) -> Any:
    if re.fullmatch(r"-?\d{1,12}", text):
        return int(text)
    return float(text) if re.fullmatch(r"-?\d{1,12}\.\d{1,9}", text) else text


def _read_whole_or_text(text: str) -> Any:
    return int(text) if re.fullmatch(r"\d{1,12}", text) else text


def _read_date(text: str) -> Any:
    return dt.date.fromisoformat(text)


def _say_day(value: Any) -> str:
    return value.isoformat() if type(value) is dt.date else str(value)


def _read_maybe(text: str) -> Any:
    return {"yes": True, "no": False}.get(text.casefold(), text)


_READ: dict[str, Callable[[str], Any]] = {
    "whole": _read_whole_or_text, "number": _read_number, "maybe": _read_maybe, "names": _read_names,
    "after": _read_after, "clamps": _read_clamps, "rest": _read_rest, "redo": _read_redo, "hours": _read_hours,
    "days": _read_days, "date": _read_date, "day": _read_date, "transit": _read_transit, "cautions": _read_cautions,
}  # fmt: skip
_SAY: dict[str, Callable[[Any], str]] = {
    "names": _say_names, "after": _say_after, "clamps": _say_clamps, "rest": _say_rest, "redo": _say_redo,
    "hours": _say_keyed, "days": _say_days, "day": _say_day, "transit": _say_keyed,
    "cautions": _say_cautions,
}  # fmt: skip
