"""What a scenario believes of its times and days, with what was learned from logs; and which operations a log may name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from shopsim.engine.days import DAY_SHARED, day_beliefs, interrupted_share
from shopsim.engine.learned import LearnedTimes, can_learn, learn_times
from shopsim.engine.learned_days import learn_days
from shopsim.engine.lopsided import Lopsided
from shopsim.engine.routing import RoutingStep, build_steps
from shopsim.engine.spreads import spread_of
from shopsim.laws import Z90
from shopsim.scenario.batches import build_batches
from shopsim.scenario.logs import LoggableWork
from shopsim.scenario.model import Scenario
from shopsim.scenario.variants import PLAIN, Chosen


def list_loggable(scenario: Scenario) -> list[LoggableWork]:
    """The operations that a log may name: those of every design and its options, and the packing where the file has it."""
    works = []
    steps = steps_of(scenario)
    for (design, _), number in name_steps(scenario, steps).items():
        operation, count = steps[number].operation, steps[number].units_a_piece
        if operation.hands == 0:
            continue
        if operation.per in ("run", "batch"):
            works.append(LoggableWork(design, operation.name, 1, 1))
        elif operation.handful == "batch":
            works.append(LoggableWork(design, operation.name, None, None))
        else:
            usual = count if operation.handful is None else min(int(operation.handful), count)
            works.append(LoggableWork(design, operation.name, usual, count))
    return works


def steps_of(scenario: Scenario) -> tuple[RoutingStep, ...]:
    """The steps of all designs: first as the pieces of the run have them, then what only other options bring."""
    designs = scenario.all_designs
    number_of = {design.name: number for number, design in enumerate(designs)}
    _, cuts = build_batches(scenario, scenario.lines, number_of, scenario.day0)
    chosen: dict[int, list[Chosen]] = {number: [] for number in range(len(designs))}
    for line, cut in zip(scenario.lines, cuts, strict=True):
        chosen[number_of[line.design]] += sorted(set(cut.chosen))
    for number, design in enumerate(designs):
        chosen[number] += [PLAIN, *((option,) for option in range(len(design.options)))]
    return build_steps(scenario, designs, {number: list(dict.fromkeys(ways)) for number, ways in chosen.items()})[0]


def name_steps(scenario: Scenario, steps: Sequence[RoutingStep]) -> dict[tuple[str, str], int]:
    """(design, operation) -> the first step of it, in the order of the steps; versions of an operation are one."""
    named: dict[tuple[str, str], int] = {}
    for number, step in enumerate(steps):
        named.setdefault((scenario.all_designs[step.design].name, step.operation.name), number)
    return named


@dataclass(frozen=True)
class OperationBelief:
    """What is believed of the time of one unit of an operation, minutes: typical value and its 80 % interval."""

    design: str
    operation: str
    typical: float
    low: float
    high: float


def believe_times(scenario: Scenario) -> list[OperationBelief]:
    """The typical time of one unit of every operation that varies, with bias and what was learned, pace left out.

    Order of the file. ``low`` to ``high`` holds the operation's own typical time with 80 %, not single units. What is
    told is what the runs draw: a range that leans to one side does so here, too, until its times are logged.
    """
    steps, luck = steps_of(scenario), scenario.luck
    posterior = learn_times(scenario.learned.times, steps, scenario.all_designs, luck)
    bias, bias_sd = believe_bias(scenario)
    places = {} if posterior is None else {step.steps[0]: n + 1 for n, step in enumerate(posterior.steps)}
    beliefs = []
    for (design, name), number in name_steps(scenario, steps).items():
        operation = steps[number].operation
        if not can_learn(operation):
            continue
        if posterior is not None and number in places:
            at = places[number]
            middle = float(posterior.mean[0] + posterior.mean[at])
            sd = math.sqrt(posterior.covariance[0, 0] + posterior.covariance[at, at] + 2 * posterior.covariance[0, at])
            quantiles = (middle, middle - Z90 * sd, middle + Z90 * sd)
        else:
            spread = spread_of(operation, operation.work, luck)
            law = Lopsided(bias, spread.error * spread.below, spread.error * spread.above, bias_sd)
            quantiles = (law.quantile(0.5), law.quantile(0.1), law.quantile(0.9))
        typical, low, high = (operation.work.likely * math.exp(one) for one in quantiles)
        beliefs.append(OperationBelief(design, name, typical, low, high))
    return beliefs


@dataclass(frozen=True)
class DaysBelief:
    """What is believed of the calendar: (middle, 10 %, 90 %) of the typical share of an open day that is left for the
    shop, and of the chance that an open day is lost."""

    open_share: tuple[float, float, float]
    lost: tuple[float, float, float]


def believe_days(scenario: Scenario) -> DaysBelief:
    """The calendar as the runs draw it: what the file says or, where it is silent, what is assumed; or what logged days taught."""
    learned = learn_days(scenario.learned.days, scenario.shop)
    days = day_beliefs(scenario.shop, learned)
    if learned is not None:
        low, middle, high = (float(special.expit(learned.level + z * learned.level_sd)) for z in (-Z90, 0.0, Z90))
    elif days.interrupted is None:
        low = middle = high = 1.0
    else:
        scores = math.sqrt(DAY_SHARED) * np.array([Z90, 0.0, -Z90])
        low, middle, high = (float(share) for share in 1.0 - interrupted_share(days.interrupted, scores))
    return DaysBelief((middle, low, high), (days.lost_chance(0.5), days.lost_chance(0.1), days.lost_chance(0.9)))


def believe_bias(scenario: Scenario) -> tuple[float, float]:
    """(mean, sd) of the log of the shop's bias: typical actual time over likely time."""
    posterior = _posterior(scenario)
    if posterior is None:
        return math.log(scenario.luck.bias), scenario.luck.bias_spread
    return float(posterior.mean[0]), math.sqrt(float(posterior.covariance[0, 0]))


def believe_pace(scenario: Scenario) -> list[tuple[str, float, float]]:
    """(run, mean, sd) of the log of the pace of every logged run."""
    posterior = _posterior(scenario)
    if posterior is None:
        return []
    return [
        (run, float(mean), float(sd))
        for run, mean, sd in zip(posterior.runs, posterior.pace_mean, posterior.pace_sd, strict=True)
    ]


def _posterior(scenario: Scenario) -> LearnedTimes | None:
    return learn_times(scenario.learned.times, steps_of(scenario), scenario.all_designs, scenario.luck)
