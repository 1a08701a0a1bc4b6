"""What moves a result: how much of its variance over the replications each shared piece of luck accounts for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.days import days_level
from shopsim.engine.learned import can_learn
from shopsim.engine.luck import LuckPlan, draw_material, draw_shared
from shopsim.engine.spreads import spread_of
from shopsim.engine.worklist import build_worklist
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
    """The shared luck of replications.

    ``values``: float64, shape (replications, columns), as drawn: scores of estimates, logarithms of bias and pace;
    ``multiples``: what they do, which is what a result is fitted to: for estimates, bias and pace the times as long that
    work takes, else as drawn. ``column_of``: the columns of each factor.
    """

    factors: tuple[Factor, ...]
    column_of: tuple[tuple[int, ...], ...]
    values: np.ndarray
    multiples: np.ndarray


#: Replications that a fit needs for every number it has to tell (own judgement).
MIN_RUNS_A_COLUMN = 3
#: Pieces of the line that tells what a column does to a result, at most (own judgement).
MAX_LINE_PIECES = 4
#: Columns that every scenario has: bias, pace, curing, and four of the calendar.
_SHARED_COLUMNS = 7


def fewest_replications(scenario: Scenario) -> int:
    """Replications from which on it can be told what moves a result of this scenario."""
    steps = build_worklist(scenario).steps
    varied = sum(can_learn(steps[n].operation) for n in name_steps(scenario, steps).values())
    return MIN_RUNS_A_COLUMN * (varied + _SHARED_COLUMNS + len(scenario.materials) + 2)


def draw_factors(scenario: Scenario, seed: int, replications: np.ndarray, until_day: int) -> Factors:
    """The shared luck of these replications, drawn again from their keys: nothing is run.

    The calendar is four numbers: the run's level of interruptions, its chance of lost days, the open
    shares of the first ``until_day`` days, averaged over those not lost, and the days lost among them. Costs about 0.1 ms a replication.
    """
    plan = LuckPlan(build_worklist(scenario))
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
    for material in scenario.materials:
        factors.append(Factor(MATERIAL, material.name))
        columns.append((width,))
        width += 1
    values = np.array(rows, dtype=np.float64).reshape(len(rows), width)
    multiples = values.copy()
    for column, n in enumerate(varied):
        multiples[:, column] = np.exp(typical_log(plan, n, values[:, column]))
    shared = slice(len(varied), len(varied) + 2)  # bias and pace
    multiples[:, shared] = np.exp(values[:, shared])
    return Factors(tuple(factors), tuple(columns), values, multiples)


def typical_log(plan: LuckPlan, step: int, score: np.ndarray) -> np.ndarray:
    """Log of typical over likely time of a step at scores of its estimate, as the runs draw it, bias and pace left out."""
    learned = plan.learned
    known = None if learned is None else next((one for one in learned.steps if step in one.steps), None)
    if known is not None:
        return np.asarray(known.centre + known.error * score)
    operation = plan.worklist.steps[step].operation
    spread = spread_of(operation, operation.work, plan.worklist.scenario.luck)
    return np.asarray(np.where(score < 0, spread.below, spread.above) * spread.error * score)


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
    """A result as a sum of what each column of the shared luck does to it.

    ``shares``: of each factor, of the variance; ``total``: of all together. The rest is what single units, the interplay
    of the factors and the lumps of whole days leave. ``variance``: of the result. ``pieces``: see ``fit_result``.
    """

    shares: tuple[FactorShare, ...]
    total: float
    variance: float
    pieces: int


def fit_result(result: np.ndarray, factors: Factors) -> Fit:
    """How far each factor moves ``result``, float64, shape (replications,), by lines with bends.

    A column's effect is a straight line of up to MAX_LINE_PIECES pieces in its multiple, with bends at even
    shares of the replications: as many as MIN_RUNS_A_COLUMN replications for each number bear. The share of a factor is
    the variance of that part of the fit which knowing it would foretell, dependence between bias and errors
    learned from the same logs counted in, over the variance of the result; the bias of so many
    fitted numbers is taken off. A result that does not vary has no shares. Raises InputError with fewer
    replications than thrice the columns that vary.
    """
    y = np.asarray(result, dtype=np.float64)
    n, width = y.size, factors.multiples.shape[1]
    moving = np.flatnonzero(factors.multiples.std(axis=0) > 1e-9)
    variance = float(y.var())
    if n < MIN_RUNS_A_COLUMN * (moving.size + 2):
        raise InputError(
            f"{n} replications are too few to tell apart {moving.size} things that may move the date "
            f"· ask for {MIN_RUNS_A_COLUMN * (width + 2)} or more"
        )
    if variance <= 0.0 or not moving.size:
        return Fit(tuple(FactorShare(one, 0.0, 0.0) for one in factors.factors), 0.0, variance, 1)
    pieces = min(MAX_LINE_PIECES, (n // MIN_RUNS_A_COLUMN - 2) // moving.size)
    x, column_of_x = bend(factors.multiples, moving, pieces)
    centred = y - y.mean()
    slopes, *_ = np.linalg.lstsq(x, centred, rcond=None)
    left = float(((centred - x @ slopes) ** 2).sum()) / (n - x.shape[1] - 1)
    cross = x.T @ x / n
    apart = column_of_x[:, None] != column_of_x[None, :]
    cross[apart & (np.abs(cross) < 4 / math.sqrt(n))] = 0.0  # what is independent is so but for the luck of the draw

    def foretell(columns: Sequence[int]) -> tuple[float, float]:
        own = np.flatnonzero(np.isin(column_of_x, columns))
        if not own.size:
            return 0.0, 0.0
        pull = cross[own] @ slopes
        found = max(0.0, float(pull @ np.linalg.lstsq(cross[np.ix_(own, own)], pull, rcond=None)[0]))
        return max(0.0, found - own.size * left / n) / variance, 2 * math.sqrt(found * left / n) / variance

    return Fit(
        shares=tuple(
            FactorShare(factor, *foretell(columns))
            for factor, columns in zip(factors.factors, factors.column_of, strict=True)
        ),
        total=max(0.0, 1 - left / float(y.var(ddof=1))),
        variance=variance,
        pieces=pieces,
    )


def bend(values: np.ndarray, columns: Sequence[int] | np.ndarray, pieces: int) -> tuple[np.ndarray, np.ndarray]:
    """(basis of lines with bends, standardised, shape (replications, functions); the column each function belongs to).

    A column gives itself, and what of it lies beyond each bend; bends lie at even shares of its values.
    """
    functions, owners = [], []
    for column in columns:
        own = values[:, column]
        bends = np.unique(np.quantile(own, np.arange(1, pieces) / pieces))
        for function in (own, *(np.maximum(own - place, 0.0) for place in bends if place > own.min())):
            spread = function.std()
            if spread > 1e-9:
                functions.append((function - function.mean()) / spread)
                owners.append(column)
    return np.column_stack(functions), np.array(owners)
