"""Values of a scenario file as text in a cell or a field, and back.

What has no plain way of writing, a named law or a name with a comma in it, is shown as the file has it.
A text that means nothing goes into the file as it is: the checks of the file then say what is wrong with it.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from types import NoneType
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import PlainValidator
from pydantic.fields import FieldInfo

from shopsim.errors import InputError
from shopsim.scenario import CAUTIONS, NONE_NEEDED, cell_texts
from shopsim.scenario.base_record import Calls
from shopsim.scenario.cell_texts import CELL_TEXTS, CellText
from shopsim.scenario.fields import marks_of
from shopsim.scenario.plain import value_text

#: What a cell may hold; "" stands for a key that is not in the file.
Cell = str | int | float | bool | dt.date
#: How a value is written in a cell: "text", "whole" number, "number", "choice", "yes" (ticked or not), "maybe" (yes, no or
#: not said), "date" (to be picked), or a kind of ``CELL_TEXTS``.
Kind = str
#: Kinds of whole numbers.
WHOLE = ("whole", cell_texts.WHOLE_OR_WORD.kind)
#: Numbers from here on are shown as text: a browser does not hold them exactly.
MAX_NUMBER = 10**15


def kind_of(field: FieldInfo) -> Kind:
    """How the values of a field are written, by its type and the marks in it."""
    texts = [mark for mark in marks_of(field) if isinstance(mark, CellText)]
    if texts:
        return texts[0].kind
    (inner,) = [part for part in get_args(field.annotation) if part is not NoneType][:1] or [field.annotation]
    if field.annotation is bool or inner is bool:
        return "yes" if field.annotation is bool else "maybe"
    if Literal in (get_origin(field.annotation), get_origin(inner)) or any(
        isinstance(mark, Calls) for mark in field.metadata
    ):
        return "choice"
    if any(isinstance(mark, PlainValidator) for mark in marks_of(field)):
        return "text"
    bare = get_args(inner)[0] if get_origin(inner) is Annotated else inner
    return {int: "whole", float: "number"}.get(bare, "text")


def choices_of(field: FieldInfo, things: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """What may be chosen for a field; ``things``: names in the file, by the kind of thing that ``Calls`` says."""
    kind = kind_of(field)
    if kind == cell_texts.CAUTIONS.kind:
        return (*CAUTIONS, NONE_NEEDED)
    if kind != "choice":
        return ()
    for mark in field.metadata:
        if isinstance(mark, Calls):
            return tuple(things.get(mark.kind, ()))
    for part in (field.annotation, *get_args(field.annotation)):
        if get_origin(part) is Literal:
            return get_args(part)
    return ()


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
    if kind in (*WHOLE, "number") and isinstance(value, int | float) and not isinstance(value, bool):
        return value if abs(value) < MAX_NUMBER else value_text(value)  # nan is not
    written = CELL_TEXTS.get(kind)
    if written is not None:
        try:
            text = written.say(value)
            if _plain(written.read(text)) == _plain(value):
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
    if isinstance(cell, float) and kind in WHOLE and cell.is_integer():
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


def list_cell(cell: Any) -> list[str] | None:
    """The texts in a cell of cautions; None where it holds anything else."""
    meant = from_cell("cautions", cell)
    if meant is None:
        return []
    texts = meant if isinstance(meant, list) else [meant]
    return texts if all(isinstance(text, str) for text in texts) else None


def _read_number(text: str) -> Any:
    if re.fullmatch(r"-?\d{1,12}", text):
        return int(text)
    return float(text) if re.fullmatch(r"-?\d{1,12}\.\d{1,9}", text) else text


def _read_maybe(text: str) -> Any:
    return {"yes": True, "no": False}.get(text.casefold(), text)


_READ: dict[str, Callable[[str], Any]] = {
    "whole": cell_texts.WHOLE_OR_WORD.read, "number": _read_number, "maybe": _read_maybe,
    "date": dt.date.fromisoformat, **{kind: text.read for kind, text in CELL_TEXTS.items()},
}  # fmt: skip
