"""Values set by hand, as ``run.batch=5``: reads the place, finds it in the data, puts the value there."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from shopsim.errors import Fault
from shopsim.scenario.fields import fields_at, is_list_at
from shopsim.scenario.former_keys import former_key
from shopsim.scenario.places import KeyPath, NameSuggester, SourcePosition, clean, say_names, say_place
from shopsim.scenario.source import Source
from shopsim.scenario.syntax import DEEPEST

#: What may be given as settings: texts like ``run.batch=5``, or a mapping of places to values.
Settings = Iterable[str] | Mapping[str, Any]

_STEP = re.compile(r"""\s*(?:\[\s*(\d{1,6})\s*\]|"((?:[^"\\]|\\.)*)"|'([^']*)'|([^.\[\]"'=]+))\s*(\.?)""")


#: Stands for the value of a text that has no ``=``.
NO_VALUE = object()


class NoSuchPlace(Exception):
    """A place cannot be found: ``rule`` and ``mend``."""

    def __init__(self, rule: str, mend: str) -> None:
        super().__init__(rule, mend)
        self.rule = rule
        self.mend = mend


def split_settings(settings: Settings, label: str = "--set") -> list[tuple[str, str, Any]]:
    """(file for faults, place, value) of each setting, in order; None takes a key out."""
    if isinstance(settings, str):
        settings = (settings,)
    if isinstance(settings, Mapping):
        return [
            (clean(f"{label} {place}={_show(value)}", 160), str(place), as_plain(value))
            for place, value in settings.items()
        ]
    split = []
    for text in settings:
        place, equals, value = text.partition("=")
        if '"' in place or "'" in place:  # an equals sign may stand in a quoted name
            found = re.match(r"""((?:[^"'=]|"(?:[^"\\]|\\.)*"|'[^']*')*)=""", text)
            if found:
                place, equals, value = found[1], "=", text[found.end() :]
        split.append((clean(f"{label} {text}", 160), place.strip(), read_value(value) if equals else NO_VALUE))
    return split


def _show(value: Any) -> str:
    return str(value) if not isinstance(value, Mapping | list | tuple) else "…"


def as_plain(value: Any) -> Any:
    """The value as plain data: tuples become lists, numbers of number libraries become Python's."""
    if isinstance(value, Mapping):
        return {str(key): as_plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_plain(item) for item in value]
    if not isinstance(value, bool | int | float | str | dt.date) and callable(getattr(value, "item", None)):
        return value.item()
    return value


def read_value(text: str) -> Any:
    """A TOML value (``5``, ``true``, ``2027-01-08``, ``["a"]``), else the text itself."""
    text = text.strip()
    if "\n" not in text and "\r" not in text:
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except (ValueError, RecursionError):
            pass
    return text


def split_place(text: str) -> list[str | int]:
    """The steps of a place: ``shop.clamps[0].count``, ``shop.clamps."bar clamp".count``; raises NoSuchPlace."""
    steps: list[str | int] = []
    at = 0
    more = True
    while at < len(text):
        found = _STEP.match(text, at)
        if not found or len(steps) >= DEEPEST:
            raise NoSuchPlace(f'"{clean(text, 80)}" is not a place', "write it like run.batch or shop.clamps[0].count")
        index, double, single, bare, dot = found.groups()
        if index is not None:
            steps.append(int(index))
        elif double is not None:
            steps.append(re.sub(r"\\(.)", r"\1", double))
        else:
            name = single if single is not None else bare.strip()
            if not name:
                raise NoSuchPlace(f'"{clean(text, 80)}" is not a place', "write it like run.batch")
            steps.append(name)
        more = bool(dot)
        at = found.end()
        if not more and at < len(text) and text[at] != "[":
            raise NoSuchPlace(f'"{clean(text, 80)}" is not a place', "put a dot between its parts")
    if not steps or more:
        raise NoSuchPlace(f'"{clean(text, 80)}" is not a place', "write it like run.batch or shop.clamps[0].count")
    return steps


