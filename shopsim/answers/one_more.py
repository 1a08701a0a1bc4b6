"""One more of everything a shop has or does: each as an alternative of its scenario."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from shopsim.answers.clamp_words import say_added
from shopsim.answers.growth import Improvement, grow_clamps, grow_others
from shopsim.dates import DAY_NAMES, format_stretches
from shopsim.engine.task_holdups import CLAMPS, CLOSED, CURING, IN_CLAMPS, RACK, STATION, WORKER
from shopsim.engine.worklist import Worklist
from shopsim.laws import Law
from shopsim.plurals import say_more
from shopsim.scenario.model import Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR, format_minutes

HANDS = ("worker", "hours", "helper")
_DAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")
_SATURDAY = 5
#: Hours of a helper in a shop that never closes (own choice).
_HELPER_HOURS = ((480.0, 720.0), (780.0, 1020.0))

Stretches = tuple[tuple[float, float], ...]


def list_more(scenario: Scenario, work: Worklist) -> list[Improvement]:
    """One step of each kind of clamps in use, a person like each there is, one more of each station and rack in use,
    an hour a week, a helper, half of every set-up, clamp time and drying time; what the shop has none of is left out."""
    names = [kind.name for kind in scenario.shop.clamps]
    used = [name for n, name in enumerate(names) if any(n in kinds for step in work.steps for kinds, _ in step.clamps)]
    more = []
    for growth in [*grow_clamps(scenario, work, used, None, steps=(1,)), *grow_others(scenario, work)]:
        waits: tuple[tuple[str, str | None], ...] = {
            "clamps": tuple((CLAMPS, kind) for kind in growth.parts),
            "worker": ((WORKER, None),),
            "station": ((STATION, growth.kind),),
            "rack": ((RACK, growth.kind),),
        }[growth.thing]
        kind, n = growth.kind, growth.added
        what = say_added(n, kind) if growth.thing == "clamps" else say_more(growth.thing, kind, n)
        more.append(replace(growth, what=what, waits=waits))
    more += [one for one in (_longer_day(scenario), _helper(scenario)) if one is not None]
    for what, thing, fields, waits in (
        ("half the set-up times", "set-up", ("setup",), ()),
        ("half the time in clamps", "in clamps", ("in_clamps",), ((IN_CLAMPS, None),)),
        ("drying and curing in half the time", "drying", ("cure", "wet"), ((CURING, None),)),
    ):
        changes = _scale_times(scenario, fields, 0.5)
        if thing == "drying" and scenario.shipping.before_packing > 0:
            changes["shipping.before_packing"] = format_minutes(scenario.shipping.before_packing / 2)
        if changes:
            more.append(Improvement(thing, "x 0.5", 1, None, changes, what=what, waits=waits))
    return more


def open_share(scenario: Scenario) -> float:
    """The share of the week in which the shop is open by its hours, 0..1."""
    week = scenario.shop.open
    if week == "always":
        return 1.0
    return float(sum(end - start for day in week for start, end in day)) / (7 * MINUTES_PER_DAY)


def scale_law(law: Law, factor: float) -> Law:
    """The law of a time that takes ``factor`` as long; one of the user's own stays as it is."""
    if law.name == "own":
        return law
    places = 1 if law.name in ("lognormal", "erlang") else len(law.numbers)  # their second number is a shape
    return Law(law.name, tuple(n * factor for n in law.numbers[:places]) + law.numbers[places:])


def _scale_times(scenario: Scenario, fields: Sequence[str], factor: float) -> dict[str, Any]:
    """Changes that make these times of all operations longer or shorter; none where there are no such times."""
    changes: dict[str, Any] = {}
    designs = [("design", scenario.design)] if scenario.design else []
    designs += [(f"designs[{n}]", design) for n, design in enumerate(scenario.designs)]
    for place, design in designs:
        for n, operation in enumerate(design.operations):
            for name in fields:
                law = getattr(operation, name)
                if law is not None and scale_law(law, factor) != law:
                    changes[f"{place}.operations[{n}].{name}"] = scale_law(law, factor)
    return changes


