"""Brings a scenario's text together: its own file, the files its tables are in, its orders, and what was set by hand.

What comes back is plain data, the file and line of everything in it, and the
faults found so far. Where a fault leaves a hole, the hole is named, so that
nothing else is said about it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from shopsim.errors import Fault
from shopsim.scenario.lines import find_lines
from shopsim.scenario.model import Scenario
from shopsim.scenario.orders_file import read_orders
from shopsim.scenario.places import Finding, KeyPath, NameSuggester, SourceMap, SourcePosition
from shopsim.scenario.reading_on import find_marks, read_on
from shopsim.scenario.text import IncludedFiles, Unreadable, say_file
from shopsim.scenario.values import OrderBook

#: Top-level tables that may be a path to another file, and lists whose items may.
TABLES = ("shop", "design", "run", "luck", "shipping", "money", "learned")
LISTS = {"designs": "design", "materials": "material"}


@dataclass
class Source:
    """Plain data of a scenario, and where it stands.

    ``holes``: places whose value could not be had; a fault about each is in
    ``faults`` already. ``remarks``: what of the files was passed over. ``order_lines``: file line of each order of a book, by
    the place of the book.
    """

    spots: SourceMap
    beside: IncludedFiles
    data: dict[str, Any] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    remarks: list[Fault] = field(default_factory=list)
    holes: set[KeyPath] = field(default_factory=set)
    order_lines: dict[KeyPath, list[int]] = field(default_factory=dict)
    suggester: NameSuggester = field(default_factory=NameSuggester)

    def find_fault(self, where: KeyPath, rule: str, mend: str) -> None:
        """Add a fault at a place, and make the place a hole."""
        self.faults.append(self.spots.fault(Finding(where, rule, mend), self.data))
        self.holes.add(where)


def read_source(text: str, name: str, beside: IncludedFiles) -> Source | tuple[Fault, ...]:
    """The data of a scenario's own file, other files not yet followed; faults where too much of it is not TOML."""
    spots = SourceMap(name)
    text, data, unread = read_on(text)
    faults = [Fault(name, error.line, "", error.rule, error.mend) for error in unread]
    if data is None:
        return tuple(faults)
    for where, line in find_lines(text).items():
        spots.put(where, SourcePosition(name, line))
    source = Source(spots, beside, data, faults)
    _leave_out(source, data, ())
    return source


def follow_files(source: Source) -> None:
    """Put the tables that stand in files of their own in their places."""
    data = source.data
    for key in TABLES:
        if isinstance(data.get(key), str):
            _follow(source, (key,), (key,), dict)
    for key, single in LISTS.items():
        if isinstance(data.get(key), str):
            _follow(source, (key,), (key,), list)
        elif isinstance(data.get(key), list):
            for number, item in enumerate(data[key]):
                if isinstance(item, str):
                    _follow(source, (key, number), (single, key), dict)


def _follow(source: Source, where: KeyPath, headers: tuple[str, ...], kind: type) -> None:
    """Put what the file named at ``where`` holds in its place, from file to file."""
    holder: Any = source.data
    for step in where[:-1]:
        holder = holder[step]
    name: Any = holder[where[-1]]
    trail: list[str] = []
    said: list[str] = []
    while isinstance(name, str):
        try:
            key, text = source.beside.read(name, ".toml")
            said.append(name)
            if key in trail:
                raise Unreadable(f"the files name each other in a circle: {' → '.join(said)}", "write the table itself")
            trail.append(key)
        except Unreadable as error:
            if error.line is not None:
                source.spots.put(where, SourcePosition(name, error.line))
            said_so = say_file(name) in error.rule or "circle" in error.rule
            rule = error.rule if said_so else f"{say_file(name)}: {error.rule}"
            source.find_fault(where, rule, error.mend)
            return
        text, whole, unread = read_on(text)
        for slip in unread:
            source.spots.put(where, SourcePosition(name, slip.line))
            source.faults.append(source.spots.fault(Finding(where, slip.rule, slip.mend), source.data))
        if whole is None:
            source.holes.add(where)
            return
        found, inside, strange = _pick(whole, headers, kind)
        every = find_lines(text)
        for key in strange:
            source.faults.append(
                Fault(name, every.get((key,)), key, "is not a known key", f"take it out, or put it under [{inside[0]}]")
            )
        lines = {place: line for place, line in every.items() if place[: len(inside)] == inside}
        source.spots.replace(where, SourcePosition(name, lines.get(inside)))
        for place, line in lines.items():
            source.spots.put(where + place[len(inside) :], SourcePosition(name, line))
        if not isinstance(found, kind | str):
            wanted = "a table" if kind is dict else "a list of tables"
            source.find_fault(
                where, f'"{headers[0]}" is not {wanted} in this file', f"write [{headers[0]}] above its keys"
            )
            return
        _leave_out(source, found, where)
        name = found
    holder[where[-1]] = name


def _leave_out(source: Source, data: Any, where: KeyPath) -> None:
    """Make a hole of each value at or below a place that could not be read."""
    for mark in list(find_marks(data)) if isinstance(data, dict | list) else ():
        source.holes.add(where + mark)
        holder: Any = data
        for step in mark[:-1]:
            holder = holder[step]
        holder[mark[-1]] = None


def _pick(whole: dict[str, Any], headers: tuple[str, ...], kind: type) -> tuple[Any, KeyPath, list[str]]:
    """(table, its place, strange keys) of a file: under a header of its name if it has one, else the whole file.

    Such a file may be another scenario, whose other tables are left alone.
    """
    for header in headers:
        found = whole.get(header)
        if not isinstance(found, dict | list | str):
            continue
        strange = [key for key in whole if key != header and key not in Scenario.model_fields]
        if isinstance(found, list) and kind is dict and len(found) == 1:
            return found[0], (header, 0), strange
        return found, (header,), strange
    return whole, (), []


def read_order_books(source: Source) -> None:
    """Put the orders of CSV files in their places."""
    run = source.data.get("run")
    if not isinstance(run, dict):
        return
    places: list[tuple[KeyPath, dict[str, Any]]] = [(("run", "orders"), run)]
    if isinstance(run.get("lines"), list):
        places.extend(
            (("run", "lines", number, "orders"), line)
            for number, line in enumerate(run["lines"])
            if isinstance(line, dict)
        )
    for where, table in places:
        name = table.get("orders")
        if not isinstance(name, str) or not name.lower().endswith(".csv"):
            continue
        try:
            _, text = source.beside.read(name, ".csv")
        except Unreadable as error:
            if error.line is not None:
                source.spots.put(where, SourcePosition(name, error.line))
            rule = error.rule if say_file(name) in error.rule else f"{say_file(name)}: {error.rule}"
            source.find_fault(where, rule, error.mend)
            continue
        source.spots.put_file(name)
        orders, lines, faults, remarks = read_orders(text, name)
        source.faults.extend(faults)
        source.remarks.extend(remarks)
        if faults:
            source.holes.add(where)
        elif orders:
            table["orders"] = OrderBook(name, tuple(orders))
            source.order_lines[where] = lines
            for number, line in enumerate(lines):
                source.spots.put((*where, number), SourcePosition(name, line))
