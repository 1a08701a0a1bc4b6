"""What has been given another name is called by it everywhere in the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shopsim.app.spots import value_at
from shopsim.scenario.places import Where

#: Keys of an operation that name a thing of each kind.
_KEYS = {
    "operations": ("after", "before"),
    "parts": ("per",),
    "stations": ("station",),
    "racks": ("rest", "rest.rack"),
    "clamps": ("kind",),
    "designs": ("design",),
}


def follow_renames(data: Mapping[str, Any], where: Where, renames: Mapping[str, str]) -> dict[str, Any]:
    """Changes that put new names where the old ones are still used, as ``change_draft`` takes them.

    ``where``: the list whose rows were renamed, such as ``("shop", "stations")``, or ``("designs",)`` for the name of
    a design; ``data``: plain data of the file.
    """
    kind = where[-1]
    if kind not in _KEYS or not renames:
        return {}
    changes: dict[str, Any] = {}
    uses = _uses_of_designs(data) if kind == "designs" else _uses(data, kind, where)
    for place, value in uses:
        new = _renamed(value, renames)
        if new != value:
            changes[place] = new
    return changes


def _uses(data: Mapping[str, Any], kind: str | int, where: Where) -> Iterator[tuple[str, Any]]:
    """(place, value) of everything that names a thing of a kind."""
    for design_place, design in _designs(data):
        if kind in ("operations", "parts") and design_place != _text_of(where[:-1]):
            continue
        keys = _KEYS[str(kind)]
        for place, step in _steps(design_place, design):
            tables = [(place, step)]
            if kind == "clamps":
                tables = [(f"{place}.clamps[{n}]", need) for n, need in _items(step, "clamps")]
            for inner_place, table in tables:
                yield from _values(inner_place, table, keys)
        if kind == "operations":
            for number, option in _items(design, "options"):
                yield from _values(f"{design_place}.options[{number}]", option, ("drop",))
                for n, change in _items(option, "change"):
                    yield from _values(f"{design_place}.options[{number}].change[{n}]", change, ("operation",))
    if kind == "operations":
        shop = data.get("shop")
        for number, worker in _items(shop, "workers"):
            yield from _values(f"shop.workers[{number}]", worker, ("can",))
        for number, material in _items(data, "materials"):
            yield from _values(f"materials[{number}]", material, ("needed_by",))
        yield from _logged(data, value_at(data, where[:-1]))
    if kind == "stations":
        yield from _values("shipping", data.get("shipping"), ("packing_station",))


def _uses_of_designs(data: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for number, line in _items(data.get("run"), "lines"):
        yield from _values(f"run.lines[{number}]", line, ("design",))
    for number, times in _items(data.get("learned"), "times"):
        yield from _values(f"learned.times[{number}]", times, ("design",))


def _logged(data: Mapping[str, Any], design: Any) -> Iterator[tuple[str, Any]]:
    """Logged times of operations, those of other designs left out."""
    name = design.get("name") if isinstance(design, Mapping) else None
    for number, times in _items(data.get("learned"), "times"):
        if times.get("design") in (None, name):
            yield from _values(f"learned.times[{number}]", times, ("operation",))


def _values(place: str, table: Any, keys: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    for key in keys:
        here = table
        for step in key.split("."):
            here = here.get(step) if isinstance(here, Mapping) else None
        if isinstance(here, str | list):
            yield f"{place}.{key}", here


def _designs(data: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    if isinstance(data.get("design"), Mapping):
        yield "design", data["design"]
    for number, design in _items(data, "designs"):
        yield f"designs[{number}]", design


def _steps(place: str, design: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The operations of a design, and those that its options add or change."""
    for number, step in _items(design, "operations"):
        yield f"{place}.operations[{number}]", step
    for number, option in _items(design, "options"):
        for key in ("add", "change"):
            for n, step in _items(option, key):
                yield f"{place}.options[{number}].{key}[{n}]", step


def _items(table: Any, key: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    items = table.get(key) if isinstance(table, Mapping) else None
    for number, item in enumerate(items if isinstance(items, list) else ()):
        if isinstance(item, Mapping):
            yield number, item


def _renamed(value: Any, renames: Mapping[str, str]) -> Any:
    if isinstance(value, list):
        return [_renamed(item, renames) for item in value]
    return renames.get(value, value) if isinstance(value, str) else value


def _text_of(where: Where) -> str:
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in where).removeprefix(".")
