"""Logs as they may yet be written: drawn from what is believed, so that what they would be worth can be run.

What a log will say is not known, but what is believed says how likely each log is. Averaged over logs so drawn, what is
believed afterwards is what is believed now; only its width shrinks (preposterior analysis: Raiffa and Schlaifer,
Applied Statistical Decision Theory, 1961). The share of a result's variance that a log would take away is that of
the result's mean given the log, fitted over pairs of result and log (Strong, Oakley, Brennan and Breeze, Medical
Decision Making 35, 2015). Both sources from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from shopsim.engine.days import DAY_SHARED, MIN_LEFT, interrupted_share
from shopsim.engine.keyed import stable_key
from shopsim.engine.learned_days import SHARE_EDGE
from shopsim.engine.luck import LuckPlan
from shopsim.engine.spreads import spread_of
from shopsim.engine.worklist import build_worklist
from shopsim.scenario.model import LoggedDays, LoggedTimes, Scenario
from shopsim.study.beliefs import name_steps
from shopsim.study.shared_factors import BIAS, CALENDAR, ESTIMATE, Factor, Factors, bend

#: Replications that a number of the fit of a result to a log needs (own judgement), and pieces of its line at most.
MIN_RUNS_A_PIECE, MAX_LINE_PIECES = 25, 6


@dataclass(frozen=True)
class ImaginedLogs:
    """A log of every operation that can be timed, and one of days, for each of some replications, as true shops with their luck would write them.

    ``times``: log of actual over likely time, shape (replications, units), of each estimate. ``lost``: lost days among
    ``n_days`` logged; ``mean_logit``: of the open shares of the others; None where no day can lose anything.
    """

    times: Mapping[Factor, np.ndarray]
    n_days: int
    lost: np.ndarray
    mean_logit: np.ndarray | None

    def tells(self, factor: Factor) -> np.ndarray:
        """What a log of this factor comes to: float64, shape (replications, numbers)."""
        if factor.kind != CALENDAR:
            return np.asarray(self.times[factor].mean(axis=1)[:, None])
        assert self.mean_logit is not None
        return np.column_stack([self.lost.astype(np.float64), self.mean_logit])

    def cells(self, factor: Factor, row: int) -> LoggedTimes:
        """The log of an operation in one of the replications, as a scenario keeps it."""
        times = self.times[factor][row]
        return LoggedTimes(
            operation=factor.name,
            design=factor.design,
            units=times.size,
            mean=_bounded(times.mean()),
            squares=float(((times - times.mean()) ** 2).sum()),
            run="a run to be timed",
            log="imagined",
        )

    def days(self, row: int) -> LoggedDays:
        """The log of days in one of the replications, as a scenario keeps it."""
        assert self.mean_logit is not None
        lost = int(self.lost[row])
        return LoggedDays(
            days=self.n_days, lost=lost, shares=self.n_days - lost, mean_logit=_bounded(self.mean_logit[row]),
            log="imagined",
        )  # fmt: skip


def _bounded(value: float) -> float:
    return float(min(max(value, -10.0), 10.0))


def imagine_logs(scenario: Scenario, factors: Factors, seed: int, units: int, days: int) -> ImaginedLogs:
    """The logs that shops with the luck of these replications would write of ``units`` units of an operation, and of ``days`` days.

    All operations are timed in one run, whose pace is its own. Bias, estimates and the level of the days are
    those of the replication, units and days have luck of their own.
    """
    plan = LuckPlan(build_worklist(scenario))
    steps = plan.worklist.steps
    named = name_steps(scenario, steps)
    column = {factor: columns[0] for factor, columns in zip(factors.factors, factors.column_of, strict=True)}
    shift = factors.values[:, column[Factor(BIAS)]] + scenario.luck.pace_spread * _normal(
        seed, factors.values.shape[:1], "pace"
    )
    times = {}
    for factor in factors.factors:
        if factor.kind != ESTIMATE or steps[named[factor.design, factor.name]].operation.hands == 0:
            continue  # what nobody does is not timed
        score = factors.values[:, column[factor]]
        own = _normal(seed, (score.size, units), "time", factor.design, factor.name)
        times[factor] = shift[:, None] + _unit_logs(plan, named[factor.design, factor.name], score[:, None], own)
    level, chance = (factors.values[:, column[Factor(CALENDAR)] + place] for place in (0, 1))
    lost = np.random.default_rng([seed % 2**64, stable_key("imagined", "lost")]).binomial(
        days, np.clip(chance, 0.0, 1.0)
    )
    return ImaginedLogs(times, days, lost, None if plan.days.whole else _mean_logits(plan, level, days - lost, seed))


def _unit_logs(plan: LuckPlan, step: int, score: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Log of actual over likely time of single units at the score of the estimate and their own, as the runs draw it."""
    learned = plan.learned
    known = None if learned is None else next((one for one in learned.steps if step in one.steps), None)
    if learned is not None and known is not None:
        return np.asarray(known.centre + known.error * score + learned.noise_factor * known.noise * own)
    operation = plan.worklist.steps[step].operation
    spread = spread_of(operation, operation.work, plan.worklist.scenario.luck)
    zeta = spread.error * score + spread.noise * own
    return np.asarray(np.where(zeta < 0, spread.below, spread.above) * zeta)


