"""One record -> one row: what a maker compares, as plain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopsim.engine.luck import Draws
from shopsim.engine.pieces import piece_done
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
from shopsim.study.orders import OrderQueue
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
class Measured:
    """What was measured of one run.

    ``row``: float64 in the order of MEASURES. ``order_days``: int64, shape (orders,), the day
    each order ships, counted from the day orders close. ``clamp_peaks``: int64, shape (kinds,),
    the most of each kind in use at one moment.
    """

    row: np.ndarray
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
        self.of_piece, self.piece_cuts, self.begun_pieces = _grouped(piece, piece >= 0)
        shared = [(task, cell) for task in np.flatnonzero((piece < 0) & ~whole_run) for cell in work.task_cells[task]]
        of_cell = np.array(shared, dtype=np.int64).reshape(len(shared), 2)
        cell_tasks, self.cell_cuts, self.begun_cells = _grouped(of_cell[:, 1], np.ones(len(shared), dtype=bool))
        self.of_cell = of_cell[cell_tasks, 0]
        self.piece_cell = np.asarray(work.piece_cell, dtype=np.int64)
        self.n_cells = max(work.piece_cell) + 1
        #: for each set of hours, the workers who keep it, as bits
        self.crews = [
            (calendar, sum(1 << worker for worker, number in enumerate(plan.worker_calendar) if number == n))
            for n, calendar in enumerate(plan.calendars)
        ]
        self.crew_of = np.asarray(plan.worker_calendar, dtype=np.int64)
        self.unclamp_fields = self.unclamped.size > 0

    def measure(self, draws: Draws, record: RunRecord) -> Measured:
        """One run's row; pure. Costs about 0.2 ms for 600 tasks."""
        finished = piece_done(self.plan.worklist, record)
        last = float(finished.max())
        order_days = self.queue.ship_days(finished)
        setup = float(record.setup_min @ self.hands)
        hands_on = setup + float(record.work_min @ self.hands)
        if self.unclamped.size:
            hands_on += sum([draws.unclamp[task] for task in self.unclamped.tolist()])
        peaks, most_clamps = self._clamp_peaks(record)
        mean_day = float(order_days.mean())
        row = np.array(
            (
                float(order_days.min()),
                mean_day,
                float(order_days.max()),
                mean_day - float(self.queue.since_days.mean()),
                last / MINUTES_PER_DAY,
                hands_on / MINUTES_PER_HOUR / self.n_pieces,
                setup / MINUTES_PER_HOUR,
                self._idle_min(draws, record, last) / MINUTES_PER_HOUR,
                float(most_clamps),
                float(self._most_pieces(record, finished)),
            )
        )
        return Measured(row, order_days, peaks)

    def _clamp_peaks(self, record: RunRecord) -> tuple[np.ndarray, int]:
        """(most of each kind at one moment, most of all kinds at one moment); a clamp that comes free can be taken."""
        n_kinds = record.clamps.shape[1]
        if not self.clamped.size:
            return np.zeros(n_kinds, dtype=np.int64), 0
        taken = record.clamps[self.clamped].astype(np.int64)
        moments = np.concatenate((record.clamps_off[self.clamped], record.start[self.clamped]))
        order = np.argsort(moments, kind="stable")  # of equal moments the coming off is first
        in_use = np.concatenate((-taken, taken))[order].cumsum(axis=0)
        return in_use.max(axis=0), int(in_use.sum(axis=1).max())

    def _most_pieces(self, record: RunRecord, finished: np.ndarray) -> int:
        begun = np.full(self.n_pieces, np.inf)
        if self.of_piece.size:
            begun[self.begun_pieces] = np.minimum.reduceat(record.start[self.of_piece], self.piece_cuts)
        if self.of_cell.size:
            cell_begun = np.full(self.n_cells, np.inf)
            cell_begun[self.begun_cells] = np.minimum.reduceat(record.start[self.of_cell], self.cell_cuts)
            begun = np.minimum(begun, cell_begun[self.piece_cell])
        under_way = np.searchsorted(np.sort(begun), np.sort(begun), side="right") - np.searchsorted(
            np.sort(finished), np.sort(begun), side="right"
        )
        return int(under_way.max())

    def _idle_min(self, draws: Draws, record: RunRecord, last: float) -> float:
        """Clock minutes that people were at work with nothing in hand, from minute 0 to ``last``."""
        idle = 0.0
        n_days = int(last // MINUTES_PER_DAY) + 1
        for number, (calendar, crew) in enumerate(self.crews):
            members = crew.bit_count()
            if calendar.endless:
                edges, worked = np.array([0.0, last]), np.array([0.0, last])
            else:
                opens, closes, day = calendar.upto(n_days)
                if draws.days is not None and day.size:
                    there = ~draws.days.days(int(day[-1]) + 1)[1][day]
                    opens, closes = opens[there], closes[there]
                keep = int(np.searchsorted(opens, last))
                edges = np.empty(2 * keep)
                edges[0::2], edges[1::2] = opens[:keep], np.minimum(closes[:keep], last)
                worked = np.zeros(2 * keep)
                np.cumsum(edges[1::2] - edges[0::2], out=worked[1::2])
                worked[2::2] = worked[1:-1:2]
            if not edges.size:
                continue
            idle += members * float(worked[-1]) - self._busy_min(number, crew, edges, worked, record)
        return max(0.0, idle)

    def _busy_min(self, number: int, crew: int, edges: np.ndarray, worked: np.ndarray, record: RunRecord) -> float:
        """At-work minutes that the workers of one set of hours had something in hand."""
        hands = np.bitwise_count(record.workers & crew).astype(np.float64)
        start, end = record.start, record.end
        if record.stretches:  # work that was broken off counts for those who did each stretch of it
            hands[list(record.stretches)] = 0.0
            since, until, whose = _columns(record.stretches)
            start, end = np.concatenate((start, since)), np.concatenate((end, until))
            hands = np.concatenate((hands, np.bitwise_count(whose & crew)))
        busy = float((np.interp(end, edges, worked) - np.interp(start, edges, worked)) @ hands)
        if self.unclamped.size:
            who = record.unclamp_worker[self.unclamped]
            mine = self.unclamped[(who >= 0) & (self.crew_of[who] == number)]
            since, until = record.unclamp_start[mine], record.unclamp_end[mine]
            if record.unclamp_stretches:
                whole = ~np.isin(mine, list(record.unclamp_stretches))
                starts, ends, whose = _columns(record.unclamp_stretches)
                ours = (whose & crew) > 0
                since, until = np.append(since[whole], starts[ours]), np.append(until[whole], ends[ours])
            busy += float((np.interp(until, edges, worked) - np.interp(since, edges, worked)).sum())
        return busy


def _columns(stretches: dict[int, list[tuple[float, float, int]]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(since, until, a bit a worker) of all stretches of all tasks."""
    rows = [stretch for spans in stretches.values() for stretch in spans]
    since, until, crew = zip(*rows, strict=True)
    return np.array(since), np.array(until), np.array(crew, dtype=np.int64)


def _grouped(keys: np.ndarray, which: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(tasks sorted by key, where each key begins among them, the keys) of the tasks picked by ``which``."""
    tasks = np.flatnonzero(which)
    tasks = tasks[np.argsort(keys[tasks], kind="stable")]
    names, cuts = np.unique(keys[tasks], return_index=True)
    return tasks, cuts, names
