"""Rules about room: work done once a run needs all its pieces under way at the same time."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass

from shopsim.limits import MAX_PIECES
from shopsim.scenario.batches import Batch, build_batches, find_room
from shopsim.scenario.check_context import CheckContext, LinePlan
from shopsim.scenario.design import Design, Operation
from shopsim.scenario.places import Finding, KeyPath
from shopsim.scenario.variants import Chosen, UnknownOption, every_operation, make_variant


def find_stuck_runs(context: CheckContext) -> Iterator[Finding]:
    """All pieces that work done once a run waits for can be under way together, beside what else is then."""
    scenario = context.scenario
    if not _is_run_sure(context) or not any(
        operation.per == "run" for _, design in context.designs for operation in every_operation(design)
    ):
        return
    room = find_room(scenario)
    if room is None:
        return
    numbers = {design.name: number for number, design in enumerate(scenario.all_designs)}
    try:
        batches, cuts = build_batches(scenario, scenario.lines, numbers, scenario.day0)
    except UnknownOption:  # told elsewhere
        return
    gates: dict[int, _Gate] = {}
    for line, (plan, cut) in enumerate(zip(context.plans, cuts, strict=True)):
        gate = _find_gate(context, plan, sorted(set(cut.chosen)))
        if gate is not None:
            gates[line] = gate
    needed, stuck = _count_room(batches, gates, room)
    for line in sorted(stuck):
        could = "could never" if gates[line].is_for_all else "might never"
        yield Finding(
            gates[line].where,
            f"is done once a run, after work on all {cuts[line].made} pieces; only {room} may be under way at once, "
            f"so it {could} start",
            f'set run.pieces_open = {needed}, or write per = "batch"',
        )


def _is_run_sure(context: CheckContext) -> bool:
    """Whether the run was read as it stands, and its batches can be worked out."""
    lines = context.scenario.lines if context.plans else ()
    return (
        bool(context.plans)
        and not any(hole[:1] == ("run",) or not hole for hole in context.holes)
        and all(plan.design is not None for plan in context.plans)
        and all(line.start is not None for line in lines)
        and sum(plan.pieces for plan in context.plans) <= MAX_PIECES
    )


def _count_room(batches: Sequence[Batch], gates: Container[int], room: int) -> tuple[int, set[int]]:
    """(the least room with which every batch can open, the gated lines that keep one from opening with this room).

    The pieces of a gated line stay under way until all its batches are open; all others may be done at any time.
    """
    left = Counter(batch.line for batch in batches)
    held: Counter[int] = Counter()
    needed, stuck = 0, set()
    for batch in batches:
        if held:
            needed = max(needed, held.total() + batch.size)
            if held.total() + batch.size > room:
                stuck |= set(held)
        left[batch.line] -= 1
        if batch.line in gates:
            held[batch.line] += batch.size
            if not left[batch.line]:
                del held[batch.line]
    return needed, stuck


@dataclass(frozen=True)
class _Gate:
    """Where the first operation stands that is done once a run after other work, and whether every piece has such a one."""

    where: KeyPath
    is_for_all: bool


def _find_gate(context: CheckContext, plan: LinePlan, choices: Sequence[Chosen]) -> _Gate | None:
    """The gate of a line whose pieces have these choices of options; None where there is none, or it is not sure."""
    design = plan.design
    assert design is not None
    place = next(where for where, one in context.designs if one is design)
    if any(hole[: len(place)] == place and _sets_order(hole[len(place) :]) for hole in context.holes):
        return None
    found = [(choice, _gate_of(make_variant(design, choice))) for choice in choices]
    first = next(((choice, name) for choice, name in found if name), None)
    if first is None:
        return None
    return _Gate((*place, *_place_in(design, *first)), all(name for _, name in found))


def _sets_order(inside: KeyPath) -> bool:
    """Whether a place in a design says what comes after what, or how often it is done."""
    return inside[:1] != ("operations",) or len(inside) < 3 or inside[2] in ("name", "after", "per")


def _gate_of(operations: Sequence[Operation]) -> str:
    """The name of the first operation once a run that comes after work done more often; "" where there is none."""
    late = {operation.name for operation in operations if operation.per != "run"}
    while True:
        more = {one.name for one in operations if one.name not in late and late.intersection(one.after or ())}
        if not more:
            break
        late |= more
    return next((one.name for one in operations if one.per == "run" and one.name in late), "")


def _place_in(design: Design, chosen: Chosen, name: str) -> KeyPath:
    """Where an operation that pieces with these options have stands in its design."""
    own = [operation.name for operation in design.operations]
    if name in own:
        return ("operations", own.index(name), "per")
    for number in chosen:
        added = [operation.name for operation in design.options[number].add]
        if name in added:
            return ("options", number, "add", added.index(name), "per")
    return ("options",)


RULES = (find_stuck_runs,)
