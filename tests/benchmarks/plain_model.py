"""The straightforward SimPy model of a shop, to compare the engine with in speed.

One SimPy process a task; a ``PriorityResource`` for every worker and station, a
``Container`` for every kind of clamp and every rack; ``AllOf`` over what a task
comes after; a shift process that keeps each worker away while the shop is closed.
It is written as one would write it first, without thought of speed and without
slowing it down either.

The rules are those of the shop, with the liberties such a model takes: a task
takes what it needs one thing after another (spots, clamps, station, air, hands)
and holds what it has while it waits for the rest; queues are kept by SimPy, by
the key of "glue first"; of two who are wanted the first is held until the second is there.
"""

from __future__ import annotations

import math
from collections.abc import Generator
from typing import Any

import numpy as np
import simpy
from plain_tasks import Task, list_tasks
from plain_times import DAY, N_DAYS, Calendar, Durations, lay_hours, overlap

from shopsim.scenario.model import Operation, Scenario, is_pausable

Steps = Generator[simpy.Event, Any, Any]
BEFORE_ALL = (-1,)
BROKEN_OFF = (-1, 1)
UNCLAMPING = (0,)


class PlainShop:
    """A scenario ready to be run many times by the plain model."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.tasks, self.batch_of = list_tasks(scenario)
        self.n_finished, self.work_min = 0, 0.0
        self.calendars = [Calendar(stretches) for stretches in lay_hours(scenario)]
        self.together: dict[tuple[int, ...], Calendar] = {}
        workers = scenario.shop.workers
        self.able: dict[str, list[int]] = {}
        for task in self.tasks:
            name = task.operation.name
            able = [i for i, worker in enumerate(workers) if worker.can is None or name in worker.can]
            self.able[name] = sorted(able, key=lambda i: len(workers[i].can or ()) or math.inf)

    def run(self, rng: np.random.Generator | None = None) -> np.ndarray:
        """Minutes from midnight of day 0 at which every piece is finished, packing included, shape (pieces,).

        Sets ``n_finished``, the tasks that were done, and ``work_min``, their hands-on minutes without set-up.
        """
        floor = Floor(self, rng)
        floor.env.run(until=floor.env.all_of(floor.done))
        self.n_finished = sum(event.triggered for event in floor.done)
        self.work_min = floor.worked_min
        finish = np.zeros(len(self.batch_of))
        for task, moment in zip(self.tasks, floor.done_at, strict=True):
            for piece in task.pieces:
                finish[piece] = max(finish[piece], moment)
        return finish

    def calendar(self, crew: tuple[int, ...]) -> Calendar:
        """The stretches in which all of a crew are at work."""
        if len(crew) == 1:
            return self.calendars[crew[0]]
        if crew not in self.together:
            stretches = self.calendars[crew[0]].stretches
            for worker in crew[1:]:
                stretches = overlap(stretches, self.calendars[worker].stretches)
            self.together[crew] = Calendar(stretches)
            self.together[crew].restart(self.calendars[crew[0]].rates)
        return self.together[crew]


class Floor:
    """One run: the environment, what the shop owns, and a process for every task."""

    def __init__(self, plain: PlainShop, rng: np.random.Generator | None) -> None:
        self.plain, shop = plain, plain.scenario.shop
        self.env = env = simpy.Environment()
        self.times = Durations(plain.scenario, plain.tasks, rng)
        self._draw_days(rng)
        self.workers = [simpy.PriorityResource(env) for _ in shop.workers]
        self.stations = {station.name: simpy.PriorityResource(env, station.count) for station in shop.stations}
        self.set_for: dict[str, list[str | None]] = {station.name: [None] * station.count for station in shop.stations}
        self.racks = {rack.name: simpy.Container(env, rack.spots, rack.spots) for rack in shop.racks}
        kinds = sorted(shop.clamps, key=lambda kind: kind.reach or 0.0)
        self.clamps = {kind.name: simpy.Container(env, max(kind.count, 1), kind.count) for kind in kinds}
        self.reach = {kind.name: kind.reach or 0.0 for kind in kinds}
        self.clamps_back, self.air_changed = env.event(), env.event()
        self.n_wet = self.n_dusty = 0
        self.paid: set[tuple[str, int]] = set()
        self.done = [env.event() for _ in plain.tasks]
        self.done_at = [0.0] * len(plain.tasks)
        self.worked_min = 0.0
        for worker in range(len(shop.workers)):
            env.process(self.keep_away(worker))
        self._open_batches()
        here = self._deliver(rng)
        for task in plain.tasks:
            wait = [self.done[number] for number in task.after]
            wait += [self.opened[task.batch], *here.get(task.operation.name, [])]
            env.process(self.do_task(task, wait))

    def _draw_days(self, rng: np.random.Generator | None) -> None:
        shop, interrupted = self.plain.scenario.shop, self.plain.scenario.shop.interrupted
        share = np.full(N_DAYS, interrupted.likely if interrupted else 0.0)
        if rng is not None:
            if interrupted is not None:
                share = np.clip(interrupted.quantile(rng.random(N_DAYS)), 0.0, 0.95)
            if shop.lost_days is not None:
                share[rng.random(N_DAYS) < shop.lost_days.quantile(rng.random(1))] = 1.0
        rates = (1.0 - share).tolist()
        for calendar in [*self.plain.calendars, *self.plain.together.values()]:
            calendar.restart(rates)

    def _open_batches(self) -> None:
        plain, env = self.plain, self.env
        run = plain.scenario.run
        sizes = [plain.batch_of.count(batch) for batch in range(max(plain.batch_of) + 1)]
        room = run.pieces_open or 2 * max(sizes)
        places = simpy.Container(env, room, room)
        self.opened = [env.event() for _ in sizes]

        beyond = [max(0, size - room) for size in sizes]  # pieces of a batch larger than the room, which have no place

        def make_room(piece: int, batch: int) -> Steps:
            own = [task for task in plain.tasks if piece in task.pieces and task.operation.name != "packing"]
            yield env.all_of([self.done[task.number] for task in own])
            if beyond[batch]:
                beyond[batch] -= 1
            else:
                yield places.put(1)

        def open_in_turn() -> Steps:
            for batch, size in enumerate(sizes):
                yield places.get(min(size, room))
                self.opened[batch].succeed()
                for piece in [piece for piece, own in enumerate(plain.batch_of) if own == batch]:
                    env.process(make_room(piece, batch))

        env.process(open_in_turn())

    def _deliver(self, rng: np.random.Generator | None) -> dict[str, list[simpy.Event]]:
        scenario, here = self.plain.scenario, {}
        for material in scenario.materials:
            if material.on_shelf:
                continue
            lead, rest = material.lead.likely, material.rest.likely
            if rng is not None:
                lead, rest = (float(law.quantile(rng.random(1))[0]) for law in (material.lead, material.rest))
                chance = material.late if material.late is not None else (0.2 if material.lead.varies else 0.0)
                lead += DAY * math.ceil(rng.exponential(2.0)) if rng.random() < chance else 0.0
            ordered = material.ordered or scenario.lines[0].orders_close or scenario.day0
            arrives = (ordered - scenario.day0).days * DAY + lead + rest
            event = self.env.timeout(max(0.0, arrives))
            for name in material.needed_by:
                here.setdefault(name, []).append(event)
        return here

    def keep_away(self, worker: int) -> Steps:
        """Holds a worker while the shop is closed, so that nobody is given work then."""
        env, calendar = self.env, Calendar(self.plain.calendars[worker].stretches)
        calendar.restart(self.plain.calendars[worker].rates)
        while True:
            start, end, _ = calendar.stretch(env.now)
            if start > env.now:
                with self.workers[worker].request(BEFORE_ALL) as away:
                    yield away
                    yield env.timeout(max(0.0, start - env.now))
            if end > env.now:
                yield env.timeout(end - env.now)

    def do_task(self, task: Task, wait: list[simpy.Event]) -> Steps:
        """The life of one task, from waiting for what it comes after to being done."""
        env, operation, number, times = self.env, task.operation, task.number, self.times
        yield env.all_of(wait)
        if operation.name == "packing":
            yield env.timeout(self.plain.scenario.shipping.before_packing)
        n_spots = operation.rest[1] * len(task.units) if operation.rest else 0
        if operation.rest:
            yield self.racks[operation.rest[0]].get(n_spots)
        clamps = (yield from self.take_clamps(operation)) if operation.clamps else {}
        station = operation.station
        place = self.stations[station].request(task.priority) if station else None
        if place is not None:
            yield place
        crew = yield from self.take_hands(task)
        setup = times.setup[number] if self.must_set(task) else 0.0
        if station:
            self.remember(station, operation.name)
        else:
            self.paid.add((operation.name, task.batch))
        self.n_dusty += operation.dusty
        self.n_wet += operation.wet is not None
        able = self.plain.able[operation.name]
        crew = yield from self.work(crew, able, setup + times.work[number], is_pausable(operation))
        self.let_go(crew)
        if operation.dusty:
            self.n_dusty -= 1
            self.change_air()
        if operation.wet is not None:
            env.process(self.dry(times.wet[number]))
        if place is not None and not operation.stays:
            self.stations[station].release(place)
        cured_at = env.now + times.cure[number]
        if clamps:
            yield env.timeout(times.in_clamps[number])
            yield from self.take_off(operation, times.unclamp[number], clamps)
        if cured_at > env.now:
            yield env.timeout(cured_at - env.now)
        if operation.rest:
            yield self.racks[operation.rest[0]].put(n_spots)
        if place is not None and operation.stays:
            self.stations[station].release(place)
        self.worked_min += times.work[number]
        self.done_at[number] = env.now
        self.done[number].succeed()

    def must_set(self, task: Task) -> bool:
        """Whether the set-up must be paid: the station is set for something else, or it is the batch's first."""
        operation = task.operation
        if operation.station:
            return operation.name not in self.set_for[operation.station]
        return (operation.name, task.batch) not in self.paid

    def remember(self, station: str, name: str) -> None:
        """The station that was set for it, else the one set longest ago, is now set for this operation."""
        memory = self.set_for[station]
        memory.remove(name if name in memory else memory[0])
        memory.append(name)

    def take_hands(self, task: Task) -> Steps:
        """Takes the workers once the air is clean and the work fits before they leave."""
        operation, env = task.operation, self.env
        while True:
            while (operation.dusty and self.n_wet) or (operation.wet is not None and self.n_dusty):
                yield self.air_changed
            crew = yield from self.take_workers(self.plain.able[operation.name], operation.hands, task.priority)
            if (operation.dusty and self.n_wet) or (operation.wet is not None and self.n_dusty):
                self.let_go(crew)
                continue
            if not crew or is_pausable(operation):
                return crew
            likely = self.times.likely_work[task.number] + (operation.setup.likely if self.must_set(task) else 0.0)
            start, end, _ = self.plain.calendar(tuple(who for who, _ in crew)).stretch(env.now)
            if start <= env.now and env.now + likely <= end + 1e-6:
                return crew
            self.let_go(crew)
            yield env.timeout((start if start > env.now else end) - env.now)

    def take_workers(self, able: list[int], hands: int, priority: tuple[int, ...]) -> Steps:
        """So many of the able workers: one after the other if all are needed, else whoever is free first."""
        crew: list[tuple[int, Any]] = []
        left = list(able)
        for _ in range(hands):
            asked = left[:1] if hands == len(able) else left
            requests = [(who, self.workers[who].request(priority)) for who in asked]
            yield requests[0][1] if len(requests) == 1 else self.env.any_of([request for _, request in requests])
            if priority == BROKEN_OFF:
                yield self.env.timeout(0)  # all who come at this moment are there
            got = next(pair for pair in requests if pair[1].triggered)
            for pair in requests:
                if pair is not got:
                    self.let_go([pair]) if pair[1].triggered else pair[1].cancel()
            crew.append(got)
            left.remove(got[0])
        return crew

    def let_go(self, crew: list[tuple[int, Any]]) -> None:
        """Gives the workers back."""
        for who, request in crew:
            self.workers[who].release(request)

    def work(self, crew: list[tuple[int, Any]], able: list[int], minutes: float, pausable: bool) -> Steps:
        """Hands-on time, stretch by stretch, each with who is there; unpausable work runs on past closing. Gives the last crew.

        Without hands it passes on the clock.
        """
        env, began = self.env, [who for who, _ in crew]
        in_turn = began + [who for who in able if who not in began]
        while crew:
            start, end, rate = self.plain.calendar(tuple(who for who, _ in crew)).stretch(env.now)
            if start <= env.now:
                room = (end - env.now) * rate
                if minutes <= room or not pausable:
                    break
                yield env.timeout(end - env.now)
                minutes -= room
            self.let_go(crew)
            crew = yield from self.take_workers(in_turn, len(began), BROKEN_OFF)
        yield env.timeout(minutes / rate if crew else minutes)
        return crew

    def take_clamps(self, operation: Operation) -> Steps:
        """Waits until all clamps of a glue-up can be had at once, the shortest that serve first."""
        while (wanted := self.find_clamps(operation)) is None:
            yield self.clamps_back
        yield self.env.all_of([self.clamps[kind].get(count) for kind, count in wanted.items()])
        return wanted

    def find_clamps(self, operation: Operation) -> dict[str, int] | None:
        """Which clamps would serve now, or None."""
        free = {kind: int(box.level) for kind, box in self.clamps.items()}
        wanted: dict[str, int] = {}
        for need in sorted(operation.clamps, key=lambda need: (need.kind is None, -(need.reach or 0.0))):
            kinds = [need.kind] if need.kind else [k for k in free if self.reach[k] >= (need.reach or 0.0) > 0]
            missing = need.count
            for kind in kinds:
                taken = min(missing, free[kind])
                if taken:
                    free[kind] -= taken
                    wanted[kind] = wanted.get(kind, 0) + taken
                    missing -= taken
            if missing:
                return None
        return wanted

    def take_off(self, operation: Operation, minutes: float, clamps: dict[str, int]) -> Steps:
        """Clamps come off by somebody's hands, or when somebody is there, and hang on the wall again."""
        env, everybody = self.env, list(range(len(self.workers)))
        if operation.unclamp is not None:
            crew = yield from self.take_workers(everybody, 1, UNCLAMPING)
            crew = yield from self.work(crew, everybody, minutes, True)
            self.let_go(crew)
        else:
            comes = min(calendar.stretch(env.now)[0] for calendar in self.plain.calendars)
            if comes > env.now:
                yield env.timeout(comes - env.now)
        for kind, count in clamps.items():
            yield self.clamps[kind].put(count)
        self.clamps_back.succeed()
        self.clamps_back = env.event()

    def dry(self, minutes: float) -> Steps:
        """A wet finish, until it takes no dust any more."""
        yield self.env.timeout(minutes)
        self.n_wet -= 1
        self.change_air()

    def change_air(self) -> None:
        """Wakes those who wait for clean air."""
        self.air_changed.succeed()
        self.air_changed = self.env.event()