def _longer_day(scenario: Scenario) -> Improvement | None:
    """The shop's longest open day one hour longer, for everybody who works then; None where it never closes or cannot."""
    week = scenario.shop.open
    if week == "always":
        return None
    for day in sorted(range(7), key=lambda day: -sum(end - start for start, end in week[day])):
        changes = lengthen_day(scenario, day)
        longer = _lengthen(week[day])
        if not changes or longer is None:
            continue
        name = DAY_NAMES[day]
        before, after = (format_stretches(hours) for hours in (week[day], longer))
        remark = f"{after} instead of {before}, for all who work then"
        return Improvement(
            "hours",
            name,
            1,
            None,
            changes,
            what=f"an hour more on {_DAYS[day]}",
            waits=((CLOSED, None),),
            remark=remark,
        )
    return None


def lengthen_day(scenario: Scenario, day: int) -> dict[str, Any]:
    """Changes that keep the shop, and everybody who works then, there an hour longer on a day; none where it is closed or cannot."""
    shop, week = scenario.shop, scenario.shop.open
    if week == "always":
        return {}
    longer = _lengthen(week[day])
    if not week[day] or longer is None:
        return {}
    data, name = scenario_data(scenario)["shop"], DAY_NAMES[day]
    changes: dict[str, Any] = {"shop.open": {**data["open"], name: format_stretches(longer)}}
    for n, worker in enumerate(shop.workers):
        if worker.open is None or worker.open == "always" or not worker.open[day]:
            continue
        stays = _lengthen(worker.open[day])
        if stays is not None:
            changes[f"shop.workers[{n}].open"] = {**data["workers"][n]["open"], name: format_stretches(stays)}
    return changes


def hours_of_helper(scenario: Scenario) -> list[tuple[int, Stretches]]:
    """(day, its hours) of each day on which a helper could come: those on which the shop is open; one that never closes, Saturday."""
    week = scenario.shop.open
    if week == "always":
        return [(_SATURDAY, _HELPER_HOURS)]
    return [(day, week[day]) for day in range(7) if week[day]]


def _lengthen(stretches: Stretches) -> Stretches | None:
    """Hours that close one hour later, or else open one hour earlier; None where midnight is in the way."""
    if not stretches:
        return None
    if stretches[-1][1] + MINUTES_PER_HOUR <= MINUTES_PER_DAY:
        return (*stretches[:-1], (stretches[-1][0], stretches[-1][1] + MINUTES_PER_HOUR))
    if stretches[-1][1] <= MINUTES_PER_DAY and stretches[0][0] >= MINUTES_PER_HOUR:
        return ((stretches[0][0] - MINUTES_PER_HOUR, stretches[0][1]), *stretches[1:])
    return None


def _helper(scenario: Scenario) -> Improvement | None:
    """A helper who can do everything, on Saturdays; where the shop is closed then, on its longest day."""
    shop, week = scenario.shop, scenario.shop.open
    day, hours = _SATURDAY, _HELPER_HOURS
    if week != "always":
        if not week[day]:
            day = max(range(7), key=lambda day: sum(end - start for start, end in week[day]))
        hours = week[day]
    taken = {worker.name for worker in shop.workers}
    name = "helper for a day"
    while name in taken:
        name = f"another {name}"
    workers = scenario_data(scenario)["shop"].get("workers") or [{"name": worker.name} for worker in shop.workers]
    helper = {"name": name, "open": {DAY_NAMES[day]: format_stretches(hours)}}
    return Improvement(
        "helper", DAY_NAMES[day], 1, None, {"shop.workers": [*workers, helper]}, what=f"a helper on {_DAYS[day]}",
        waits=((WORKER, None),), remark=f"{format_stretches(hours)}, can do everything",
    )  # fmt: skip
