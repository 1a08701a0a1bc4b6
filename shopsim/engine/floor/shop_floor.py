"""The shop as a SimPy model: one run of a plan with one run's luck."""

from __future__ import annotations

import math
from typing import Any

import simpy

from shopsim.engine.calendars import CalendarEnds
from shopsim.engine.floor.clamp_rack import ClampRack
from shopsim.engine.floor.crew import Crew
from shopsim.engine.floor.dispatcher import Dispatcher, Stalled
from shopsim.engine.floor.layout import layout_of
from shopsim.engine.floor.logbook import Logbook
from shopsim.engine.floor.progress import Progress
from shopsim.engine.floor.queue import Queue
from shopsim.engine.floor.resume import resume
from shopsim.engine.floor.stations import Stations
from shopsim.engine.floor.surroundings import Air, DryingRacks, Materials
from shopsim.engine.floor.work import Work
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord, StartingState
from shopsim.limits import MAX_RUN_DAYS
from shopsim.units import MINUTES_PER_DAY

#: Minutes after which a run is given up.
MAX_RUN_MIN = MAX_RUN_DAYS * MINUTES_PER_DAY


class ShopFloor:
    """One run: the environment that keeps the time, and the rooms and people of the shop in it."""

    def __init__(self, plan: SimulationPlan, draws: Draws, starting: StartingState | None = None) -> None:
        layout = self.layout = layout_of(plan)
        starting = plan.starting if starting is None else starting
        self.env = simpy.Environment(initial_time=starting.now_min if starting is not None else 0.0)
        self.logbook = Logbook(len(layout.task_operation), len(layout.batch_size))
        self.crew = Crew(plan, layout, draws.days)
        self.stations = Stations(layout, plan.n_setups)
        self.clamps = ClampRack(layout)
        self.racks = DryingRacks(layout)
        self.air = Air()
        self.materials = Materials(layout)
        self.queue = Queue(plan, layout)
        self.progress = Progress(plan, layout, self.queue, self.logbook)
        self.work = Work(
            self.env, layout, draws, self.crew, self.stations, self.clamps, self.racks, self.air, self.progress,
            self.logbook,
        )  # fmt: skip
        self.dispatcher = Dispatcher(
            self.env, layout, draws, self.crew, self.stations, self.clamps, self.racks, self.air, self.materials,
            self.queue, self.work, self.logbook,
        )  # fmt: skip
        self._draws, self._starting = draws, starting

    def run(self) -> RunRecord:
        """Run until all tasks are done.

        Raises Stalled when tasks are open and nothing more can happen, CalendarEnds when a run takes too long.
        """
        draws, layout, env = self._draws, self.layout, self.env
        # set-up and work are drawn apart: together they may still pass the calendar, which is noticed there
        if max(max(draws.work), max(draws.setup), max(draws.unclamp)) > MAX_RUN_MIN:
            raise CalendarEnds
        self._announce()
        if self._starting is not None:
            resume(self, self._starting)
        step, peek, choose, progress = env.step, env.peek, self.dispatcher.choose, self.progress
        n_tasks = len(layout.task_operation)
        while progress.n_done < n_tasks:
            step()
            now = env.now
            if peek() > now:  # all that happens at this moment is taken in
                if now >= MAX_RUN_MIN:
                    break
                choose(now)
                if peek() == math.inf and progress.n_done < n_tasks:
                    raise Stalled
        if env.now >= MAX_RUN_MIN:
            raise CalendarEnds
        return self.logbook.to_record(draws, self.clamps.in_use, len(layout.clamp_count))

    def _announce(self) -> None:
        """What is known to come, whatever the shop does: days on which batches may open, material, moments to begin at."""
        env, layout = self.env, self.layout
        now = env.now
        for when in sorted({max(now, when) for when in layout.batch_opens_min}):
            env.timeout(when - now).callbacks.append(self._open_batches)
        for entries, when in zip(layout.material_entries, self._draws.material_at, strict=True):
            if when > now:
                self.materials.expect(entries)
                env.timeout(when - now, entries).callbacks.append(self._material_comes)
        for when in sorted({when for when in layout.entry_not_before_min if when > now}):
            env.timeout(when - now)  # the dispatcher looks again

    def _open_batches(self, _event: simpy.Event) -> None:
        self.progress.open_batches(self.env.now)

    def _material_comes(self, event: Any) -> None:
        self.materials.come(event.value)