def find_place(data: dict[str, Any], text: str, suggester: NameSuggester) -> KeyPath:
    """The place a text means in the data; its last key may be absent. Raises NoSuchPlace, naming the nearest."""
    here: Any = data
    where: KeyPath = ()
    for step in split_place(text):
        said = say_place(where, data)
        if isinstance(here, list):
            number = _find_item(here, step, said, suggester)
            where, here = (*where, number), here[number]
            continue
        if where and here is not None and not isinstance(here, dict):
            raise NoSuchPlace(f"{said} is one value, with nothing in it", f"set {said} as a whole")
        if here is None and is_list_at(where):
            raise NoSuchPlace(f"{said} has nothing in it", "write the list in the file first")
        key = str(step)
        known = fields_at(where)
        if known is not None and key not in known:
            raise _no_such_key(key, known, here, where, said, suggester)
        where = (*where, key)
        here = here.get(key) if isinstance(here, dict) else None
    return where


def _no_such_key(
    key: str, known: Iterable[str], here: Any, where: KeyPath, said: str, suggester: NameSuggester
) -> NoSuchPlace:
    former = former_key((*where, key), None, {})
    if former:
        return NoSuchPlace(f"{said}.{key} {former.rule}", former.mend)
    names = [*(here if isinstance(here, dict) else ()), *known]
    near = suggester.nearest(key, names)
    return NoSuchPlace(
        f'there is no "{clean(key, 60)}"' + (f" in {said}" if said else ""),
        f'write "{near}"' if near else f"known here are {say_names(dict.fromkeys(known), 40)}",
    )


def _find_item(items: list[Any], step: str | int, said: str, suggester: NameSuggester) -> int:
    if isinstance(step, str) and step.isascii() and step.isdigit():
        step = int(step)
    if isinstance(step, int):
        if step < len(items):
            return step
        count = f"there are {len(items)}, counted from 0" if items else "there are none"
        raise NoSuchPlace(f"{said} has no [{step}]", count)
    names: dict[str, int] = {}
    for number, item in enumerate(items):
        if isinstance(item, dict):
            for key in ("name", "design", "kind"):
                if isinstance(item.get(key), str):
                    names.setdefault(item[key], number)
                    break
    if step in names:
        return names[step]
    folded = {name.casefold(): number for name, number in names.items()}
    if step.casefold() in folded:
        return folded[step.casefold()]
    near = suggester.nearest(step, names)
    raise NoSuchPlace(
        f'{said} has no "{clean(step, 60)}"',
        f'write "{near}"' if near else (f"known are {say_names(names)}" if names else "there are none with a name"),
    )


def put_value(data: dict[str, Any], where: KeyPath, value: Any) -> None:
    """Put a value at a place, making the tables above it where they are absent; None takes the key out."""
    holder: Any = data
    for step in where[:-1]:
        if isinstance(holder, dict) and holder.get(str(step)) is None:
            if value is None:
                return
            holder[step] = {}
        holder = holder[step]
    if value is not None:
        holder[where[-1]] = value
    elif isinstance(holder, list):
        del holder[int(where[-1])]
    else:
        holder.pop(where[-1], None)


def apply_settings(source: Source, settings: Iterable[tuple[str, str, Any]], *, whole_tables: bool) -> None:
    """Put values into a source; ``whole_tables``: only those that replace a top-level value, else only the others.

    The former come before files are followed, as they may name one.
    """
    for file, text, value in settings:
        try:
            is_whole = len(split_place(text)) == 1
        except NoSuchPlace:
            is_whole = False
        if is_whole is not whole_tables:
            continue
        source.spots.put_file(file)
        try:
            if value is NO_VALUE:
                raise NoSuchPlace("no value is given", "write it as place=value, like run.batch=5")
            where = find_place(source.data, text, source.suggester)
            if any(where[: len(hole)] == hole for hole in source.holes):
                continue  # a fault about it is known already
            new = _new_from(source.data, where)
            put_value(source.data, where, value)
        except NoSuchPlace as error:
            source.faults.append(Fault(file, None, "", clean(error.rule), clean(error.mend)))
            continue
        source.spots.replace(new, SourcePosition(file))
        for length in range(1, len(where)):
            if fields_at(where[:length]) is None:  # within one value, such as opening hours: faults are about the whole
                source.spots.put(where[:length], SourcePosition(file))


def _new_from(data: Any, where: KeyPath) -> KeyPath:
    """The outermost part of a place that is not in the data yet."""
    here = data
    for length, step in enumerate(where[:-1], start=1):
        here = here.get(step) if isinstance(here, dict) else here[step] if isinstance(step, int) else None
        if here is None:
            return where[:length]
    return where


__all__ = [
    "NoSuchPlace", "Settings", "apply_settings", "as_plain", "find_place", "put_value", "read_value",
    "split_place", "split_settings",
]  # fmt: skip
