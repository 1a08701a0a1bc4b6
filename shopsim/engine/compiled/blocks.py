"""Runs several replications of a plan with the compiled floor, and reads what each has left."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.idle import idle_minutes
from shopsim.engine.compiled.packing import PackedPlan, pack
from shopsim.engine.compiled.simulate import simulate_block
from shopsim.engine.floor.shop_floor import MAX_RUN_MIN
from shopsim.engine.hours import LAST_DAYS
from shopsim.engine.luck import LuckBlock
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RecordBlock, RunRecord, Stretches
from shopsim.units import MINUTES_PER_DAY

#: Days of the calendar that are laid out until a plan is known to need more.
MIN_DAYS = 32
#: Times the usual space for events and broken-off work after which the compiled floor gives up.
MAX_SPACE = 1024


@dataclass(frozen=True, eq=False)
class Logbooks:
    """What several runs have left: rows of ``w`` and ``x`` up to the end of the logbook, and the plan that says where things stand.

    ``places``: which replications of the block they are. ``share``: what was left of each day, as the floor has it.
    """

    packed: PackedPlan
    places: np.ndarray
    w: np.ndarray
    x: np.ndarray
    share: np.ndarray

    def take(self, which: np.ndarray) -> Logbooks:
        """Some of them; nothing is copied where all are wanted."""
        if which.all():
            return self
        return Logbooks(self.packed, self.places[which], self.w[which], self.x[which], self.share[which])

    def idle_min(self, last: np.ndarray) -> np.ndarray:
        """Minutes from 0 to ``last`` (one a run) in which people were at work with nothing in hand."""
        p, idle = self.packed.p, np.empty(last.size)
        n = self.packed.n_stretches + 2
        idle_minutes(
            p, self.packed.q, self.share, self.w, self.x, last, idle, np.empty(n), np.empty(n), np.empty(n),
            np.empty(int(last.max()) // int(MINUTES_PER_DAY) + 1, dtype=np.int64), np.zeros(int(p[at.N_TASKS]), dtype=np.int64),
        )  # fmt: skip
        return idle

    def minutes(self, column: int, n: int) -> np.ndarray:
        """So many places of a column of minutes, a row a run."""
        first = int(self.packed.p[column])
        return self.x[:, first : first + n]

    def numbers(self, column: int, n: int) -> np.ndarray:
        """So many places of a column of whole numbers, a row a run."""
        first = int(self.packed.p[column])
        return self.w[:, first : first + n]

    def stretches(self, unclamps: bool) -> Stretches:
        """Work, or taking clamps off, that was broken off and gone on with."""
        n = int(self.packed.p[at.MAX_STRETCHES])
        noted = np.arange(n) < self.w[:, at.N_STRETCHES][:, None]
        rows, places = np.nonzero(noted & ((self.numbers(at.BROKEN_OFF_UNCLAMPS, n) > 0) == unclamps))
        columns = (
            self.numbers(at.BROKEN_OFF_TASK, n), self.minutes(at.BROKEN_FROM, n), self.minutes(at.BROKEN_UNTIL, n),
            self.numbers(at.BROKEN_OFF_WORKERS, n),
        )  # fmt: skip
        return Stretches(rows, *(column[rows, places] for column in columns))

    def block(self, work_min: np.ndarray) -> RecordBlock:
        """The columns that measures need; ``work_min``: as drawn, a row a run. Work that was broken off counts by its stretches."""
        p = self.packed.p
        n, n_kinds = int(p[at.N_TASKS]), int(p[at.N_KINDS])
        return RecordBlock(
            start=self.minutes(at.START, n),
            end=self.minutes(at.END, n),
            setup_min=self.minutes(at.PAID_SETUP, n),
            work_min=work_min,
            clamps_off=self.minutes(at.CLAMPS_OFF, n),
            unclamp_start=self.minutes(at.UNCLAMP_START, n),
            unclamp_end=self.minutes(at.UNCLAMP_END, n),
            done=self.minutes(at.DONE, n),
            workers=self.numbers(at.WORKERS, n),
            unclamp_worker=self.numbers(at.UNCLAMP_WORKER, n),
            clamps=self.numbers(at.CLAMPS, n * n_kinds).reshape(len(self.w), n, n_kinds),
            batch_opened=self.minutes(at.BATCH_OPENED, int(p[at.N_BATCHES])),
            stretches=self.stretches(unclamps=False),
            unclamp_stretches=self.stretches(unclamps=True),
        )


class PackedPlans:
    """One plan packed for as many days and as much space as its runs have needed so far. Threads may share it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._packed: dict[tuple[int, int], PackedPlan] = {}
        self.days, self.space = MIN_DAYS, 1

    def get(self, plan: SimulationPlan, days: int, space: int) -> PackedPlan:
        """The plan for so many days and so much space, packed when first asked for."""
        with self._lock:
            found = self._packed.get((days, space))
            if found is None:
                found = self._packed[days, space] = pack(plan, days, space)
            return found


