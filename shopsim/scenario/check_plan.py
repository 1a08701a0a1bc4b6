"""Rules about a plan of one's own: what its lines name is there, each thing has one line, and moments lie in the run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from shopsim.priority import AS_PLANNED, PRIORITY_RULES
from shopsim.scenario.batches import Batch, build_batches
from shopsim.scenario.check_context import PACKING, STANDING, CheckContext
from shopsim.scenario.model import Design, PlannedWork
from shopsim.scenario.places import UNREAD, Finding, KeyPath, say_names
from shopsim.scenario.variants import operation_names

ORDER: KeyPath = ("run", "plan", "order")
#: Lines that are missing, or late, are named up to so many.
MAX_NAMED = 3


def find_missing_plan(context: CheckContext) -> Iterator[Finding]:
    """The priority rule "as planned" has a plan to go by."""
    run = context.scenario.run
    if run.priority != AS_PLANNED or not context.is_sure("run", "priority") or not context.is_sure("run", "plan"):
        return
    if run.plan is None:
        mend = f'search one with shopsim days, or write priority = "{PRIORITY_RULES[0]}"'
        yield Finding(("run", "priority"), f'"{AS_PLANNED}" needs a plan, and there is none', mend)


def find_wrong_lines(context: CheckContext) -> Iterator[Finding]:
    """Each line of the plan that is in use is about something that the run does, and is the only one about it."""
    lines = _lines_in_use(context)
    if not lines or not context.operations_named:
        return
    shop = _Doing(context)
    seen: dict[tuple[str, int | None, str | None], int] = {}
    for number, line in enumerate(lines):
        if line.operation.startswith(UNREAD) or (line.design or "").startswith(UNREAD):
            continue
        where = (*ORDER, number)
        wrong = shop.look_at(where, line)
        if wrong is not None:
            yield wrong
        key = (line.operation, line.batch, line.design)
        if key in seen:
            rule = f"says the same as line {seen[key] + 1} of the plan, which counts"
            yield Finding(where, rule, "take one of the two out")
        seen.setdefault(key, number)


def find_early_moments(context: CheckContext) -> Iterator[Finding]:
    """No line of the plan is held back to a moment before the run starts."""
    if not _lines_in_use(context) or any(hole[0] == "run" for hole in context.holes) or not context.plans:
        return
    if all(line.start is None for line in context.scenario.lines):
        return  # told already
    day0 = context.scenario.day0
    for number, line in enumerate(_lines_in_use(context)):
        when = line.not_before
        if when is not None and when < dt.datetime.combine(day0, dt.time()):
            rule = f"{when:%Y-%m-%d} is before the run starts on {day0}"
            yield Finding((*ORDER, number, "not_before"), rule, "write a later day, or take it out")


def warn_of_unplanned_work(context: CheckContext) -> Iterator[Finding]:
    """What no line of the plan is about goes last."""
    lines = _lines_in_use(context)
    if not lines or context.holes:
        return
    doing = _Doing(context)
    about = {(line.operation, line.batch, line.design) for line in lines}
    missing = []
    for design, name, batch in doing.everything():
        keys = [(name, number, of) for number in {batch, None} for of in (design, None)]
        if not any(key in about for key in keys):
            missing.append(f'"{name}"' if batch is None else f'"{name}" in batch {batch}')
    if missing:
        more = f" and {len(missing) - MAX_NAMED} more" if len(missing) > MAX_NAMED else ""
        rule = f"has no line about {', '.join(missing[:MAX_NAMED])}{more}, which go after all that have one"
        yield Finding(ORDER, rule, "add a line where it is to go, or search a new plan with shopsim days")


def _lines_in_use(context: CheckContext) -> tuple[PlannedWork, ...]:
    run = context.scenario.run
    if run.priority != AS_PLANNED or run.plan is None or not context.is_sure(*ORDER):
        return ()
    return run.plan.order


class _Doing:
    """What the run does: which designs have an operation, and of which design each batch is (where that is sure)."""

    def __init__(self, context: CheckContext) -> None:
        self.context = context
        scenario = context.scenario
        self.designs: Mapping[str, Design] = {design.name: design for _, design in context.designs}
        added = [name for name, on in _added(context).items() if on]
        self.names = {design: [*operation_names(one), *added] for design, one in self.designs.items()}
        self.batches: tuple[Batch, ...] = ()
        self.sure = not context.holes and bool(context.plans) and all(plan.design for plan in context.plans)
        if self.sure and all(line.start is not None for line in scenario.lines):
            numbers = {design.name: n for n, design in enumerate(scenario.all_designs)}
            self.batches, _ = build_batches(scenario, scenario.lines, numbers, scenario.day0)

    def look_at(self, where: KeyPath, line: PlannedWork) -> Finding | None:
        """What is wrong with a line, if anything."""
        suggest = self.context.suggester.nearest
        if line.design is not None and line.design not in self.designs:
            near = suggest(line.design, list(self.designs))
            mend = f'write "{near}"' if near else f"known are {say_names(list(self.designs))}"
            return Finding((*where, "design"), f'there is no design "{line.design}"', mend)
        known = [n for design, names in self.names.items() if line.design in (None, design) for n in names]
        if line.operation not in known:
            near = suggest(line.operation, known)
            mend = f'write "{near}"' if near else "take the line out, or add the operation"
            return Finding((*where, "operation"), f'there is no operation "{line.operation}"', mend)
        if line.batch is None or not self.batches:
            return None
        place: KeyPath = (*where, "batch")
        if line.batch > len(self.batches):
            n = len(self.batches)
            rule = f"there is no batch {line.batch}, as the run makes {n}"
            return Finding(place, rule, "take the line out, or search a new plan with shopsim days")
        design = self.context.scenario.all_designs[self.batches[line.batch - 1].design].name
        if line.design not in (None, design) or line.operation not in self.names[design]:
            rule = f'batch {line.batch} is of "{design}", and has no "{line.operation}" of this line'
            return Finding(place, rule, "write another batch, or take the line out")
        if self._is_done_once(design, line.operation):
            return Finding(place, "is done once for the whole run and not by batch", "take batch out")
        return None

    def everything(self) -> Iterator[tuple[str, str, int | None]]:
        """(design, operation, batch or None) of all that the plain designs do in this run."""
        added = [name for name, on in _added(self.context).items() if on]
        designs = [self.context.scenario.all_designs[batch.design] for batch in self.batches]
        for name, design in self.designs.items():
            numbers = [number for number, one in enumerate(designs, start=1) if one.name == name]
            for operation in (*(one.name for one in design.operations), *added):
                once = self._is_done_once(name, operation)
                yield from ((name, operation, number) for number in ([None] if once and numbers else numbers))

    def _is_done_once(self, design: str, operation: str) -> bool:
        return any(one.name == operation and one.per == "run" for one in self.designs[design].operations)


def _added(context: CheckContext) -> dict[str, bool]:
    """Steps that shipping may add, and whether it does."""
    shipping = context.scenario.shipping
    return {PACKING: shipping.packing is not None, STANDING: shipping.before_packing > 0}


RULES = (find_missing_plan, find_wrong_lines, find_early_moments)
CAUTIOUS_RULES = (warn_of_unplanned_work,)
