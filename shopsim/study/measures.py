"""One record -> one row: what a maker compares, as plain numbers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shopsim.engine.calendars import Calendar
from shopsim.engine.days import DayLuck
from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RecordBlock, RunRecord
from shopsim.study.order_queue import OrderQueue
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: What is measured of every run, in this order.
#:
#: ``first_ship_day``, ``average_ship_day``, ``last_ship_day``: over the orders, days after the orders
#: close (whole days, but for the average). ``average_lead_days``: from each order's own start of waiting.
#: ``makespan_days``: from midnight of the first day to the end of the last piece, spares included.
#: ``hands_on_h_a_piece``: hours of people for set-up, work and taking clamps off, over the pieces
#: made; two people for an hour are two. ``setup_h``: hours of people for set-up. ``idle_h``: hours
#: that people were at work with nothing in hand, from the first day to the end of the last piece.
#: ``most_clamps``: the most clamps in use at one moment, all kinds together. ``most_pieces``: the
#: most pieces begun and not done at one moment; what is done once for a whole run begins none.
MEASURES = (
    "first_ship_day",
    "average_ship_day",
    "last_ship_day",
    "average_lead_days",
    "makespan_days",
    "hands_on_h_a_piece",
    "setup_h",
    "idle_h",
    "most_clamps",
    "most_pieces",
)


@dataclass(frozen=True)
class RunMeasures:
    """What was measured of several runs, a row a run.

    ``rows``: float64, columns in the order of MEASURES. ``order_days``: int64, shape (runs, orders), the day
    each order ships, counted from the day orders close. ``clamp_peaks``: int64, shape (runs, kinds),
    the most of each kind in use at one moment.
    """

    rows: np.ndarray
    order_days: np.ndarray
    clamp_peaks: np.ndarray


class Measurer:
    """All that can be worked out about a plan's measures before it runs; build once, measure often."""

    def __init__(self, plan: SimulationPlan) -> None:
        work = plan.worklist
        self.plan = plan
        self.queue = OrderQueue(plan.scenario)
        steps = work.steps
        task_step = np.asarray(work.task_step, dtype=np.int64)
        self.hands = np.array([step.operation.hands for step in steps], dtype=np.float64)[task_step]
        self.clamped = np.flatnonzero(np.array([bool(step.clamps) for step in steps], dtype=bool)[task_step])
        self.unclamped = np.flatnonzero(
            np.array([step.operation.unclamp is not None for step in steps], dtype=bool)[task_step]
        )
        self.n_pieces = work.n_pieces
        piece = np.asarray(work.task_piece, dtype=np.int64)
        whole_run = np.array([step.operation.per == "run" for step in steps], dtype=bool)[task_step]
        self.own = _Grouped(np.flatnonzero(piece >= 0), piece[piece >= 0], work.n_pieces)
        of_cells = [(task, cell) for task in np.flatnonzero(piece < 0) for cell in work.task_cells[task]]
        tasks, cells = np.array(of_cells, dtype=np.int64).reshape(len(of_cells), 2).T
        self.piece_cell = np.asarray(work.piece_cell, dtype=np.int64)
        n_cells = max(work.piece_cell) + 1
        self.shared = _Grouped(tasks, cells, n_cells)
        self.begins = _Grouped(tasks[~whole_run[tasks]], cells[~whole_run[tasks]], n_cells)
        self.piece_batch = np.asarray(work.piece_batch, dtype=np.int64)
        #: for each set of hours, the workers who keep it, as bits
        self.crews = [
            (calendar, sum(1 << worker for worker, number in enumerate(plan.worker_calendar) if number == n))
            for n, calendar in enumerate(plan.calendars)
        ]
        self.crew_of = np.asarray(plan.worker_calendar, dtype=np.int64)

    def measure(self, draws: Draws, record: RunRecord) -> RunMeasures:
        """One run as a block; pure."""
        block = RecordBlock.of(record)
        return self.measure_block(
            np.array([draws.unclamp]), block, lambda last: self._idle_min(draws.days, block, float(last[0]))
        )

    def measure_block(
        self, unclamp_min: np.ndarray, record: RecordBlock, idle_min: Callable[[np.ndarray], np.ndarray]
    ) -> RunMeasures:
        """A row for each run; pure. ``unclamp_min``: as drawn, shape (runs, tasks).

        ``idle_min``: tells for the end of each run how long until then people were at work with nothing in hand.
        """
        finished = self._finished(record)
        last = finished.max(axis=1)
        order_days = self.queue.ship_days(finished)
        setup = record.setup_min @ self.hands
        hands_on = setup + record.work_min @ self.hands + unclamp_min[:, self.unclamped].sum(axis=1)
        peaks, most_clamps = self._clamp_peaks(record)
        mean_day = order_days.mean(axis=1)
        rows = np.column_stack(
            (
                order_days.min(axis=1),
                mean_day,
                order_days.max(axis=1),
                mean_day - float(self.queue.since_days.mean()),
                last / MINUTES_PER_DAY,
                hands_on / MINUTES_PER_HOUR / self.n_pieces,
                setup / MINUTES_PER_HOUR,
                idle_min(last) / MINUTES_PER_HOUR,
                most_clamps,
                self._most_pieces(record, finished),
            )
        )
        return RunMeasures(rows, order_days, peaks)

    def _finished(self, record: RecordBlock) -> np.ndarray:
        """When every piece is done, shape (runs, pieces); see ``piece_done``."""
        own = self.own.largest(record.done, 0.0)
        shared = self.shared.largest(record.done, 0.0)[:, self.piece_cell]
        opened = record.batch_opened[:, self.piece_batch]
        return np.asarray(np.maximum(np.maximum(own, shared), opened))

    def _clamp_peaks(self, record: RecordBlock) -> tuple[np.ndarray, np.ndarray]:
        """(most of each kind at one moment, most of all kinds at one moment); a clamp that comes free can be taken."""
        n, _, n_kinds = record.clamps.shape
        if not self.clamped.size:
            return np.zeros((n, n_kinds), dtype=np.int64), np.zeros(n, dtype=np.int64)
        taken = record.clamps[:, self.clamped].astype(np.int64)
        moments = np.concatenate((record.clamps_off[:, self.clamped], record.start[:, self.clamped]), axis=1)
        order = np.argsort(moments, axis=1, kind="stable")  # of equal moments the coming off is first
        change = np.concatenate((-taken, taken), axis=1)
        in_use = np.take_along_axis(change, order[:, :, None], axis=1).cumsum(axis=1)
        return in_use.max(axis=1), in_use.sum(axis=2).max(axis=1)

    def _most_pieces(self, record: RecordBlock, finished: np.ndarray) -> np.ndarray:
        begun = np.minimum(
            self.own.smallest(record.start, np.inf), self.begins.smallest(record.start, np.inf)[:, self.piece_cell]
        )
        order = np.argsort(np.concatenate((finished, begun), axis=1), axis=1, kind="stable")  # done before begun
        return np.asarray(np.where(order < self.n_pieces, -1, 1).cumsum(axis=1).max(axis=1))

    def _idle_min(self, days: DayLuck | None, record: RecordBlock, last: float) -> np.ndarray:
        """Clock minutes of one run that people were at work with nothing in hand, from minute 0 to ``last``, shape (1,)."""
        idle = 0.0
        for number, (calendar, crew) in enumerate(self.crews):
            edges, worked = _at_work(calendar, days, last)
            if edges.size:
                since, until, hands = self._busy_spans(number, crew, record)
                busy = float((np.interp(until, edges, worked) - np.interp(since, edges, worked)) @ hands)
                idle += crew.bit_count() * float(worked[-1]) - busy
        return np.array([max(0.0, idle)])

    def _busy_spans(self, number: int, crew: int, record: RecordBlock) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The times (since, until, how many people) at which workers of one set of hours had something in hand, in one run."""
        hands = np.bitwise_count(record.workers[0] & crew).astype(np.float64)
        broken, half_off = record.stretches, record.unclamp_stretches
        hands[broken.tasks] = 0.0  # work that was broken off counts for those who did each stretch of it
        who = record.unclamp_worker[0, self.unclamped]
        took_off = (who >= 0) & (self.crew_of[who] == number) & ~np.isin(self.unclamped, half_off.tasks)
        mine = self.unclamped[took_off]
        return (
            np.concatenate((record.start[0], record.unclamp_start[0, mine], broken.since, half_off.since)),
            np.concatenate((record.end[0], record.unclamp_end[0, mine], broken.until, half_off.until)),
            np.concatenate(
                (
                    hands,
                    np.ones(mine.size),
                    np.bitwise_count(broken.crews & crew),
                    np.bitwise_count(half_off.crews & crew),
                )
            ),
        )


def _at_work(calendar: Calendar, days: DayLuck | None, last: float) -> tuple[np.ndarray, np.ndarray]:
    """(moments, minutes at work before each) of one set of hours, from minute 0 to ``last``; the minutes rise evenly between two."""
    if calendar.endless:
        return np.array([0.0, last]), np.array([0.0, last])
    opens, closes, day = calendar.upto(int(last // MINUTES_PER_DAY) + 1)
    if days is not None and day.size:
        there = ~days.days(int(day[-1]) + 1)[1][day]
        opens, closes = opens[there], closes[there]
    keep = int(np.searchsorted(opens, last))
    edges = np.empty(2 * keep)
    edges[0::2], edges[1::2] = opens[:keep], np.minimum(closes[:keep], last)
    worked = np.zeros(2 * keep)
    np.cumsum(edges[1::2] - edges[0::2], out=worked[1::2])
    worked[2::2] = worked[1:-1:2]
    return edges, worked


class _Grouped:
    """Tasks in groups; the largest or smallest value of each group, for many runs at once."""

    def __init__(self, tasks: np.ndarray, group_of: np.ndarray, n_groups: int) -> None:
        order = np.argsort(group_of, kind="stable")
        self._tasks = tasks[order]
        self._groups, self._cuts = np.unique(group_of[order], return_index=True)
        self._n = n_groups

    def largest(self, values: np.ndarray, empty: float) -> np.ndarray:
        """Of ``values`` of each task, shape (runs, tasks): shape (runs, groups), ``empty`` for a group without any."""
        return self._reduce(np.maximum, values, empty)

    def smallest(self, values: np.ndarray, empty: float) -> np.ndarray:
        """Like ``largest``."""
        return self._reduce(np.minimum, values, empty)

    def _reduce(self, which: np.ufunc, values: np.ndarray, empty: float) -> np.ndarray:
        found = np.full((values.shape[0], self._n), empty)
        if self._tasks.size:
            found[:, self._groups] = which.reduceat(values[:, self._tasks], self._cuts, axis=1)
        return found
