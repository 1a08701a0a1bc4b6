"""Runs that are under way, as the arrays from which the compiled floor goes on; see ``compiled_resume.resume``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.packing import PackedPlan
from shopsim.engine.record import RunRecord, StartingState

#: What of a record is each run's own; all else is the same in all of them.
OWN = ("start", "end", "done", "clamps_off", "wet_until")


@dataclass(frozen=True, eq=False)
class StartingStates:
    """Where several runs of one plan are at one moment. ``record``: what they share, of the first; ``own_x``, ``own_w``: what
    is their own, a row a run."""

    now_min: float
    record: RunRecord
    own_x: np.ndarray
    own_w: np.ndarray

    @classmethod
    def of(cls, states: Sequence[StartingState]) -> StartingStates:
        """Of states that differ in nothing but the columns ``OWN``, what was begun, and the minutes that are left."""
        own_x = np.array(
            [
                np.concatenate([*(getattr(one.record, name) for name in OWN), one.left_min, one.unclamp_left_min])
                for one in states
            ],
            dtype=np.float64,
        )
        begun = np.array([one.record.begun for one in states], dtype=np.int64)
        n_tasks = begun.shape[1]
        last = np.where(np.isnan(own_x[:, :n_tasks]), np.iinfo(np.int64).max, begun)
        order = np.argsort(last, axis=1, kind="stable")
        return cls(states[0].now_min, states[0].record, own_x, np.concatenate((begun, order), axis=1))

    def take(self, which: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """``own_x`` and ``own_w`` of some of the runs."""
        if which.size == len(self.own_x):
            return self.own_x, self.own_w
        return self.own_x[which], self.own_w[which]

    def lay(self, packed: PackedPlan) -> tuple[np.ndarray, np.ndarray] | None:
        """How ``w`` and ``x`` begin, with what all runs share; None where there is no room for it yet."""
        w, x, p, record = packed.fresh_w.copy(), packed.fresh_x.copy(), packed.p, self.record
        w[at.RESUMES], x[at.BEGINS_AT] = 1, self.now_min

        def into(whole: np.ndarray, column: int, values: np.ndarray) -> None:
            first = int(p[column])
            whole[first : first + values.size] = values.ravel()

        for column, values in (
            (at.READY, record.ready), (at.PAID_SETUP, record.setup_min), (at.UNCLAMP_START, record.unclamp_start),
            (at.UNCLAMP_END, record.unclamp_end), (at.BATCH_OPENED, record.batch_opened),
        ):  # fmt: skip
            into(x, column, values)
        for column, values in (
            (at.WORKERS, record.workers), (at.UNCLAMP_WORKER, record.unclamp_worker), (at.UNIT, record.station_unit),
            (at.CLAMPS, record.clamps),
        ):  # fmt: skip
            into(w, column, values)
        n = 0
        for unclamps, stretches in enumerate((record.stretches, record.unclamp_stretches)):
            for task, spans in stretches.items():
                if n + len(spans) > p[at.MAX_STRETCHES]:
                    return None
                for since, until, crew in spans:
                    x[p[at.BROKEN_FROM] + n], x[p[at.BROKEN_UNTIL] + n] = since, until
                    w[p[at.BROKEN_OFF_TASK] + n], w[p[at.BROKEN_OFF_WORKERS] + n] = task, crew
                    w[p[at.BROKEN_OFF_UNCLAMPS] + n] = unclamps
                    n += 1
                w[p[at.BEGAN_BY] + task], w[p[at.LAST_BY] + task] = spans[0][2], spans[-1][2]
        w[at.N_STRETCHES] = n
        return w, x
