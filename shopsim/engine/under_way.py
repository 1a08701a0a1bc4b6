"""Cuts a simulated run at a moment: the starting state from which an engine goes on to the end of that very run."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from shopsim.engine.hours import Hours, SharedHours
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord, StartingState


def cut_run(plan: SimulationPlan, record: RunRecord, draws: Draws, now_min: float) -> StartingState:
    """The state of a simulated run at a moment: what an engine needs to go on to the end of that very run."""
    begun = record.start <= now_min
    ended = record.end <= now_min
    unclamping = record.unclamp_start <= now_min
    clamps = np.where(begun[:, None], record.clamps, 0).astype(record.clamps.dtype)
    so_far = replace(
        record,
        **{
            name: np.where(getattr(record, name) <= now_min, getattr(record, name), math.nan)
            for name in ("ready", "start", "end", "clamps_off", "unclamp_start", "unclamp_end", "done", "batch_opened")
        },
        begun=np.where(begun, record.begun, 0),
        setup_min=np.where(begun, record.setup_min, 0.0),
        wet_until=np.where(ended, record.wet_until, math.nan),
        workers=np.where(begun, record.workers, 0),
        unclamp_worker=np.where(unclamping, record.unclamp_worker, -1).astype(record.unclamp_worker.dtype),
        station_unit=np.where(begun, record.station_unit, -1).astype(record.station_unit.dtype),
        clamps=clamps,
        stretches=_until(record.stretches, now_min),
        unclamp_stretches=_until(record.unclamp_stretches, now_min),
    )
    pace = _Pace(plan, draws)
    left = np.full(begun.size, math.nan)
    for task in np.flatnonzero(begun & ~ended).tolist():
        if not record.workers[task]:
            left[task] = record.end[task] - now_min
            continue
        whole = [(float(record.start[task]), float(record.end[task]), int(record.workers[task]))]
        spans = _until({task: record.stretches.get(task, whole)}, now_min)[task]
        late = not plan.step_pausable[plan.task_step[task]]
        left[task] = record.setup_min[task] + record.work_min[task] - sum(pace.worked(*span, late) for span in spans)
    unclamp_left = np.full(begun.size, math.nan)
    for task in np.flatnonzero(unclamping & ~(record.unclamp_end <= now_min)).tolist():
        one = (
            float(record.unclamp_start[task]),
            float(record.unclamp_end[task]),
            1 << int(record.unclamp_worker[task]),
        )
        spans = _until({task: record.unclamp_stretches.get(task, [one])}, now_min)[task]
        unclamp_left[task] = draws.unclamp[task] - sum(pace.worked(*span, False) for span in spans)
    return StartingState(now_min, so_far, np.maximum(left, 0.0), np.maximum(unclamp_left, 0.0))


def _until(
    stretches: dict[int, list[tuple[float, float, int]]], now_min: float
) -> dict[int, list[tuple[float, float, int]]]:
    """The stretches as far as they lie before ``now_min``; tasks without any are left out."""
    cut = {
        task: [(since, min(until, now_min), crew) for since, until, crew in spans if since < now_min]
        for task, spans in stretches.items()
    }
    return {task: spans for task, spans in cut.items() if spans}


class _Pace:
    """How many minutes of work people do in a stretch of the clock."""

    def __init__(self, plan: SimulationPlan, draws: Draws) -> None:
        self.calendar = plan.worker_calendar.tolist()
        self.hours = [Hours(calendar, draws.days) for calendar in plan.calendars]

    def worked(self, since: float, until: float, crew: int, late: bool) -> float:
        """Minutes of work in a stretch; ``late``: it goes on past closing, at the last pace."""
        own = sorted({self.calendar[worker] for worker in range(crew.bit_length()) if crew >> worker & 1})
        curve = self.hours[own[0]] if len(own) == 1 else SharedHours([self.hours[n] for n in own])
        pieces = curve.pieces(since, until)
        if not late:
            return sum((end - start) * rate for start, end, rate in pieces)
        done, at, pace = 0.0, since, 1.0
        for start, end, rate in pieces:
            if start > at:
                break
            done, at, pace = done + (end - start) * rate, end, rate
        return done + (until - at) * pace
