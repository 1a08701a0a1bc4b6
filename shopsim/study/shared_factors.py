"""What moves a result: how much of its variance over the replications each shared piece of luck accounts for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.days import days_level
from shopsim.engine.learned import can_learn, split_spread
from shopsim.engine.luck import LuckPlan, draw_material, draw_shared
from shopsim.engine.plan import build_plan
from shopsim.errors import InputError
from shopsim.scenario.model import Scenario
from shopsim.study.beliefs import name_steps
from shopsim.units import MINUTES_PER_DAY

#: Kinds of shared luck, as the tables name them.
ESTIMATE, BIAS, PACE, CALENDAR, MATERIAL, CURING = (
    "estimate of", "bias", "pace", "calendar", "material", "curing",
)  # fmt: skip


@dataclass(frozen=True)
class Factor:
    """One piece of luck that a whole run shares. ``kind``: one of the kinds above; ``name``: operation or material, if any."""

    kind: str
    name: str = ""
    design: str = ""


@dataclass(frozen=True)
class FactorShare:
    """The share of the variance that knowing a factor beforehand would take away, with its standard error."""

    factor: Factor
    share: float
    error: float


@dataclass(frozen=True)
class Factors:
    """The shared luck of replications. ``values``: float64, shape (replications, columns); ``column_of``: the columns of
    each factor; ``level_columns``: those of the calendar that a log of days could tell."""

    factors: tuple[Factor, ...]
    column_of: tuple[tuple[int, ...], ...]
    values: np.ndarray
    level_columns: tuple[int, ...]


#: Replications that a fit needs for every number it has to tell (own judgement).
LEAST_A_COLUMN = 3
#: Columns that every scenario has: bias, pace, curing, and four of the calendar.
_SHARED_COLUMNS = 7


def fewest_replications(scenario: Scenario) -> int:
    """Replications from which on it can be told what moves a result of this scenario."""
    steps = build_plan(scenario).luck.worklist.steps
    varied = sum(can_learn(steps[n].operation) for n in name_steps(scenario, steps).values())
    return LEAST_A_COLUMN * (varied + _SHARED_COLUMNS + len(scenario.materials) + 2)


def draw_factors(scenario: Scenario, seed: int, replications: np.ndarray, until_day: int) -> Factors:
    """The shared luck of these replications, drawn again from their keys: nothing is run.

    The calendar is four numbers: the run's level of interruptions, its chance of lost days, the open
    shares of the first ``until_day`` days, averaged over those not lost, and the days lost among them. Costs about 0.1 ms a replication.
    """
    plan = build_plan(scenario).luck
    steps = plan.worklist.steps
    designs = scenario.all_designs
    varied = [n for n in name_steps(scenario, steps).values() if can_learn(steps[n].operation)]
    factors = [Factor(ESTIMATE, steps[n].operation.name, designs[steps[n].design].name) for n in varied]
    columns: list[tuple[int, ...]] = [(n,) for n in range(len(varied))]
    rows = [_draw_row(plan, seed, int(replication), varied, until_day) for replication in replications]
    width = len(varied)
    for kind, size in ((BIAS, 1), (PACE, 1), (CURING, 1), (CALENDAR, 4)):
        factors.append(Factor(kind))
        columns.append(tuple(range(width, width + size)))
        width += size
    level = columns[-1][:2]
    for material in scenario.materials:
        factors.append(Factor(MATERIAL, material.name))
        columns.append((width,))
        width += 1
    return Factors(tuple(factors), tuple(columns), np.array(rows, dtype=np.float64).reshape(len(rows), width), level)


def _draw_row(plan: LuckPlan, seed: int, replication: int, varied: Sequence[int], until_day: int) -> list[float]:
    shared = draw_shared(plan, seed, replication)
    calendar = [0.0, 0.0, 1.0, 0.0]
    days = plan.draw_days(seed, replication)
    if days is not None:
        share, lost = days.days(until_day)
        there = share[~lost]
        calendar = [
            *days_level(plan.days, seed, replication),
            float(there.mean()) if there.size else 0.0,
            float(lost.sum()),
        ]
    return [
        *(float(shared.errors[n]) for n in varied),
        shared.bias,
        shared.pace,
        shared.clock,
        *calendar,
        *(draw_material(plan, number, seed, replication) / MINUTES_PER_DAY for number in range(len(plan.materials))),
    ]


@dataclass(frozen=True)
class Fit:
    """A result as a sum of what each column of the shared luck does to it while the others stay.

    ``slopes``: result over unit of each column, shape (columns,), 0 for columns that do not vary. ``shares``: of each
    factor, of the variance; ``total``: of all together, the rest being the units' own luck and what is not in
    proportion. ``calendar_share``: of the level of the days alone, which a log of days could tell.
    ``variance``: of the result.
    """

    slopes: np.ndarray
    shares: tuple[FactorShare, ...]
    total: float
    calendar_share: float
    variance: float


def fit_result(result: np.ndarray, factors: Factors) -> Fit:
    """How far each factor moves ``result``, float64, shape (replications,), by a linear fit.

    The share of a factor is the variance of that part of the fit which knowing it would foretell, dependence
    between bias and errors learned from the same logs counted in, over the variance of the
    result; the bias of so many fitted numbers is taken off. A result that does not vary
    has no shares. Raises InputError with fewer replications than thrice the columns that vary.
    """
    y = np.asarray(result, dtype=np.float64)
    n, width = y.size, factors.values.shape[1]
    spread = factors.values.std(axis=0)
    moving = np.flatnonzero(spread > 1e-9)
    variance = float(y.var())
    if n < LEAST_A_COLUMN * (moving.size + 2):
        raise InputError(
            f"{n} replications are too few to tell apart {moving.size} things that may move the date "
            f"· ask for {LEAST_A_COLUMN * (width + 2)} or more"
        )
    if variance <= 0.0 or not moving.size:
        return Fit(np.zeros(width), tuple(FactorShare(one, 0.0, 0.0) for one in factors.factors), 0.0, 0.0, variance)
    x = (factors.values[:, moving] - factors.values[:, moving].mean(axis=0)) / spread[moving]
    centred = y - y.mean()
    slopes, *_ = np.linalg.lstsq(x, centred, rcond=None)
    left = float(((centred - x @ slopes) ** 2).sum()) / (n - moving.size - 1)
    cross = x.T @ x / n
    cross[np.abs(cross) < 4 / math.sqrt(n)] = 0.0  # what is independent is so but for the luck of the draw
    np.fill_diagonal(cross, 1.0)
    place = {int(column): at for at, column in enumerate(moving)}

    def foretell(columns: Sequence[int]) -> tuple[float, float]:
        own = [place[column] for column in columns if column in place]
        if not own:
            return 0.0, 0.0
        pull = cross[own] @ slopes
        found = max(0.0, float(pull @ np.linalg.lstsq(cross[np.ix_(own, own)], pull, rcond=None)[0]))
        return max(0.0, found - len(own) * left / n) / variance, 2 * math.sqrt(found * left / n) / variance

    whole = np.zeros(width)
    whole[moving] = slopes / spread[moving]
    return Fit(
        slopes=whole,
        shares=tuple(
            FactorShare(factor, *foretell(columns))
            for factor, columns in zip(factors.factors, factors.column_of, strict=True)
        ),
        total=max(0.0, 1 - left / float(y.var(ddof=1))),
        calendar_share=foretell(factors.level_columns)[0],
        variance=variance,
    )


def rank_timing(scenario: Scenario, factors: Factors, fit: Fit, units: int, most: int) -> list[tuple[Factor, float]]:
    """(operation, share of the variance that timing it takes away), the best to time first, each next given those before.

    Timing ``units`` units of an operation in one run tells of its own error and of the bias that all
    share, as far as the run's pace and the units' noise let it: the expected gain is exact for
    normal errors and a result in proportion to them, whatever the times will turn out to be.
    """
    plan = build_plan(scenario).luck
    steps, beliefs = plan.worklist.steps, scenario.luck
    named = name_steps(scenario, steps)
    estimates = [
        (factor, column[0], named[factor.design, factor.name])
        for factor, column in zip(factors.factors, factors.column_of, strict=True)
        if factor.kind == ESTIMATE
    ]
    bias_column = next(
        column[0] for factor, column in zip(factors.factors, factors.column_of, strict=True) if factor.kind == BIAS
    )
    # unknowns: the bias, the pace of the run to be timed, and the score of each estimate
    size = 2 + len(estimates)
    unknown = np.eye(size)
    unknown[0, 0], unknown[1, 1] = beliefs.bias_spread**2, beliefs.pace_spread**2
    error = np.array([split_spread(steps[n].operation, steps[n].operation.work, beliefs)[0] for _, _, n in estimates])
    if plan.learned is not None:
        at = {step.steps[0]: 1 + place for place, step in enumerate(plan.learned.steps)}
        scale = np.array([1.0, *(max(step.error, 1e-9) for step in plan.learned.steps)])
        known = plan.learned.covariance / np.outer(scale, scale)
        own = [0, *(2 + place for place, (_, _, n) in enumerate(estimates) if n in at)]
        theirs = [0, *(at[n] for _, _, n in estimates if n in at)]
        unknown[np.ix_(own, own)] = known[np.ix_(theirs, theirs)]
    effect = np.zeros(size)
    effect[0] = fit.slopes[bias_column]
    effect[2:] = [fit.slopes[column] for _, column, _ in estimates]
    ranked: list[tuple[Factor, float]] = []
    left = list(range(len(estimates)))
    while left and len(ranked) < most and fit.variance > 0.0:
        best, best_gain, best_update = -1, -1.0, np.zeros((size, size))
        for place in left:
            step = steps[estimates[place][2]]
            looks = np.zeros(size)
            looks[0] = looks[1] = 1.0
            looks[2 + place] = error[place]
            toward = unknown @ looks
            noise = beliefs.hand_spread if step.operation.work_kind == "hand" else beliefs.machine_spread
            spread = float(looks @ toward) + noise**2 / units
            gain = float(effect @ toward) ** 2 / spread if spread > 0.0 else 0.0
            if gain > best_gain:
                best, best_gain, best_update = place, gain, np.outer(toward, toward) / max(spread, 1e-12)
        ranked.append((estimates[best][0], best_gain / fit.variance))
        unknown = unknown - best_update
        left.remove(best)
    return ranked
