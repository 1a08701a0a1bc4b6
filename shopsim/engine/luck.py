"""The luck of one run: every time, day and delivery drawn for a seed and a replication."""

from __future__ import annotations

import math
from array import array
from collections.abc import Callable, MutableSequence, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from scipy import special

from shopsim.engine.days import DayLuck, DrawnDays, LikelyDays, day_beliefs, draw_open_shares
from shopsim.engine.keyed import (
    BIAS,
    CLOCK_RUN,
    CURE,
    ESTIMATE_ERROR,
    IN_CLAMPS,
    PACE,
    SETUP,
    UNCLAMP,
    WET,
    WORK,
    draw_ones,
)
from shopsim.engine.keyed import draw_block as draw_uniform_block
from shopsim.engine.learned import learn_times
from shopsim.engine.learned_days import learn_days
from shopsim.engine.materials import MaterialLuck
from shopsim.engine.task_times import KINDS, RedoTimes, TaskTimes
from shopsim.engine.worklist import Worklist
from shopsim.units import TICK_MIN, TICKS_PER_MIN

#: Numbers in a row: a list where a floor reads them one by one.
Minutes = MutableSequence[float] | np.ndarray


@dataclass
class Draws:
    """The luck of one run: everything the floor reads. Lists a task, minutes on the time grid.

    ``work``, ``setup``, ``unclamp`` are hands-on minutes of a task (all its units); ``in_clamps``,
    ``cure``, ``wet`` clock minutes; ``redone`` the units that needed work again. ``material_at``: when
    each material may be used. ``days``: the luck of the days, or None when every open minute counts whole.
    """

    work: Minutes
    setup: Minutes
    unclamp: Minutes
    in_clamps: Minutes
    cure: Minutes
    wet: Minutes
    material_at: Minutes
    days: DayLuck | None
    redone: MutableSequence[int] | np.ndarray

    def packed(self) -> Draws:
        """This luck in a quarter of the room; reading a number from it takes longer."""
        work, setup, unclamp, in_clamps, cure, wet = (
            array("d", minutes)
            for minutes in (self.work, self.setup, self.unclamp, self.in_clamps, self.cure, self.wet)
        )
        redone = array("q", self.redone)
        return Draws(work, setup, unclamp, in_clamps, cure, wet, self.material_at, self.days, redone)


def _ticks(minutes: np.ndarray) -> np.ndarray:
    ticks = minutes * TICKS_PER_MIN
    np.round(ticks, out=ticks)
    ticks *= TICK_MIN
    return ticks


class LuckPlan:
    """All that can be worked out about a worklist's luck before a seed is known; build once, draw often.

    ``under_way``: the name under which times of this very run have been learned; its pace is then drawn as they tell.
    """

    def __init__(self, worklist: Worklist, under_way: str = "") -> None:
        scenario = worklist.scenario
        self.worklist = worklist
        self.learned = learn_times(
            scenario.learned.times, worklist.steps, scenario.all_designs, scenario.luck, under_way
        )
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
    bias, pace, errors = _draw_scores(plan, seed, np.array([replication], dtype=np.int64))
    return SharedScores(float(bias[0]), float(pace[0]), errors[0])


