"""The luck of one run: every time, day and delivery drawn for a seed and a replication."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy import special

from shopsim.engine.days import DayLuck, DrawnDays, LikelyDays, day_beliefs
from shopsim.engine.keyed import (
    BIAS,
    CLOCK_RUN,
    CURE,
    ESTIMATE_ERROR,
    IN_CLAMPS,
    LATE,
    LATE_BY,
    LEAD,
    MATERIAL_REST,
    PACE,
    SETUP,
    UNCLAMP,
    WET,
    WORK,
    draw_one,
    draw_uniform,
    stable_key,
)
from shopsim.engine.learned import learn_days, learn_times
from shopsim.engine.task_times import KINDS, RedoTimes, TaskTimes
from shopsim.engine.worklist import Worklist
from shopsim.scenario.model import Material
from shopsim.units import MINUTES_PER_DAY, minutes_at, to_tick

#: Where a material's lead is a range and nothing is said of lateness: chance, mean days (own judgement).
DEFAULT_LATE = 0.20
LATE_BY_MEAN_DAYS = 2.0


@dataclass
class Draws:
    """The luck of one run: everything the floor reads. Lists a task, minutes on the time grid.

    ``work``, ``setup``, ``unclamp`` are hands-on minutes of a task (all its units); ``in_clamps``,
    ``cure``, ``wet`` clock minutes; ``redone`` the units that needed work again. ``material_at``: when
    each material may be used. ``days``: the luck of the days, or None when every open minute counts whole.
    """

    work: list[float]
    setup: list[float]
    unclamp: list[float]
    in_clamps: list[float]
    cure: list[float]
    wet: list[float]
    material_at: list[float]
    days: DayLuck | None
    redone: list[int]


def _ticks(minutes: np.ndarray) -> np.ndarray:
    ticks = minutes * 1048576.0
    np.round(ticks, out=ticks)
    ticks *= 2.0**-20
    return ticks


class MaterialLuck:
    """When one material may be used: ordered, sent, perhaps late, and rested."""

    def __init__(self, material: Material, work: Worklist) -> None:
        self.on_shelf = material.on_shelf
        self.late, self.lead, self.rest = material.late, material.lead, material.rest
        self.key = stable_key("material", material.name)
        self.ordered_min = 0.0
        if not material.on_shelf:
            ordered = material.ordered or min(line.orders_close for line in work.lines if line.orders_close)
            self.ordered_min = minutes_at(ordered, work.day0)

    def draw(self, seed: int, replication: int) -> float:
        """Minutes from day 0 in a replication; pure."""
        if self.on_shelf:
            return 0.0
        chance = self.late if self.late is not None else (DEFAULT_LATE if self.lead.name == "range" else 0.0)
        late_days = 0
        if draw_one(seed, replication, LATE, self.key) < chance:
            late_days = math.ceil(-LATE_BY_MEAN_DAYS * math.log1p(-draw_one(seed, replication, LATE_BY, self.key)))
        lead, rest = (
            law.quantile_of_one(draw_one(seed, replication, purpose, self.key)) if law.varies else law.numbers[0]
            for law, purpose in ((self.lead, LEAD), (self.rest, MATERIAL_REST))
        )
        return self._arrival(lead, late_days, rest)

    def likely(self) -> float:
        """When it is there in a run without luck: late only if it is so more often than not; minutes from midnight of day 0."""
        if self.on_shelf:
            return 0.0
        late_days = math.ceil(LATE_BY_MEAN_DAYS * math.log(2)) if (self.late or 0.0) > 0.5 else 0
        return self._arrival(self.lead.likely, late_days, self.rest.likely)

    def _arrival(self, lead: float, late_days: float, rest: float) -> float:
        return max(0.0, to_tick(self.ordered_min + lead + late_days * MINUTES_PER_DAY + rest))


class LuckPlan:
    """All that can be worked out about a worklist's luck before a seed is known; build once, draw often."""

    def __init__(self, worklist: Worklist) -> None:
        scenario = worklist.scenario
        self.worklist = worklist
        self.learned = learn_times(scenario.learned.times, worklist.steps, scenario.all_designs, scenario.luck)
        self.times = TaskTimes(worklist, self.learned)
        self.redo = RedoTimes(worklist, self.learned)
        self.step_key = np.array([step.key for step in worklist.steps], dtype=np.uint64)
        self.days = day_beliefs(scenario.shop, learn_days(scenario.learned.days, scenario.shop))
        self.materials = [MaterialLuck(material, worklist) for material in scenario.materials]

    def draw_days(self, seed: int, replication: int) -> DayLuck | None:
        """The luck of the days of a replication; None where every open minute counts whole."""
        return None if self.days.whole else DrawnDays(self.days, seed, replication)


