"""Rows of a list in a user's file changed, added, taken out and moved, with its comments and layout kept.

Comments within a row go with it; those above it stay where they are.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shopsim.errors import InputError
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.lenient import copy_plain
from shopsim.scenario.lines import find_tables, parse_toml
from shopsim.scenario.places import KeyPath, say_place
from shopsim.scenario.plain import table_lines
from shopsim.scenario.settings import as_plain, put_value
from shopsim.scenario.text import Unreadable
from shopsim.scenario.writing import edit_text


@dataclass(frozen=True)
class RowEdit:
    """One row of the new list: the number of the old row it comes from (None: it is new), and what changes in it.

    ``changes``: keys to plain values; None takes a key out.
    """

    old: int | None
    changes: Mapping[str, Any]


def edit_list(text: str, where: KeyPath, rows: Sequence[RowEdit], name: str = "scenario.toml") -> str:
    """The TOML text with the list of tables at ``where`` made what ``rows`` say; a list that is not there begins empty.

    Old rows that no new one comes from are taken out. Raises ScenarioError where the text is not
    TOML, InputError where the list cannot be changed without touching other things.
    """
    text = edit_text(text, _changes(where, rows), name)
    data = parse_toml(text)
    old = _old_rows(data, where, name)
    kept = [row.old for row in rows if row.old is not None]
    if any(not 0 <= number < len(old) for number in kept) or len(set(kept)) < len(kept):
        raise InputError(f"{name} · {say_place(where, data)} · has changed meanwhile · look at it again")
    if len(kept) == len(rows) and kept == list(range(len(old))):
        return text
    new = [
        copy_plain(old[row.old]) if row.old is not None else _new_row(row.changes)
        for row in rows
    ]  # fmt: skip
    wanted = _put(text, where, new)
    for attempt in (_edit_blocks, _edit_lines, _edit_value):
        edited = attempt(text, where, rows, new, name)
        if edited is not None and _reads_as(edited, wanted, where):
            return edited
    raise InputError(
        f"{name} · {say_place(where, data)} · cannot be edited without touching other values · change it in the file itself"
    )


def _new_row(changes: Mapping[str, Any]) -> dict[str, Any]:
    return {key: as_plain(value) for key, value in changes.items() if value is not None}


def _changes(where: KeyPath, rows: Sequence[RowEdit]) -> dict[str, Any]:
    place = place_text(where)
    return {
        f'{place}[{row.old}]."{key}"': value
        for row in rows
        if row.old is not None
        for key, value in row.changes.items()
    }


def _old_rows(data: Any, where: KeyPath, name: str) -> list[Any]:
    here = value_at(data, where)
    if here is None and isinstance(value_at(data, where[:-1]), dict):
        return []
    if not isinstance(here, list):
        rule = "stands in a file of its own" if isinstance(here, str) else "is not a list"
        raise InputError(f"{name} · {say_place(where, data)} · {rule} · change it in the file itself")
    return here


def _reads_as(text: str, wanted: Any, where: KeyPath) -> bool:
    try:
        found = parse_toml(text)
    except Unreadable:
        return False
    return bool(found == wanted) or bool(_without_empty(found, where) == _without_empty(wanted, where))


def _without_empty(data: Any, where: KeyPath) -> Any:
    """A copy of the data in which an empty list at the place is left out."""
    data = copy_plain(data)
    holder = data
    for step in where[:-1]:
        try:
            holder = holder[step]
        except (KeyError, IndexError, TypeError):
            return data
    if isinstance(holder, dict) and holder.get(str(where[-1])) == []:
        del holder[str(where[-1])]
    return data


def _edit_value(text: str, where: KeyPath, rows: Sequence[RowEdit], new: list[Any], name: str) -> str | None:
    """The list written as one value, where it stands as one."""
    try:
        return edit_text(text, {place_text(where): new or None}, name)
    except InputError:
        return None


def _edit_blocks(text: str, where: KeyPath, rows: Sequence[RowEdit], new: list[Any], name: str) -> str | None:
    """Blocks of lines under [[headers]] moved, put in and taken out; None where the list is not written so."""
    lines = text.split("\n")  # not splitlines: that also splits within texts
    tables = find_tables(text)
    spans = _spans(tables, where)
    if spans is None:
        return None
    header = ".".join(_bare(step) for step in where if isinstance(step, str))
    blocks = [lines[first : last + 1] for first, last in spans]
    if not spans:
        at = _end_of(tables, where[:-1], len(lines))
        return _joined(lines[:at], *([*table_lines(header, row), ""] for row in new), lines[at:])
    kept = [row.old for row in rows if row.old is not None]
    slots = sorted(kept) or [0]
    filled: dict[int, list[str]] = {slot: [] for slot in slots}
    seen = 0
    for row, table in zip(rows, new, strict=True):
        slot = slots[max(0, min(seen, len(slots)) - (row.old is None and seen > 0))]
        part = blocks[row.old] if row.old is not None else table_lines(header, table)
        filled[slot] += [*([""] if filled[slot] else []), *part]
        seen += row.old is not None
    result: list[str] = []
    at = 0
    for number, (first, last) in enumerate(spans):
        result += lines[at:first]
        result += filled.get(number, [])
        at = last + 1
        if not filled.get(number):  # taken out: its blank line goes too
            while at < len(lines) and not lines[at].strip() and (not result or not result[-1].strip()):
                at += 1
    return _joined(result, lines[at:])


def _edit_lines(text: str, where: KeyPath, rows: Sequence[RowEdit], new: list[Any], name: str) -> str | None:
    """Lines of a value that has a line for each row moved and taken out, each with what is noted at its end; None where it has not."""
    lines = text.split("\n")
    opens = re.compile(rf'\s*"?{re.escape(str(where[-1]))}"?\s*=\s*\[\s*(#.*)?')
    for start in (number for number, line in enumerate(lines) if opens.fullmatch(line)):
        end = next((n for n in range(start + 1, len(lines)) if re.fullmatch(r"\s*\]\s*(#.*)?", lines[n])), start)
        slots = [n for n in range(start + 1, end) if lines[n].lstrip().startswith("{")]
        ended = [_with_comma(lines[n]) for n in slots]
        if any(row.old is None or row.old >= len(slots) for row in rows) or None in ended:
            continue
        moved = dict(zip(slots, (ended[row.old] for row in rows if row.old is not None), strict=False))
        edited = [moved.get(n, lines[n]) for n in range(len(lines)) if n in moved or n not in slots]
        result = "\n".join(line for line in edited if line is not None)
        if _reads_as(result, _put(text, where, new), where):
            return result
    return None


def _with_comma(line: str) -> str | None:
    """The line of a row of a list with a comma behind the row; None where it holds more than one whole row."""
    for brace in (n for n, letter in enumerate(line) if letter == "}"):
        row, rest = line[: brace + 1], line[brace + 1 :].lstrip()
        rest = rest.removeprefix(",").strip()
        try:
            tomllib.loads(f"row = {row.strip()}")
        except tomllib.TOMLDecodeError:
            continue
        return f"{row},{f' {rest}' if rest else ''}" if not rest or rest.startswith("#") else None
    return None


def _put(text: str, where: KeyPath, new: list[Any]) -> Any:
    wanted = copy_plain(parse_toml(text))
    put_value(wanted, where, new or None)
    return wanted


def _joined(*parts: list[str]) -> str:
    return "\n".join(line for part in parts for line in part).rstrip("\n") + "\n"


def _bare(key: str) -> str:
    return key if key.replace("-", "a").replace("_", "a").isalnum() and key.isascii() else f'"{key}"'


def _spans(tables: list[tuple[KeyPath, int, int]], where: KeyPath) -> list[tuple[int, int]] | None:
    """First and last line, from 0, of each row of the list; None where a row's tables do not stand together."""
    spans: list[tuple[int, int]] = []
    depth = len(where)
    last_of = -1
    for place, first, last in tables:
        if place[:depth] != where or len(place) <= depth or not isinstance(place[depth], int):
            last_of = -1
            continue
        number = place[depth]
        if number == len(spans) and len(place) == depth + 1:
            spans.append((first, last))
        elif number == last_of == len(spans) - 1:
            spans[-1] = (spans[-1][0], last)
        else:
            return None
        last_of = number
    return spans


def _end_of(tables: list[tuple[KeyPath, int, int]], parent: KeyPath, end: int) -> int:
    """The line before which a first row is put: behind all that belongs to the same table."""
    ends = [last + 1 for place, _, last in tables if parent and place[: len(parent)] == parent]
    return max(ends, default=end)


__all__ = ["RowEdit", "edit_list"]
