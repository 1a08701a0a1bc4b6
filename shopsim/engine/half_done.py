"""What is left of work that is half done: drawn given that it is not over yet, with the weight that this has as evidence.

Given all that a replication shares (bias, pace, errors of estimates), the time of one unit has a law of its own. Of the work that is half
done, all times but one are as drawn, and that one is drawn given that together they are more than what was spent:

    u' = F(h) + (1 - F(h)) u,   weight 1 - F(h),   h what was spent less all other times

which is exact for the whole (importance sampling: the weight makes up for what the others were drawn without knowing of it).
Far beyond the range, where F(h) rounds to 1, the normal score of the tail is taken: h's own plus an exponential number over it
(Mills' ratio; from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from scipy import special

from shopsim.engine.keyed import SETUP, WORK, draw_block
from shopsim.engine.luck import LuckPlan, SharedLuck
from shopsim.engine.task_times import KINDS
from shopsim.units import TICKS_PER_MIN

#: Normal scores beyond which nothing is worked out any more.
_FAR = 37.0
#: Where less than this share of the replications would take so long, it is told.
FAR_OUT = 0.01


class Remainder(NamedTuple):
    """What half-done work comes to, one a replication: ``work`` (replications, tasks) hands-on minutes of each task without
    set-up, ``setup`` of the first, and the logarithm of the weight."""

    work: np.ndarray
    setup: np.ndarray
    log_weight: np.ndarray


def draw_remainder(
    plan: LuckPlan,
    seed: int,
    numbers: np.ndarray,
    shared: Sequence[SharedLuck],
    minutes: np.ndarray,
    tasks: Sequence[int],
    spent_min: float,
    pays: bool,
) -> Remainder:
    """The times of tasks that were begun together, in ``tasks``'s order, given that ``spent_min`` has not been enough for all.

    ``minutes``: as drawn without that knowledge, shape (replications, kinds, tasks of the run). ``pays``: set-up is part of it.
    """
    work = minutes[:, KINDS.index(WORK), :][:, list(tasks)].copy()
    setup = minutes[:, KINDS.index(SETUP), tasks[0]] * pays
    cell = _find_cell(plan, seed, numbers, shared, tasks)
    if cell is None:  # nothing varies: what is over is over at once
        return Remainder(work, setup, np.zeros(numbers.size))
    place, drawn, value = cell
    own = value(drawn)
    others = np.round((work.sum(axis=1) + setup - own) * TICKS_PER_MIN) / TICKS_PER_MIN  # all but one stand on the grid
    need = spent_min - others
    score = _score_at(value, need, numbers.size)
    log_weight = np.where(need > 0.0, special.log_ndtr(-score), 0.0)
    later = _draw_beyond(drawn, score)
    new = value(np.minimum(later, _FAR))
    beyond = (score >= _FAR) & (need > 0.0)  # past all that can be worked out: by the slope at the end of the scale
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.log(value(np.full(numbers.size, _FAR)) / value(np.full(numbers.size, _FAR - 1.0)))
    slope = np.where(np.isfinite(slope) & (slope > 0.0), slope, 0.01)
    new = np.where(beyond, need * np.exp(slope * np.maximum(later - score, 0.0)), new)
    new = np.where(need > 0.0, np.maximum(new, need), own)
    work[:, place] += new - own
    return Remainder(work, setup, log_weight)


def _draw_beyond(drawn: np.ndarray, score: np.ndarray) -> np.ndarray:
    """Normal scores given that they are above ``score``, each at the place that ``drawn`` has in the whole law."""
    above = special.ndtr(-drawn)
    tail = special.ndtr(-score) * above
    near = -special.ndtri(np.maximum(tail, 1e-300))
    far = score - np.log(above) / np.maximum(score, 1.0)
    return np.asarray(np.where(score < 30.0, np.maximum(near, score), far))


def _score_at(value: Callable[[np.ndarray], np.ndarray], need: np.ndarray, n: int) -> np.ndarray:
    """The normal score at which a time reaches what is needed, by halving; between the ends of the scale."""
    low, high = np.full(n, -_FAR), np.full(n, _FAR)
    for _ in range(60):
        middle = (low + high) / 2
        with np.errstate(over="ignore", divide="ignore"):
            under = value(middle) < need
        low, high = np.where(under, middle, low), np.where(under, high, middle)
    return np.asarray((low + high) / 2)


def _find_cell(
    plan: LuckPlan, seed: int, numbers: np.ndarray, shared: Sequence[SharedLuck], tasks: Sequence[int]
) -> tuple[int, np.ndarray, Callable[[np.ndarray], np.ndarray]] | None:
    """(place of its task, normal scores as drawn, minutes at other scores) of the last unit that varies; None if none does."""
    ranges, named = plan.times.ranges, {purpose: laws for _, purpose, laws in plan.times.named}
    for place in reversed(range(len(tasks))):
        if ranges is not None:
            cells = np.flatnonzero(ranges.task == tasks[place])
            cells = cells[ranges.place_is(WORK, cells)]
            for number in cells[::-1].tolist():
                if ranges.noise[number] <= 0.0:
                    continue
                z = special.ndtri(draw_block(seed, numbers, WORK, ranges.key[[number]])[:, 0])
                errors = np.array([one.errors for one in shared])[:, ranges.shared[number]]
                shift = np.array([one.shift for one in shared])
                return place, z, ranges.minutes_at(number, errors, shift)
        if WORK in named:
            laws = named[WORK]
            for number in np.flatnonzero(laws.task == tasks[place])[::-1].tolist():
                z = special.ndtri(draw_block(seed, numbers, WORK, laws.key[[number]])[:, 0])
                return place, z, laws.minutes_at(number)
    return None
