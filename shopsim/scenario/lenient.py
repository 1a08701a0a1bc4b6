"""Reads plain data into a Scenario although it has faults, so that all of them can be told at once.

Every fault of a single field is told, and the field is then left out, or filled
with something harmless where it is needed. Rules across fields can so be
checked on all the rest; they keep silent about the places that were filled.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache, lru_cache
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from shopsim.scenario.fields import field_at, fields_at, record_at
from shopsim.scenario.former_keys import former_key
from shopsim.scenario.model import Scenario
from shopsim.scenario.phrases import say_error, say_missing
from shopsim.scenario.places import UNREAD, Finding, KeyPath, NameSuggester, say_names

_MAX_ROUNDS = 50

#: Keys that makers write for ours.
_OTHER_WORDS = {
    "hours": "open", "opening": "open", "holidays": "closed", "people": "workers", "staff": "workers",
    "machines": "stations", "clamp": "clamps", "places": "spots", "slots": "spots", "skills": "can", "does": "can",
    "time": "work", "minutes": "work", "duration": "work", "run_time": "work", "set_up": "setup", "machine": "station",
    "depends_on": "after", "comes_after": "after", "people_needed": "hands", "workers_needed": "hands",
    "clamp_time": "in_clamps", "clamped": "in_clamps", "curing": "cure", "drying": "cure", "dry": "cure",
    "batch_size": "batch", "amount": "count", "quantity": "count", "length": "reach", "cost": "price",
    "begin": "start", "start_date": "start", "rule": "priority",
}  # fmt: skip


@dataclass
class PartialReading:
    """What came of reading: the scenario where one could be made, and what was found on the way.

    ``holes``: places that were left out or filled, about which nothing more is to be said.
    ``renamed``: places read under another key than the file has, by the new place.
    """

    scenario: Scenario | None = None
    findings: list[Finding] = field(default_factory=list)
    holes: set[KeyPath] = field(default_factory=set)
    renamed: dict[KeyPath, KeyPath] = field(default_factory=dict)
    data: dict[str, Any] = field(default_factory=dict)


def read_leniently(data: dict[str, Any], holes: Iterable[KeyPath], suggester: NameSuggester) -> PartialReading:
    """Read plain data; ``holes`` are places already known to be faulty."""
    read = PartialReading(data=copy_plain(data))
    for hole in sorted(holes, key=len):
        _fill(read, hole)
    guessed: set[KeyPath] = set()
    for _ in range(_MAX_ROUNDS):
        try:
            read.scenario = Scenario.model_validate(read.data)
            return read
        except ValidationError as error:
            errors = error.errors(include_url=False)
        for detail in errors:
            if detail["type"] == "extra_forbidden":
                _take_out(read, detail, guessed, suggester)
        for detail in errors:
            if detail["type"] != "extra_forbidden":
                _mend(read, detail, guessed, suggester)
    return read


def copy_plain(value: Any) -> Any:
    """A copy of plain data; records within it are shared."""
    if isinstance(value, dict):
        return {key: copy_plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return [copy_plain(item) for item in value]
    return value


def _is_hole(read: PartialReading, where: KeyPath) -> bool:
    return any(where[:length] in read.holes for length in range(len(where) + 1))


def _table_at(data: Any, where: KeyPath) -> Any:
    for step in where:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _take_out(read: PartialReading, detail: ErrorDetails, guessed: set[KeyPath], suggester: NameSuggester) -> None:
    """An unknown key: tell it, and read its value under the key that was meant, if that is plain."""
    where: KeyPath = tuple(detail["loc"])
    table = _table_at(read.data, where[:-1])
    if not isinstance(table, dict) or where[-1] not in table:
        return
    key = str(where[-1])
    value = table.pop(where[-1])
    known = fields_at(where[:-1]) or []
    free = [name for name in known if name not in table]
    other = _OTHER_WORDS.get(key.casefold().replace("-", "_").replace(" ", "_"))
    former = former_key(where, value, read.data)
    near = other if other in known else suggester.nearest(key, [*free, *known], 0.7)
    elsewhere = _owners().get(key) if len(where) <= 2 and not near else None
    if not _is_hole(read, where):
        rule, mend = "is not a known key", _say_known(tuple(known))
        if former:
            rule, mend = former.rule, former.mend
        elif near:
            mend = f'write "{near}"'
        elif elsewhere and isinstance(value, list) and value and isinstance(value[0], dict):
            mend = f"write [[{elsewhere}.{key}]]"
        elif elsewhere:
            mend = f"put it under [{elsewhere}]"
        read.findings.append(Finding(where, rule, mend))
    if former and former.value is None:
        read.holes.add((*where[:-1], former.key))
    elif former:
        _read_as(read, where, (*where[:-1], former.key), former.value, guessed)
    elif near:
        _read_as(read, where, (*where[:-1], near), value, guessed)
    elif elsewhere:
        _read_as(read, where, (elsewhere, key), value, guessed)


@cache
def _owners() -> dict[str, str]:
    """For each key that a single table of the file has, and no other: which. A name could be anybody's."""
    tables = {table: fields_at((table,)) or [] for table in ("shop", "design", "shipping", "luck", "money", "run")}
    every = [key for keys in tables.values() for key in keys]
    return {key: table for table, keys in tables.items() for key in keys if every.count(key) == 1 and key != "name"}


