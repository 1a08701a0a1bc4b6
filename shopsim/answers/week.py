"""More or fewer hours a week: every open day longer or shorter in the same proportion."""

from __future__ import annotations

from typing import Any

from shopsim.dates import DAY_NAMES, format_stretches
from shopsim.errors import InputError
from shopsim.say import say_plain
from shopsim.scenario.model import Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: Opening hours that are worked out end on a multiple of so many minutes.
STEP_MIN = 5.0

Stretches = tuple[tuple[float, float], ...]


def week_hours(scenario: Scenario) -> float | None:
    """Hours in which the shop is open in a week without days off; None where it never closes."""
    week = scenario.shop.open
    if week == "always":
        return None
    return float(sum(end - start for day in week for start, end in day)) / MINUTES_PER_HOUR


def change_week(scenario: Scenario, hours: float) -> dict[str, Any]:
    """What to change, by places, so that the shop is open so many hours a week; {} for as many as it is.

    Every open day closes later or earlier, in proportion and to five minutes; where midnight is in the way it opens
    earlier. Own hours of workers change in the same proportion. Raises InputError for a shop that never
    closes, or where so many hours do not fit.
    """
    now = week_hours(scenario)
    if now is None:
        raise InputError("the shop never closes, so its hours cannot be changed · state shop.open first")
    if abs(hours - now) < 1e-6:
        return {}
    if not now or not 0 < hours <= 168:
        raise InputError(f"{say_plain(hours)} hours a week cannot be worked · choose between 0 and 168")
    factor = hours / now
    data = scenario_data(scenario)["shop"]
    week = scenario.shop.open
    assert week != "always"
    changes: dict[str, Any] = {"shop.open": _scale_week(week, factor)}
    for number, worker in enumerate(scenario.shop.workers):
        if worker.open is not None and worker.open != "always" and "workers" in data:
            changes[f"shop.workers[{number}].open"] = _scale_week(worker.open, factor)
    return changes


def _scale_week(week: tuple[Stretches, ...], factor: float) -> dict[str, str]:
    return {DAY_NAMES[day]: format_stretches(_scale_day(week[day], factor)) for day in range(7) if week[day]}


def _scale_day(stretches: Stretches, factor: float) -> Stretches:
    """The stretches of one day, so that they come to ``factor`` times as long: the last one ends later, or else the
    first begins earlier; made shorter, the day ends earlier."""
    whole = sum(end - start for start, end in stretches)
    more = round(whole * factor / STEP_MIN) * STEP_MIN - whole
    if more >= 0:
        *before, (start, end) = stretches
        later = max(0.0, min(more, MINUTES_PER_DAY - end))
        grown = [*before, (start, end + later)]
        first, until = grown[0]
        if more - later > first + 1e-9:
            raise InputError("so many hours do not fit into the days on which the shop is open · open on another day")
        return ((first - (more - later), until), *grown[1:])
    left = max(STEP_MIN, whole + more)
    kept: list[tuple[float, float]] = []
    for start, end in stretches:
        if left > 1e-9:
            kept.append((start, min(end, start + left)))
            left -= kept[-1][1] - start
    return tuple(kept)
