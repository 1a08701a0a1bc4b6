"""Runs of one plan with its entries in one order after another: only the columns that hang on the order are laid anew."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled import machine_code
from shopsim.engine.compiled.array_columns import IDLE_MIN
from shopsim.engine.compiled.blocks import MAX_SPACE, MIN_DAYS, NO_OWN, NO_PLACES, Logbooks, Measuring
from shopsim.engine.compiled.packing import PackedPlan, pack
from shopsim.engine.hours import LAST_DAYS
from shopsim.engine.luck import LuckBlock
from shopsim.engine.measured import MeasurePlan
from shopsim.engine.reordering import PlanLines, Turn


class OrderedRuns:
    """Runs of the lines of a plan on one block of luck, for one thread at a time."""

    def __init__(self, lines: PlanLines, luck: LuckBlock, measure: MeasurePlan | None = None) -> None:
        """``measure``: given where ``idle_min`` will be asked for."""
        self.lines, self.luck, self.measure = lines, luck, measure
        self.minutes = luck.minutes.reshape(luck.numbers.size, -1)
        self.n_waiting = np.bincount(lines.plan.task_entry, minlength=lines.plan.entry_step.size)
        self.days, self.space = MIN_DAYS, 1
        self._laid: np.ndarray | None = None
        self._pack()

    def _pack(self) -> None:
        """Room for so many days and so many events."""
        self._laid = None
        self._calls: dict[tuple[int, int], tuple[machine_code.Call, np.ndarray]] = {}  # those that were made so far
        self.packed = pack(self.lines.plan, self.days, self.space)
        self.own = replace(self.packed, p=self.packed.p.copy(), q=self.packed.q.copy())
        n, p = self.luck.numbers.size, self.packed.p
        self.share = self.luck.open_shares(self.days) if p[at.N_DAYS] else np.zeros((n, 0))
        self.w, self.x = np.empty(self.packed.n_whole, dtype=np.int64), np.empty(self.packed.n_real)
        self.log_w = np.empty((n, int(p[at.LOG_WHOLE])), dtype=np.int64)
        self.log_x = np.empty((n, int(p[at.LOG_REAL])))
        self.measuring = Measuring.none() if self.measure is None else Measuring.of(self.packed, self.measure, n)

    def run(self, order: np.ndarray, first: int, stop: int) -> Logbooks | None:
        """What runs ``first`` to ``stop - 1`` of the block leave with the lines in this order; None where one has no end here.

        The arrays are those of the next call too. An order that was given in the call before is not laid out again, so it
        must not have been changed.
        """
        while True:
            if self._laid is not order:
                self._lay(Turn.of(self.lines, order))
                self._laid = order
            status = self._simulate(first, stop)
            if (status == at.OVER).all():
                rows = slice(first, stop)
                places = np.arange(first, stop)
                return Logbooks(self.own, places, self.log_w[rows], self.log_x[rows])
            if ((status != at.NEEDS_DAYS) & (status != at.NEEDS_SPACE) & (status != at.OVER)).any():
                return None
            if self.days == LAST_DAYS or self.space == MAX_SPACE:
                return None
            self.days = min(LAST_DAYS, 3 * self.days // 2) if (status == at.NEEDS_DAYS).any() else self.days
            self.space *= 2 if (status == at.NEEDS_SPACE).any() else 1
            self._pack()

    def done_min(self, log: Logbooks) -> np.ndarray:
        """When each task is done, a row a run; a view."""
        return log.minutes(at.DONE, int(self.own.p[at.N_TASKS]))

    def start_min(self, log: Logbooks) -> np.ndarray:
        """When each task is begun, a row a run; a view."""
        return log.minutes(at.START, int(self.own.p[at.N_TASKS]))

    def idle_min(self, log: Logbooks) -> np.ndarray:
        """People's minutes at work with nothing in hand, of each run of the last call."""
        return np.asarray(self.measuring.measured[: log.places.size, IDLE_MIN])

    def _lay(self, turn: Turn) -> None:
        """The columns of entries in another order; see ``packing.py``."""
        p, q, plan, old = self.own.p, self.own.q, self.lines.plan, turn.old
        p[_span(self.own, at.TASK_ENTRY, plan.task_entry.size)] = turn.new[plan.task_entry]
        for column, values in (
            (at.ENTRY_STEP, plan.entry_step[old]), (at.ENTRY_UNITS, plan.entry_units[old]),
            (at.ENTRY_SETUP, plan.entry_setup[old]), (at.ENTRY_STOP, turn.stop),
        ):  # fmt: skip
            p[_span(self.own, column, old.size)] = values
        first = p[_span(self.own, at.ENTRY_FIRST, old.size)]
        first[:1] = 0
        np.cumsum(self.n_waiting[old][:-1], out=first[1:])
        held = plan.material_entries.members
        p[_span(self.own, at.MATERIAL_ENTRIES, held.size)] = turn.new[held]
        q[_span(self.own, at.ENTRY_LIKELY, old.size)] = plan.entry_likely_min[old]
        q[_span(self.own, at.ENTRY_NOT_BEFORE, old.size)] = plan.entry_not_before_min[old]

    def _simulate(self, first: int, stop: int) -> np.ndarray:
        if (first, stop) not in self._calls:
            status = np.zeros(stop - first, dtype=np.int64)
            rows = slice(first, stop)
            packed = self.own
            call = machine_code.prepare_simulation(
                packed.p, packed.q, packed.fresh_w, packed.fresh_x, self.w, self.x, self.minutes[rows],
                self.luck.material_at[rows], self.share[rows], status, NO_OWN, NO_PLACES, self.log_w[rows],
                self.log_x[rows], *self.measuring,
            )  # fmt: skip
            self._calls[first, stop] = call, status
        call, status = self._calls[first, stop]
        status[:] = 0
        call()
        return status


def _span(packed: PackedPlan, column: int, n: int) -> slice:
    first = int(packed.p[column])
    return slice(first, first + n)
