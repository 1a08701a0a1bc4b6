"""Work without hands in a run under way: no log tells of it, and it begins as soon as it can."""

from __future__ import annotations

import math

import numpy as np

from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.study.starting import Start
from shopsim.units import to_tick


class ByItself:
    """The tasks of a run under way that begin by themselves and have nothing but their time."""

    def __init__(self, plan: SimulationPlan, start: Start, now: float) -> None:
        self._plan, self._now, self._opened = plan, now, start.record.batch_opened
        self._tasks = start.by_itself
        self._prior = [plan.worklist.task_prior.row(task).tolist() for task in start.by_itself]

    def begin(
        self, draws: Draws, start: np.ndarray, end: np.ndarray, done: np.ndarray, off: np.ndarray, left: np.ndarray,
        begun: np.ndarray,
    ) -> None:  # fmt: skip
        """Work without hands of which no log tells has begun when all it comes after was over: at the latest when the log says, and
        no later than the cure and the clamps let it."""
        members, changed = self._plan.worklist.group_members, True
        was_over = np.fmax(end + np.array(draws.cure), off)
        was_over = np.where(was_over < done, was_over, done)
        opened, batch = self._opened, self._plan.worklist.task_batch
        set_up: set[tuple[int, int]] = set()
        while changed:
            changed = False
            for task, groups in zip(self._tasks, self._prior, strict=True):
                if not math.isnan(start[task]):
                    continue
                before = [float(was_over[members.row(group)].max()) for group in groups] or [float(opened[batch[task]])]
                if not all(over <= self._now for over in before):  # also where something is not done: NaN
                    continue
                here = [draws.material_at[material] for material in self._plan.worklist.materials_of(task)]
                ready = self._when_air_is_clear(task, max([*before, *here]), draws, start, end)
                if ready > self._now:
                    continue
                start[task], begun[task], changed = ready, begun.max() + 1, True
                over = ready + draws.work[task] + self._setup_of(task, draws, set_up)
                if over > self._now:
                    left[task] = to_tick(over - self._now)
                    continue
                end[task] = to_tick(over)
                if over + draws.cure[task] <= self._now:
                    done[task] = was_over[task] = to_tick(over + draws.cure[task])

    def _when_air_is_clear(self, task: int, at: float, draws: Draws, start: np.ndarray, end: np.ndarray) -> float:
        """The first moment from ``at`` on at which no dust meets anything wet; later than now where that is not known yet."""
        plan, step = self._plan, self._plan.task_step[task]
        if not (plan.step_dusty[step] or plan.step_wet[step]):
            return at
        in_the_way = (plan.step_wet if plan.step_dusty[step] else plan.step_dusty)[plan.task_step]
        others = np.flatnonzero(in_the_way & ~np.isnan(start))
        after = np.array(draws.wet)[others] if plan.step_dusty[step] else 0.0
        until = np.where(np.isnan(end[others]), math.inf, end[others] + after)
        while (there := (start[others] <= at) & (at < until)).any():
            at = float(until[there].max())
        return at

    def _setup_of(self, task: int, draws: Draws, set_up: set[tuple[int, int]]) -> float:
        """What has no station is set up once a batch."""
        key = (self._plan.worklist.task_step[task], self._plan.worklist.task_batch[task])
        if key in set_up:
            return 0.0
        set_up.add(key)
        return draws.setup[task]
