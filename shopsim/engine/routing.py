"""The operations of all designs with their names looked up: who can do them, where, with which clamps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shopsim.engine.keyed import stable_key
from shopsim.laws import fixed
from shopsim.scenario.model import Design, Operation, Scenario, is_pausable, is_wet_or_clamped
from shopsim.scenario.variants import PLAIN, Chosen, make_variant, operation_names

#: One need of clamps: the kinds that serve it, smallest first, and how many.
ClampNeedPlan = tuple[tuple[int, ...], int]

STANDING = "stand before packing"
PACKING = "packing"


@dataclass(frozen=True)
class RoutingStep:
    """One operation of one design, with its names looked up; where an option changes it, each version is a step.

    ``design``, ``operation``: what the user wrote. ``key``: a stable number made
    from their names, so that adding an operation changes no other's luck; versions share it.
    ``units_a_piece``: units each piece has (1 unless per part). ``tail_min``: likely
    time of the longest chain from its start to the piece's end, itself included,
    set-up left out. ``after``: step numbers, in the first variant that has it. ``workers``: able
    workers, the one with the fewest skills first. ``of_design``: not what shipping adds, standing and packing.
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
    of_design: bool
    tail_min: float = 0.0


@dataclass(frozen=True)
class Variant:
    """What a piece of a design with certain options goes through.

    ``chosen``: the numbers of its options. ``after``: for each of its steps the steps it comes after.
    ``by_name``: its steps by the names of their operations. ``materials``: for each of its steps the
    materials, by number, that hold it back.
    """

    design: int
    chosen: Chosen
    after: Mapping[int, tuple[int, ...]]
    by_name: Mapping[str, int]
    materials: Mapping[int, tuple[int, ...]]


def build_steps(
    scenario: Scenario, designs: Sequence[Design], chosen: Mapping[int, Sequence[Chosen]] | None = None
) -> tuple[tuple[RoutingStep, ...], tuple[Variant, ...]]:
    """All steps of all designs, in the order of the file, and the variants made of them, those of a design together.

    ``chosen``: for each design, by number, the choices of options that pieces have; default only the plain
    design. An operation that is the same under several choices is one step.
    """
    steps: list[RoutingStep] = []
    variants: list[Variant] = []
    tails: dict[int, float] = {}
    for number, design in enumerate(designs):
        choices = list(chosen.get(number, (PLAIN,))) if chosen is not None else [PLAIN]
        lists = [_operations_of(scenario, design, choice) for choice in choices]
        numbered: dict[str, list[tuple[Operation, int]]] = {}
        for name in _merge_names([_operations_of(scenario, design, PLAIN), *lists]):
            for operations in lists:
                for operation in operations:
                    if operation.name == name and not any(
                        _same_work(operation, other) for other, _ in numbered.setdefault(name, [])
                    ):
                        numbered[name].append((operation, len(steps)))
                        steps.append(_build_step(scenario, design, number, operation))
        for choice, operations in zip(choices, lists, strict=True):
            by_name = {
                operation.name: next(n for other, n in numbered[operation.name] if _same_work(operation, other))
                for operation in operations
            }
            after = {
                by_name[operation.name]: tuple(dict.fromkeys(by_name[name] for name in operation.after or ()))
                for operation in operations
            }
            variants.append(Variant(number, choice, after, by_name, _materials_of(scenario, design, choice, by_name)))
            _add_tails(steps, after, tails)
    first_after: dict[int, tuple[int, ...]] = {}
    for variant in variants:
        for n, before in variant.after.items():
            first_after.setdefault(n, before)
    return (
        tuple(replace(step, after=first_after[n], tail_min=tails[n]) for n, step in enumerate(steps)),
        tuple(variants),
    )


def _operations_of(scenario: Scenario, design: Design, choice: Chosen) -> list[Operation]:
    """The operations of a piece with these options, packing included, each with what it comes after written out."""
    operations = make_variant(design, choice)
    return [*operations, *_shipping_steps(scenario, operations)]


