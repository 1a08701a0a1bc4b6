"""What has been given another name is called by it everywhere in the file."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from shopsim.scenario.key_paths import names_at, place_text, value_at
from shopsim.scenario.places import KeyPath
from shopsim.scenario.references import find_references

#: Kinds of things that each design has of its own, so that two of one name can stand in one file.
_OF_A_DESIGN = ("operations", "parts", "options")


def follow_renames(data: Mapping[str, Any], where: KeyPath, renames: Mapping[str, str]) -> dict[str, Any]:
    """Changes that put new names where the old ones are still used, as ``change_draft`` takes them.

    ``where``: the list whose rows were renamed, such as ``("shop", "stations")``, or ``("designs",)`` for the name of
    a design; ``data``: plain data of the file, in which the rows have their new names. Where another design has an
    operation of the old name as well, what names it for all designs, such as a worker's skills, names both.
    """
    kind = where[-1]
    design = where[:-1] if kind in _OF_A_DESIGN else None
    own = value_at(data, (*design, "name")) if design is not None else None
    others = set(_names_elsewhere(data, design, str(kind))) if design is not None else set()
    changes: dict[str, Any] = {}
    for reference in find_references(data):
        if reference.kind != kind:
            continue
        kept: Collection[str] = ()
        if design is not None and reference.where[0] in ("design", "designs"):
            if reference.where[: len(design)] != design:
                continue
        elif design is not None:
            if reference.design not in (None, own):
                continue
            kept = others if reference.design is None else ()
        value = reference.value
        if isinstance(value, str) and value in renames and value in kept:
            if not reference.many:
                continue
            value = [value]
        new = _renamed(value, renames, kept)
        if new != reference.value:
            changes[place_text(reference.where)] = new
    return changes


def _names_elsewhere(data: Mapping[str, Any], design: KeyPath, kind: str) -> Iterator[str]:
    """Names of that kind in the other designs, operations that their options and ways add among them."""
    several = data.get("designs")
    places: list[KeyPath] = [("design",)]
    places += [("designs", number) for number in range(len(several) if isinstance(several, list) else 0)]
    for place in places:
        if place == design:
            continue
        yield from names_at(data, (*place, kind))
        for key in ("options", "ways") if kind == "operations" else ():
            adding = value_at(data, (*place, key))
            for number in range(len(adding) if isinstance(adding, list) else 0):
                yield from names_at(data, (*place, key, number, "add"))


def _renamed(value: Any, renames: Mapping[str, str], kept: Collection[str]) -> Any:
    """A name, or a list of names, with new ones for old; those ``kept`` stay beside the new ones in a list."""
    if isinstance(value, str):
        return renames.get(value, value)
    new: list[Any] = []
    for item in value:
        if isinstance(item, str) and item in renames:
            new += [item, renames[item]] if item in kept else [renames[item]]
        else:
            new.append(item)
    return [item for number, item in enumerate(new) if item not in new[:number]] if new != value else value
