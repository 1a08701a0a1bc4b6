"""A record as levels over time: what was free, busy, wet or closed at any moment.

Levels are read just after everything that happens at a moment, so [t, t') of two
neighbouring instants has one state. Moments are minutes from midnight of day 0.
"""

from __future__ import annotations

from array import array
from functools import cached_property
from itertools import chain

import numpy as np

from shopsim.engine.hours import Hours
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
from shopsim.engine.step_function import StepFunction, count_spans
from shopsim.limits import MAX_RUN_DAYS
from shopsim.units import MINUTES_PER_DAY

#: (since, until, a bit for each worker who was at it meanwhile).
Stretch = tuple[float, float, int]


class History:
    """One record with the levels that can be read from it; costs about a run."""

    def __init__(self, plan: SimulationPlan, record: RunRecord, draws: Draws) -> None:
        self.plan, self.record, self.draws = plan, record, draws
        self.work = plan.worklist
        self.step = np.asarray(self.work.task_step)
        last = max(record.done.max(initial=0.0), np.nanmax(record.wet_until, initial=0.0))
        self.until = float(min(last, MAX_RUN_DAYS * MINUTES_PER_DAY))
        self.hours = [Hours(calendar, draws.days) for calendar in plan.calendars]
        self.shop_hours = Hours(plan.shop_calendar, draws.days)
        self._members: dict[int, dict[int, list[int]]] = {}
        self.known_waits: object = None  # what waits.py has worked out

    # ---- things that are held
    @cached_property
    def clamps_free(self) -> list[StepFunction]:
        """Free clamps of each kind."""
        record, levels = self.record, []
        for kind, owned in enumerate(self.work.clamp_counts):
            users = np.flatnonzero(record.clamps[:, kind])
            level = count_spans(record.start[users], record.clamps_off[users], -record.clamps[users, kind], owned)
            levels.append(level)
        return levels

    @cached_property
    def spots_free(self) -> list[StepFunction]:
        """Free spots of each rack; a spot is kept from the start of the task that will fill it."""
        levels = []
        for rack, spots in enumerate(self.work.rack_spots):
            users = np.flatnonzero([self.work.steps[n].rack == rack for n in self.step])
            filled = np.array(
                [self.work.steps[self.step[t]].spots_a_unit * self.work.task_units[t] for t in users], dtype=np.int64
            )
            levels.append(count_spans(self.record.start[users], self.record.done[users], -filled, spots))
        return levels

    @cached_property
    def station_until(self) -> np.ndarray:
        """When each task lets its station go (NaN without one)."""
        stays = np.array([step.operation.stays for step in self.work.steps], dtype=bool)[self.step]
        until = np.where(stays, self.record.done, self.record.end)
        return np.where(self.record.station_unit >= 0, until, np.nan)

    @cached_property
    def units_free(self) -> list[StepFunction]:
        """Free units of each station."""
        levels = []
        for units in self.work.station_units:
            users = np.flatnonzero(np.isin(self.record.station_unit, units))
            levels.append(count_spans(self.record.start[users], self.station_until[users], -1, len(units)))
        return levels

    def hands_on(self, task: int) -> list[Stretch]:
        """When hands were on a task, set-up included and pauses left out; none for work that needs nobody.

        Work that is not left half done counts from start to end, other work while its workers were at work.
        """
        record = self.record
        whole = (float(record.start[task]), float(record.end[task]), int(record.workers[task]))
        if not whole[2] or whole[1] <= whole[0]:
            return []
        if not self.work.steps[self.work.task_step[task]].pausable:
            return [whole]
        return self._while_there(record.stretches.get(task, [whole]))

    def unclamping(self, task: int) -> list[Stretch]:
        """When somebody took the clamps off a task; none where that takes no time."""
        record = self.record
        worker = int(record.unclamp_worker[task])
        if worker < 0:
            return []
        whole = (float(record.unclamp_start[task]), float(record.unclamp_end[task]), 1 << worker)
        return self._while_there(record.unclamp_stretches.get(task, [whole]))

    def _while_there(self, stretches: list[Stretch]) -> list[Stretch]:
        """The parts of stretches in which all who work on them are at work; those of one crew that touch as one."""
        found: list[Stretch] = []
        for since, until, crew in stretches:
            parts = [(since, until)]
            for n in {n for worker, n in enumerate(self.plan.worker_calendar) if crew >> worker & 1}:
                parts = [(a, b) for s, e in parts for a, b, _ in self.hours[n].pieces(s, e)]
            for a, b in parts:
                if found and found[-1][1:] == (a, crew):
                    found[-1] = (found[-1][0], b, crew)
                else:
                    found.append((a, b, crew))
        return found

    @cached_property
    def _busy(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """(since, until, task, whether it was taking clamps off, a bit a worker) of all work by hand, in order of time."""
        n_tasks = self.work.n_tasks
        unclamps = np.flatnonzero(self.record.unclamp_worker >= 0).tolist()
        sizes, since_min, until_min, crews = array("q"), array("d"), array("d"), array("q")
        for stretches in chain(map(self.hands_on, range(n_tasks)), map(self.unclamping, unclamps)):
            sizes.append(len(stretches))
            for a, b, crew in stretches:
                since_min.append(a)
                until_min.append(b)
                crews.append(crew)
        since, until, crew_of = np.array(since_min), np.array(until_min), np.array(crews)
        task = np.repeat(np.array([*range(n_tasks), *unclamps], dtype=np.int64), np.array(sizes))
        unclamped = np.repeat(np.arange(len(sizes)) >= n_tasks, np.array(sizes))
        order = np.lexsort((unclamped, task, until, since))
        return since[order], until[order], task[order], unclamped[order], crew_of[order]

    def busy_spans(self, worker: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """(since, until, task, whether it was taking clamps off) of everything a worker did, in order of time."""
        since, until, task, unclamped, crew = self._busy
        mine = (crew >> worker & 1).astype(bool)
        return since[mine], until[mine], task[mine], unclamped[mine]

    @cached_property
    def workers_busy(self) -> list[StepFunction]:
        """1 while a worker has something in hand, staying late included."""
        levels = []
        for worker in range(len(self.work.worker_names)):
            since, until, _, _ = self.busy_spans(worker)
            levels.append(count_spans(since, until))
        return levels

    @cached_property
    def workers_here(self) -> list[StepFunction]:
        """1 while a worker is at work by the hours, lost days left out."""
        return [_at_work(self.hours[n], self.until) for n in self.plan.worker_calendar]

    @cached_property
    def shop_open(self) -> StepFunction:
        """1 while the shop is open."""
        return _at_work(self.shop_hours, self.until)

    # ---- air
    @cached_property
    def wet(self) -> StepFunction:
        """Wet finishes drying or being laid on."""
        users = np.flatnonzero([self.work.steps[n].operation.wet is not None for n in self.step])
        return count_spans(self.record.start[users], self.record.wet_until[users])

    @cached_property
    def dusty(self) -> StepFunction:
        """Dusty tasks under way."""
        users = np.flatnonzero([self.work.steps[n].operation.dusty for n in self.step])
        return count_spans(self.record.start[users], self.record.end[users])

    @cached_property
    def instants(self) -> np.ndarray:
        """Every moment at which any level changes, rising."""
        record = self.record
        moments = [
            record.ready, record.start, record.end, record.clamps_off, record.unclamp_start, record.unclamp_end,
            record.done, record.wet_until, np.asarray(self.draws.material_at),
            self.shop_open.times, *(level.times for level in self.workers_here),
            *(level.times for level in self.workers_busy),
        ]  # fmt: skip
        everything = np.unique(np.concatenate(moments))
        return np.asarray(everything[~np.isnan(everything)])

    @cached_property
    def unit_history(self) -> list[tuple[np.ndarray, np.ndarray]]:
        """For each station unit: when tasks started there (rising), and their steps."""
        n_units = sum(len(units) for units in self.work.station_units)
        found = []
        for unit in range(n_units):
            users = np.flatnonzero(self.record.station_unit == unit)
            users = users[np.argsort(self.record.begun[users])]
            found.append((self.record.start[users], self.step[users]))
        return found

    @cached_property
    def unit_busy(self) -> list[StepFunction]:
        """1 while a station unit is in use, one level a unit."""
        return [
            count_spans(self.record.start[users], self.station_until[users])
            for users in (
                np.flatnonzero(self.record.station_unit == unit)
                for unit in range(sum(len(units) for units in self.work.station_units))
            )
        ]

    def is_set(self, step: int, moments: np.ndarray) -> np.ndarray:
        """Whether, just after each moment, a free unit of the step's station is set for it."""
        found = np.zeros(moments.size, dtype=bool)
        for unit in self.work.station_units[self.work.steps[step].station]:
            starts, steps = self.unit_history[unit]
            n = np.searchsorted(starts, moments, side="right")
            is_last = np.append(steps == step, False)[n - 1]  # n = 0: never used, so not set
            found |= is_last & (self.unit_busy[unit].at(moments) == 0)
        return found

    @cached_property
    def tasks_of(self) -> list[list[int]]:
        """The tasks of each piece, those of its whole batch and run included."""
        work = self.work
        by_cell: dict[int, list[int]] = {cell: [] for cell in work.piece_cell}
        own: list[list[int]] = [[] for _ in range(work.n_pieces)]
        for task, piece in enumerate(work.task_piece):
            if piece >= 0:
                own[piece].append(task)
            else:
                for cell in work.task_cells[task]:
                    by_cell[cell].append(task)
        return [tasks + by_cell[work.piece_cell[piece]] for piece, tasks in enumerate(own)]

    @cached_property
    def _last_tasks(self) -> list[int]:
        done = self.record.done.tolist()
        return [max(tasks, key=lambda task: (done[task], -task)) for tasks in self.tasks_of]

    def last_task(self, piece: int) -> int:
        """The task that finishes a piece, those of its whole batch and run included."""
        return self._last_tasks[piece]

    def last_task_of_design(self, piece: int) -> int:
        """As ``last_task``, but standing and packing do not count."""
        work, done = self.work, self.record.done
        own = [task for task in self.tasks_of[piece] if work.steps[work.task_step[task]].of_design]
        return max(own, key=lambda task: (float(done[task]), -task))

    def members_for(self, group: int, piece: int) -> list[int]:
        """The tasks of a group that are for a piece, alone or with others."""
        work = self.work
        own = self._members.get(group)
        if own is None:
            own = {}
            for member in work.group_members.row(group).tolist():
                own.setdefault(work.task_piece[member], []).append(member)
            if len(own) > 1:  # those of one piece are asked for hardly more than once, and are most of all groups
                self._members[group] = own
        return [*own.get(piece, ()), *(member for member in own.get(-1, ()) if work.covers(member, piece))]

    @cached_property
    def group_done(self) -> list[float]:
        """When the last task of each group was done; -inf for a group without tasks."""
        members = self.work.group_members
        last = np.full(len(members), -np.inf)
        np.maximum.at(
            last, np.repeat(np.arange(len(members)), np.diff(members.first)), self.record.done[members.members]
        )
        found: list[float] = last.tolist()
        return found

    @cached_property
    def first_start(self) -> dict[tuple[int, int], float]:
        """When each step of each batch was first begun: its set-up without a station is paid then."""
        first: dict[tuple[int, int], float] = {}
        for task, start in enumerate(self.record.start.tolist()):
            key = (self.work.task_step[task], self.work.task_batch[task])
            first[key] = min(start, first.get(key, start))
        return first


def _at_work(hours: Hours, until: float) -> StepFunction:
    spans = hours.pieces(0.0, until + 1.0)
    since = np.array([span[0] for span in spans])
    ends = np.array([span[1] for span in spans])
    return count_spans(since, ends)
