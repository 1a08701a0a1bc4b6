"""Runs several replications of a plan with the compiled floor, and measures each, or reads what it has left."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled import machine_code
from shopsim.engine.compiled.array_columns import (
    HANDS_ON_MIN,
    IDLE_MIN,
    MOST_CLAMPS,
    MOST_PIECES,
    N_MEASURED,
    SETUP_MIN,
)
from shopsim.engine.compiled.packing import PackedPlan, pack
from shopsim.engine.compiled.states import StartingStates
from shopsim.engine.floor.shop_floor import MAX_RUN_MIN
from shopsim.engine.hours import LAST_DAYS
from shopsim.engine.luck import LuckBlock
from shopsim.engine.measured import MeasuredRuns, MeasurePlan
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord

#: Days of the calendar that are laid out until a plan is known to need more.
MIN_DAYS = 32
#: Times the usual space for events and broken-off work after which the compiled floor gives up.
MAX_SPACE = 1024


@dataclass(frozen=True, eq=False)
class Logbooks:
    """What several runs have left: rows of ``w`` and ``x`` up to the end of the logbook, and the plan that says where things stand.

    ``places``: which replications of the block they are.
    """

    packed: PackedPlan
    places: np.ndarray
    w: np.ndarray
    x: np.ndarray

    def minutes(self, column: int, n: int) -> np.ndarray:
        """So many places of a column of minutes, a row a run."""
        first = int(self.packed.p[column])
        return self.x[:, first : first + n]

    def numbers(self, column: int, n: int) -> np.ndarray:
        """So many places of a column of whole numbers, a row a run."""
        first = int(self.packed.p[column])
        return self.w[:, first : first + n]

    @property
    def done_min(self) -> np.ndarray:
        """When each task is done, a row a run; a view."""
        return self.minutes(at.DONE, int(self.packed.p[at.N_TASKS]))

    @property
    def batch_opened_min(self) -> np.ndarray:
        """When each batch opened, a row a run; a view."""
        return self.minutes(at.BATCH_OPENED, int(self.packed.p[at.N_BATCHES]))

    def stretches(self, row: int, unclamps: bool) -> dict[int, list[tuple[float, float, int]]]:
        """Work, or taking clamps off, that was broken off and gone on with in one run, as its record has it."""
        found: dict[int, list[tuple[float, float, int]]] = {}
        n = int(self.w[row, at.N_STRETCHES])
        of_kind = (self.numbers(at.BROKEN_OFF_UNCLAMPS, n)[row] > 0) == unclamps
        columns = (
            self.numbers(at.BROKEN_OFF_TASK, n)[row], self.minutes(at.BROKEN_FROM, n)[row],
            self.minutes(at.BROKEN_UNTIL, n)[row], self.numbers(at.BROKEN_OFF_WORKERS, n)[row],
        )  # fmt: skip
        for task, since, until, crew in zip(*(column[of_kind].tolist() for column in columns), strict=True):
            found.setdefault(task, []).append((since, until, crew))
        return found


class PackedPlans:
    """One plan packed for as many days and as much space as its runs have needed so far. Threads may share it."""

    def __init__(self, days: int) -> None:
        self._lock = threading.Lock()
        self._packed: dict[tuple[int, int], PackedPlan] = {}
        self.days, self.space = days, 1

    def get(self, plan: SimulationPlan, days: int, space: int) -> PackedPlan:
        """The plan for so many days and so much space, packed when first asked for."""
        with self._lock:
            found = self._packed.get((days, space))
            if found is None:
                found = self._packed[days, space] = pack(plan, days, space)
            return found


_packed: WeakKeyDictionary[SimulationPlan, PackedPlans] = WeakKeyDictionary()
_packed_lock = threading.Lock()
#: Days that plans of the same hours and as many pieces were laid out for last: a good beginning for the next one.
_days_before: dict[tuple[bytes, int], int] = {}


def _packed_plans(plan: SimulationPlan) -> PackedPlans:
    with _packed_lock:
        found = _packed.get(plan)
        if found is None:
            found = _packed[plan] = PackedPlans(_days_before.get(_hours_and_pieces(plan), MIN_DAYS))
        return found


def _hours_and_pieces(plan: SimulationPlan) -> tuple[bytes, int]:
    bounded = [calendar for calendar in plan.calendars[:1] if not calendar.endless]  # none where nobody works
    return b"".join(calendar.upto(MIN_DAYS)[0].tobytes() for calendar in bounded), plan.piece_batch.size


@dataclass(frozen=True, eq=False)
class RunBlock:
    """Several runs of a plan. ``logs``: what those left that came to their end; ``left_over``: the places of runs that only the SimPy model can end or explain."""

    plan: SimulationPlan
    luck: LuckBlock
    logs: tuple[Logbooks, ...]
    left_over: np.ndarray


def run_block(plan: SimulationPlan, luck: LuckBlock, states: StartingStates | None = None) -> RunBlock:
    """Run a plan with the luck of several replications; the same records as ``run`` gives, bit for bit.

    ``states``: where each run is that is under way, in place of its beginning. The plan must have no priority rule of the
    user's own, and no starting state itself.
    """
    logs: list[Logbooks] = []
    over = np.zeros(luck.numbers.size, dtype=bool)

    def simulate(packed: PackedPlan, which: np.ndarray) -> np.ndarray:
        p, n = packed.p, which.size
        log_w, log_x = np.empty((n, int(p[at.LOG_WHOLE])), dtype=np.int64), np.empty((n, int(p[at.LOG_REAL])))
        status = _simulate(packed, luck, which, log_w, log_x, Measuring.none(), states)
        ended = status == at.OVER
        over[which[ended]] = True
        logs.append(Logbooks(packed, which[ended], log_w[ended], log_x[ended]))
        return status

    _run_to_end(plan, luck, simulate)
    return RunBlock(plan, luck, tuple(logs), np.flatnonzero(~over))


def measure_block(plan: SimulationPlan, luck: LuckBlock, measure: MeasurePlan) -> tuple[MeasuredRuns, np.ndarray]:
    """Run a plan like ``run_block``, and measure each run: (what was measured, whether each came to its end).

    Rows of runs that did not mean nothing: only the SimPy model can end or explain them.
    """
    n = luck.numbers.size
    finished = np.empty((n, measure.piece_cell.size))
    measured, peaks = np.empty((n, N_MEASURED)), np.empty((n, plan.clamp_count.size), dtype=np.int64)
    over = np.zeros(n, dtype=bool)

    def simulate(packed: PackedPlan, which: np.ndarray) -> np.ndarray:
        measuring = Measuring.of(packed, measure, which.size)
        status = _simulate(packed, luck, which, _NO_ROWS, _NO_LOG, measuring)
        ended = status == at.OVER
        rows = which[ended]
        over[rows] = True
        finished[rows], measured[rows] = measuring.finished[ended], measuring.measured[ended]
        peaks[rows] = measuring.peaks[ended]
        return status

    _run_to_end(plan, luck, simulate)
    return MeasuredRuns(
        finished, measured[:, SETUP_MIN], measured[:, HANDS_ON_MIN], measured[:, IDLE_MIN], measured[:, MOST_PIECES],
        measured[:, MOST_CLAMPS], peaks,
    ), over  # fmt: skip


def _run_to_end(
    plan: SimulationPlan, luck: LuckBlock, simulate: Callable[[PackedPlan, np.ndarray], np.ndarray]
) -> None:
    """Make all runs of a block, with more days and more space for those that need them."""
    todo = np.flatnonzero(luck.minutes[:, :3].max(axis=(1, 2)) <= MAX_RUN_MIN)  # hands-on work that nobody could end
    plans = _packed_plans(plan)
    days, space = plans.days, plans.space
    while todo.size:
        status = simulate(plans.get(plan, days, space), todo)
        if 10 * todo.size > luck.numbers.size:  # the next block begins with what a tenth or more of this one needed
            plans.days, plans.space = days, space
            _days_before[_hours_and_pieces(plan)] = days
        todo = todo[(status == at.NEEDS_DAYS) | (status == at.NEEDS_SPACE)]
        if days == LAST_DAYS or space == MAX_SPACE:
            break
        days = min(LAST_DAYS, 3 * days // 2) if (status == at.NEEDS_DAYS).any() else days
        space *= 2 if (status == at.NEEDS_SPACE).any() else 1


_own = threading.local()


def _working_space(packed: PackedPlan) -> tuple[np.ndarray, np.ndarray]:
    """Room for one run in this thread, kept from one block to the next: new room would be slow to touch."""
    if getattr(_own, "w", _NOTHING).size < packed.n_whole:
        _own.w = np.empty(packed.n_whole, dtype=np.int64)
    if getattr(_own, "x", _NOTHING).size < packed.n_real:
        _own.x = np.empty(packed.n_real)
    return _own.w, _own.x


_NONE, _NOTHING = np.zeros(0, dtype=np.int64), np.zeros(0)
NO_OWN, NO_PLACES = np.zeros((1, 0)), np.zeros((1, 0), dtype=np.int64)
_NO_ROWS, _NO_LOG = np.zeros((0, 0), dtype=np.int64), np.zeros((0, 0))


class Measuring(NamedTuple):
    """What ``simulate_block`` is given so that runs are measured, in its order."""

    task_piece: np.ndarray
    shared_task: np.ndarray
    shared_cell: np.ndarray
    shared_begins: np.ndarray
    piece_cell: np.ndarray
    piece_batch: np.ndarray
    hands: np.ndarray
    unclamped: np.ndarray
    finished: np.ndarray
    measured: np.ndarray
    peaks: np.ndarray
    cells: np.ndarray
    begun: np.ndarray
    ends: np.ndarray
    spans: np.ndarray
    by_task: np.ndarray
    by_kind: np.ndarray
    of_day: np.ndarray

    @classmethod
    def none(cls) -> Measuring:
        """Nothing is to be measured."""
        none, nothing = (_NONE,) * 6, (_NOTHING, _NONE)
        return cls(
            *none, *nothing, _NO_LOG, _NO_LOG, _NO_ROWS, _NOTHING, _NOTHING, _NOTHING, _NO_LOG, _NONE, _NONE, _NONE
        )

    @classmethod
    def of(cls, packed: PackedPlan, measure: MeasurePlan, n: int) -> Measuring:
        """All that is measured of ``n`` runs, and room to work in."""
        whole, n_kinds, n_tasks = np.int64, int(packed.p[at.N_KINDS]), measure.task_piece.size
        n_pieces = measure.piece_cell.size
        return cls(
            measure.task_piece, measure.shared_task, measure.shared_cell, measure.shared_begins, measure.piece_cell,
            measure.piece_batch, measure.hands, measure.unclamped, np.empty((n, n_pieces)), np.empty((n, N_MEASURED)),
            np.empty((n, n_kinds), whole), np.empty(measure.n_cells), np.empty(n_pieces), np.empty(n_pieces),
            np.empty((3, packed.n_stretches + 2)), np.empty(n_tasks, whole), np.empty(n_kinds, whole),
            np.empty(packed.days, whole),
        )  # fmt: skip


def _simulate(
    packed: PackedPlan, luck: LuckBlock, which: np.ndarray, log_w: np.ndarray, log_x: np.ndarray, measuring: Measuring,
    states: StartingStates | None = None,
) -> np.ndarray:  # fmt: skip
    """How the runs at these places ended; what they left stands in the arrays that were given."""
    p, n, n_all = packed.p, which.size, luck.numbers.size
    status = np.zeros(n, dtype=np.int64)
    share = luck.open_shares(packed.days) if p[at.N_DAYS] else np.zeros((n_all, 0))
    minutes, material_at = luck.minutes.reshape(n_all, -1), luck.material_at
    if n < n_all:
        minutes, material_at, share = minutes[which], material_at[which], share[which]
    fresh_w, fresh_x, own_x, own_w = packed.fresh_w, packed.fresh_x, NO_OWN, NO_PLACES
    if states is not None:
        laid = states.lay(packed)
        if laid is None:
            return np.full(n, at.NEEDS_SPACE, dtype=np.int64)
        (fresh_w, fresh_x), (own_x, own_w) = laid, states.take(which)
    w, x = _working_space(packed)
    machine_code.simulate_block(
        p, packed.q, fresh_w, fresh_x, w, x, minutes, material_at, share, status, own_x, own_w, log_w, log_x, *measuring,
    )  # fmt: skip
    return status


def records_of(block: RunBlock) -> dict[int, RunRecord]:
    """The whole records of those runs that came to their end, by their place in the block."""
    return {
        int(place): _record(log, row, block.luck.minutes[place, 0])
        for log in block.logs
        for row, place in enumerate(log.places)
    }


def _record(log: Logbooks, row: int, work_min: np.ndarray) -> RunRecord:
    p = log.packed.p
    n, n_kinds = int(p[at.N_TASKS]), int(p[at.N_KINDS])
    workers, unclamp_worker = log.numbers(at.WORKERS, n)[row].copy(), log.numbers(at.UNCLAMP_WORKER, n)[row].copy()
    stretches, unclamp_stretches = log.stretches(row, unclamps=False), log.stretches(row, unclamps=True)
    for task, spans in stretches.items():
        workers[task] = spans[0][2]
    for task, spans in unclamp_stretches.items():
        unclamp_worker[task] = spans[0][2].bit_length() - 1
    return RunRecord(
        ready=log.minutes(at.READY, n)[row],
        start=log.minutes(at.START, n)[row],
        begun=log.numbers(at.BEGUN, n)[row],
        end=log.minutes(at.END, n)[row],
        setup_min=log.minutes(at.PAID_SETUP, n)[row],
        work_min=work_min.copy(),
        clamps_off=log.minutes(at.CLAMPS_OFF, n)[row],
        unclamp_start=log.minutes(at.UNCLAMP_START, n)[row],
        unclamp_end=log.minutes(at.UNCLAMP_END, n)[row],
        done=log.minutes(at.DONE, n)[row],
        wet_until=log.minutes(at.WET_UNTIL, n)[row],
        workers=workers,
        unclamp_worker=unclamp_worker.astype(np.intc),
        station_unit=log.numbers(at.UNIT, n)[row].astype(np.intc),
        clamps=log.numbers(at.CLAMPS, n * n_kinds)[row].reshape(n, n_kinds).astype(np.int32),
        batch_opened=log.minutes(at.BATCH_OPENED, int(p[at.N_BATCHES]))[row],
        stretches=stretches,
        unclamp_stretches=unclamp_stretches,
    )