def _draw_scores(plan: LuckPlan, seed: int, numbers: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Bias, pace and errors of several replications: shapes (replications,) twice and (replications, steps)."""
    errors = special.ndtri(draw_uniform_block(seed, numbers, ESTIMATE_ERROR, plan.step_key))
    return _score_of_run(seed, numbers, BIAS), _score_of_run(seed, numbers, PACE), np.asarray(errors)


def _score_of_run(seed: int, numbers: np.ndarray, purpose: int) -> np.ndarray:
    """A standard normal score for each replication."""
    return np.asarray(special.ndtri(draw_ones(seed, numbers, purpose)))


def draw_shared(plan: LuckPlan, seed: int, replication: int, scores: SharedScores | None = None) -> SharedLuck:
    """The shared part of a replication's luck, as ``draw_luck`` uses it, at its own scores or those handed in; pure."""
    given = None if scores is None else [scores]
    bias, pace, shift, errors, clock = _draw_shared(plan, seed, np.array([replication], dtype=np.int64), given)
    return SharedLuck(float(bias[0]), float(pace[0]), float(shift[0]), errors[0], float(clock[0]))


def _draw_shared(
    plan: LuckPlan, seed: int, numbers: np.ndarray, scores: Sequence[SharedScores] | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """``SharedLuck`` of several replications: its columns, each with a row a replication."""
    beliefs = plan.worklist.scenario.luck
    if scores is None:
        z_bias, z_pace, z_step = _draw_scores(plan, seed, numbers)
    else:
        z_bias, z_pace = (np.array([one[column] for one in scores]) for column in (0, 1))
        z_step = np.array([one.errors for one in scores])
    z_clock = _score_of_run(seed, numbers, CLOCK_RUN)
    pace = beliefs.pace_spread * z_pace
    if plan.learned is None:
        bias = math.log(beliefs.bias) + beliefs.bias_spread * z_bias
        return bias, pace, bias + pace, z_step, z_clock
    bias, z_learned = np.empty(numbers.size), z_step.copy()
    for row in range(numbers.size):
        bias[row], errors = plan.learned.draw(float(z_bias[row]), z_step[row])
        if plan.learned.goes_on:
            pace[row] = plan.learned.draw_pace(float(z_bias[row]), z_step[row], float(z_pace[row]))
        for logged, error in zip(plan.learned.steps, errors, strict=True):
            score = (error - logged.centre) / logged.error if logged.error > 0.0 else 0.0
            z_learned[row, list(logged.steps)] = score
    return bias, pace, bias + pace, z_learned, z_clock


@dataclass(frozen=True, eq=False)
class LuckBlock:
    """The luck of several replications, a row each; see ``Draws``.

    ``numbers``: the replications. ``minutes``: float64, shape (replications, kinds, tasks), kinds in the order of
    ``KINDS``. ``material_at``: float64, shape (replications, materials). ``redone``: (replication by its place, task) of
    the units that needed work again, two int64 arrays. ``days``: one a replication, None where every open minute counts whole.
    ``open_shares_of``: what ``open_shares`` gives, where that is not what ``days`` say.
    """

    numbers: np.ndarray
    minutes: np.ndarray
    material_at: np.ndarray
    redone: tuple[np.ndarray, np.ndarray]
    days: tuple[DayLuck | None, ...]
    open_shares_of: Callable[[int], np.ndarray] | None = field(default=None, repr=False)
    _shares: dict[int, np.ndarray] = field(default_factory=dict, init=False, repr=False)

    @classmethod
    def of(cls, draws: Draws) -> LuckBlock:
        """The luck of one run as a block of one; its number is lost."""
        redone = np.repeat(np.arange(len(draws.redone)), draws.redone)
        return cls(
            numbers=np.zeros(1, dtype=np.int64),
            minutes=np.array([[draws.work, draws.setup, draws.unclamp, draws.in_clamps, draws.cure, draws.wet]]),
            material_at=np.array([draws.material_at]),
            redone=(np.zeros(redone.size, dtype=np.int64), redone),
            days=(draws.days,),
        )

    def open_shares(self, n_days: int) -> np.ndarray:
        """What is left of each day for the shop, shape (replications, days): 0 for a lost one, 1 where it counts whole.

        Not to be changed: it is kept for the next who ask.
        """
        found = self._shares.get(n_days)
        if found is None:
            found = self._shares[n_days] = self._draw_shares(n_days)
        return found

    def _draw_shares(self, n_days: int) -> np.ndarray:
        if self.open_shares_of is not None:
            return self.open_shares_of(n_days)
        drawn = [days for days in self.days if isinstance(days, DrawnDays)]
        if len(drawn) == len(self.days):
            numbers = np.array([days.replication for days in drawn], dtype=np.int64)
            return draw_open_shares(drawn[0].beliefs, drawn[0].seed, numbers, n_days)
        shares = np.ones((len(self.days), n_days))
        for row, days in enumerate(self.days):
            if days is not None:
                share, lost = days.days(n_days)
                shares[row] = np.where(lost, 0.0, share)
        return shares

    def view(self, place: int) -> Draws:
        """The luck of one of them as it stands in the block: what is changed in it is changed there."""
        work, setup, unclamp, in_clamps, cure, wet = self.minutes[place]
        redone = np.zeros(0, dtype=np.int64)
        return Draws(work, setup, unclamp, in_clamps, cure, wet, self.material_at[place], self.days[place], redone)

    def one(self, place: int) -> Draws:
        """The luck of one of them, for one run."""
        lists = {kind: _list(row) for kind, row in zip(KINDS, self.minutes[place], strict=True)}
        rows, tasks = self.redone
        return Draws(
            work=lists[WORK],
            setup=lists[SETUP],
            unclamp=lists[UNCLAMP],
            in_clamps=lists[IN_CLAMPS],
            cure=lists[CURE],
            wet=lists[WET],
            material_at=self.material_at[place].tolist(),
            days=self.days[place],
            redone=np.bincount(tasks[rows == place], minlength=self.minutes.shape[2]).tolist(),
        )


def _list(minutes: np.ndarray) -> list[float]:
    """As a list, in which all zeros, most of all times, are one object."""
    found = [0.0] * minutes.size
    places = np.flatnonzero(minutes)
    for place, value in zip(places.tolist(), minutes[places].tolist(), strict=True):
        found[place] = value
    return found


def draw_block(
    plan: LuckPlan,
    seed: int,
    numbers: Sequence[int],
    scores: Sequence[SharedScores] | None = None,
    kernels: Any = None,
) -> LuckBlock:
    """The luck of several replications, each as ``draw_luck`` has it; pure. About 0.1 microseconds a task and replication.

    ``kernels``: the compiled functions for it (``compiled/machine_code.py``), which come to the same bit for bit and leave
    other threads alone; by default numpy does it.
    """
    counted = np.array(numbers, dtype=np.int64)
    n, n_tasks = counted.size, plan.worklist.n_tasks
    _, _, shift, errors, clock = _draw_shared(plan, seed, counted, scores)
    z_shared = np.column_stack((errors, clock))
    drawn = plan.times.draw(seed, counted, z_shared, shift, kernels)
    redone = (np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
    if plan.redo.key.size:
        rows, tasks, minutes = plan.redo.draw(seed, counted, z_shared, shift)
        extra = np.bincount(rows * n_tasks + tasks, weights=minutes, minlength=n * n_tasks)
        drawn[:, KINDS.index(WORK)] += extra.reshape(n, n_tasks)
        redone = (rows, tasks)
    if kernels is None:
        drawn = _ticks(drawn)
    else:
        kernels.to_ticks(drawn.reshape(-1))
    return LuckBlock(
        numbers=counted,
        minutes=drawn,
        material_at=np.array([material.draw_block(seed, counted) for material in plan.materials])
        .reshape(len(plan.materials), n)
        .T.copy(),
        redone=redone,
        days=tuple(plan.draw_days(seed, number) for number in numbers),
    )  # fmt: skip


def draw_luck(plan: LuckPlan, seed: int, replication: int, scores: SharedScores | None = None) -> Draws:
    """The luck of one replication; pure. About a microsecond a task. ``scores``: see ``draw_shared``."""
    return draw_block(plan, seed, [replication], None if scores is None else [scores]).one(0)


def likely_luck(plan: LuckPlan) -> Draws:
    """No luck at all: every value at its likely figure, no day lost; redone or late only what is so more often than not."""
    work = plan.worklist
    redo = [step.operation.redo for step in work.steps]
    extra = np.array([found.work.likely if found is not None and found.chance > 0.5 else 0.0 for found in redo])
    again = np.array([found is not None and found.chance > 0.5 for found in redo], dtype=bool)
    step, units = np.asarray(work.task_step), np.asarray(work.task_units)
    likely = {kind: _list(row) for kind, row in zip(KINDS, _ticks(plan.times.likely), strict=True)}
    likely[WORK] = _list(_ticks(plan.times.likely[KINDS.index(WORK)] + units * extra[step]))
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
