"""Rules about names: each thing has its own, and every name that is used is known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from shopsim.scenario.cautions import CAUTIONS, NONE_NEEDED, find_meant_key
from shopsim.scenario.check_context import PACKING, STANDING, CheckContext
from shopsim.scenario.places import UNREAD, Finding, KeyPath, clean, say_names

#: Words that say what an operation is done for, and so cannot be names of parts.
COVERS = ("run", "batch", "piece")


def find_designs(context: CheckContext) -> Iterator[Finding]:
    """One design or several, not both and not none."""
    scenario = context.scenario
    if scenario.design is not None and scenario.designs:
        yield Finding(
            ("designs",), "[design] and [[designs]] are both given", "write one [design], or [[designs]] for several"
        )
    elif not context.designs and context.is_sure("design") and context.is_sure("designs"):
        yield Finding(("design",), "no design is given", "add a [design] table with name and operations")
    for where, design in context.designs:
        if not design.operations and context.is_sure(*where, "operations"):
            header = ".".join(str(step) for step in where if isinstance(step, str))
            rule = "holds no operation, so there is nothing to be done"
            yield Finding((*where, "operations"), rule, f"add [[{header}.operations]], one for each step")


def find_equal(where: KeyPath, names: Sequence[str], what: str, mend: str) -> Iterator[Finding]:
    """Names in a list that are blank or no different from an earlier one."""
    seen: dict[str, str] = {}
    for number, name in enumerate(names):
        if name.startswith(UNREAD):
            continue
        plain = " ".join(name.casefold().split())
        if not plain:
            yield Finding((*where, number, "name"), "is blank", "write a name")
        elif plain in seen:
            same = "" if seen[plain] == name else f' ("{seen[plain]}" differs only in capitals or spaces)'
            yield Finding((*where, number, "name"), f"there are two {what} of this name{same}", mend)
        seen.setdefault(plain, name)


def find_equal_names(context: CheckContext) -> Iterator[Finding]:
    """Workers, stations, racks, clamp kinds, designs, operations and materials have names of their own."""
    shop = context.scenario.shop
    own = "give each its own name"
    for key, things, what, mend in (
        ("workers", shop.workers, "workers", own),
        ("stations", shop.stations, "stations", f"{own}, or one of them a count"),
        ("racks", shop.racks, "racks", f"{own}, or one of them more spots"),
        ("clamps", shop.clamps, "kinds of clamps", f"{own}, or one of them a higher count"),
    ):
        yield from find_equal(("shop", key), [thing.name for thing in things], what, mend)
    yield from find_equal(("designs",), [design.name for design in context.scenario.designs], "designs", own)
    for where, design in context.designs:
        names = [operation.name for operation in design.operations]
        yield from find_equal((*where, "operations"), names, "operations", own)
    materials = [material.name for material in context.scenario.materials]
    yield from find_equal(("materials",), materials, "materials", own)


def find_taken_names(context: CheckContext) -> Iterator[Finding]:
    """Parts and operations are not called by words that mean something else."""
    for where, design in context.designs:
        seen: dict[str, str] = {}
        for part in design.parts:
            plain = part.strip().casefold()
            if plain in COVERS:
                rule = f'"{part}" means something else in per'
                yield Finding((*where, "parts", part), rule, "give the part another name")
            elif plain in seen:
                rule = f'differs from "{seen[plain]}" only in capitals or spaces'
                yield Finding((*where, "parts", part), rule, "give each part its own name")
            seen.setdefault(plain, part)
    shipping = context.scenario.shipping
    taken = [PACKING] if shipping.packing is not None else []
    if shipping.before_packing > 0:
        taken.append(STANDING)
    for step in context.steps:
        if step.operation.name.strip().casefold() in taken:
            rule = f'"{step.operation.name}" is what shipping adds after the last operation'
            yield Finding((*step.where, "name"), rule, "call it otherwise, or leave it to shipping")


def _unknown(
    context: CheckContext, where: KeyPath, name: str, known: Iterable[str], what: str, add: str, verb: str = "write"
) -> Iterator[Finding]:
    names = list(known)
    if name in names or name.startswith(UNREAD):
        return
    near = context.suggester.nearest(name, names)
    if near:
        mend = f'{verb} "{near}"'
    elif names:
        mend = f"known are {say_names(names)}" + (f"; or {add}" if add else "")
    else:
        mend = add or "take it out"
    yield Finding(where, f'there is no {what} "{name}"', mend)


def find_unknown_things(context: CheckContext) -> Iterator[Finding]:
    """Stations, racks, clamp kinds and parts that operations name are known; cautions are keys, or words that are none."""
    shop = context.scenario.shop
    stations = [station.name for station in shop.stations]
    racks = [rack.name for rack in shop.racks]
    kinds = [kind.name for kind in shop.clamps]
    for step in context.steps:
        operation, where = step.operation, step.where
        if operation.station is not None and context.are_named("shop", "stations"):
            add = "add it under [[shop.stations]]"
            yield from _unknown(context, (*where, "station"), operation.station, stations, "station", add)
        if operation.rest is not None and context.are_named("shop", "racks"):
            add = "add it under [[shop.racks]]"
            yield from _unknown(context, (*where, "rest"), operation.rest[0], racks, "rack", add)
        for number, need in enumerate(operation.clamps):
            if need.kind is not None and context.are_named("shop", "clamps"):
                add = "add it under [[shop.clamps]]"
                yield from _unknown(context, (*where, "clamps", number, "kind"), need.kind, kinds, "kind of clamp", add)
        design = where[:-2]
        if context.is_sure(*design, "parts") and not any(hole[:-1] == (*design, "parts") for hole in context.holes):
            known = [*COVERS, *step.design.parts]
            yield from _unknown(context, (*where, "per"), operation.per, known, "part", "add it to parts")
        yield from _misspelt_cautions(context, where, operation.caution)
    yield from _misspelt_cautions(context, ("shipping",), context.scenario.shipping.caution)
    packing = context.scenario.shipping.packing_station
    if packing is not None and context.are_named("shop", "stations"):
        where = ("shipping", "packing_station")
        yield from _unknown(context, where, packing, stations, "station", "add it under [[shop.stations]]")


def _misspelt_cautions(context: CheckContext, where: KeyPath, cautions: Iterable[str]) -> Iterator[Finding]:
    """Words that are nearly a key, or a part of one: nobody would be told what they stand for."""
    keys = (*CAUTIONS, NONE_NEEDED)
    for caution in cautions:
        if caution not in keys and not caution.startswith(UNREAD):
            meant = find_meant_key(caution) or context.suggester.nearest(caution, keys, cutoff=0.75)
            if meant:
                rule = f'there is no caution "{clean(caution, 60)}"'
                yield Finding((*where, "caution"), rule, f'write "{meant}", or a sentence of your own')


def find_unknown_operations(context: CheckContext) -> Iterator[Finding]:
    """Operations named in `after`, `can` and `needed_by` are known, and named once."""
    for step in context.steps:
        design = step.where[:-2]
        names = context.names_by_design[id(step.design)]
        sure = context.are_named(*design, "operations")
        yield from _unknown_list(context, (*step.where, "after"), step.operation.after or (), names, sure)
    for number, worker in enumerate(context.scenario.shop.workers):
        where: KeyPath = ("shop", "workers", number, "can")
        yield from _unknown_list(
            context, where, worker.can or (), list(context.operation_names), context.operations_named
        )
    for number, material in enumerate(context.scenario.materials):
        where = ("materials", number, "needed_by")
        names = [name for name in context.operation_names if name != PACKING]
        yield from _unknown_list(context, where, material.needed_by, names, context.operations_named)
        if not material.needed_by and context.is_sure(*where):
            yield Finding(where, "names no operation", "name the operations that need it, or take the material out")


def _unknown_list(
    context: CheckContext, where: KeyPath, used: Sequence[str], known: Sequence[str], sure: bool
) -> Iterator[Finding]:
    names = set(known)
    seen: set[str] = set()
    for number, name in enumerate(used):
        if name.startswith(UNREAD):
            continue
        if name in seen:
            yield Finding((*where, number), f'names "{name}" twice', "name it once", None)
        elif name not in names and sure:
            yield from _unknown(context, (*where, number), name, known, "operation", "")
        seen.add(name)


def find_after_itself(context: CheckContext) -> Iterator[Finding]:
    """No operation names itself in its `after`."""
    for step in context.steps:
        operation = step.operation
        once = context.names_by_design[id(step.design)].count(operation.name) == 1
        if operation.after and operation.name in operation.after and once:
            yield Finding((*step.where, "after"), "comes after itself", "take its own name out")


def find_circles(context: CheckContext) -> Iterator[Finding]:
    """No operation comes, by way of others, after itself."""
    for where, design in context.designs:
        steps = context.steps_of(design)
        before = [[n for n in context.known_steps_after(step) if n != step.number] for step in steps]
        for circle in _circles(before):
            names = [design.operations[n].name for n in circle]
            if any(name.startswith(UNREAD) for name in names):
                continue
            shown = " after ".join(f'"{name}"' for name in (*names, names[0]))
            yield Finding(
                (*where, "operations", circle[0], "after"),
                f"the operations wait for each other in a circle: {shown}",
                "take one of them out of an after",
            )


def _circles(before: Sequence[Sequence[int]]) -> Iterator[list[int]]:
    """One circle of each knot, each written from its lowest number."""
    left = [len(items) for items in before]
    after: list[list[int]] = [[] for _ in before]
    for number, items in enumerate(before):
        for item in items:
            after[item].append(number)
    ready = [number for number, count in enumerate(left) if count == 0]
    while ready:
        for follower in after[ready.pop()]:
            left[follower] -= 1
            if left[follower] == 0:
                ready.append(follower)
    stuck = {number for number, count in enumerate(left) if count > 0}
    while stuck:
        trail: dict[int, int] = {}
        here = min(stuck)
        while here not in trail:
            trail[here] = len(trail)
            here = next((item for item in before[here] if item in stuck), -1)
            if here < 0:
                break
        if here < 0:  # it only waits for a circle told already
            stuck.difference_update(trail)
            continue
        circle = list(trail)[trail[here] :]
        turn = circle.index(min(circle))
        yield circle[turn:] + circle[:turn]
        stuck.difference_update(trail)


RULES = (
    find_designs,
    find_equal_names,
    find_taken_names,
    find_unknown_things,
    find_unknown_operations,
    find_after_itself,
    find_circles,
)
