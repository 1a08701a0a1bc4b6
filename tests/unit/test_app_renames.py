"""A thing that is given another name is called by it everywhere: each field of a file that names a thing, read from the records."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import pytest

from shopsim.app.renames import follow_renames
from shopsim.scenario import dump_scenario, read_scenario_text
from shopsim.scenario.base_record import Calls, Record
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import KeyPath
from shopsim.scenario.references import find_references, list_references, records_in
from shopsim.scenario.writing import edit_text

#: One thing of each kind, with letters that mean something in a file or in a place.
OLD = {
    "operations": 'cut 1/2" v.2', "parts": 'side "a".b', "stations": 'saw [0].x = "y"', "racks": "rack, 2' deep",
    "clamps": 'bar 24"', "materials": 'oak 4/4. "select"', "designs": 'tray No. 2 "deep"', "workers": "me",
    "ways": 'jig, "big" v.2',
}  # fmt: skip
NEW = 'better. "name" [1] = # \\ 3'

#: Fields of text that call nothing by a name that can be changed in a file: titles, logs and orders, words of the
#: program (handful, cautions), parts themselves and places that orders go to.
PLAIN_TEXT = {
    ("Scenario", "title"), ("LoggedTimes", "run"), ("LoggedTimes", "log"), ("LoggedDays", "log"),
    ("DeliveredOrder", "order"), ("DeliveredOrder", "run"), ("TakenLog", "log"), ("TakenLog", "digest"),
    ("Operation", "handful"), ("AddedOperation", "handful"), ("ChangedOperation", "handful"),
    ("Operation", "caution"), ("AddedOperation", "caution"), ("ChangedOperation", "caution"), ("Shipping", "caution"),
    ("Design", "parts"), ("Shipping", "transit"), ("ProductionRun", "locked"), ("Material", "unit"), ("MoneyTable", "currency"),
}  # fmt: skip


def example(several: bool, by_ways: bool = False) -> dict[str, Any]:
    """A scenario that names one thing of each kind in every field that can; ``by_ways``: in ways of making it instead of options."""
    cut, part, station, rack, clamp = (OLD[kind] for kind in ("operations", "parts", "stations", "racks", "clamps"))
    needs: dict[str, Any] = {"per": part, "station": station, "clamps": [{"count": 1, "kind": clamp}]}
    size = dict.fromkeys(("thickness", "width", "length"), "1 in")
    uses = {
        "boards": [{"part": part, "wood": OLD["materials"], **size}],
        "goods": [{"material": OLD["materials"], "amount": 1}],
    }
    design = {
        "name": OLD["designs"],
        **uses,
        "parts": {part: 2, "lid": 1},
        "operations": [
            {"name": cut, **needs, "rest": {"rack": rack, "spots": 2}},
            {"name": "sand", "after": cut, "rest": rack},
        ],
        "options": [
            {
                "name": "carved",
                "change": [{"operation": cut, **needs, "rest": rack}, {"operation": "sand", "after": [cut, "carve"]}],
                "add": [{"name": "carve", "after": [cut], "before": ["sand"], **needs, "rest": rack}],
                "materials": [OLD["materials"]],
                **({} if by_ways else uses),
            },
            {"name": "planed", "add": [{"name": "plane", "after": [], "before": [cut]}]},
            {"name": "raw", "drop": [cut]},
        ],
    }  # fmt: skip
    if by_ways:  # a way may not leave out what an option names, so there is one or the other
        design["ways"] = design.pop("options")
        design["ways"][0]["name"] = OLD["ways"]
    data: dict[str, Any] = {
        "shop": {
            "open": "always",
            "workers": [{"name": OLD["workers"], "can": [cut, "sand", "carve", "plane", "packing"]}],
            "stations": [{"name": station}],
            "racks": [{"name": rack, "spots": 9}],
            "clamps": [{"name": clamp, "count": 4}],
        },
        "materials": [{"name": OLD["materials"], "needed_by": [cut]}],
        "shipping": {"packing": "5 min", "packing_station": station},
        "learned": {"times": [{"operation": cut, "design": OLD["designs"], "units": 3, "mean": 0.1}]},
        "run": {"start": "2027-01-11", "lines": [{"design": OLD["designs"], "orders": 2}]},
    }
    if by_ways:
        data["run"]["ways"] = [OLD["ways"]]
    data["run"]["plan"] = {"order": [{"operation": cut, "design": OLD["designs"]}]}
    if several:
        other = {"name": "bowl", "operations": [{"name": "turn", "work": "5 min"}]}
        data["designs"] = [other, design]
        data["shop"]["workers"][0]["can"].append("turn")
        data["run"]["lines"].append({"design": "bowl", "orders": 1})
    else:
        data["design"] = design
    return data


def text_of(data: dict[str, Any]) -> str:
    """The data as a file."""
    return dump_scenario(Scenario.model_validate(data))


def places_of(kind: str, design: KeyPath) -> tuple[KeyPath, KeyPath]:
    """(the list in which a thing of that kind stands, where its own name stands)."""
    if kind == "designs":
        return ("designs",), (*design, "name")
    if kind in ("operations", "parts", "ways"):
        return (*design, kind), (*design, kind, 0, "name")
    where = ("materials",) if kind == "materials" else ("shop", kind)
    return where, (*where, 0, "name")


def keys_of(where: KeyPath) -> tuple[str, ...]:
    """The keys of a place, without the numbers of rows."""
    return tuple(step for step in where if isinstance(step, str))


def rename(data: dict[str, Any], kind: str, design: KeyPath) -> dict[str, Any]:
    """The file after the thing of that kind has been given its new name, as the app does it."""
    where, own = places_of(kind, design)
    changes: dict[str, Any] = {place_text(own): NEW}
    if kind == "parts":
        changes = {place_text((*where, OLD[kind])): None, place_text((*where, NEW)): 2}
    text = edit_text(text_of(data), changes, "shop.toml")
    text = edit_text(text, follow_renames(parse_toml(text), where, {OLD[kind]: NEW}), "shop.toml")
    assert [str(fault) for fault in read_scenario_text(text).faults] == []
    return parse_toml(text)


@pytest.mark.parametrize(
    ("keys", "kind"), sorted(list_references()), ids=lambda said: ".".join(said) if isinstance(said, tuple) else said
)
def test_every_field_that_names_a_thing_follows_its_new_name(keys: tuple[str, ...], kind: str) -> None:
    design: KeyPath = ("designs", 1) if keys[0] == "designs" else ("design",)
    data = parse_toml(text_of(example(keys[0] == "designs", by_ways="ways" in keys)))
    assert [str(fault) for fault in read_scenario_text(text_of(data)).faults] == []
    asked = {
        one.where
        for one in find_references(data)
        if keys_of(one.where)[: len(keys)] == keys and calls(one.value, OLD[kind])
    }
    assert asked, "the example names no such thing there"
    renamed = rename(data, kind, design)
    assert {one.where for one in find_references(renamed) if one.where in asked and calls(one.value, NEW)} == asked
    assert not [one for one in find_references(renamed) if one.kind == kind and calls(one.value, OLD[kind])]
    # nothing else has changed
    there = {one.where: one.value for one in find_references(renamed) if one.kind != kind}
    assert there == {one.where: one.value for one in find_references(data) if one.kind != kind}


def calls(value: Any, name: str) -> bool:
    """Whether a value, one name or several, calls a thing by a name."""
    return value == name or (isinstance(value, list) and name in value)


def test_every_field_of_text_names_a_thing_or_is_known_not_to() -> None:
    named = {(record.__name__, key) for record, key in text_fields(Scenario) if key != "name"}
    assert {(record, key) for record, key in named} == PLAIN_TEXT
    assert {kind for _, kind in list_references()} == set(OLD) - {"workers"}  # nobody is called by name


def text_fields(record: type[Record]) -> Iterator[tuple[type[Record], str]]:
    """(record, key) of every field, of a record and those within it, whose value holds text that is no word of the program."""
    for key, field in record.model_fields.items():
        if holds_text(field.annotation) and not any(isinstance(mark, Calls) for mark in field.metadata):
            yield record, key
        for inner in records_in(field.annotation):
            yield from text_fields(inner)


def holds_text(annotation: Any) -> bool:
    """Whether a value of this type is a free text, or a list of them."""
    if typing.get_origin(annotation) is typing.Literal:
        return False
    return annotation is str or any(holds_text(inner) for inner in typing.get_args(annotation))


def test_a_name_that_another_design_has_as_well_stays_beside_the_new_one() -> None:
    text = """\
