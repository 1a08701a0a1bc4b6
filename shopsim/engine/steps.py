"""The operations of all designs with their names looked up: who can do them, where, with which clamps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shopsim.engine.keyed import stable_key
from shopsim.laws import fixed
from shopsim.scenario.model import Design, Operation, Scenario, is_pausable, is_wet_or_clamped

#: One need of clamps: the kinds that serve it, smallest first, and how many.
ClampNeedPlan = tuple[tuple[int, ...], int]

STANDING = "stand before packing"
PACKING = "packing"


@dataclass(frozen=True)
class Step:
    """One operation of one design, with its names looked up.

    ``design``, ``operation``: what the user wrote. ``key``: a stable number made
    from their names, so that adding an operation changes no other's luck.
    ``units_a_piece``: units each piece has (1 unless per part). ``tail_min``: likely
    time of the longest chain from its start to the piece's end, itself included,
    set-up left out. ``after``: step numbers. ``workers``: able workers, the one with
    the fewest skills first.
    """

    design: int
    operation: Operation
    key: int
    units_a_piece: int
    after: tuple[int, ...]
    workers: tuple[int, ...]
    station: int
    rack: int
    spots_a_unit: int
    clamps: tuple[ClampNeedPlan, ...]
    pausable: bool
    early: bool
    tail_min: float = 0.0


def build_steps(scenario: Scenario, designs: Sequence[Design]) -> tuple[tuple[Step, ...], list[int]]:
    """All steps of all designs, in the order of the file; and where each design's begin."""
    shop = scenario.shop
    station_of = {station.name: n for n, station in enumerate(shop.stations)}
    rack_of = {rack.name: n for n, rack in enumerate(shop.racks)}
    steps: list[Step] = []
    first_step: list[int] = []
    for number, design in enumerate(designs):
        first = len(steps)
        first_step.append(first)
        operations = [*design.operations, *_shipping_steps(scenario, design)]
        place = {operation.name: first + n for n, operation in enumerate(operations)}
        for n, operation in enumerate(operations):
            if operation.after is None:
                after: tuple[int, ...] = (first + n - 1,) if n else ()
            else:
                after = tuple(dict.fromkeys(place[name] for name in operation.after))
            rest = operation.rest
            steps.append(
                Step(
                    design=number,
                    operation=operation,
                    key=stable_key(design.name, operation.name),
                    units_a_piece=design.parts.get(operation.per, 1),
                    after=after,
                    workers=_able_workers(scenario, operation),
                    station=station_of[operation.station] if operation.station else -1,
                    rack=rack_of[rest[0]] if rest else -1,
                    spots_a_unit=rest[1] if rest else 0,
                    clamps=_clamp_plan(scenario, operation),
                    pausable=is_pausable(operation),
                    early=is_wet_or_clamped(operation),
                )
            )
    return _with_tails(steps), first_step


def _shipping_steps(scenario: Scenario, design: Design) -> list[Operation]:
    """Standing and packing as operations after all others, where the file asks for them."""
    shipping = scenario.shipping
    waited_for: set[str] = set()
    for n, operation in enumerate(design.operations):
        waited_for.update(
            operation.after if operation.after is not None else [design.operations[n - 1].name] if n else []
        )
    last = tuple(operation.name for operation in design.operations if operation.name not in waited_for)
    added: list[Operation] = []
    if shipping.before_packing > 0:
        added.append(Operation(name=STANDING, after=last, hands=0, cure=fixed(shipping.before_packing)))
        last = (STANDING,)
    if shipping.packing is not None:
        added.append(
            Operation(
                name=PACKING,
                after=last,
                work=shipping.packing,
                station=shipping.packing_station,
                hands=shipping.packing_hands,
            )
        )
    return added


def _able_workers(scenario: Scenario, operation: Operation) -> tuple[int, ...]:
    workers = scenario.shop.workers
    many = sum(len(design.operations) for design in scenario.all_designs) + 1
    able = [
        (many if worker.can is None else len(worker.can), n)
        for n, worker in enumerate(workers)
        if worker.can is None or operation.name in worker.can
    ]
    return tuple(n for _, n in sorted(able))


def _clamp_plan(scenario: Scenario, operation: Operation) -> tuple[ClampNeedPlan, ...]:
    """Needs by name first, then by reach from the longest: so taking the smallest that serve never fails needlessly."""
    kinds = scenario.shop.clamps
    named = [
        (tuple(n for n, kind in enumerate(kinds) if kind.name == need.kind), need.count)
        for need in operation.clamps
        if need.kind is not None
    ]
    by_reach = sorted(
        ((need.reach, need.count) for need in operation.clamps if need.kind is None and need.reach is not None),
        key=lambda need: -need[0],
    )
    serving = []
    for reach, count in by_reach:
        fit = sorted((kind.reach, n) for n, kind in enumerate(kinds) if kind.reach is not None and kind.reach >= reach)
        serving.append((tuple(n for _, n in fit), count))
    return (*named, *serving)


def likely_span(step: Step) -> float:
    """Likely minutes from the start of one piece's share of a step to its end, set-up left out."""
    operation = step.operation
    span = operation.work.likely * step.units_a_piece
    clamped = (operation.in_clamps.likely if operation.in_clamps else 0.0) + (
        operation.unclamp.likely if operation.unclamp else 0.0
    )
    return span + max(clamped, operation.cure.likely if operation.cure else 0.0)


def _with_tails(steps: list[Step]) -> tuple[Step, ...]:
    followers: list[list[int]] = [[] for _ in steps]
    for n, step in enumerate(steps):
        for before in step.after:
            followers[before].append(n)
    waiting = [len(follower) for follower in followers]
    tails = [0.0] * len(steps)
    ready = [n for n, count in enumerate(waiting) if count == 0]
    while ready:
        n = ready.pop()
        tails[n] = likely_span(steps[n]) + max((tails[follower] for follower in followers[n]), default=0.0)
        for before in steps[n].after:
            waiting[before] -= 1
            if waiting[before] == 0:
                ready.append(before)
    return tuple(replace(step, tail_min=tail) for step, tail in zip(steps, tails, strict=True))
