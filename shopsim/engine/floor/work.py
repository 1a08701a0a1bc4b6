"""Work on the floor: hands on a task until it ends or is broken off, then clamps, cure and wetness by themselves.

What hands do ends with a SimPy timeout, and so does a cure. A glue-up in its clamps is a SimPy process: it waits for the
time in clamps to pass, and then for somebody to take them off.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Generator
from heapq import heappop, heappush
from typing import Any

import simpy

from shopsim.engine.floor.clamp_rack import ClampRack
from shopsim.engine.floor.crew import Crew
from shopsim.engine.floor.layout import FloorOperation, Layout
from shopsim.engine.floor.logbook import Logbook, Stretches
from shopsim.engine.floor.progress import Progress
from shopsim.engine.floor.stations import Stations
from shopsim.engine.floor.surroundings import Air, DryingRacks
from shopsim.engine.luck import Draws
from shopsim.engine.record import RunRecord, StartingState
from shopsim.units import to_tick

#: Broken-off work: (since when, place of its start among all starts, task, hands-on minutes left).
BrokenOff = tuple[float, int, int, float]


class Work:
    """All tasks under way. ``broken_off``: those left half done, the longest first; ``clamps_due``: (since, task)
    whose clamps somebody is to take off, the longest due first."""

    __slots__ = (
        "_air", "_any_dusty", "_clamps", "_crew", "_draws", "_env", "_freed", "_logbook", "_operations", "_progress",
        "_racks", "_stations", "_units", "broken_off", "clamps_due",
    )  # fmt: skip

    def __init__(
        self,
        env: simpy.Environment,
        layout: Layout,
        draws: Draws,
        crew: Crew,
        stations: Stations,
        clamps: ClampRack,
        racks: DryingRacks,
        air: Air,
        progress: Progress,
        logbook: Logbook,
    ) -> None:
        self._env, self._draws, self._logbook = env, draws, logbook
        self._crew, self._stations, self._clamps, self._racks, self._air = crew, stations, clamps, racks, air
        self._progress = progress
        self._operations, self._units = layout.task_operation, layout.task_units
        self._any_dusty = layout.any_dusty
        self._freed: dict[int, simpy.Event] = {}
        self.broken_off: list[BrokenOff] = []
        self.clamps_due: list[tuple[float, int]] = []

    # ---- hands-on work
    def begin(self, task: int, operation: FloorOperation, workers: int, minutes: float, now: float) -> None:
        """Hands-on work begins; without workers it passes on the clock."""
        if workers:
            self._put_hands_on(task, operation, workers, minutes, now)
        else:
            self._end_work_at(now + minutes, task)

    def go_on(self, broken: BrokenOff, workers: int, now: float) -> None:
        """Broken-off work is taken up again by these workers."""
        _, _, task, minutes = broken
        self.broken_off.remove(broken)
        if task in self._freed:
            self._take_clamps_off(task, workers.bit_length() - 1, minutes, now)
        else:
            self._put_hands_on(task, self._operations[task], workers, minutes, now)

    def stretches_of(self, broken: BrokenOff) -> tuple[bool, list[tuple[float, float, int]]]:
        """(whether clamps are being taken off, who was at it when) of broken-off work."""
        task = broken[2]
        if task in self._freed:
            return True, self._logbook.unclamp_stretches[task]
        return False, self._logbook.stretches[task]

    def _put_hands_on(self, task: int, operation: FloorOperation, workers: int, minutes: float, now: float) -> None:
        """Workers, who are all at work, begin or go on, until it is done or the first of them leaves."""
        crew = self._crew
        crew.put_to_work(workers)
        pace, until = crew.pace_of(workers)
        finish = now + minutes if pace == 1.0 else to_tick(now + minutes / pace)
        stretches = self._logbook.stretches
        if finish > until:
            curve = crew.hours_together(workers, now)
            if not operation.pausable:
                finish = curve.finish_late(now, minutes)
            elif crew.all_leave_at_once:
                finish = curve.finish(now, minutes)
            else:
                left = curve.left_at_close(now, minutes)
                if left:
                    self._break_off_at(curve.closes_at[curve.cursor], task, left, stretches, now, workers)
                    return
                finish = min(curve.finish(now, minutes), curve.closes_at[curve.cursor])
        if task in stretches:
            stretches[task].append((now, finish, workers))
            self._logbook.workers[task] = workers
        self._end_work_at(finish, task)

    def _end_work_at(self, finish: float, task: int) -> None:
        env = self._env
        self._logbook.end[task] = finish
        event = simpy.Timeout(env, finish - env.now, task)
        event.callbacks.append(self._end_work)

    def _break_off_at(
        self, close: float, task: int, left: float, stretches: Stretches, now: float, workers: int
    ) -> None:
        """It is worked on until somebody leaves, and then so many minutes of it are left."""
        stretches.setdefault(task, []).append((now, close, workers))
        event = simpy.Timeout(self._env, close - now, (task, left, workers))
        event.callbacks.append(self._break_off)

    def _break_off(self, event: Any) -> None:
        task, left, workers = event.value
        self._crew.let_go(workers)
        insort(self.broken_off, (self._env.now, self._logbook.begun[task], task, left))

    def _end_work(self, event: Any) -> None:
        """Hands, station and clean air are free again; what goes on does so by itself."""
        task: int = event.value
        operation, logbook = self._operations[task], self._logbook
        self._crew.let_go(logbook.workers[task])
        unit = logbook.unit[task]
        if unit >= 0 and not operation.keeps_station:
            self._stations.give_back(operation, unit)
        if operation.dusty:
            self._air.n_dusty -= 1
        if operation.ends_with_work:
            self._progress.note_done(task, self._env.now)
            return
        if operation.wet:
            self._stay_wet(task)
        if operation.holds_clamps:
            self._env.process(self._stay_in_clamps(task, operation))
        else:
            self._cure(task, operation)

    # ---- a run under way
    def restore(self, task: int, state: StartingState) -> None:
        """A task that has begun goes on from where it is; who had it in hand lets go, and may take it up again at once."""
        record, now, operation = state.record, state.now_min, self._operations[task]
        if operation.wet and record.wet_until[task] > now and self._any_dusty:
            self._air.n_wet += 1
            simpy.Timeout(self._env, float(record.wet_until[task]) - now).callbacks.append(self._dry)
        if not math.isnan(record.done[task]):
            return
        if math.isnan(record.end[task]):
            left = float(state.left_min[task])
            if not record.workers[task]:
                self._end_work_at(now + left, task)
            else:
                self._restore_work(task, operation, left, record, now)
            return
        if not math.isnan(record.unclamp_start[task]) and math.isnan(record.unclamp_end[task]):
            self._freed[task] = self._env.event()
            left = float(state.unclamp_left_min[task])
            since, worker = float(record.unclamp_start[task]), 1 << int(record.unclamp_worker[task])
            self._leave(task, left, self._logbook.unclamp_stretches, worker, since, now)
            self._env.process(self._come_off_when_freed(task, operation))
        elif operation.holds_clamps and math.isnan(record.clamps_off[task]):
            self._env.process(self._stay_in_clamps(task, operation))
        else:
            self._cure(task, operation)

    def _restore_work(self, task: int, operation: FloorOperation, left: float, record: RunRecord, now: float) -> None:
        """Half-done work lies there, but for what may not be left half done and went on past closing: that goes on."""
        crew = int(record.workers[task])
        since, until, crew = record.stretches.get(task, [(float(record.start[task]), now, crew)])[-1]
        curve = self._crew.hours_together(crew, now)
        curve.seek(now)
        if not operation.pausable and until == now and curve.is_past_closing(since, now):
            self._crew.put_to_work(crew)
            finish = curve.finish_past_closing(since, now, left)
            if task in self._logbook.stretches:
                self._logbook.stretches[task][-1] = (since, finish, crew)
            self._end_work_at(finish, task)
        else:
            self._leave(task, left, self._logbook.stretches, crew, since, now)

    def _leave(self, task: int, left: float, stretches: Stretches, crew: int, since: float, now: float) -> None:
        """It lies half done; nothing of it is noted as a stretch of its own that lasted no time."""
        spans = stretches.setdefault(task, [(since, now, crew)])
        insort(self.broken_off, (spans[-1][1], self._logbook.begun[task], task, left))

    # ---- without hands
    def _stay_wet(self, task: int) -> None:
        minutes, env = self._draws.wet[task], self._env
        self._logbook.wet_until[task] = env.now + minutes
        if minutes > 0 and self._any_dusty:
            simpy.Timeout(env, minutes).callbacks.append(self._dry)
        else:
            self._air.n_wet -= 1

    def _dry(self, _event: simpy.Event) -> None:
        self._air.n_wet -= 1

    def _stay_in_clamps(self, task: int, operation: FloorOperation) -> Generator[simpy.Event, object, None]:
        """From the end of the hands-on work on: in clamps, until somebody has taken them off or they come off unasked."""
        env, draws = self._env, self._draws
        ended, now = self._logbook.end[task], env.now
        if operation.timed_hold or operation.unclamps:
            due = ended + draws.in_clamps[task]
            if operation.unclamps and draws.unclamp[task] > 0:
                if due > now:
                    yield env.timeout(due - now)
                self._freed[task] = env.event()
                heappush(self.clamps_due, (due, task))
                yield self._freed[task]
            else:
                off = self._crew.next_at_work(due) if due > ended else due
                if off > now:
                    yield env.timeout(off - now)
        self._come_off(task, operation)

    def _come_off_when_freed(self, task: int, operation: FloorOperation) -> Generator[simpy.Event, object, None]:
        yield self._freed[task]
        self._come_off(task, operation)

    def _come_off(self, task: int, operation: FloorOperation) -> None:
        """Its clamps hang in the rack again."""
        self._logbook.clamps_off[task] = self._env.now
        self._clamps.give_back(task)
        self._cure(task, operation)

    def _cure(self, task: int, operation: FloorOperation) -> None:
        """It cures from the end of its hands-on work on, if that is not over yet."""
        env = self._env
        minutes_left = self._logbook.end[task] + self._draws.cure[task] - env.now
        if minutes_left > 0:
            simpy.Timeout(env, minutes_left, task).callbacks.append(self._end_cure)
        else:
            self._finish(task, operation)

    def _end_cure(self, event: Any) -> None:
        self._finish(event.value, self._operations[event.value])

    def _finish(self, task: int, operation: FloorOperation) -> None:
        """What it still held is free, and it is done."""
        self._racks.empty(operation, self._units[task])
        unit = self._logbook.unit[task]
        if operation.keeps_station and unit >= 0:  # a run under way may have it without a station
            self._stations.give_back(operation, unit)
        self._progress.note_done(task, self._env.now)

    # ---- taking clamps off
    def begin_clamps_off(self, worker: int, now: float) -> None:
        """A worker begins to take off the clamps that have been due longest."""
        _, task = heappop(self.clamps_due)
        self._logbook.unclamp_start[task] = now
        self._take_clamps_off(task, worker, self._draws.unclamp[task], now)

    def _take_clamps_off(self, task: int, worker: int, minutes: float, now: float) -> None:
        """A worker begins to take its clamps off, or goes on with it, until they are off or the worker leaves."""
        crew, logbook = self._crew, self._logbook
        crew.put_to_work(1 << worker)
        logbook.unclamp_worker[task] = worker
        curve = crew.hours_of(worker)
        stretches = logbook.unclamp_stretches
        if crew.all_leave_at_once:
            finish = curve.finish(now, minutes)
        else:
            left = curve.left_at_close(now, minutes)
            if left:
                self._break_off_at(curve.closes_at[curve.cursor], task, left, stretches, now, 1 << worker)
                return
            finish = min(curve.finish(now, minutes), curve.closes_at[curve.cursor])
        if task in stretches:
            stretches[task].append((now, finish, 1 << worker))
        logbook.unclamp_end[task] = finish
        event = simpy.Timeout(self._env, finish - now, (task, worker))
        event.callbacks.append(self._clamps_are_off)

    def _clamps_are_off(self, event: Any) -> None:
        task, worker = event.value
        self._crew.let_go(1 << worker)
        self._freed.pop(task).succeed()