@lru_cache(maxsize=64)
def _say_known(known: tuple[str, ...]) -> str:
    return f"take it out; known here are {say_names(known, 40)}"


def _read_as(read: PartialReading, where: KeyPath, meant: KeyPath, value: Any, guessed: set[KeyPath]) -> None:
    """Read a value at the place that was meant; a table is joined to one that is there, what that lacks alone."""
    table = _table_at(read.data, meant[:-1])
    if not isinstance(table, dict):
        return
    if meant[-1] not in table:
        table[meant[-1]] = value
        guessed.add(meant)
        read.renamed[meant] = where
    elif isinstance(value, dict) and isinstance(table[meant[-1]], dict):
        for key, item in value.items():
            if key not in table[meant[-1]]:
                table[meant[-1]][key] = item
                read.renamed[(*meant, key)] = (*where, key)


def _mend(read: PartialReading, detail: ErrorDetails, guessed: set[KeyPath], suggester: NameSuggester) -> None:
    """Any other fault of one field: tell it, and fill the field."""
    where: KeyPath = tuple(detail["loc"])
    if where and where[-1] == "[key]":  # the key of a table of parts
        where = where[:-1]
        holder = _table_at(read.data, where[:-1])
        if isinstance(holder, dict):
            holder.pop(where[-1], None)
        if not _is_hole(read, where):
            rule, mend = say_error(detail, field_at(where), suggester)
            read.findings.append(Finding(where[:-1], f"a name in it {rule}", mend))
        read.holes.add(where)
        return
    if detail["type"] == "missing":
        table = _table_at(read.data, where[:-1])
        if isinstance(table, dict) and where[-1] in table:
            return  # it was there under a misspelt key
    if not _is_hole(read, where) and where not in guessed:
        if detail["type"] == "missing":
            rule, mend = say_missing(where)
        else:
            rule, mend = say_error(detail, field_at(where), suggester)
        read.findings.append(Finding(where, rule, mend))
    _fill(read, where)


def _fill(read: PartialReading, where: KeyPath) -> None:
    """Leave a value out, or put something harmless in its place where one is needed."""
    again = where in read.holes
    read.holes.add(where)
    if not where:
        read.data = {}
        return
    holder = _table_at(read.data, where[:-1])
    last = where[-1]
    if isinstance(last, int):
        if isinstance(holder, list) and last < len(holder):
            record = record_at(where)
            holder[last] = {} if record is not None and not isinstance(holder[last], dict) else _harmless_item(where)
        elif len(where) > 1:
            _fill(read, where[:-1])
        return
    if not isinstance(holder, dict):
        if len(where) > 1:
            _fill(read, where[:-1])
        return
    entry = field_at(where)
    if entry is None and where[-2:-1] == ("parts",):
        holder[last] = 1  # how many of a part
    elif entry is None or not entry.is_required() or again:
        holder.pop(last, None)
    else:
        holder[last] = _harmless(where, read.data)


def _harmless_item(where: KeyPath) -> Any:
    return "1990-01-01" if where[-2] == "closed" else UNREAD if record_at(where) is None else {}


def _harmless(where: KeyPath, data: dict[str, Any]) -> Any:
    """A value for a needed key that no rule across fields takes offence at."""
    key = where[-1]
    if key in ("name", "design", "operation", "order", "log", "part", "wood", "material"):
        return UNREAD + "".join(f".{step}" for step in where)
    plain: dict[str, Any] = {
        "spots": 100_000, "count": 100_000, "open": "always", "chance": "0 %", "work": "0 min",
        "operations": [{"name": UNREAD}], "needed_by": [UNREAD], "orders": 1, "shop": {"open": "always"},
        "run": {"orders": 1, "start": "2027-01-04"},
        "units": 1, "mean": 0.0, "days": 1, "pit": 0.5, "amount": 1.0,
        **dict.fromkeys(("thickness", "width", "length"), "0.001 mm"),
    }  # fmt: skip
    return plain[str(key)]
