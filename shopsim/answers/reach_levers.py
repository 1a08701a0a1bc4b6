"""The levers by which a day may be reached, in the order in which they are tried: what costs nothing, fewer orders, hours, things, people."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from shopsim.answers.alternatives import try_change
from shopsim.answers.growth import clamp_changes, grow_clamps, grow_others
from shopsim.answers.levers import BATCH, MATERIAL, PRIORITY, ROOM, list_levers
from shopsim.answers.one_more import hours_of_helper, lengthen_day
from shopsim.answers.order_mix import OrderPlan
from shopsim.dates import DAY_NAMES, format_stretches
from shopsim.engine.worklist import build_worklist
from shopsim.plurals import say_number_of
from shopsim.scenario.model import Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.scenario.production_run import LEVER_SORTS
from shopsim.scenario.values import OrderBook
from shopsim.scenario.variants import operation_names
from shopsim.scenario.ways import list_ways, ways_in_use
from shopsim.study.reaching import LeverSize

WAY, ORDERS, HOURS, CLAMPS, STATION, RACK, HELPER = (
    "way", "orders", "hours", "clamps", "station", "rack", "helper",
)  # fmt: skip
assert set(LEVER_SORTS) == {PRIORITY, ROOM, BATCH, MATERIAL, WAY, ORDERS, HOURS, CLAMPS, STATION, RACK, HELPER}
#: In which order sets are told: what the dearest of their levers asks for.
_TIERS = {ORDERS: 1, HOURS: 2, CLAMPS: 3, STATION: 3, RACK: 3, HELPER: 4}
#: Steps of fewer orders, hours more a day, and glue-ups more at a time that are tried.
FEWER, HOURS_MORE, GLUE_UPS = (1, 2, 3), (1, 2), (1, 2)
_DAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


@dataclass(frozen=True)
class ReachLever:
    """Something that could be done: ``thing`` its sort, ``what`` in words, ``asks`` what it asks of the maker, ``price`` where it is known.

    ``stands``: how it stands to others; ``make``: what to change in a scenario that other levers may have changed already.
    """

    thing: str
    what: str
    asks: str
    price: float | None
    stands: LeverSize
    make: Callable[[Scenario], Mapping[str, Any]]

    @property
    def tier(self) -> int:
        """What it asks for: 0 nothing, 1 fewer orders, 2 hours, 3 things to buy, 4 people."""
        return 3 if self.thing == WAY and self.price != 0 else _TIERS.get(self.thing, 0)


def list_reach_levers(scenario: Scenario, leave_out: Collection[str] = ()) -> list[ReachLever]:
    """Every lever that this scenario has, in order; without the sorts of ``leave_out``."""
    levers = [
        *_free(scenario), *_ways(scenario), *_fewer_orders(scenario), *_hours(scenario), *_things(scenario), *_helpers(scenario),
    ]  # fmt: skip
    return [lever for lever in levers if lever.thing not in leave_out]


def apply_levers(scenario: Scenario, levers: Sequence[ReachLever]) -> tuple[Scenario | None, dict[str, Any]]:
    """(the scenario with all of them, None where it cannot be; what was changed, by places)."""
    changes: dict[str, Any] = {}
    changed: Scenario | None = scenario
    for lever in sorted(
        levers, key=lambda one: one.thing == ROOM
    ):  # a batch size keeps the room, unless that is a lever too
        assert changed is not None
        own = lever.make(changed)
        changes |= own
        changed, _ = try_change(changed, own)
        if changed is None:
            return None, changes
    return changed, changes


def _always(changes: Mapping[str, Any], _scenario: Scenario) -> Mapping[str, Any]:
    return changes


_ASKS = {
    PRIORITY: "another order of work", ROOM: "another number of pieces under way at once", BATCH: "another batch size",
    MATERIAL: "money tied up a week earlier",
}  # fmt: skip


def _free(scenario: Scenario) -> list[ReachLever]:
    levers = []
    for one in list_levers(scenario):
        group = f"{one.thing} {one.kind}" if one.thing == MATERIAL else one.thing
        stands = LeverSize(group, 1, one.thing == MATERIAL)
        levers.append(ReachLever(one.thing, one.what, _ASKS[one.thing], 0.0, stands, partial(_always, one.changes)))
        if one.thing == MATERIAL:
            ((place, day),) = one.changes.items()
            earlier = day - dt.timedelta(days=7)
            levers.append(
                ReachLever(
                    MATERIAL, f"{one.kind} ordered two weeks earlier, on {earlier:%Y-%m-%d}",
                    "money tied up two weeks earlier", 0.0, LeverSize(group, 2, True), partial(_always, {place: earlier}),
                )
            )  # fmt: skip
    return levers


def _ways(scenario: Scenario) -> list[ReachLever]:
    used = {way.name for way in ways_in_use(scenario)}
    return [
        ReachLever(
            WAY, f'the way "{way.name}"', "another way of making it", way.price, LeverSize(f"way {way.name}", 1, True),
            partial(_put_way, way.name),
        )
        for way in list_ways(scenario)
        if way.name not in used
    ]  # fmt: skip


def _put_way(name: str, scenario: Scenario) -> Mapping[str, Any]:
    return {"run.ways": [*scenario.run.ways, name]}


def _fewer_orders(scenario: Scenario) -> list[ReachLever]:
    """Fewer orders, where none is in yet, in steps in which fewer pieces are made; never below half."""
    if len(scenario.lines) > 1 or isinstance(scenario.lines[0].orders, OrderBook):
        return []
    plan, ordered = OrderPlan(scenario), scenario.lines[0].orders
    assert isinstance(ordered, int)
    counts = [n for n in range(ordered - 1, ordered // 2, -1) if plan.made(n) < plan.made(n + 1)]
    levers = []
    for size, count in enumerate(counts[: len(FEWER)], 1):
        fewer = ordered - count
        what = f"{say_number_of(count, 'order')} instead of {ordered:,}"
        asks = f"{say_number_of(fewer, 'buyer')} turned away"
        changes = partial(_always, plan.changes(count))
        levers.append(ReachLever(ORDERS, what, asks, None, LeverSize(ORDERS, size, True), changes))
    return levers


def _hours(scenario: Scenario) -> list[ReachLever]:
    week = scenario.shop.open
    if week == "always":
        return []
    levers = []
    for day in range(7):
        for more in HOURS_MORE if week[day] else ():
            made = _longer(day, more, scenario)
            if made:
                what = f"{say_number_of(more, 'hour')} more on {_DAYS[day]}"
                asks = f"{say_number_of(more, 'hour')} a week of whoever works then"
                stands = LeverSize(f"hours {DAY_NAMES[day]}", more, True)
                levers.append(ReachLever(HOURS, what, asks, None, stands, partial(_longer, day, more)))
    return levers


def _longer(day: int, hours: int, scenario: Scenario) -> Mapping[str, Any]:
    """The changes that keep the shop, and who works then, open so many hours longer on a day; none where midnight is in the way."""
    changes: dict[str, Any] = {}
    here: Scenario | None = scenario
    for _ in range(hours):
        assert here is not None
        own = lengthen_day(here, day)
        if not own:
            return {}
        changes |= own
        here, _why = try_change(here, own)
        if here is None:
            return {}
    return changes


def _things(scenario: Scenario) -> list[ReachLever]:
    work = build_worklist(scenario)
    own = [kind.name for kind in scenario.shop.clamps]
    used = [name for n, name in enumerate(own) if any(n in kinds for step in work.steps for kinds, _ in step.clamps)]
    levers = []
    for grown in grow_clamps(scenario, work, used, None, steps=GLUE_UPS) if used else ():
        added = " and ".join(f"{n:,} {kind}{'s' if n > 1 else ''}" for kind, n in grown.parts.items())
        stands = LeverSize(f"clamps {grown.kind}", grown.step, True)
        make = partial(_add_clamps, dict(grown.parts))
        levers.append(ReachLever(CLAMPS, f"{added} more", "clamps to buy", grown.price, stands, make))
    for grown in grow_others(scenario, work):
        if grown.thing in (STATION, RACK):
            more = (
                f"one more {grown.kind}" if grown.thing == STATION else f'{grown.added:,} more spots on "{grown.kind}"'
            )
            stands = LeverSize(f"{grown.thing} {grown.kind}", 1, True)
            asks = "something to buy, and room for it"
            levers.append(ReachLever(grown.thing, more, asks, None, stands, partial(_always, grown.changes)))
    return levers


def _add_clamps(added: Mapping[str, int], scenario: Scenario) -> Mapping[str, Any]:
    return clamp_changes(scenario, added)


def _helpers(scenario: Scenario) -> list[ReachLever]:
    """A helper on each open day: for work by hand alone, then for everything."""
    by_hand = [
        operation.name
        for design in scenario.all_designs
        for operation in design.operations
        if operation.work_kind == "hand" and operation.hands > 0
    ]
    every = {name for design in scenario.all_designs for name in operation_names(design)}
    levers = []
    for day, hours in hours_of_helper(scenario):
        said = format_stretches(hours)
        kinds = [(1, by_hand, "for work by hand")] if by_hand and set(by_hand) < every else []
        for size, can, words in [*kinds, (2, None, "who can do everything")]:
            what = f"a helper on {_DAYS[day]} {words}"
            stands = LeverSize(f"helper {DAY_NAMES[day]}", size, True)
            make = partial(_add_helper, day, said, can)
            levers.append(ReachLever(HELPER, what, f"somebody there {said}, and their pay", None, stands, make))
    return levers


def _add_helper(day: int, hours: str, can: Sequence[str] | None, scenario: Scenario) -> Mapping[str, Any]:
    taken = {worker.name for worker in scenario.shop.workers}
    name = f"helper on {DAY_NAMES[day]}"
    while name in taken:
        name = f"another {name}"
    workers = scenario_data(scenario)["shop"].get("workers") or [{"name": one.name} for one in scenario.shop.workers]
    helper: dict[str, Any] = {"name": name, "open": {DAY_NAMES[day]: hours}}
    if can is not None:
        helper["can"] = list(dict.fromkeys(can))
    return {"shop.workers": [*workers, helper]}
