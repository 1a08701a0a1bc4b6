"""Work as the rows of the log of a run have it: begun, paused, done, who had what in hand when, and what that teaches."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.worklist import Worklist
from shopsim.scenario.happenings import Happening
from shopsim.scenario.logs import TimeRow
from shopsim.study.named_tasks import NamedTasks, say_pieces
from shopsim.study.worked_hours import WorkedHours


@dataclass(frozen=True)
class HalfDone:
    """Tasks of one operation that were begun together and are not done: ``spent_min`` hands-on minutes went into them, in
    their order; ``pays``: set-up included. ``running``: somebody is at it. ``begun_min``: when; ``last_span_min``: since when and
    until when somebody was last at it."""

    tasks: tuple[int, ...]
    spent_min: float
    begun_min: float
    pays: bool
    running: bool
    last_span_min: tuple[float, float]


@dataclass
class _InHand:
    """The like while the log is read. ``since``: when it was taken up, None while it rests; ``by``: those whose beginning broke it off."""

    tasks: list[int]
    worker: int
    begun: float
    since: float | None
    line: int
    pays: bool
    spent: float = 0.0
    paused: bool = False
    broken_by: _InHand | None = None
    last_span: tuple[float, float] | None = None


class WorkInHand:
    """What rows of work do; see ``RunState`` for what comes of them. ``spans``: when somebody was at work."""

    def __init__(self, work: Worklist, names: NamedTasks, hours: WorkedHours) -> None:
        self.work, self.names, self.hours = work, names, hours
        n = work.n_tasks
        self.begun, self.ended, self.off, self.passed = (np.full(n, math.nan) for _ in range(4))
        self.crew = np.zeros(n, dtype=np.int64)
        self.done_line = np.zeros(n, dtype=np.int64)
        self.in_hand: dict[int, _InHand] = {}
        self.times: list[TimeRow] = []
        self.spans: list[tuple[float, float]] = []
        self._set_for: dict[int, list[int]] = {}
        self._paid: set[tuple[int, int]] = set()
        self._early: list[tuple[Happening, int]] = []

    def end(self, now: float) -> tuple[HalfDone, ...]:
        """What is half done at the end, in the order in which it was begun; what was done too early is told."""
        for row, before in self._early:
            name = self._say(before)
            if math.isnan(self.ended[before]):
                rule = f'"{row.operation}" comes after {name}, which is not done'
                self.names.fault(row, f'"{row.operation}"', rule, "log that as done first, or take this row back")
            else:
                rule = (
                    f'"{row.operation}" comes after {name}, which row {self.done_line[before]} says was done only later'
                )
                self.names.fault(row, f'"{row.operation}"', rule, "one of the two times is wrong: take that row back")
        groups = {id(group): group for group in self.in_hand.values()}
        half = []
        for group in sorted(groups.values(), key=lambda one: (one.begun, one.line)):
            running = group.since is not None
            self._stop(group, now)
            span = group.last_span or (group.begun, group.begun)
            half.append(HalfDone(tuple(group.tasks), group.spent, group.begun, group.pays, running, span))
        return tuple(half)

    # ---- begun, paused, done
    def _begin(self, row: Happening, moment: float, tasks: list[int], crew: int) -> None:
        open_ = [task for task in tasks if math.isnan(self.ended[task])]
        resting = [task for task in open_ if task in self.in_hand and self.in_hand[task].since is None]
        if row.pieces is None:
            tasks = resting or self._of_one_batch(row, [task for task in open_ if task not in self.in_hand])
            if not tasks:
                self._refuse(row, open_, "begun")
                return
        for task in tasks:
            if task not in open_ or (task in self.in_hand and task not in resting):
                self._refuse(row, [task], "begun")
                return
        new = [task for task in tasks if task not in self.in_hand]
        worker = self._lead(crew, tasks[0])
        if self.work.steps[self.work.task_step[tasks[0]]].operation.hands:
            going = {id(self.in_hand[task]): self.in_hand[task] for task in resting if task in tasks}
            group = None
            if new:
                group = _InHand(new, worker, moment, None, row.line, self._pays(new[0]))
                self._check_prior(row, new, moment)
                for task in new:
                    self.begun[task], self.crew[task], self.in_hand[task] = moment, crew, group
                going[id(group)] = group
            for one in going.values():
                self._interrupt(one, worker, moment)
                one.since, one.broken_by = moment, None
        else:
            self._check_prior(row, new, moment)
            group = _InHand(new, worker, moment, moment, row.line, self._pays(tasks[0]), paused=True)
            for task in new:
                self.begun[task], self.in_hand[task] = moment, group

    def _interrupt(self, by: _InHand, worker: int, moment: float) -> None:
        """Whoever begins something lets go of what they had in hand."""
        for other in {id(one): one for one in self.in_hand.values()}.values():
            hands = self.work.steps[self.work.task_step[other.tasks[0]]].operation.hands
            if other is not by and other.worker == worker and other.since is not None and hands:
                self._stop(other, moment)
                other.broken_by = by

    def _stop(self, group: _InHand, moment: float) -> None:
        """It rests from now on; what was spent on it is counted."""
        if group.since is not None:
            group.spent += self.hours.worked(group.worker, group.since, moment, group.paused)
            group.last_span = (group.since, moment)
            self.spans.append(group.last_span)
            group.since = None

    def _release(self, by: _InHand, moment: float) -> None:
        """What was broken off for something goes on when that is over."""
        for other in self.in_hand.values():
            if other.broken_by is by:
                other.since, other.broken_by = moment, None

    def _pause(self, row: Happening, moment: float, tasks: list[int], crew: int) -> None:
        groups = {id(self.in_hand[task]): self.in_hand[task] for task in tasks if task in self.in_hand}
        running = [group for group in groups.values() if group.since is not None or group.broken_by is not None]
        if not running:
            self._refuse(row, tasks, "paused")
            return
        for group in running:
            group.paused = True
            self._stop(group, moment)
            group.broken_by = None
            if row.minutes is not None:
                group.spent = row.minutes / len(running)
            self._release(group, moment)

    def _end(self, row: Happening, moment: float, tasks: list[int], crew: int) -> None:
        open_ = [task for task in tasks if math.isnan(self.ended[task])]
        if row.pieces is None:
            begun = [task for task in open_ if task in self.in_hand]
            tasks = begun or self._of_one_batch(row, open_)
        closed = [task for task in tasks if task not in open_]
        if closed or not tasks:
            self._refuse(row, closed or open_, "done")
            return
        new = [task for task in tasks if task not in self.in_hand]
        pays = self._pays(tasks[0]) if new else self.in_hand[tasks[0]].pays
        began = max(0.0, moment - (row.minutes or 0.0) / len(tasks))  # at the latest
        self._check_prior(row, new, began)
        groups = {id(self.in_hand[task]): self.in_hand[task] for task in tasks if task in self.in_hand}
        spent = 0.0
        for group in groups.values():
            running = group.since is not None
            self._stop(group, moment)
            spent, group.spent = spent + group.spent, 0.0
            group.pays, group.tasks = False, [task for task in group.tasks if task not in tasks]
            if group.tasks and running:
                group.since = moment
        for task in tasks:
            self.in_hand.pop(task, None)
            if math.isnan(self.begun[task]):
                self.begun[task] = began
            self.ended[task], self.done_line[task] = moment, row.line
            self.crew[task] = crew or self.crew[task]
        for group in groups.values():
            if not group.tasks:
                self._release(group, moment)
        minutes = row.minutes if row.minutes is not None else spent if not new else 0.0
        if minutes > 0.0:
            self._teach(row, tasks, minutes, pays)

    def _teach(self, row: Happening, tasks: Sequence[int], minutes: float, pays: bool) -> None:
        """What the minutes tell of the work: the set-up taken out as it is likely to have been, as it shares the pace."""
        work = self.work
        step = work.steps[work.task_step[tasks[0]]]
        if step.operation.hands == 0:
            return
        likely = sum(work.steps[work.task_step[task]].operation.work.likely * work.task_units[task] for task in tasks)
        setup = step.operation.setup.likely if pays else 0.0
        if likely > 0.0:
            minutes *= likely / (likely + setup)
        pieces = {work.task_piece[task] for task in tasks if work.task_piece[task] >= 0}
        piece = say_pieces(pieces) if pieces else f"batch {work.task_batch[tasks[0]] + 1}"
        if step.units_a_piece > 1 and sum(work.task_units[task] for task in tasks) < step.units_a_piece * len(pieces):
            piece += f" unit {work.task_unit[tasks[0]] + 1}"
        units = sum(work.task_units[task] for task in tasks)
        design = work.scenario.all_designs[step.design].name
        self.times.append(TimeRow(row.line, "", design, step.operation.name, piece, units, round(minutes, 4)))

    # ---- what follows from a beginning
    def _check_prior(self, row: Happening, tasks: Iterable[int], moment: float) -> None:
        """What tasks come after is over when they begin: clamps are off, and nothing of it is waited for; else it is told."""
        for task in tasks:
            for before in self.names.prior(task):
                if math.isnan(self.ended[before]):
                    if not self._goes_by_itself(before):
                        if not any(row is other for other, _ in self._early):
                            self._early.append((row, before))
                        continue
                    self._check_prior(row, [before], moment)
                    self.begun[before] = self.ended[before] = moment
                over = max(moment, float(self.ended[before]))
                if math.isnan(self.passed[before]):
                    self.passed[before] = over
                if math.isnan(self.off[before]):
                    self.off[before] = over

    def _goes_by_itself(self, task: int) -> bool:
        return self.work.steps[self.work.task_step[task]].operation.hands == 0

    def _pays(self, task: int) -> bool:
        """Whether a task that begins now is set up for: its station was last set for something else."""
        step = self.work.task_step[task]
        station = self.work.steps[step].station
        if station < 0:
            key = (step, self.work.task_batch[task])
            pays = key not in self._paid
            self._paid.add(key)
            return pays
        last = self._set_for.setdefault(station, [])
        pays = step not in last
        last[:] = [*(one for one in last if one != step), step][-len(self.work.station_units[station]) :]
        return pays

    def _lead(self, crew: int, task: int) -> int:
        """The worker whose hours count: the first of those named, else the first who can do it."""
        if crew:
            return (crew & -crew).bit_length() - 1
        able = self.work.steps[self.work.task_step[task]].workers
        return able[0] if able else 0

    def _of_one_batch(self, row: Happening, tasks: list[int]) -> list[int]:
        """Tasks that a row which names no piece is about: all of one batch. Where there are several, it is to say which."""
        batches = sorted({self.work.task_batch[task] for task in tasks})
        if row.batch is None and len(batches) > 1:
            said = ", ".join(str(batch + 1) for batch in batches[:8])
            self.names.fault(
                row, "batch", f"is blank, and batches {said} have it to be done", "say which, or which pieces"
            )
            return []
        return tasks

    def _refuse(self, row: Happening, tasks: Sequence[int], what: str) -> None:
        """A row that cannot be true, unless it was told already why."""
        if any(fault.line == row.line for fault in self.names.faults):
            return
        task = next((one for one in tasks if not math.isnan(self.ended[one])), tasks[0] if tasks else -1)
        if task < 0:
            rule = "all of it is done already"
        elif not math.isnan(self.ended[task]):
            rule = f"{self._say(task)} is done already, as row {self.done_line[task]} says"
        elif task in self.in_hand and self.in_hand[task].since is not None:
            rule = f"{self._say(task)} was begun on row {self.in_hand[task].line} and is in hand"
        else:
            rule = f"{self._say(task)} is not in hand"
        mend = (
            "begin it first"
            if what == "paused"
            else "take this row back; if it was made again, log it as spoiled first"
        )
        self.names.fault(row, f'"{row.operation}"', rule, mend)

    def _say(self, task: int) -> str:
        return self.work.task_name(task)