def _merge_names(lists: Sequence[Sequence[Operation]]) -> list[str]:
    """Names of the operations of all lists; what only a later list has stands behind what it follows there."""
    merged = [operation.name for operation in lists[0]]
    known = set(merged)
    for operations in lists[1:]:
        place = 0
        for operation in operations:
            if operation.name in known:
                place = merged.index(operation.name) + 1
            else:
                merged.insert(place, operation.name)
                known.add(operation.name)
                place += 1
    return merged


def _same_work(one: Operation, other: Operation) -> bool:
    """Whether two operations of one name are done in the same way, whatever they come after."""
    return one is other or all(
        getattr(one, key) == getattr(other, key) for key in Operation.model_fields if key != "after"
    )


def _build_step(scenario: Scenario, design: Design, number: int, operation: Operation) -> RoutingStep:
    shop = scenario.shop
    rest = operation.rest
    return RoutingStep(
        design=number,
        operation=operation,
        key=stable_key(design.name, operation.name),
        units_a_piece=design.parts.get(operation.per, 1),
        after=(),
        workers=able_workers(scenario, operation),
        station=[station.name for station in shop.stations].index(operation.station) if operation.station else -1,
        rack=[rack.name for rack in shop.racks].index(rest[0]) if rest else -1,
        spots_a_unit=rest[1] if rest else 0,
        clamps=_clamp_plan(scenario, operation),
        pausable=is_pausable(operation),
        early=is_wet_or_clamped(operation),
        of_design=not (
            (operation.name == PACKING and scenario.shipping.packing is not None)
            or (operation.name == STANDING and scenario.shipping.before_packing > 0)
        ),
    )


def _materials_of(
    scenario: Scenario, design: Design, choice: Chosen, by_name: Mapping[str, int]
) -> dict[int, tuple[int, ...]]:
    """For each step the materials that hold it back: a material that options name is needed only by pieces with one of them."""
    tied = {name for each in scenario.all_designs for option in each.options for name in option.materials}
    own = {name for number in choice for name in design.options[number].materials}
    return {
        step: tuple(
            number
            for number, material in enumerate(scenario.materials)
            if name in material.needed_by and (material.name not in tied or material.name in own)
        )
        for name, step in by_name.items()
    }


def _shipping_steps(scenario: Scenario, operations: Sequence[Operation]) -> list[Operation]:
    """Standing and packing as operations after all others, where the file asks for them."""
    shipping = scenario.shipping
    waited_for = {name for operation in operations for name in operation.after or ()}
    last = tuple(operation.name for operation in operations if operation.name not in waited_for)
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
                caution=shipping.caution,
            )
        )
    return added


def able_workers(scenario: Scenario, operation: Operation) -> tuple[int, ...]:
    """The workers who can do an operation, by number, the one with the fewest skills first."""
    workers = scenario.shop.workers
    many = sum(len(operation_names(design)) for design in scenario.all_designs) + 1
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


def likely_span(step: RoutingStep) -> float:
    """Likely minutes from the start of one piece's share of a step to its end, set-up left out."""
    operation = step.operation
    span = operation.work.likely * step.units_a_piece
    clamped = (operation.in_clamps.likely if operation.in_clamps else 0.0) + (
        operation.unclamp.likely if operation.unclamp else 0.0
    )
    return span + max(clamped, operation.cure.likely if operation.cure else 0.0)


def _add_tails(steps: Sequence[RoutingStep], after: Mapping[int, tuple[int, ...]], tails: dict[int, float]) -> None:
    """Tails of the steps of one variant; a step that several variants have gets the longest."""
    followers: dict[int, list[int]] = {n: [] for n in after}
    for n, before in after.items():
        for earlier in before:
            followers[earlier].append(n)
    waiting = {n: len(later) for n, later in followers.items()}
    own: dict[int, float] = {}
    ready = [n for n, count in waiting.items() if count == 0]
    while ready:
        n = ready.pop()
        own[n] = likely_span(steps[n]) + max((own[follower] for follower in followers[n]), default=0.0)
        for before_n in after[n]:
            waiting[before_n] -= 1
            if waiting[before_n] == 0:
                ready.append(before_n)
    for n, tail in own.items():
        tails[n] = max(tail, tails.get(n, tail))
