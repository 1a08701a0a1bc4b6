"""Rules about options: what they change is there, what they make of a design can be made, and orders name known ones."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from shopsim.limits import MAX_CHOICES
from shopsim.scenario import check_names, check_needs, check_size, check_times
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.model import Design, Option, Scenario, Way
from shopsim.scenario.places import UNREAD, Finding, KeyPath, clean, say_names
from shopsim.scenario.values import OrderBook
from shopsim.scenario.variants import Chosen, UnknownOption, make_variant, read_options, say_options

_Rule = Callable[[CheckContext], Iterator[Finding]]

#: What has to hold of every design that options make.
_OF_VARIANTS: tuple[_Rule, ...] = (
    check_names.find_unknown_things,
    check_names.find_after_itself,
    check_names.find_circles,
    check_names.find_taken_names,
    *check_needs.RULES,
    *check_times.RULES,
    check_size.find_too_many_things,
    check_size.find_too_much,
)


def find_options(context: CheckContext) -> Iterator[Finding]:
    """Options have names of their own; what they change, drop and wait for is there, and what they add is new."""
    for where, design in context.designs:
        names = [option.name for option in design.options]
        yield from check_names.find_equal((*where, "options"), names, "options", "give each its own name")
        for number in range(len(design.options)):
            yield from find_in_changes(context, where, design, design.options[number], (*where, "options", number))


def find_in_changes(
    context: CheckContext, where: KeyPath, design: Design, option: Option | Way, here: KeyPath
) -> Iterator[Finding]:
    """What an option or a way of a design at ``where`` cannot do: names that are not there, or are there already; ``here``: its place."""
    own = [operation.name for operation in design.operations]
    sure = context.are_named(*where, "operations")
    changed: dict[str, int] = {}
    for n, change in enumerate(option.change):
        place = (*here, "change", n, "operation")
        yield from find_unknown(context, place, change.operation, own, "operation", sure)
        if change.operation in changed and not change.operation.startswith(UNREAD):
            yield Finding(place, f'"{clean(change.operation)}" is changed twice', "write both changes in one")
        changed.setdefault(change.operation, n)
        there = [*own, *(added.name for added in option.add)]
        for k, name in enumerate(change.changes.get("after", ())):
            yield from find_unknown(context, (*here, "change", n, "after", k), name, there, "operation", sure)
    for n, name in enumerate(option.drop):
        place = (*here, "drop", n)
        yield from find_unknown(context, place, name, own, "operation", sure)
        if name in changed:
            yield Finding(place, f'"{clean(name)}" is changed and dropped', "do one of them")
    if sure and own and set(own) <= set(option.drop) and not option.add:
        yield Finding((*here, "drop"), "drops every operation", "leave one, or add another")
    yield from _find_in_added(context, here, option, own, sure)
    materials = [material.name for material in context.scenario.materials]
    for n, name in enumerate(option.materials):
        place = (*here, "materials", n)
        yield from find_unknown(context, place, name, materials, "material", context.are_named("materials"))


def _find_in_added(
    context: CheckContext, here: KeyPath, option: Option | Way, own: list[str], sure: bool
) -> Iterator[Finding]:
    there = [name for name in own if name not in option.drop]
    for n, added in enumerate(option.add):
        place = (*here, "add", n)
        if added.name in [*own, *(other.name for other in option.add[:n])]:
            rule = "the design has an operation of this name already"
            yield Finding((*place, "name"), rule, "write it under change, or give it another name")
        if added.after is None and n == 0 and context.is_sure(*place, "after"):
            yield Finding((*place, "after"), "is missing", 'say what it comes after, like after = ["sand"]')
        earlier = [other.name for other in option.add[:n]]
        for key in ("after", "before"):
            for k, name in enumerate(getattr(added, key) or ()):
                yield from find_unknown(context, (*place, key, k), name, [*there, *earlier], "operation", sure)


def find_unknown(
    context: CheckContext, where: KeyPath, name: str, known: Iterable[str], what: str, sure: bool
) -> Iterator[Finding]:
    """A name that is none of the known ones, with the nearest; silent where it is not sure which are known."""
    names = list(known)
    if name in names or name.startswith(UNREAD) or not sure or not context.is_sure(*where):
        return
    near = context.suggester.nearest(name, names)
    mend = f'write "{near}"' if near else f"known are {say_names(names)}" if names else "take it out"
    yield Finding(where, f'there is no {what} "{clean(name)}"', mend)


def _books(context: CheckContext) -> Iterator[tuple[KeyPath, KeyPath, Design, OrderBook]]:
    """(place of the orders, place of the design, design, orders) of every file of orders."""
    places = {design.name: (where, design) for where, design in reversed(context.designs)}
    run = context.scenario.run
    lines: list[tuple[KeyPath, str | None, object]] = [
        (("run", "lines", n, "orders"), line.design, line.orders) for n, line in enumerate(run.lines)
    ]
    if not lines and context.designs:
        lines = [(("run", "orders"), context.designs[0][1].name, run.orders)]
    for where, name, orders in lines:
        if isinstance(orders, OrderBook) and name in places and context.is_sure(*where):
            yield (where, *places[str(name)], orders)


def find_unknown_options(context: CheckContext) -> Iterator[Finding]:
    """Every option that an order asks for is one of its design's."""
    for where, place, design, book in _books(context):
        if not design.options or not context.are_named(*place, "options"):
            continue
        names = [option.name for option in design.options]
        for number, order in enumerate(book.orders):
            try:
                read_options(design, order.option)
            except UnknownOption as error:
                near = context.suggester.nearest(error.name, names)
                mend = f'write "{near}"' if near else f"options of the {clean(design.name, 60)} are {say_names(names)}"
                yield Finding(
                    (*where, number),
                    f'there is no option "{clean(error.name, 60)}"',
                    mend,
                    f'order "{clean(order.id, 60)}" · option',
                )


