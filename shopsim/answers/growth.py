"""One more of something: what the shop could own or do, as alternatives of its scenario."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shopsim.answers.alternatives import try_change
from shopsim.engine.worklist import Worklist
from shopsim.errors import InputError
from shopsim.scenario.model import Scenario
from shopsim.scenario.plain import scenario_data

#: Steps of each kind of clamps that are tried when nothing is said.
STEPS = (1, 2, 3)
ALL_KINDS = "all kinds"
#: Between the names of kinds that are added together.
SET_MARK = " + "


@dataclass(frozen=True)
class Improvement:
    """Something that the shop could own or do: ``thing`` its sort ("clamps", "worker", "station", "rack", "hours" ..), ``kind``
    its name, ``added`` how many (of all kinds together), ``price`` of all that is added (None where a price is not given),
    ``changes`` that make it. ``step``: which step of its kind it is (from 1); ``parts`` (clamps): how many of each kind;
    ``what``: in words; ``waits``: the parts of elapsed time, with their details, that it bears on; ``remark``: what it is more
    exactly."""

    thing: str
    kind: str
    added: int
    price: float | None
    changes: Mapping[str, Any]
    step: int = 1
    parts: Mapping[str, int] = field(default_factory=dict)
    what: str = ""
    waits: tuple[tuple[str, str | None], ...] = ()
    remark: str = ""

    @property
    def label(self) -> str:
        """Its name among the alternatives: ``8 more bar clamp (clamps)``; of what costs nothing ``room: 20``."""
        return f"{self.added} more {self.kind} ({self.thing})" if self.added else f"{self.thing}: {self.kind}"


def clamp_steps(work: Worklist) -> dict[str, int]:
    """For each kind of clamps that some operation can use, how many of it one glue-up can take.

    The largest glue-up counts, so that one step more means one glue-up more at a time.
    """
    steps = [0] * len(work.clamp_names)
    for step in work.steps:
        takes = [0] * len(steps)
        for kinds, count in step.clamps:
            for kind in kinds:
                takes[kind] += count
        steps = [max(most, take) for most, take in zip(steps, takes, strict=True)]
    return {name: count for name, count in zip(work.clamp_names, steps, strict=True) if count}


def list_sets(work: Worklist, used: Sequence[str]) -> list[tuple[str, ...]]:
    """The kinds of clamps that wait for one another: those that one glue-up takes together, then all that are used."""
    names = work.clamp_names
    sets: list[tuple[str, ...]] = []
    for step in work.steps:
        kinds = {names[kinds[0]] for kinds, _ in step.clamps}
        together = tuple(name for name in used if name in kinds)
        if 1 < len(together) < len(used) and together not in sets:
            sets.append(together)
    return [*sets, tuple(used)] if len(used) > 1 else sets


def count_steps(owned: int, step: int, steps: Sequence[int] = STEPS) -> list[int]:
    """How many to add so that one glue-up more fits each time: of 11 clamps in fours 1 more, then 5, then 9."""
    spare = owned % step
    return [step * n - spare for n in steps]


def grow_clamps(
    scenario: Scenario,
    work: Worklist,
    kinds: Sequence[str],
    add: Sequence[int] | Mapping[str, Sequence[int]] | None,
    steps: Sequence[int] = STEPS,
) -> list[Improvement]:
    """Each kind by itself, step by step, then those that wait for one another, and all of them together."""
    step_of = clamp_steps(work)
    number = {kind.name: n for n, kind in enumerate(scenario.shop.clamps)}
    grown: list[Improvement] = []
    counts: dict[str, list[int]] = {}
    for name in kinds:
        asked = add.get(name) if isinstance(add, Mapping) else add
        owned = scenario.shop.clamps[number[name]].count
        counts[name] = count_steps(owned, step_of[name], steps) if asked is None else _check_added(asked)
        for step, added in enumerate(counts[name], 1):
            grown.append(_grow(scenario, number, name, {name: added}, step))
    for together in list_sets(work, kinds):
        name = ALL_KINDS if len(together) == len(kinds) else SET_MARK.join(together)
        for step in range(1, min(len(counts[kind]) for kind in together) + 1):
            grown.append(_grow(scenario, number, name, {kind: counts[kind][step - 1] for kind in together}, step))
    return grown


def _grow(scenario: Scenario, number: Mapping[str, int], name: str, added: Mapping[str, int], step: int) -> Improvement:
    owned = {kind: scenario.shop.clamps[number[kind]] for kind in added}
    prices = [owned[kind].price for kind in added]
    price = None
    if all(one is not None for one in prices):
        price = sum((owned[kind].price or 0.0) * n for kind, n in added.items())
    changes = {f"shop.clamps[{number[kind]}].count": owned[kind].count + n for kind, n in added.items()}
    return Improvement("clamps", name, sum(added.values()), price, changes, step, dict(added))


def clamp_changes(scenario: Scenario, added: Mapping[str, int]) -> dict[str, int]:
    """What to change, by places, for so many clamps more of each kind."""
    return {
        f"shop.clamps[{number}].count": kind.count + added[kind.name]
        for number, kind in enumerate(scenario.shop.clamps)
        if kind.name in added
    }


def _check_added(asked: Iterable[Any]) -> list[int]:
    counts = list(asked)
    for count in counts:
        if isinstance(count, bool) or not isinstance(count, int | np.integer) or not 0 <= count <= 10_000:
            raise InputError(f"{count!r} clamps cannot be added · write whole numbers from 0 to 10000")
    if not any(counts):
        raise InputError("no number of clamps to add is given · name at least one, like 4")
    return sorted({int(count) for count in counts if count})


def grow_others(scenario: Scenario, work: Worklist) -> list[Improvement]:
    """One more worker like each kind of worker there is, one more of each station and each rack that is used.

    A rack grows by the spots one task fills. Prices are not known.
    """
    grown: list[Improvement] = []
    shop = scenario.shop
    data = scenario_data(scenario)["shop"]
    workers = data.get("workers") or [{"name": worker.name} for worker in shop.workers]
    forms = set()
    names = {worker.name for worker in shop.workers}
    for worker, plain in zip(shop.workers, workers, strict=True):
        form = (worker.open, worker.closed, worker.can)
        if form in forms:
            continue
        forms.add(form)
        name = f"second {worker.name}"
        while name in names:
            name = f"another {name}"
        grown.append(Improvement("worker", worker.name, 1, None, {"shop.workers": [*workers, {**plain, "name": name}]}))
    used_stations = {step.station for step in work.steps}
    for n, station in enumerate(shop.stations):
        if n in used_stations:
            grown.append(
                Improvement("station", station.name, 1, None, {f"shop.stations[{n}].count": station.count + 1})
            )
    for n, rack in enumerate(shop.racks):
        fills = [
            work.steps[step].spots_a_unit * units
            for step, units in zip(work.entry_step, work.entry_units, strict=True)
            if work.steps[step].rack == n
        ]
        if fills:
            more = max(fills)
            grown.append(Improvement("rack", rack.name, more, None, {f"shop.racks[{n}].spots": rack.spots + more}))
    return grown


def build_alternatives(
    scenario: Scenario, grown: Sequence[Improvement], suffix: str = ""
) -> tuple[dict[str, Scenario], dict[str, str]]:
    """(scenarios by label and suffix, why the others cannot be run by label)."""
    built: dict[str, Scenario] = {}
    why_not: dict[str, str] = {}
    for growth in grown:
        changed, reason = try_change(scenario, growth.changes)
        if changed is None:
            why_not[growth.label] = reason
        else:
            built[growth.label + suffix] = changed
    return built, why_not
