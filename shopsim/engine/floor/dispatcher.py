"""The dispatcher: what is begun at a moment, and by whom.

All that happens at a moment is taken in first; then the dispatcher chooses, once. Broken-off work goes on, then clamps
come off, then new tasks start in the order of the queue, of equals first those whose station is set for them. A task takes
all it needs at that moment or nothing, so nothing can lock up; and whatever can start, does.
"""

from __future__ import annotations

import math

import simpy

from shopsim.engine.floor.clamp_rack import ClampRack
from shopsim.engine.floor.crew import Crew
from shopsim.engine.floor.layout import FloorOperation, Layout
from shopsim.engine.floor.logbook import Logbook
from shopsim.engine.floor.queue import Queue
from shopsim.engine.floor.stations import Stations
from shopsim.engine.floor.surroundings import Air, DryingRacks, Materials
from shopsim.engine.floor.work import Work
from shopsim.engine.luck import Draws

#: Openings at which nothing starts and nothing is awaited, before a run is given up as stalled.
MAX_IDLE_OPENINGS = 3000


class Stalled(Exception):
    """Tasks are open and nothing more can happen; ``run`` turns it into an error in words."""


class Dispatcher:
    """Gives people something to do, moment by moment."""

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
        materials: Materials,
        queue: Queue,
        work: Work,
        logbook: Logbook,
    ) -> None:
        self._env, self._layout, self._draws, self._logbook = env, layout, draws, logbook
        self._crew, self._stations, self._clamps, self._racks = crew, stations, clamps, racks
        self._air, self._materials, self._queue, self._work = air, materials, queue, work
        self._wake_at = -1.0
        self._n_idle_openings = 0

    def choose(self, now: float) -> None:
        """Begin all that can begin at this moment, and see to it that somebody looks again when people come."""
        crew, queue, work = self._crew, self._queue, self._work
        crew.muster(now)
        if crew.available:
            if work.broken_off:
                self._take_up(now)
            if work.clamps_due:
                self._take_clamps_off(now)
        if queue.entries and (crew.available or queue.n_handless):
            self._start(now)
        if (queue.entries or work.clamps_due or work.broken_off) and (
            crew.closing_refused or (crew.next_coming < math.inf and not now < self._wake_at <= crew.next_coming)
        ):
            self._wake_when_somebody_comes(now)

    def _take_up(self, now: float) -> None:
        """Broken-off work goes on: first by those who began it, then what has lain longest by the first who can."""
        crew, work = self._crew, self._work
        for by_its_own in (True, False):
            for broken in work.broken_off.copy():
                unclamps, stretches = work.stretches_of(broken)
                began = stretches[0][2]
                workers = began
                if began & ~crew.available:
                    if by_its_own:
                        continue
                    operation = self._layout.task_operation[broken[2]]
                    wanted, able = (1, self._layout.unclampers) if unclamps else (operation.hands, operation.workers)
                    workers = crew.choose_successors(wanted, able, began, stretches[-1][2])
                    if not workers:
                        continue
                self._n_idle_openings = 0
                work.go_on(broken, workers, now)

    def _take_clamps_off(self, now: float) -> None:
        for worker in self._layout.unclampers:
            if not self._work.clamps_due:
                return
            if self._crew.available >> worker & 1:
                self._work.begin_clamps_off(worker, now)

    def _start(self, now: float) -> None:
        """Go through the queue and start what can start: of equals first those for which a free station is set, then all."""
        crew, queue = self._crew, self._queue
        entries, stop_of = queue.entries, self._layout.entry_stop
        place = 0
        while place < len(entries) and (crew.available or queue.n_handless):
            stop = stop_of[entries[place]]
            if place + 1 < len(entries) and entries[place + 1] < stop:
                self._start_equals(place, stop, now, only_set=True)
                if not (crew.available or queue.n_handless):
                    return
            place = self._start_equals(place, stop, now, only_set=False)

    def _start_equals(self, place: int, stop: int, now: float, only_set: bool) -> int:
        """Go once through the entries before ``stop``, from a place of the queue on; the place behind them."""
        crew, queue = self._crew, self._queue
        entries, operations, n_set = queue.entries, self._layout.entry_operation, self._stations.n_set
        while place < len(entries) and entries[place] < stop and (crew.available or queue.n_handless):
            operation = operations[entries[place]]
            if (
                (only_set and not n_set[operation.number])
                or (crew.available & operation.able).bit_count() < operation.hands
                or not self._try_to_begin(place, operation, now)
            ):
                place += 1
        return place

    def _try_to_begin(self, place: int, operation: FloorOperation, now: float) -> bool:
        """Start the first task of the entry at this place of the queue, if all it needs is there."""
        entry = self._queue.entries[place]
        layout, stations = self._layout, self._stations
        if layout.entry_not_before_min[entry] > now:
            return False
        units = layout.entry_units[entry]
        if operation.is_gated and not (
            self._materials.are_here(entry) and self._air.lets(operation) and self._racks.has_room(operation, units)
        ):
            return False
        unit = stations.find(operation)
        if unit is None:
            return False
        clamps = self._clamps.find(operation) if operation.needs else ()
        if clamps is None:
            return False
        setup = layout.entry_setup[entry]
        pays = stations.needs_setup(operation, unit, setup)
        workers = 0
        if operation.hands:
            likely_min = layout.entry_likely_min[entry] + (operation.likely_setup_min if pays else 0.0)
            workers = self._crew.choose(operation, likely_min, now)
            if not workers:
                return False

        # all is there: take it
        self._n_idle_openings = 0
        task = self._queue.take(place)
        stations.take(operation, unit, setup, pays, now)
        if clamps:
            self._clamps.take(task, clamps)
        if operation.is_gated:
            self._racks.fill(operation, units)
            self._air.begin(operation)
        minutes = self._draws.work[task]
        if pays:
            self._logbook.paid_setup_min[task] = self._draws.setup[task]
            minutes += self._draws.setup[task]
        self._logbook.begin(task, unit, workers, now)
        self._work.begin(task, operation, workers, minutes, now)
        return True

    def _wake_when_somebody_comes(self, now: float) -> None:
        """Look again at the next opening; give up where nothing else is awaited and openings have changed nothing."""
        when = self._crew.next_opening(now)
        if when == math.inf or now < self._wake_at <= when:
            return
        if self._env.peek() == math.inf:
            self._n_idle_openings += 1
            if self._n_idle_openings > MAX_IDLE_OPENINGS:
                raise Stalled
        self._wake_at = when
        self._env.timeout(when - now)
