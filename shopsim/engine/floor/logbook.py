"""The logbook of a run: what the floor writes down while it runs, and the record that comes of it."""

from __future__ import annotations

import math
from array import array

import numpy as np

from shopsim.engine.floor.clamp_rack import Taken
from shopsim.engine.luck import Draws
from shopsim.engine.record import RunRecord

#: (since, until, a bit for each worker) of work that was broken off and gone on with.
Stretches = dict[int, list[tuple[float, float, int]]]


class Logbook:
    """One column a fact, one place a task; see ``RunRecord`` for what each means."""

    __slots__ = (
        "batch_opened", "begun", "clamps_off", "done", "end", "n_begun", "paid_setup_min", "ready", "start",
        "stretches", "unclamp_end", "unclamp_start", "unclamp_stretches", "unclamp_worker", "unit", "wet_until", "workers",
    )  # fmt: skip

    def __init__(self, n_tasks: int, n_batches: int) -> None:
        unknown = array("d", [math.nan]) * n_tasks
        self.ready, self.start, self.end, self.done = unknown[:], unknown[:], unknown[:], unknown[:]
        self.clamps_off, self.wet_until = unknown[:], unknown[:]
        self.unclamp_start, self.unclamp_end = unknown[:], unknown[:]
        self.paid_setup_min = array("d", bytes(8 * n_tasks))
        self.begun = array("q", bytes(8 * n_tasks))
        self.workers = array("q", bytes(8 * n_tasks))
        self.unclamp_worker, self.unit = array("i", [-1]) * n_tasks, array("i", [-1]) * n_tasks
        self.batch_opened = [math.nan] * n_batches
        self.stretches: Stretches = {}
        self.unclamp_stretches: Stretches = {}
        self.n_begun = 0

    def restore(self, record: RunRecord) -> None:
        """What has happened in a run that is under way."""
        for name in (
            "ready", "start", "end", "done", "clamps_off", "wet_until", "unclamp_start", "unclamp_end", "begun", "workers",
            "unclamp_worker",
        ):  # fmt: skip
            column = getattr(self, name)
            column[:] = array(column.typecode, getattr(record, name).tolist())
        self.paid_setup_min[:] = array("d", record.setup_min.tolist())
        self.unit[:] = array("i", record.station_unit.tolist())
        self.batch_opened = record.batch_opened.tolist()
        self.stretches = {task: list(spans) for task, spans in record.stretches.items()}
        self.unclamp_stretches = {task: list(spans) for task, spans in record.unclamp_stretches.items()}
        self.n_begun = int(np.count_nonzero(~np.isnan(record.start)))

    def begin(self, task: int, unit: int, workers: int, now: float) -> None:
        """A task starts at this unit, with these workers."""
        self.start[task] = now
        self.begun[task] = self.n_begun
        self.n_begun += 1
        self.unit[task] = unit
        self.workers[task] = workers

    def to_record(self, draws: Draws, clamps: dict[int, Taken], n_kinds: int) -> RunRecord:
        """The record of a run that is over."""
        n_tasks = len(self.ready)
        for task, spans in self.stretches.items():
            self.workers[task] = spans[0][2]
        for task, spans in self.unclamp_stretches.items():
            self.unclamp_worker[task] = spans[0][2].bit_length() - 1
        taken = np.zeros((n_tasks, n_kinds), dtype=np.int32)
        for task, some in clamps.items():
            for kind, count in some:
                taken[task, kind] += count
        return RunRecord(
            ready=np.frombuffer(self.ready),
            start=np.frombuffer(self.start),
            begun=np.frombuffer(self.begun, dtype=np.int64),
            end=np.frombuffer(self.end),
            setup_min=np.frombuffer(self.paid_setup_min),
            work_min=np.array(draws.work),
            clamps_off=np.frombuffer(self.clamps_off),
            unclamp_start=np.frombuffer(self.unclamp_start),
            unclamp_end=np.frombuffer(self.unclamp_end),
            done=np.frombuffer(self.done),
            wet_until=np.frombuffer(self.wet_until),
            workers=np.frombuffer(self.workers, dtype=np.int64),
            unclamp_worker=np.frombuffer(self.unclamp_worker, dtype=np.intc),
            station_unit=np.frombuffer(self.unit, dtype=np.intc),
            clamps=taken,
            batch_opened=np.array(self.batch_opened),
            stretches=self.stretches,
            unclamp_stretches=self.unclamp_stretches,
        )