def find_bad_variants(context: CheckContext) -> Iterator[Finding]:
    """What options make of a design can be made in the shop; asked of each option, and of each choice of several."""
    if not any(design.options for _, design in context.designs):
        return
    if any(True for _ in find_options(context)):
        return
    plain = {rule: list(rule(context)) for rule in _OF_VARIANTS}
    known = {(finding.rule, finding.mend) for findings in plain.values() for finding in findings}
    too_large = any(plain[rule] for rule in check_size.RULES if rule in plain)
    for where, design in context.designs:
        if any(hole[: len(where)] == where for hole in context.holes):
            continue
        choices: dict[Chosen, None] = dict.fromkeys((number,) for number in range(len(design.options)))
        for book_where, _, of_design, book in _books(context):
            if of_design is design:
                choices.update(dict.fromkeys(_choices(design, book)))
                if len(choices) > MAX_CHOICES + len(design.options):
                    rule = f"asks for more than {MAX_CHOICES} choices of several options"
                    yield Finding(book_where, rule, "make options of the choices that are common")
                    return
        for chosen in choices:
            for found_by, finding in _find_in_variant(context, where, design, chosen):
                if too_large and found_by in check_size.RULES:
                    continue
                if (finding.rule, finding.mend) not in known:
                    known.add((finding.rule, finding.mend))
                    yield finding


def _choices(design: Design, book: OrderBook) -> Iterator[Chosen]:
    for order in book.orders:
        try:
            chosen = read_options(design, order.option)
        except UnknownOption:
            continue
        if len(chosen) > 1:
            yield chosen


def _find_in_variant(
    context: CheckContext, where: KeyPath, design: Design, chosen: Chosen
) -> Iterator[tuple[_Rule, Finding]]:
    """(rule, what it found) of one design that options make, at the place of the option."""
    operations = make_variant(design, chosen)
    variant = design.model_copy(update={"operations": operations, "options": ()})
    scenario = _with_design(context.scenario, design, variant)
    changed = replace(context, scenario=scenario)
    sources = {
        name: (*where, "options", number, key, n)
        for number in chosen
        for key, items in (
            ("change", [change.operation for change in design.options[number].change]),
            ("add", [added.name for added in design.options[number].add]),
        )
        for n, name in enumerate(items)
    }
    option = (*where, "options", chosen[-1])
    said = f'{where[0]} "{clean(design.name, 60)}" with {clean(say_options(design, chosen), 80)}'
    if not operations and len(chosen) > 1:  # of one option it is told already
        mend = "let one of these options leave an operation, or take the order out"
        yield find_bad_variants, Finding(option, "nothing is left to be done", mend, said)
        return
    for rule in _OF_VARIANTS:
        for finding in rule(changed):
            inside = finding.where[len(where) :]
            if finding.where[: len(where)] == where and inside[:1] == ("operations",) and len(inside) > 1:
                name = operations[int(inside[1])].name
                keys = ".".join(str(step) for step in inside[2:] if isinstance(step, str))
                shown = " · ".join(part for part in (said, f'"{clean(name, 80)}"', keys) if part)
                yield rule, Finding(sources.get(name, option), finding.rule, finding.mend, shown)
            else:
                yield rule, Finding(option, finding.rule, finding.mend, said)


def _with_design(scenario: Scenario, design: Design, variant: Design) -> Scenario:
    if scenario.design is design:
        return scenario.model_copy(update={"design": variant})
    return scenario.model_copy(update={"designs": tuple(variant if one is design else one for one in scenario.designs)})


RULES = (find_options, find_unknown_options, find_bad_variants)
