"""Rules about what a task needs: clamps, people, spots and handfuls that the shop can give it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from shopsim.plurals import say_number_of
from shopsim.scenario.check_context import PACKING, CheckContext, PlacedOperation
from shopsim.scenario.check_names import COVERS
from shopsim.scenario.places import Finding
from shopsim.units import say_mm


def find_clamp_needs(context: CheckContext) -> Iterator[Finding]:
    """A need of clamps is by reach or by kind."""
    for step in context.steps:
        for number, need in enumerate(step.operation.clamps):
            where = (*step.where, "clamps", number)
            if not (context.is_sure(*where, "reach") and context.is_sure(*where, "kind")):
                continue
            if need.reach is not None and need.kind is not None:
                yield Finding(where, "gives both a reach and a kind", "keep one of them")
            elif need.reach is None and need.kind is None:
                yield Finding(where, "says neither reach nor kind", 'add reach = "24 in", or kind = "…"')


def find_too_few_clamps(context: CheckContext) -> Iterator[Finding]:
    """The shop owns the clamps that one task takes at once; longer stands in for shorter, never the reverse."""
    if not context.is_sure("shop", "clamps"):
        return
    for step in context.steps:
        if step.operation.clamps and context.is_sure(*step.where, "clamps"):
            yield from _too_few_clamps(context, step)


def _too_few_clamps(context: CheckContext, step: PlacedOperation) -> Iterator[Finding]:
    kinds = context.scenario.shop.clamps
    named: Counter[str] = Counter()
    reaching: Counter[float] = Counter()
    for number, need in enumerate(step.operation.clamps):
        if not context.is_sure(*step.where, "clamps", number):
            continue
        if need.kind is not None and need.reach is None:
            named[need.kind] += need.count
        elif need.reach is not None and need.kind is None:
            reaching[need.reach] += need.count
    left: list[tuple[float, int]] = []
    used = 0
    for number, kind in enumerate(kinds):
        wanted = named.pop(kind.name, 0)
        if wanted > kind.count:
            yield Finding(
                step.where,
                f'needs {say_number_of(wanted, "clamp")} of the kind "{kind.name}", the shop owns {kind.count}',
                f"buy {wanted - kind.count}, or lower the need",
                at=(*step.where, "clamps"),
            )
        if kind.reach is not None:
            left.append((kind.reach, max(0, kind.count - wanted)))
            used += wanted
        elif not context.is_sure("shop", "clamps", number, "reach"):
            left.append((float("inf"), kind.count))
    bought = 0
    wanted = 0
    for reach in sorted(reaching, reverse=True):
        wanted += reaching[reach]
        owned = sum(count for length, count in left if length >= reach)
        short = wanted - owned - bought
        if short > 0:
            also = " besides those it names" if used else " at once" if wanted > reaching[reach] else ""
            yield Finding(
                step.where,
                f"needs {say_number_of(wanted, 'clamp')} of {say_mm(reach)} or more{also}, the shop owns {owned}",
                f"buy {short}, or lower the need",
                at=(*step.where, "clamps"),
            )
            bought += short


def find_handfuls(context: CheckContext) -> Iterator[Finding]:
    """A handful never spans pieces, except that it may be the whole batch."""
    for step in context.steps:
        operation, handful = step.operation, step.operation.handful
        where = (*step.where, "handful")
        if handful is None or not context.is_sure(*step.where, "per"):
            continue
        if operation.per in ("run", "batch"):
            rule = f"a handful has no meaning for work done once a {operation.per}"
            yield Finding(where, rule, 'take it out, or set per = "piece"')
        elif handful != "batch" and operation.per in (*COVERS, *step.design.parts) and context.units_are_sure(step):
            count = context.units_in_piece(step)
            if int(handful) > count:
                has = "one piece is one unit" if operation.per == "piece" else f"one piece has {count}"
                yield Finding(where, f"{handful} is more than one piece gives: {has}", f'write {count}, or "batch"')


def find_too_few_hands(context: CheckContext) -> Iterator[Finding]:
    """As many people can do an operation as it takes."""
    if not context.scenario.shop.workers:
        operations = [step.operation for step in context.steps]
        if any(operation.hands > 0 for operation in operations) or context.scenario.shipping.packing is not None:
            yield Finding(("shop", "workers"), "nobody works in the shop", "add [[shop.workers]], or set hands = 0")
        elif any(operation.clamps or operation.in_clamps or operation.unclamp for operation in operations):
            yield Finding(("shop", "workers"), "there is nobody to take clamps off", "add [[shop.workers]]")
    if not context.workers_are_sure:
        return
    for step in context.steps:
        if not (context.is_sure(*step.where, "name") and context.is_sure(*step.where, "hands")):
            continue
        hands = step.operation.hands
        able = len(context.able(step.operation.name))
        if hands > 0 and able == 0:
            mend = f'add "{step.operation.name}" to what a worker can do'
            yield Finding(step.where, "nobody in the shop can do it", mend)
        elif hands > able:
            rule = f"needs {hands} people at once, {able} can do it"
            yield Finding((*step.where, "hands"), rule, "lower hands, or let more workers do it")
    shipping = context.scenario.shipping
    if shipping.packing is not None and context.is_sure("shipping", "packing_hands"):
        able = len(context.able(PACKING))
        if able == 0:
            rule = "nobody in the shop can do the packing"
            yield Finding(("shipping", "packing"), rule, f'add "{PACKING}" to what a worker can do')
        elif shipping.packing_hands > able:
            rule = f"packing needs {shipping.packing_hands} people at once, {able} can do it"
            yield Finding(("shipping", "packing_hands"), rule, f'lower it, or add "{PACKING}" to what a worker can do')


def find_too_few_spots(context: CheckContext) -> Iterator[Finding]:
    """One task's units fit on the rack where they rest."""
    racks = {rack.name: rack for rack in context.scenario.shop.racks}
    if not context.is_sure("shop", "racks"):
        return
    for step in context.steps:
        rest = step.operation.rest
        if rest is None or rest[0] not in racks or not context.units_are_sure(step):
            continue
        units = context.units_in_task(step)
        spots = racks[rest[0]].spots
        if units * rest[1] > spots:
            each = "" if rest[1] == 1 else f" of {rest[1]} spots each"
            smaller = "write a smaller handful or batch, or give the rack more spots"
            yield Finding(
                (*step.where, "rest"),
                f'one task puts {say_number_of(units, "unit")}{each} on "{rest[0]}", which has {say_number_of(spots, "spot")}',
                smaller if units > 1 else f"give the rack {rest[1]} spots, or let a unit take fewer",
            )


