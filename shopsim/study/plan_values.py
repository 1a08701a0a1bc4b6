"""What an order of the lines of a plan is worth on given luck: the wish, and how near it comes to the next better day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from shopsim.engine import compiling
from shopsim.engine.luck import LuckBlock
from shopsim.engine.reordering import PlanLines
from shopsim.engine.run import run
from shopsim.errors import RunError
from shopsim.study.measures import MEASURES, Measurer
from shopsim.study.order_queue import OrderQueue
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: Beside the wishes of plans: the end of the last piece, in days, which is what is compared at likely times.
FINISH = "finish"
#: A wish as a measure of studies.
MEASURE_OF = {"average": "average_ship_day", "last": "last_ship_day", "idle": "idle_h", FINISH: "makespan_days"}
#: What a day earlier of all pieces, and of all tasks, weighs beside a day of the wish: so little that it only says where
#: the next better day may lie, as ship days jump and a coat that misses closing costs a night (own judgement).
PIECES_WEIGH, TASKS_WEIGH = 0.05, 0.02


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Which tasks end which pieces: tasks sorted by piece, and where each piece's begin."""

    tasks: np.ndarray
    cuts: np.ndarray

    @classmethod
    def of(cls, lines: PlanLines) -> _Pieces:
        work = lines.plan.worklist
        in_cell: dict[int, list[int]] = {}
        for piece, cell in enumerate(work.piece_cell):
            in_cell.setdefault(cell, []).append(piece)
        pairs = []
        for task, piece in enumerate(work.task_piece):
            own = [piece] if piece >= 0 else [one for cell in work.task_cells[task] for one in in_cell[cell]]
            pairs += [(one, task) for one in own]
        pieces, tasks = np.array(sorted(pairs), dtype=np.int64).T
        return cls(tasks, np.flatnonzero(np.concatenate(([True], pieces[1:] != pieces[:-1]))))

    def done(self, task_done: np.ndarray) -> np.ndarray:
        """When each piece is done, shape (runs, pieces)."""
        return np.asarray(np.maximum.reduceat(task_done[:, self.tasks], self.cuts, axis=1))


class OrderValues:
    """Values of orders of the lines of a plan on one block of luck; for one thread at a time.

    Small is good. ``n``: runs in the block. Orders are run on the compiled floor if it is loaded, else by the SimPy model.
    """

    def __init__(self, lines: PlanLines, luck: LuckBlock, wish: str) -> None:
        self.lines, self.luck, self.wish = lines, luck, wish
        self.n = int(luck.numbers.size)
        self._queue = OrderQueue(lines.plan.scenario)
        self._pieces = _Pieces.of(lines)
        self._measurer = Measurer(lines.plan) if wish == "idle" else None
        self._compiled: Any = None

    def measure(self, order: np.ndarray, first: int = 0, stop: int | None = None) -> np.ndarray:
        """The value of an order in runs ``first`` to ``stop - 1``, in days (hours for "idle"): float64, shape (runs,).

        inf where a run has no end under this order.
        """
        stop = self.n if stop is None else stop
        compiled = self._ordered_runs()
        if compiled is not None:
            log = compiled.run(order, first, stop)
            if log is None:
                return np.full(stop - first, np.inf)
            done = compiled.done_min(log)
            return self._value(done, compiled.idle_min(log) if self.wish == "idle" else None)
        return self._by_simpy(order, first, stop)

    def _ordered_runs(self) -> Any:
        if self._compiled is None and compiling.find_compiled(self.lines.plan) is not None:
            from shopsim.engine.compiled.ordered_runs import OrderedRuns  # numba is loaded by now

            measure = None if self._measurer is None else self._measurer.measure_plan
            self._compiled = OrderedRuns(self.lines, self.luck, measure)
        return self._compiled

    def _by_simpy(self, order: np.ndarray, first: int, stop: int) -> np.ndarray:
        plan = self.lines.reorder(order)
        values = np.empty(stop - first)
        for place in range(first, stop):
            draws = self.luck.one(place)
            try:
                record = run(plan, draws)
            except RunError:
                return np.full(stop - first, np.inf)
            idle = None
            if self._measurer is not None:
                hours = float(self._measurer.measure(draws, record).rows[0, MEASURES.index("idle_h")])
                idle = np.array([hours * MINUTES_PER_HOUR])
            values[place - first] = self._value(record.done[None, :], idle)[0]
        return values

    def _value(self, task_done: np.ndarray, idle_min: np.ndarray | None) -> np.ndarray:
        done = self._pieces.done(task_done)
        last = done.max(axis=1)
        nearer = (PIECES_WEIGH * done.mean(axis=1) + TASKS_WEIGH * task_done.mean(axis=1)) / MINUTES_PER_DAY
        if self.wish == "idle":
            assert idle_min is not None
            return np.asarray(idle_min / MINUTES_PER_HOUR + nearer)
        if self.wish == FINISH:
            return np.asarray(last / MINUTES_PER_DAY + nearer)
        days = self._queue.ship_days(done)
        if self.wish == "average":
            return np.asarray(days.mean(axis=1) + nearer)
        return np.asarray(days.max(axis=1) + PIECES_WEIGH * last / MINUTES_PER_DAY + nearer)