class SharedLuck(NamedTuple):
    """What all the work of one run shares.

    ``bias`` and ``pace``: on the log scale, their sum is ``shift``; ``errors``: the error of every step's
    estimate as a score of its prior law (standard normal where nothing has been learned), shape
    (steps,); ``clock``: the standard normal score of the run's curing times.
    """

    bias: float
    pace: float
    shift: float
    errors: np.ndarray
    clock: float


class SharedScores(NamedTuple):
    """Standard normal scores from which the shared luck follows: bias, pace, and the error of every step, shape (steps,).

    Drawn from their keys, or handed in by whoever spreads them evenly over replications.
    """

    bias: float
    pace: float
    errors: np.ndarray


def draw_scores(plan: LuckPlan, seed: int, replication: int) -> SharedScores:
    """The scores of a replication as its keys have them; pure."""
    errors = np.asarray(special.ndtri(draw_uniform(seed, replication, ESTIMATE_ERROR, plan.step_key)))
    bias, pace = (float(special.ndtri(draw_one(seed, replication, purpose))) for purpose in (BIAS, PACE))
    return SharedScores(bias, pace, errors)


def draw_shared(plan: LuckPlan, seed: int, replication: int, scores: SharedScores | None = None) -> SharedLuck:
    """The shared part of a replication's luck, as ``draw_luck`` uses it, at its own scores or those handed in; pure."""
    beliefs = plan.worklist.scenario.luck
    z_bias, z_pace, z_step = scores if scores is not None else draw_scores(plan, seed, replication)
    z_clock = float(special.ndtri(draw_one(seed, replication, CLOCK_RUN)))
    pace = beliefs.pace_spread * z_pace
    if plan.learned is None:
        bias = math.log(beliefs.bias) + beliefs.bias_spread * z_bias
        return SharedLuck(bias, pace, bias + pace, z_step, z_clock)
    bias, errors = plan.learned.draw(z_bias, z_step)
    z_step = z_step.copy()
    for logged, error in zip(plan.learned.steps, errors, strict=True):
        z_step[list(logged.steps)] = (error - logged.centre) / logged.error if logged.error > 0.0 else 0.0
    return SharedLuck(bias, pace, bias + pace, z_step, z_clock)


def draw_luck(plan: LuckPlan, seed: int, replication: int, scores: SharedScores | None = None) -> Draws:
    """The luck of one replication; pure. About a microsecond a task. ``scores``: see ``draw_shared``."""
    work = plan.worklist
    shared = draw_shared(plan, seed, replication, scores)
    shift = shared.shift
    z_shared = np.append(shared.errors, shared.clock)
    drawn = plan.times.draw(seed, replication, z_shared, shift)
    redone = np.zeros(work.n_tasks, dtype=np.int64)
    if plan.redo.key.size:
        tasks, minutes = plan.redo.draw(seed, replication, z_shared, shift)
        drawn[KINDS.index(WORK)] += np.bincount(tasks, weights=minutes, minlength=work.n_tasks)
        redone += np.bincount(tasks, minlength=work.n_tasks)
    lists = dict(zip(KINDS, _ticks(drawn).tolist(), strict=True))
    return Draws(
        work=lists[WORK],
        setup=lists[SETUP],
        unclamp=lists[UNCLAMP],
        in_clamps=lists[IN_CLAMPS],
        cure=lists[CURE],
        wet=lists[WET],
        material_at=[material.draw(seed, replication) for material in plan.materials],
        days=plan.draw_days(seed, replication),
        redone=redone.tolist(),
    )


def likely_luck(plan: LuckPlan) -> Draws:
    """No luck at all: every value at its likely figure, no day lost; redone or late only what is so more often than not."""
    work = plan.worklist
    redo = [step.operation.redo for step in work.steps]
    extra = np.array([found.work.likely if found is not None and found.chance > 0.5 else 0.0 for found in redo])
    again = np.array([found is not None and found.chance > 0.5 for found in redo], dtype=bool)
    step, units = np.asarray(work.task_step), np.asarray(work.task_units)
    likely = dict(zip(KINDS, _ticks(plan.times.likely).tolist(), strict=True))
    likely[WORK] = _ticks(plan.times.likely[KINDS.index(WORK)] + units * extra[step]).tolist()
    return Draws(
        work=likely[WORK],
        setup=likely[SETUP],
        unclamp=likely[UNCLAMP],
        in_clamps=likely[IN_CLAMPS],
        cure=likely[CURE],
        wet=likely[WET],
        material_at=[material.likely() for material in plan.materials],
        days=LikelyDays(plan.days.likely_interrupted) if plan.days.likely_interrupted > 0 else None,
        redone=(units * again[step]).tolist(),
    )


def draw_material(plan: LuckPlan, material: int, seed: int, replication: int) -> float:
    """When a material may be used in a replication, minutes from day 0, as ``draw_luck`` has it; pure."""
    return plan.materials[material].draw(seed, replication)