def _mean_logits(plan: LuckPlan, level: np.ndarray, there: np.ndarray, seed: int) -> np.ndarray:
    """Mean logit of the open shares of the days that are there, in shops of such levels; 0 where none is."""
    most = int(there.max(initial=0))
    own = _normal(seed, (level.size, most), "days")
    learned, interrupted = plan.days.learned, plan.days.interrupted
    if learned is not None:
        logits = learned.level - learned.level_sd * level[:, None] - learned.day_sd * own
    elif interrupted is None:
        logits = np.full(own.shape, np.inf)
    else:
        scores = math.sqrt(DAY_SHARED) * level[:, None] + math.sqrt(1 - DAY_SHARED) * own
        logits = special.logit(np.maximum(1.0 - interrupted_share(interrupted, scores), MIN_LEFT))
    edge = float(special.logit(1 - SHARE_EDGE))
    counted = np.arange(most)[None, :] < there[:, None]
    return np.asarray((np.clip(logits, -edge, edge) * counted).sum(axis=1) / np.maximum(there, 1))


def _normal(seed: int, shape: tuple[int, ...], *purpose: str) -> np.ndarray:
    return np.random.default_rng([seed % 2**64, stable_key("imagined", *purpose)]).standard_normal(shape)


def expect_from(result: np.ndarray, told: np.ndarray) -> tuple[np.ndarray, float]:
    """(mean of a result given what a log tells, in each replication; the share of its variance that the log takes away).

    ``told``: float64, shape (replications, numbers). Lines with bends, one a number, added up. The bias of
    the fitted numbers is taken off the share, which may come out a little below nothing.
    """
    n = result.size
    moving = np.flatnonzero(told.std(axis=0) > 1e-9)
    variance = float(result.var(ddof=1))
    if not moving.size or variance <= 0.0:
        return np.full(n, float(result.mean())), 0.0
    x, _ = bend(told, moving, min(MAX_LINE_PIECES, max(1, n // (MIN_RUNS_A_PIECE * moving.size))))
    centred = result - result.mean()
    slopes, *_ = np.linalg.lstsq(x, centred, rcond=None)
    left = float(((centred - x @ slopes) ** 2).sum()) / max(n - x.shape[1] - 1, 1)
    return result.mean() + x @ slopes, 1 - left / variance


def rank_timing(result: np.ndarray, logs: ImaginedLogs, most: int) -> list[tuple[Factor, float]]:
    """(operation, share of the variance of ``result`` that timing it takes away), the best first, each next given those before."""
    ranked: list[tuple[Factor, float]] = []
    left, taken = list(logs.times), 0.0
    told = np.zeros((result.size, 0))
    while left and len(ranked) < most:
        shares = {factor: expect_from(result, np.column_stack([told, logs.tells(factor)]))[1] for factor in left}
        best = max(left, key=lambda factor: shares[factor])
        ranked.append((best, shares[best] - taken))
        told, taken = np.column_stack([told, logs.tells(best)]), shares[best]
        left.remove(best)
    return ranked


def pick_rows(expected: np.ndarray, n: int, seed: int) -> np.ndarray:
    """``n`` replications drawn evenly over what is expected of the result: one from each of ``n`` equal parts in its order."""
    order = np.argsort(expected, kind="stable")
    places = (np.arange(n) + np.random.default_rng([seed % 2**64, stable_key("imagined", "rows")]).random(n)) / n
    return order[np.minimum((places * order.size).astype(np.int64), order.size - 1)]


def widths_of(days: Sequence[np.ndarray], confidence: float) -> np.ndarray:
    """The width of the window of a result in each of some studies, days, unrounded (median-unbiased quantiles), shape (studies,)."""
    outside = (1 - confidence) / 2
    ends = [np.quantile(one, [outside, 1 - outside], method="median_unbiased") for one in days]
    return np.array([high - low for low, high in ends])