def find_wet_dust(context: CheckContext) -> Iterator[Finding]:
    """Nothing is both wet and dusty: it would have to wait for itself."""
    for step in context.steps:
        if step.operation.dusty and step.operation.wet is not None:
            rule = "is wet and dusty at once, so it would have to wait for itself"
            yield Finding((*step.where, "dusty"), rule, "make two operations of it")


def warn_of_missing_clamps(context: CheckContext) -> Iterator[Finding]:
    """Clamp times without clamps, and clamps without a clamp time, are seldom meant."""
    for step in context.steps:
        operation = step.operation
        if not operation.clamps:
            for key in ("in_clamps", "unclamp"):
                if getattr(operation, key) is not None:
                    yield Finding((*step.where, key), "is given, but the operation takes no clamps", "add its clamps")
        elif operation.in_clamps is None:
            rule = "takes clamps but has no in_clamps, so they come off as soon as the work ends"
            yield Finding((*step.where, "clamps"), rule, 'add in_clamps = "45 / 60 / 90 min", for instance')


RULES = (
    find_clamp_needs,
    find_too_few_clamps,
    find_handfuls,
    find_too_few_hands,
    find_too_few_spots,
    find_wet_dust,
)
CAUTIOUS_RULES = (warn_of_missing_clamps,)
