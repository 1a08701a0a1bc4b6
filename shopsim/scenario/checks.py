"""The rules across fields, in order. Each rule is a function from a Look to what it found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from shopsim.priority import AS_PLANNED
from shopsim.scenario import (
    check_buying,
    check_learned,
    check_names,
    check_needs,
    check_options,
    check_plan,
    check_room,
    check_run,
    check_size,
    check_times,
    check_waiting,
    check_ways,
)
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.places import Finding

Rule = Callable[[CheckContext], Iterator[Finding]]

#: What makes a scenario wrong, or impossible to finish.
RULES: tuple[Rule, ...] = (
    *check_names.RULES,
    *check_needs.RULES,
    *check_times.RULES,
    *check_run.RULES,
    *check_plan.RULES,
    *check_room.RULES,
    *check_size.RULES,
    *check_options.RULES,
    *check_waiting.RULES,
    *check_ways.RULES,
    *check_learned.RULES,
    *check_buying.RULES,
)

#: What is allowed but seldom meant.
CAUTIOUS_RULES: tuple[Rule, ...] = (
    *check_needs.CAUTIOUS_RULES,
    *check_times.CAUTIOUS_RULES,
    *check_run.CAUTIOUS_RULES,
    *check_plan.CAUTIOUS_RULES,
    *check_learned.CAUTIOUS_RULES,
    *check_buying.CAUTIOUS_RULES,
)

#: Parts of a scenario that say what is to be done, and rules that look at these parts alone.
WORK_PARTS = ("design", "designs", "run")
WORK_RULES = frozenset((*check_room.RULES, *check_waiting.RULES))
#: Places whose value no rule looks at, but for a plan of one's own.
ALONE = (("run", "priority"),)


def check_scenario(context: CheckContext) -> list[Finding]:
    """Everything that breaks a rule across fields; empty if the scenario can be run.

    One that is far too large is not looked at further.
    """
    too_many = list(check_size.find_too_many_things(context))
    if too_many:
        return too_many
    return [finding for rule in RULES for finding in context.findings(rule)]


def check_again(context: CheckContext, places: Iterable[tuple[str | int, ...]]) -> list[Finding]:
    """What breaks a rule after values at these places were changed in a scenario that broke none; rules that cannot are left out."""
    planned = context.scenario.run.priority == AS_PLANNED
    changed = [place for place in places if planned or place not in ALONE]
    if not changed:
        return []
    too_many = list(check_size.find_too_many_things(context))
    work = any(place[0] in WORK_PARTS for place in changed)
    return too_many or [
        finding for rule in RULES if work or rule not in WORK_RULES for finding in context.findings(rule)
    ]


def warn_scenario(context: CheckContext) -> list[Finding]:
    """Everything that can be run but is seldom meant."""
    return [finding for rule in CAUTIOUS_RULES for finding in rule(context)]