[shop]
workers = [{ name = "maker", can = ["cut", "glue"] }]
[[designs]]
name = "tray"
operations = [{ name = "cut" }, { name = "glue", after = "cut" }]
[[designs]]
name = "stool"
operations = [{ name = "saw sides" }, { name = "glue", after = "saw sides" }]
options = [{ name = "oak", add = [{ name = "oil", after = ["glue"] }] }]
[[materials]]
name = "boards"
needed_by = "cut"
[learned]
times = [{ operation = "cut", design = "stool", units = 3 }, { operation = "cut", design = "tray", units = 3 }]
"""
    data = parse_toml(text)  # the stool's cutting has just been called saw sides
    assert follow_renames(data, ("designs", 1, "operations"), {"cut": "saw sides"}) == {
        '"shop"."workers"[0]."can"': ["cut", "saw sides", "glue"],
        '"learned"."times"[0]."operation"': "saw sides",
        # one name alone cannot stand for two: the boards are for both
        '"materials"[0]."needed_by"': ["cut", "saw sides"],
    }  # fmt: skip
    assert follow_renames(data, ("designs", 0, "operations"), {"old": "new"}) == {}


def test_two_things_that_change_names_with_each_other_are_followed_both() -> None:
    data = {"design": {"name": "tray", "operations": [{"name": "b"}, {"name": "a", "after": ["a"]}, {"name": "c", "after": ["b", "a"]}]}}  # fmt: skip
    assert follow_renames(data, ("design", "operations"), {"a": "b", "b": "a"}) == {
        '"design"."operations"[1]."after"': ["b"], '"design"."operations"[2]."after"': ["a", "b"],
    }  # fmt: skip


def test_what_is_no_table_is_passed_over() -> None:
    data = {"shop": "my-shop.toml", "design": {"operations": "x", "options": [3, {"drop": 4}]}, "run": {"lines": [1]}}
    assert follow_renames(data, ("design", "operations"), {"x": "y"}) == {}
    assert value_at(data, ("run", "lines", 0)) == 1
