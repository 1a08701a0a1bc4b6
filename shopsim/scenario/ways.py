"""What the ways of making it that are in use make of a scenario: its designs, its shop and its materials as the floor has them.

One mechanism with buyers' options (variants.py): a way changes, drops and adds operations, in the order of the file, and
options are applied to what that comes to. A way is the maker's choice for the whole run, an option the buyer's for a piece.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TypeVar

from shopsim.scenario.design import Design, Way
from shopsim.scenario.model import Material, Scenario
from shopsim.scenario.shop import ClampKind, Shop, Station
from shopsim.scenario.variants import apply_changes, fold_name

T = TypeVar("T", Station, ClampKind)


def list_ways(scenario: Scenario) -> list[Way]:
    """Every way of every design, in the order of the file."""
    return [way for design in scenario.all_designs for way in design.ways]


def ways_in_use(scenario: Scenario) -> list[Way]:
    """The ways that the run names, in the order of the file; names that are not known are passed over."""
    named = {fold_name(name) for name in scenario.run.ways}
    return [way for way in list_ways(scenario) if fold_name(way.name) in named]


def put_ways(scenario: Scenario) -> Scenario:
    """The scenario with the ways in use put into its designs, shop and materials, and none left beside them.

    What the floor runs. The scenario itself where its designs know no ways. Operations come with what they come after
    written out. A station or a kind of clamps that a way brings stands behind the shop's own, or adds to the one of its name.
    A material that only ways not in use name holds nothing back; it keeps its place in the list.
    """
    if not any(design.ways for design in scenario.all_designs):
        return scenario
    used = ways_in_use(scenario)
    names = {way.name for way in used}
    update = {
        "design": None if scenario.design is None else _make_design(scenario.design, names),
        "designs": tuple(_make_design(design, names) for design in scenario.designs),
        "shop": _equip(scenario.shop, used),
        "materials": _free_materials(scenario, used),
        "run": scenario.run.model_copy(update={"ways": ()}),
    }
    return scenario.model_copy(update=update)


def _make_design(design: Design, names: Collection[str]) -> Design:
    used = [way for way in design.ways if way.name in names]
    if not used:
        return design.model_copy(update={"ways": ()})
    return design.model_copy(update={"operations": apply_changes(design.operations, used), "ways": ()})


def _equip(shop: Shop, used: Sequence[Way]) -> Shop:
    stations, clamps = shop.stations, shop.clamps
    for way in used:
        stations, clamps = _join(stations, way.stations), _join(clamps, way.clamps)
    return shop.model_copy(update={"stations": stations, "clamps": clamps})


def _join(own: tuple[T, ...], brought: tuple[T, ...]) -> tuple[T, ...]:
    """What the shop has with what comes to it: more of one name are counted together, others stand behind."""
    names = {thing.name for thing in own}
    more = {thing.name: thing.count for thing in brought}
    counted = [thing.model_copy(update={"count": thing.count + more.get(thing.name, 0)}) for thing in own]
    new = [thing for thing in brought if thing.name not in names]
    return tuple(counted + new)


def _free_materials(scenario: Scenario, used: Sequence[Way]) -> tuple[Material, ...]:
    own = {name for way in used for name in way.materials}
    tied = {name for way in list_ways(scenario) for name in way.materials} - own
    return tuple(
        material.model_copy(update={"needed_by": ()}) if material.name in tied else material
        for material in scenario.materials
    )
