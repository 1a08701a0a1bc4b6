"""Rules about ways of making it: what they change is there, the run names known ones, and what they make can be made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from shopsim.scenario import check_names, check_needs, check_options, check_room, check_size, check_times, check_waiting
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.model import Design, Scenario, Way
from shopsim.scenario.places import UNREAD, Finding, KeyPath, clean
from shopsim.scenario.variants import fold_name
from shopsim.scenario.ways import put_ways

_Rule = Callable[[CheckContext], Iterator[Finding]]

#: What has to hold of every scenario that a way makes, with the options its pieces may have.
_OF_WAYS: tuple[_Rule, ...] = (
    check_names.find_unknown_things,
    check_names.find_after_itself,
    check_names.find_circles,
    check_names.find_taken_names,
    *check_needs.RULES,
    *check_times.RULES,
    *check_room.RULES,
    check_size.find_too_many_things,
    check_size.find_too_much,
    check_size.find_endless_work,
    check_options.find_options,
    check_options.find_bad_variants,
    *check_waiting.RULES,
)


def find_ways(context: CheckContext) -> Iterator[Finding]:
    """Ways have names of their own over all designs; what they change, drop and wait for is there, and what they add is new."""
    seen: dict[str, str] = {}
    for where, design in context.designs:
        for number, way in enumerate(design.ways):
            here, plain = (*where, "ways", number), fold_name(way.name)
            if not way.name.startswith(UNREAD):
                if not plain:
                    yield Finding((*here, "name"), "is blank", "write a name")
                elif plain in seen:
                    yield Finding((*here, "name"), "there are two ways of this name", "give each its own name")
                seen.setdefault(plain, way.name)
            yield from check_options.find_in_changes(context, where, design, way, here)
            yield from _find_other_reach(context, here, way)


def _find_other_reach(context: CheckContext, here: KeyPath, way: Way) -> Iterator[Finding]:
    """Clamps that come with a way and have the name of a kind that is there are of that kind."""
    own = {kind.name: kind.reach for kind in context.scenario.shop.clamps}
    for n, kind in enumerate(way.clamps):
        if kind.name in own and kind.reach is not None and kind.reach != own[kind.name]:
            rule = f'the shop has "{clean(kind.name, 60)}" of another reach'
            yield Finding((*here, "clamps", n, "reach"), rule, "take it out, or give the kind another name")
    for key, things in (("stations", way.stations), ("clamps", way.clamps)):
        names = [thing.name for thing in things]
        yield from check_names.find_equal((*here, key), names, key, "write them as one, with a higher count")


def find_unknown_ways(context: CheckContext) -> Iterator[Finding]:
    """Every way that the run names is one of a design's, and is named once."""
    names = [way.name for _, design in context.designs for way in design.ways]
    sure = all(context.are_named(*where, "ways") for where, _ in context.designs) and bool(context.designs)
    known, seen = {fold_name(name) for name in names}, set()
    for n, name in enumerate(context.scenario.run.ways):
        where: KeyPath = ("run", "ways", n)
        if name.startswith(UNREAD):
            continue
        if fold_name(name) in seen:
            yield Finding(where, f'names "{clean(name, 60)}" twice', "name it once")
        elif fold_name(name) not in known:
            yield from check_options.find_unknown(context, where, name, names, "way", sure)
        seen.add(fold_name(name))


def find_bad_ways(context: CheckContext) -> Iterator[Finding]:
    """What each way makes of the run can be made in the shop, options included, and what those in use make of it together."""
    ways = [(where, design, n, way) for where, design in context.designs for n, way in enumerate(design.ways)]
    if not ways or context.holes or any(context.findings(rule) for rule in (find_ways, find_unknown_ways)):
        return
    known = {(one.rule, one.mend) for rule in _OF_WAYS for one in context.findings(rule)}
    used = {fold_name(name) for name in context.scenario.run.ways}
    for where, design, n, way in ways:
        here = (*where, "ways", n)
        told = list(_find_named_still(here, design, way))
        yield from told
        for finding in _find_made(context, here, (way,)) if not told else ():
            if (finding.rule, finding.mend) not in known:
                known.add((finding.rule, finding.mend))
                yield finding
    together = tuple(way for *_, way in ways if fold_name(way.name) in used)
    if len(together) > 1:
        for finding in _find_made(context, ("run", "ways"), together):
            if (finding.rule, finding.mend) not in known:
                known.add((finding.rule, finding.mend))
                yield finding


def _find_named_still(here: KeyPath, design: Design, way: Way) -> Iterator[Finding]:
    """A way leaves out no operation that an option of the design still names."""
    for k, name in enumerate(way.drop):
        for option in design.options:
            named = [*(change.operation for change in option.change), *option.drop]
            named += [one for change in option.change for one in change.changes.get("after", ())]
            named += [one for added in option.add for one in (*(added.after or ()), *(added.before or ()))]
            if name in named:
                rule = f'drops "{clean(name, 60)}", which the option "{clean(option.name, 60)}" still names'
                yield Finding(
                    (*here, "drop", k), rule, "change it instead of dropping it, or write the option otherwise"
                )


def _find_made(context: CheckContext, here: KeyPath, used: Iterable[Way]) -> Iterator[Finding]:
    """What is wrong with the scenario that these ways make, told at ``here``."""
    names = tuple(way.name for way in used)
    run = context.scenario.run.model_copy(update={"ways": names})
    made = put_ways(context.scenario.model_copy(update={"run": run}))
    changed = replace(context, scenario=made, _found={})
    # a worker may be able to do, and a material be needed by, what a way leaves out
    changed.__dict__["operation_names"] = context.operation_names
    quoted = " and ".join(f'"{clean(name, 60)}"' for name in names)
    said = f"with the way{'s' if len(names) > 1 else ''} {quoted}"
    for rule in _OF_WAYS:
        for finding in rule(changed):
            place = _say_inside(made, finding)
            yield Finding(here, finding.rule, finding.mend, " · ".join(part for part in (said, place) if part))


def _say_inside(made: Scenario, finding: Finding) -> str:
    """Which operation, or which option, of what the ways make a finding is about; "" for the whole."""
    if finding.shown:
        return finding.shown
    steps = finding.where
    start = 1 if steps[:1] == ("design",) else 2
    design = next((one for n, one in enumerate(made.all_designs) if start == 1 or n == steps[1]), None)
    if design is None or steps[:1] not in (("design",), ("designs",)) or len(steps) < start + 2:
        return ""
    kinds: dict[str, list[str]] = {
        "operations": [operation.name for operation in design.operations],
        "options": [option.name for option in design.options],
    }
    items = kinds.get(str(steps[start]), [])
    number = steps[start + 1]
    if not isinstance(number, int) or number >= len(items):
        return ""
    keys = ".".join(str(step) for step in steps[start + 2 :] if isinstance(step, str))
    return " · ".join(part for part in (f'"{clean(items[number], 80)}"', keys) if part)


RULES = (find_ways, find_unknown_ways, find_bad_ways)
