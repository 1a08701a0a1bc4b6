"""Every task of a run at likely times as a bound sees it, and how early each can begin and be done whatever the order of work."""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from shopsim.engine.bound_pushing import FirstMade
from shopsim.engine.hours import LAST_DAYS
from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.presence import Presence
from shopsim.units import MINUTES_PER_DAY

#: Rounds of working out when batches open from when pieces are made; each round is a bound of its own.
ROUNDS = 12
#: Tasks and batches up to which a batch is known to open when hands and clamps can have made the first pieces; of 45 batches
#: that takes half a minute.
MOST_FIRST_MADE, MOST_BATCHES = 3_000, 12


class BoundTasks:
    """A plan at likely times for bounds on the end of its last piece, minutes from midnight of day 0.

    ``work_min``: clock minutes that hands are at each task; ``unclamp_min``, ``setup_min`` likewise. ``open_min``: when each
    batch opens at the earliest. ``start_min``, ``end_min``, ``done_min``: of each task at the earliest, if nothing but time,
    hours and what comes before stood in its way. ``tail_min``: from the end of its hands-on work to the end of its last
    piece at least, ``later_min`` from when it is done.
    """

    def __init__(self, plan: SimulationPlan, horizon_min: float) -> None:
        self.plan, self.work = plan, plan.worklist
        draws = likely_luck(plan.luck)
        share = 1.0 if draws.days is None else float(draws.days.days(1)[0][0])
        self.hands = plan.step_hands[plan.task_step].astype(float)
        with_hands = self.hands > 0
        drawn = np.array(draws.work)
        self.work_min = np.where(with_hands, drawn / share, drawn)
        self.setup_min = np.where(with_hands, np.array(draws.setup) / share, np.array(draws.setup))
        self.unclamp_min = np.array(draws.unclamp) / share
        self.in_clamps_min, self.cure_min = np.array(draws.in_clamps), np.array(draws.cure)
        self.likely_min = plan.entry_likely_min[plan.task_entry]
        self.material_min = np.zeros(plan.task_step.size)
        for material, when in enumerate(draws.material_at):
            held = np.isin(plan.task_entry, plan.material_entries.row(material))
            self.material_min[held] = np.maximum(self.material_min[held], when)
        self.n_days = min(LAST_DAYS, int(horizon_min // MINUTES_PER_DAY) + 15)
        self._lay_out_people(share)
        self._link()
        self._find_heads()
        self._find_tails()

    # ---- people
    def _lay_out_people(self, share: float) -> None:
        plan = self.plan
        spans = []
        for calendar in plan.calendars:
            if calendar.endless:
                spans.append([(0.0, self.n_days * MINUTES_PER_DAY)])
            else:
                since, until, _ = calendar.upto(self.n_days)
                spans.append(list(zip(since.tolist(), until.tolist(), strict=True)))
        own = [spans[number] for number in plan.worker_calendar.tolist()]
        late = self._most_overtime(share)
        longer = [[(since, until + late) for since, until in one] for one in own]
        self.anybody, self.anybody_late = Presence(own, 1.0), Presence(longer, 1.0)
        self._people: dict[tuple[int, ...], tuple[Presence, Presence, tuple[Presence, ...]]] = {}
        self.able = [tuple(sorted(plan.step_workers.row(n).tolist())) for n in range(plan.step_hands.size)]
        everybody = tuple(range(len(own)))
        for who in {everybody, *self.able}:
            each = tuple(Presence([own[worker]]) for worker in who)
            self._people[who] = (
                Presence([own[w] for w in who], 1.0), Presence([_apart(longer[w]) for w in who]), each,
            )  # fmt: skip
        self.everybody = everybody

    def _most_overtime(self, share: float) -> float:
        """The clock minutes by which work that cannot be left half done may pass closing: it has to fit at its likely time alone."""
        pausable = self.plan.step_pausable[self.plan.task_step]
        setup = np.array([step.operation.setup.likely for step in self.work.steps])[self.plan.task_step]
        over = self.work_min + np.maximum(0.0, self.setup_min - setup) - self.likely_min
        return float(max(0.0, over[~pausable & (self.hands > 0)].max(initial=0.0)))

    def hours_of(self, who: tuple[int, ...]) -> Presence:
        """When any of these people are at work."""
        return self._people[who][0]

    def capacity_of(self, who: tuple[int, ...]) -> Presence:
        """How many of these people are at work, staying late counted in."""
        return self._people[who][1]

    # ---- what comes before what
    def _link(self) -> None:
        plan, n = self.plan, self.plan.task_step.size
        groups = plan.group_size.size
        self.groups_of = plan.task_groups.lists()
        self.listeners = plan.group_listeners.lists()
        self.waits_for: list[list[int]] = [[] for _ in range(n)]
        for group, tasks in enumerate(self.listeners):
            for task in tasks:
                self.waits_for[task].append(group)
        self.gate_of = {group: batch for batch, group in enumerate(plan.batch_gate.tolist())}
        left = plan.group_size.tolist()
        waits = plan.task_waits.tolist()
        for group in self.gate_of:
            left[group] -= 1
        todo = [group for group in range(groups) if left[group] == 0]
        self.order: list[int] = [task for task in range(n) if waits[task] == 0]
        place = 0
        while todo or place < len(self.order):
            while todo:
                for task in self.listeners[todo.pop()]:
                    waits[task] -= 1
                    if waits[task] == 0:
                        self.order.append(task)
            if place < len(self.order):
                for group in self.groups_of[self.order[place]]:
                    left[group] -= 1
                    if left[group] == 0:
                        todo.append(group)
                place += 1

    # ---- how early
    def finish(self, task: int, ready: float, work_min: float | None = None) -> tuple[float, float]:
        """(end of the hands-on work, done) of a task that is ready at a moment, at the earliest."""
        step = int(self.plan.task_step[task])
        minutes = float(self.work_min[task]) if work_min is None else work_min
        ready = max(ready, float(self.material_min[task]))
        if not self.hands[task]:
            return self.hold(task, ready + minutes)
        together, _, each = self._people[self.able[step]]
        if self.plan.step_pausable[step]:
            return self.hold(task, together.after(together.next(ready), minutes))
        likely = float(self.likely_min[task])
        return self.hold(task, min(one.fits(ready, likely) for one in each) + minutes)

    def hold(self, task: int, end: float) -> tuple[float, float]:
        """(end, done) of a task whose hands-on work ends at a moment."""
        due = end + float(self.in_clamps_min[task])
        off = due
        if self.unclamp_min[task] > 0:
            off = self.anybody.after(self.anybody.next(due), float(self.unclamp_min[task]))
        elif due > end:
            off = self.anybody.next(due)
        return end, max(off, end + float(self.cure_min[task]))

    def _find_heads(self) -> None:
        plan, n = self.plan, self.plan.task_step.size
        self.open_min = np.maximum.accumulate(np.maximum(plan.batch_opens_min, 0.0))
        self.start_min, self.end_min, self.done_min = np.zeros(n), np.zeros(n), np.zeros(n)
        self._first_made = (
            FirstMade(self) if n <= MOST_FIRST_MADE and 1 < plan.batch_size.size <= MOST_BATCHES else None
        )
        for _ in range(ROUNDS):
            self._pass_forward()
            opens = self._openings()
            if (opens <= self.open_min).all():
                break
            self.open_min = np.maximum(self.open_min, opens)
        self._pass_forward()

    def _pass_forward(self) -> None:
        group_done = np.zeros(self.plan.group_size.size)
        for group, batch in self.gate_of.items():
            group_done[group] = self.open_min[batch]
        for task in self.order:
            ready = max([group_done[group] for group in self.waits_for[task]], default=0.0)
            self.start_min[task] = self._begin(task, ready)
            self.end_min[task], self.done_min[task] = self.finish(task, ready)
            for group in self.groups_of[task]:
                group_done[group] = max(group_done[group], self.done_min[task])

    def _begin(self, task: int, ready: float) -> float:
        ready = max(ready, float(self.material_min[task]))
        step = int(self.plan.task_step[task])
        return self._people[self.able[step]][0].next(ready) if self.hands[task] else ready

    def _openings(self) -> np.ndarray:
        """When batches can open, by the room: so many pieces of those before have to be made first."""
        plan = self.plan
        made = np.zeros(plan.piece_batch.size)
        for task, pieces in enumerate(plan.task_ends_pieces.lists()):
            for piece in pieces:
                made[piece] = max(made[piece], self.done_min[task])
        least = self._least_work()
        opens = self.open_min.copy()
        for batch in range(1, plan.batch_size.size):
            earlier = np.flatnonzero(plan.piece_batch < batch)
            beside = max(plan.room - int(plan.batch_size[batch]), 0)
            if beside < earlier.size:
                by_time = float(np.sort(made[earlier])[::-1][beside])
                by_hands = float(np.sort(least[earlier])[: earlier.size - beside].sum())
                capacity = self.capacity_of(self.everybody)
                opens[batch] = max(opens[batch], by_time, capacity.after(float(self.open_min[0]), by_hands))
                if self._first_made is not None:
                    made_min = self._first_made.find(earlier, earlier.size - beside, float(self.open_min[0]))
                    opens[batch] = max(opens[batch], made_min)
            opens[batch] = max(opens[batch], opens[batch - 1])
        return opens

    def _least_work(self) -> np.ndarray:
        """Minutes of people that each piece takes by itself, standing and packing left out."""
        least = np.zeros(self.plan.piece_batch.size)
        of_design = np.array([step.of_design for step in self.work.steps])[self.plan.task_step]
        for task, piece in enumerate(self.work.task_piece):
            if piece >= 0 and of_design[task]:
                least[piece] += self.hands[task] * self.work_min[task]
        return least

    # ---- how late
    def _find_tails(self) -> None:
        n = self.plan.task_step.size
        self.tail_min, self.later_min = np.zeros(n), np.zeros(n)
        group_tail = np.zeros(self.plan.group_size.size)
        for task in reversed(self.order):
            later = max([group_tail[group] for group in self.groups_of[task]], default=0.0)
            held = max(float(self.in_clamps_min[task] + self.unclamp_min[task]), float(self.cure_min[task]))
            self.tail_min[task], self.later_min[task] = held + later, later
            for group in self.waits_for[task]:
                group_tail[group] = max(group_tail[group], self.work_min[task] + self.tail_min[task])

    @cached_property
    def ancestors(self) -> list[int]:
        """For each task all that comes before it and itself, as bits."""
        found = [0] * self.plan.task_step.size
        group_all = [0] * self.plan.group_size.size
        for task in self.order:
            bits = 1 << task
            for group in self.waits_for[task]:
                bits |= group_all[group]
            found[task] = bits
            for group in self.groups_of[task]:
                group_all[group] |= bits
        return found


def _apart(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Spans of one person that staying late has let overlap, cut where the next begins."""
    starts = [since for since, _ in spans[1:]] + [math.inf]
    return [(since, min(until, later)) for (since, until), later in zip(spans, starts, strict=True)]
