"""From the state that a log tells to what the floor goes on from: what each thing under way holds, the same for all luck."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
from shopsim.study.run_state import RunState
from shopsim.units import to_tick

#: Minutes by which a log may have work overlap that followed on itself: moments stand there to the microsecond.
SAME_MIN = 0.001


@dataclass(frozen=True, eq=False)
class Start:
    """``record``: what has happened, in the columns of the engine; ``waiting``: tasks whose work has ended and that may still be in
    clamps or cure; ``by_itself``: tasks without hands, station, clamps or rack that begin by themselves and of which no log tells;
    ``remarks``: what in the log goes beyond what the shop owns."""

    record: RunRecord
    waiting: np.ndarray
    by_itself: tuple[int, ...]
    remarks: tuple[str, ...]


def build_start(plan: SimulationPlan, state: RunState) -> Start:
    """What the floor begins with at ``state.now_min``."""
    work = plan.worklist
    n, n_kinds = work.n_tasks, len(work.clamp_names)
    step = np.asarray(work.task_step, dtype=np.int64)
    holds = _column(plan, "holds")[step]
    begun, ended = _on_grid(state.begun_min), _on_grid(state.ended_min)
    later = [task for group in state.half_done for task in group.tasks[1:] if not _is_handless(plan, task)]
    begun[later] = math.nan  # they are begun when the first of them is done
    there = np.flatnonzero(~np.isnan(begun))
    half = there[np.isnan(ended[there])]
    finished = there[~np.isnan(ended[there])]
    in_order = [*finished[np.argsort(ended[finished], kind="stable")], *half[np.argsort(begun[half], kind="stable")]]
    place = np.zeros(n, dtype=np.int64)
    place[in_order] = np.arange(len(in_order))
    passed, off = _on_grid(state.passed_min), _on_grid(state.off_min)
    plain = ~np.isnan(ended) & _column(plan, "ends_with_work")[step]
    done = np.where(plain, ended, passed)
    off = np.where(holds & ~np.isnan(ended), np.where(np.isnan(off), done, off), math.nan)
    nan = np.full(n, math.nan)
    keeps = np.isnan(ended) | (np.isnan(done) & plan.step_keeps_station[step])
    units, remarks = _allot_stations(
        plan, sorted(in_order, key=lambda task: (begun[task], place[task])), begun, ended, keeps
    )
    clamps, more = _allot_clamps(
        plan, state, [task for task in in_order if np.isnan(off[task]) and np.isnan(done[task])], off
    )
    opened = _opened(plan, begun, state.now_min)
    crews = _crews(plan, state, begun)
    record = RunRecord(
        ready=begun.copy(), start=begun, begun=place, end=ended, setup_min=np.zeros(n), work_min=np.zeros(n),
        clamps_off=off, unclamp_start=nan.copy(), unclamp_end=nan.copy(), done=done, wet_until=nan.copy(),
        workers=crews, unclamp_worker=np.full(n, -1, dtype=np.intc), station_unit=units,
        clamps=clamps.reshape(n, n_kinds), batch_opened=opened,
        stretches=_last_stretches(plan, state, crews),
    )  # fmt: skip
    waiting = np.flatnonzero(~np.isnan(ended) & np.isnan(done))
    alone = [
        task
        for task in np.flatnonzero(np.isnan(begun) & np.isnan(ended)).tolist()
        if _is_handless(plan, task)
        and work.steps[work.task_step[task]].station < 0
        and work.steps[work.task_step[task]].rack < 0
        and not holds[task]
    ]
    return Start(record, waiting, tuple(alone), (*remarks, *more))


def _on_grid(minutes: np.ndarray) -> np.ndarray:
    return np.array([minute if math.isnan(minute) else to_tick(minute) for minute in minutes.tolist()])


def _is_handless(plan: SimulationPlan, task: int) -> bool:
    return plan.worklist.steps[plan.worklist.task_step[task]].operation.hands == 0


def _column(plan: SimulationPlan, what: str) -> np.ndarray:
    """For each step whether it may stay in clamps after the work, or ends with it; as the floor's layout has it."""
    holds = np.array([len(row) > 0 for row in plan.step_needs.lists()]) | plan.step_timed_hold | plan.step_unclamps
    if what == "holds":
        return np.asarray(holds)
    goes_on = holds | plan.step_wet | plan.step_keeps_station | (plan.step_rack >= 0) | plan.step_cures
    return np.asarray(~goes_on)


def _crews(plan: SimulationPlan, state: RunState, begun: np.ndarray) -> np.ndarray:
    """Who did each task: as the log says, else the first who can."""
    crews = np.zeros(begun.size, dtype=np.int64)
    for task in np.flatnonzero(~np.isnan(begun)).tolist():
        step = plan.worklist.steps[plan.worklist.task_step[task]]
        named = int(state.crew[task])
        if step.operation.hands and named.bit_count() == step.operation.hands:
            crews[task] = named
        else:
            crews[task] = sum(1 << worker for worker in step.workers[: step.operation.hands])
    return crews


