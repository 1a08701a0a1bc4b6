"""What a task waited for, by the first true cause.

A wait is cut at every instant at which anything changes, and each slice goes to the first
true cause in the order material, shop closed, clamps, rack, station, wet finish, worker,
does not fit before closing. A slice with no true cause would be a fault of the engine
(somebody idle, everything free, a task waiting); it is labelled UNEXPLAINED, and the laws of
a record forbid it. What a plan of one's own holds back to a moment, though all is there, waits for that.

Tasks that need the same things wait for the same causes. So the causes are worked out once
for all of them, over the time in which any of them waits, and a single wait is then looked
up: its minutes by cause are differences of running sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shopsim.engine.history import History
from shopsim.engine.routing import RoutingStep

MATERIAL, CLOSED, CLAMPS, RACK, STATION = "material", "shop closed", "clamps", "rack", "station"
WET, WORKER, NO_FIT = "wet finish", "worker", "does not fit before closing"
PLANNED = "held back by the plan"
UNEXPLAINED = "unexplained"

#: Waits of up to so many stretches are added up one by one.
_FEW = 24


@dataclass(frozen=True)
class Causes:
    """Why tasks of one kind could not start, over all times at which any of them waited.

    ``since``, ``until``: stretches of one cause each, rising; ``label``: number of its (cause, detail) in ``labels``.
    """

    labels: list[tuple[str, str]]
    since: np.ndarray
    until: np.ndarray
    label: np.ndarray

    @cached_property
    def _sums(self) -> np.ndarray:
        """Minutes of every label before each stretch, shape (labels, stretches + 1); sums on the time grid are exact."""
        minutes = np.zeros((len(self.labels), self.since.size + 1))
        minutes[self.label, np.arange(1, self.since.size + 1)] = self.until - self.since
        return np.asarray(np.cumsum(minutes, axis=1))

    @cached_property
    def _places(self) -> list[np.ndarray]:
        """The stretches of each label."""
        return [np.flatnonzero(self.label == label) for label in range(len(self.labels))]

    def _cut(self, since: float, until: float) -> tuple[int, int]:
        first = int(np.searchsorted(self.since, since, "right")) - 1
        return first, int(np.searchsorted(self.since, until, "left"))

    def split(self, since: float, until: float) -> list[tuple[str, str, float, float]]:
        """The stretches between two moments as (cause, detail, since, until)."""
        first, end = self._cut(since, until)
        return [
            (*self.labels[label], max(a, since), min(b, until))
            for label, a, b in zip(
                self.label[first:end].tolist(),
                self.since[first:end].tolist(),
                self.until[first:end].tolist(),
                strict=True,
            )
        ]

    def sum(self, since: float, until: float) -> list[tuple[str, str, float]]:
        """Minutes between two moments by (cause, detail), in the order in which each first comes."""
        first, end = self._cut(since, until)
        if end - first <= _FEW:
            total: dict[tuple[str, str], float] = {}
            for cause, detail, a, b in self.split(since, until):
                total[cause, detail] = total.get((cause, detail), 0.0) + b - a
            return [(*key, minutes) for key, minutes in total.items()]
        minutes = self._sums[:, end] - self._sums[:, first]
        minutes[self.label[first]] -= since - float(self.since[first])
        minutes[self.label[end - 1]] -= float(self.until[end - 1]) - until
        order = []
        for label, places in enumerate(self._places):
            n = int(np.searchsorted(places, first, "left"))
            if n < places.size and places[n] < end:
                order.append((int(places[n]), label))
        return [(*self.labels[label], float(minutes[label])) for _, label in sorted(order)]


def split_wait(history: History, task: int, since: float, until: float) -> list[tuple[str, str, float, float]]:
    """What a task waited for between two moments from its ready to its start, as (cause, detail, since, until)."""
    return causes_of(history, task).split(since, until) if until > since else []


def sum_wait(history: History, task: int, since: float, until: float) -> list[tuple[str, str, float]]:
    """Minutes that a task waited, by (cause, detail), in the order in which each first comes."""
    return causes_of(history, task).sum(since, until) if until > since else []


def causes_of(history: History, task: int) -> Causes:
    """The causes for all tasks that need the same as this one; worked out when first asked for."""
    known = history.known_waits
    if not isinstance(known, _Known):
        history.known_waits = known = _sort_by_need(history)
    kind = known.kind_of[task]
    found = known.causes[kind]
    if found is None:
        known.causes[kind] = found = _find_causes(history, task, np.array(known.tasks[kind]))
    return found


@dataclass(frozen=True)
class _Known:
    """The kind of each task by what it needs, the tasks of each kind, and the causes found so far."""

    kind_of: list[int]
    tasks: list[list[int]]
    causes: list[Causes | None]


def _sort_by_need(history: History) -> _Known:
    work = history.work
    kinds: dict[tuple[object, ...], int] = {}
    kind_of: list[int] = []
    tasks: list[list[int]] = []
    not_before = history.plan.entry_not_before_min[history.plan.task_entry].tolist()
    for task, n in enumerate(work.task_step):
        step = work.steps[n]
        # what does not fit before closing also depends on whether its set-up is paid, once a batch without a station
        batch = work.task_batch[task] if not step.pausable and step.station < 0 else -1
        key = (n, work.task_units[task], work.materials_of(task), batch, not_before[task])
        kind = kinds.setdefault(key, len(kinds))
        if kind == len(tasks):
            tasks.append([])
        kind_of.append(kind)
        tasks[kind].append(task)
    return _Known(kind_of, tasks, [None] * len(tasks))


def _find_causes(history: History, task: int, alike: np.ndarray) -> Causes:
    """``task``: one of the tasks ``alike``."""
    work, record = history.work, history.record
    step = work.steps[work.task_step[task]]
    left, right = _times_waited(history, record.ready[alike], record.start[alike])
    cause = np.full(left.size, -1)
    labels: list[tuple[str, str]] = []

    def give(true: np.ndarray, name: str, detail: str = "") -> None:
        labels.append((name, detail))
        cause[(cause < 0) & true] = len(labels) - 1

    for material in work.materials_of(task):
        give(left < history.draws.material_at[material], MATERIAL, work.scenario.materials[material].name)
    hands = step.operation.hands
    if hands:
        give(history.shop_open.at(left) == 0, CLOSED)
    for detail, short in _short_of_clamps(history, step, left):
        give(short, CLAMPS, detail)
    if step.rack >= 0:
        needed = step.spots_a_unit * work.task_units[task]
        give(history.spots_free[step.rack].at(left) < needed, RACK, work.rack_names[step.rack])
    if step.station >= 0:
        give(history.units_free[step.station].at(left) < 1, STATION, work.station_names[step.station])
    if step.operation.dusty:
        give(history.wet.at(left) > 0, WET)
    if step.operation.wet is not None:
        give(history.dusty.at(left) > 0, WET)
    if hands:
        free = np.array(
            [
                (history.workers_here[worker].at(left) > 0) & (history.workers_busy[worker].at(left) == 0)
                for worker in step.workers
            ]
        )
        give(free.sum(axis=0) < hands, WORKER)
        open_places = np.flatnonzero(cause < 0)
        if not step.pausable and open_places.size:
            no_fit = np.zeros(left.size, dtype=bool)
            no_fit[open_places] = ~_fits(history, task, left[open_places], free[:, open_places])
            give(no_fit, NO_FIT)
    give(left < history.plan.entry_not_before_min[history.plan.task_entry[task]], PLANNED)
    labels.append((UNEXPLAINED, ""))
    cause[cause < 0] = len(labels) - 1
    begins = np.ones(left.size, dtype=bool)
    begins[1:] = (cause[1:] != cause[:-1]) | (left[1:] != right[:-1])
    ends = np.append(begins[1:], True) if left.size else begins
    return Causes(labels, left[begins], right[ends], cause[begins])


def _times_waited(history: History, ready: np.ndarray, start: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """All slices of time between neighbouring instants in which any of these tasks waited."""
    instants = history.instants
    first, last = np.searchsorted(instants, ready), np.searchsorted(instants, start)
    change = np.bincount(first, minlength=instants.size) - np.bincount(last, minlength=instants.size)
    waited = np.flatnonzero(np.cumsum(change) > 0)
    return instants[waited], instants[np.minimum(waited + 1, instants.size - 1)]


def _short_of_clamps(history: History, step: RoutingStep, left: np.ndarray) -> Iterator[tuple[str, np.ndarray]]:
    """For each need of a step: the smallest kind that serves it, and when it could not be had.

    Needs by name come first; those by reach follow from the longest, so that each may use
    what the longer ones leave.
    """
    before: list[tuple[tuple[int, ...], int]] = []
    for kinds, count in step.clamps:
        free = sum((history.clamps_free[kind].at(left) for kind in kinds), np.zeros(left.size, dtype=np.int64))
        taken = sum(other for theirs, other in before if set(theirs) <= set(kinds))
        before.append((kinds, count))
        yield history.work.clamp_names[kinds[0]], free - taken < count


def _fits(history: History, task: int, now: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Whether, at each moment, enough free workers (shape (able, moments)) could finish the likely time before they close."""
    work = history.work
    n = work.task_step[task]
    step = work.steps[n]
    was_set = history.is_set(n, now) if step.station >= 0 else history.first_start[n, work.task_batch[task]] < now
    likely = step.operation.work.likely * work.task_units[task] + np.where(was_set, 0.0, step.operation.setup.likely)
    fitting = np.zeros(now.size, dtype=np.int64)
    for worker, there in zip(step.workers, free, strict=True):
        curve = history.hours[history.plan.worker_calendar[worker]]
        curve.cursor = 0
        curve.seek(float(now.max()))
        place = np.minimum(np.searchsorted(np.array(curve.end), now, side="right"), len(curve.closes_at) - 1)
        fitting += there & (now + likely <= np.array(curve.closes_at)[place])
    return np.asarray(fitting >= step.operation.hands)
