"""One record -> one row: what a maker compares, as plain numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopsim.engine.calendars import Calendar
from shopsim.engine.days import DayLuck
from shopsim.engine.luck import Draws
from shopsim.engine.measured import MeasuredRuns, MeasurePlan
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
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
        whole_run = np.array([step.operation.per == "run" for step in steps], dtype=bool)[task_step]
        piece = np.asarray(work.task_piece, dtype=np.int64)
        of_cells = [(task, cell) for task in np.flatnonzero(piece < 0) for cell in work.task_cells[task]]
        tasks, cells = np.array(of_cells, dtype=np.int64).reshape(len(of_cells), 2).T.copy()
        self.measure_plan = MeasurePlan(
            task_piece=piece,
            shared_task=tasks,
            shared_cell=cells,
            shared_begins=(~whole_run[tasks]).astype(np.int64),
            piece_cell=np.asarray(work.piece_cell, dtype=np.int64),
            piece_batch=np.asarray(work.piece_batch, dtype=np.int64),
            hands=np.array([step.operation.hands for step in steps], dtype=np.float64)[task_step],
            unclamped=np.array([step.operation.unclamp is not None for step in steps], dtype=np.int64)[task_step],
            n_cells=max(work.piece_cell) + 1,
        )
        #: for each set of hours, the workers who keep it, as bits
        self.crews = [
            (calendar, sum(1 << worker for worker, number in enumerate(plan.worker_calendar) if number == n))
            for n, calendar in enumerate(plan.calendars)
        ]

    def measure(self, draws: Draws, record: RunRecord) -> RunMeasures:
        """One run, as a row; pure."""
        what = self.measure_plan
        finished = _finish_pieces(what, record)
        setup = float(record.setup_min @ what.hands)
        work = float(record.work_min @ what.hands) + float(np.array(draws.unclamp)[what.unclamped > 0].sum())
        peaks, most_clamps = _clamp_peaks(record)
        one = MeasuredRuns(
            finished=finished[None],
            setup_min=np.array([setup]),
            hands_on_min=np.array([setup + work]),
            idle_min=np.array([self._idle_min(draws.days, record, float(finished.max()))]),
            most_pieces=np.array([_most_pieces(what, record, finished)], dtype=np.float64),
            most_clamps=np.array([most_clamps], dtype=np.float64),
            clamp_peaks=peaks[None],
        )
        return self.tabulate(one)

    def tabulate(self, runs: MeasuredRuns) -> RunMeasures:
        """A row for each run; pure."""
        order_days = self.queue.ship_days(runs.finished)
        mean_day = order_days.mean(axis=1)
        rows = np.column_stack(
            (
                order_days.min(axis=1),
                mean_day,
                order_days.max(axis=1),
                mean_day - float(self.queue.since_days.mean()),
                runs.finished.max(axis=1) / MINUTES_PER_DAY,
                runs.hands_on_min / MINUTES_PER_HOUR / runs.finished.shape[1],
                runs.setup_min / MINUTES_PER_HOUR,
                runs.idle_min / MINUTES_PER_HOUR,
                runs.most_clamps,
                runs.most_pieces,
            )
        )
        return RunMeasures(rows, order_days, runs.clamp_peaks)

    def _idle_min(self, days: DayLuck | None, record: RunRecord, last: float) -> float:
        """People's minutes at work with nothing in hand, from minute 0 to ``last``."""
        idle = 0.0
        for number, (calendar, crew) in enumerate(self.crews):
            edges, worked = _at_work(calendar, days, last)
            if edges.size:
                since, until, hands = self._busy_spans(number, crew, record)
                busy = float((np.interp(until, edges, worked) - np.interp(since, edges, worked)) @ hands)
                idle += crew.bit_count() * float(worked[-1]) - busy
        return max(0.0, idle)

    def _busy_spans(self, number: int, crew: int, record: RunRecord) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The times (since, until, how many people) at which workers of one set of hours had something in hand."""
        hands = np.bitwise_count(record.workers & crew).astype(np.float64)
        hands[list(record.stretches)] = 0.0  # work that was broken off counts for those who did each stretch of it
        who = record.unclamp_worker
        took_off = (who >= 0) & (self.plan.worker_calendar[who] == number)
        took_off[list(record.unclamp_stretches)] = False
        broken = [
            span for found in (record.stretches, record.unclamp_stretches) for spans in found.values() for span in spans
        ]
        since, until, crews = np.array(broken, dtype=np.float64).reshape(len(broken), 3).T
        return (
            np.concatenate((record.start, record.unclamp_start[took_off], since)),
            np.concatenate((record.end, record.unclamp_end[took_off], until)),
            np.concatenate((hands, np.ones(int(took_off.sum())), np.bitwise_count(crews.astype(np.int64) & crew))),
        )


def _finish_pieces(what: MeasurePlan, record: RunRecord) -> np.ndarray:
    """When every piece is done, shape (pieces,); see ``piece_done``."""
    own, shared = np.zeros(what.piece_cell.size), np.zeros(what.n_cells)
    single = what.task_piece >= 0
    np.maximum.at(own, what.task_piece[single], record.done[single])
    np.maximum.at(shared, what.shared_cell, record.done[what.shared_task])
    return np.asarray(np.maximum(np.maximum(own, shared[what.piece_cell]), record.batch_opened[what.piece_batch]))


def _clamp_peaks(record: RunRecord) -> tuple[np.ndarray, int]:
    """(most of each kind at one moment, most of all kinds at one moment); a clamp that comes free can be taken."""
    clamped = np.flatnonzero(~np.isnan(record.clamps_off))
    taken = record.clamps[clamped].astype(np.int64)
    if not taken.size:
        return np.zeros(taken.shape[1], dtype=np.int64), 0
    moments = np.concatenate((record.clamps_off[clamped], record.start[clamped]))
    order = np.argsort(moments, kind="stable")  # of equal moments the coming off is first
    in_use = np.concatenate((-taken, taken))[order].cumsum(axis=0)
    return in_use.max(axis=0), int(in_use.sum(axis=1).max())


def _most_pieces(what: MeasurePlan, record: RunRecord, finished: np.ndarray) -> int:
    """The most pieces begun and not done at one moment."""
    own, shared = np.full(finished.size, np.inf), np.full(what.n_cells, np.inf)
    single, begins = what.task_piece >= 0, what.shared_begins > 0
    np.minimum.at(own, what.task_piece[single], record.start[single])
    np.minimum.at(shared, what.shared_cell[begins], record.start[what.shared_task[begins]])
    begun = np.minimum(own, shared[what.piece_cell])
    order = np.argsort(np.concatenate((finished, begun)), kind="stable")  # done before begun
    return int(np.where(order < finished.size, -1, 1).cumsum().max())


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