def _last_stretches(
    plan: SimulationPlan, state: RunState, crews: np.ndarray
) -> dict[int, list[tuple[float, float, int]]]:
    """When somebody was last at what is half done: whoever is at it still may stay past closing."""
    now = to_tick(state.now_min)
    spans = {}
    for group in state.half_done:
        task = group.tasks[0]
        if not _is_handless(plan, task):
            since, until = (min(to_tick(moment), now) for moment in group.last_span_min)
            spans[task] = [(since, until, int(crews[task]))]
    return spans


def _allot_stations(
    plan: SimulationPlan, as_begun: list[int], begun: np.ndarray, ended: np.ndarray, keeps: np.ndarray
) -> tuple[np.ndarray, list[str]]:
    """The unit of each task's station: of those that were free when it was begun, and that no task ``keeps``, one that was set for
    it, else the one used longest ago; by the log more may have been in use than there are."""
    work = plan.worklist
    units = np.full(work.n_tasks, -1, dtype=np.intc)
    free = {station: list(row) for station, row in enumerate(plan.station_units.lists())}
    set_for: dict[int, int] = {}
    used: dict[int, int] = {}
    busy: dict[int, float] = {}
    remarks = []
    for number, task in enumerate(as_begun):
        step = int(plan.task_step[task])
        station = int(plan.step_station[step])
        if station < 0:
            continue
        if not free[station]:
            if keeps[task]:
                remarks.append(
                    f"{work.task_name(task)} is half done, and its {work.station_names[station]} is taken: it goes on without."
                )
            continue
        there = [one for one in free[station] if busy.get(one, -math.inf) <= begun[task] + SAME_MIN] or free[station]
        unit = min(there, key=lambda one: (set_for.get(one) != step, used.get(one, -1), one))
        units[task], set_for[unit], used[unit], busy[unit] = unit, step, number, float(ended[task])
        if keeps[task]:
            free[station].remove(unit)
    return units, remarks


def _allot_clamps(
    plan: SimulationPlan, state: RunState, on: list[int], off: np.ndarray
) -> tuple[np.ndarray, list[str]]:
    """Clamps of what is in them, the smallest that serve first. Where the shop has too few, those come off that are likely to
    have been due longest: whoever begins another glue-up has taken them off."""
    work = plan.worklist
    clamps = np.zeros((work.n_tasks, len(work.clamp_names)), dtype=np.int32)
    free = plan.clamp_count.copy()
    needs, kinds = plan.step_needs.lists(), plan.need_kinds.lists()
    remarks = []
    held: list[int] = []
    for task in sorted(on, key=lambda one: (np.isnan(state.ended_min[one]), state.begun_min[one], one)):
        operation = work.steps[work.task_step[task]].operation
        while True:
            left, taken = free.copy(), np.zeros_like(free)
            lacking = 0
            for need in needs[int(plan.task_step[task])]:
                count = int(plan.need_count[need])
                for kind in kinds[need]:
                    some = min(int(left[kind]), count)
                    left[kind] -= some
                    taken[kind] += some
                    count -= some
                lacking += count
            due = [one for one in held if _is_due(plan, state, one)]
            if not lacking or not due:
                break
            free += clamps[due[0]]
            clamps[due[0]], off[due[0]] = 0, to_tick(float(state.begun_min[task]))
            held.remove(due[0])
        if lacking:
            remarks.append(
                f"By the log {operation.name} of {work.task_name(task)} is in clamps, and {lacking} clamps more than the shop has are "
                "in use: log those that came off."
            )
        clamps[task], free = taken, left
        held.append(task)
    return clamps, remarks


def _is_due(plan: SimulationPlan, state: RunState, task: int) -> bool:
    law = plan.worklist.steps[plan.worklist.task_step[task]].operation.in_clamps
    ended = float(state.ended_min[task])
    return not math.isnan(ended) and ended + (law.likely if law is not None else 0.0) <= state.now_min


def _opened(plan: SimulationPlan, begun: np.ndarray, now_min: float) -> np.ndarray:
    """When batches opened: when the first of their tasks began, as none overtakes another; and those for which there was room from
    the beginning, when their day came."""
    opened = np.full(len(plan.worklist.batches), math.nan)
    for task in np.flatnonzero(~np.isnan(begun)).tolist():
        batches = plan.worklist.task_batches[task]
        if len(batches) == 1:
            opened[batches[0]] = np.fmin(opened[batches[0]], begun[task])
    for batch in reversed(range(opened.size - 1)):
        opened[batch] = np.fmin(opened[batch], opened[batch + 1])
    pieces = 0
    for batch, (size, opens) in enumerate(zip(plan.batch_size.tolist(), plan.batch_opens_min.tolist(), strict=True)):
        if (pieces and pieces + size > plan.room) or opens > now_min:
            break
        pieces += size
        opened[batch] = np.fmin(opened[batch], opens)
    return opened