_packed: WeakKeyDictionary[SimulationPlan, PackedPlans] = WeakKeyDictionary()
_packed_lock = threading.Lock()


def _packed_plans(plan: SimulationPlan) -> PackedPlans:
    with _packed_lock:
        found = _packed.get(plan)
        if found is None:
            found = _packed[plan] = PackedPlans()
        return found


@dataclass(frozen=True, eq=False)
class RunBlock:
    """Several runs of a plan. ``logs``: what those left that came to their end; ``left_over``: the places of runs that only the SimPy model can end or explain."""

    plan: SimulationPlan
    luck: LuckBlock
    logs: tuple[Logbooks, ...]
    left_over: np.ndarray


def run_block(plan: SimulationPlan, luck: LuckBlock) -> RunBlock:
    """Run a plan with the luck of several replications; the same records as ``run`` gives, bit for bit.

    The plan must have no priority rule of the user's own, and begin at its beginning.
    """
    logs: list[Logbooks] = []
    todo = np.flatnonzero(luck.minutes[:, :3].max(axis=(1, 2)) <= MAX_RUN_MIN)  # hands-on work that nobody could end
    plans = _packed_plans(plan)
    days, space = plans.days, plans.space
    while todo.size:
        packed = plans.get(plan, days, space)
        status, log = _simulate(packed, luck, todo)
        over = status == at.OVER
        if over.any():
            logs.append(log.take(over))
        if 10 * todo.size > luck.numbers.size:  # the next block begins with what a tenth or more of this one needed
            plans.days, plans.space = days, space
        todo = todo[(status == at.NEEDS_DAYS) | (status == at.NEEDS_SPACE)]
        if days == LAST_DAYS or space == MAX_SPACE:
            break
        days = min(LAST_DAYS, 3 * days // 2) if (status == at.NEEDS_DAYS).any() else days
        space *= 2 if (status == at.NEEDS_SPACE).any() else 1
    done = np.concatenate([log.places for log in logs]) if logs else np.zeros(0, dtype=np.int64)
    return RunBlock(plan, luck, tuple(logs), np.setdiff1d(np.arange(luck.numbers.size), done))


_own = threading.local()


def _working_space(packed: PackedPlan) -> tuple[np.ndarray, np.ndarray]:
    """Room for one run in this thread, kept from one block to the next: new room would be slow to touch."""
    if getattr(_own, "w", _NOTHING).size < packed.n_whole:
        _own.w = np.empty(packed.n_whole, dtype=np.int64)
    if getattr(_own, "x", _NOTHING).size < packed.n_real:
        _own.x = np.empty(packed.n_real)
    return _own.w, _own.x


_NOTHING = np.zeros(0)


def _simulate(packed: PackedPlan, luck: LuckBlock, which: np.ndarray) -> tuple[np.ndarray, Logbooks]:
    """(how each ended, what each left) of the runs at these places."""
    p, n, n_all = packed.p, which.size, luck.numbers.size
    status = np.zeros(n, dtype=np.int64)
    share = luck.open_shares(packed.days) if p[at.N_DAYS] else np.zeros((n_all, 0))
    minutes, material_at = luck.minutes.reshape(n_all, -1), luck.material_at
    if n < n_all:
        minutes, material_at, share = minutes[which], material_at[which], share[which]
    log = Logbooks(
        packed, which, np.empty((n, int(p[at.LOG_WHOLE])), dtype=np.int64), np.empty((n, int(p[at.LOG_REAL]))), share
    )
    w, x = _working_space(packed)
    simulate_block(
        p, packed.q, packed.fresh_w, packed.fresh_x, w, x, minutes, material_at, share, log.w, log.x, status,
        float(MAX_RUN_MIN),
    )  # fmt: skip
    return status, log


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
    stretches, unclamp_stretches = (_by_task(log.stretches(unclamps), row) for unclamps in (False, True))
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


def _by_task(stretches: Stretches, row: int) -> dict[int, list[tuple[float, float, int]]]:
    """The stretches of one run, as its record has them."""
    found: dict[int, list[tuple[float, float, int]]] = {}
    mine = stretches.rows == row
    columns = (stretches.tasks, stretches.since, stretches.until, stretches.crews)
    for task, since, until, crew in zip(*(column[mine].tolist() for column in columns), strict=True):
        found.setdefault(task, []).append((since, until, crew))
    return found


def warm_up() -> bool:
    """Have everything compiled, or loaded, by calls that run nothing; whether anything had to be compiled."""
    none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
    head = np.zeros(at.N_HEAD, dtype=np.int64)
    rows, minutes = np.zeros((0, 0), dtype=np.int64), np.zeros((0, 0))
    simulate_block(
        head, nothing, none, nothing, none, nothing, minutes, minutes, minutes, rows, minutes, none, float(MAX_RUN_MIN)
    )
    idle_minutes(head, nothing, minutes, rows, minutes, nothing, nothing, nothing, nothing, nothing, none, none)
    entries: list[Any] = [simulate_block, idle_minutes]
    return any(one.stats.cache_misses for one in entries)
