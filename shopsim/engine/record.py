"""What one run leaves behind: fixed columns, nothing else; and what a run that is under way has left so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np


@dataclass(frozen=True)
class RunRecord:
    """The record of one run; arrays a task in the worklist's order, moments in minutes from midnight of day 0.

    ``ready``: all it comes after is done and its batch is open. ``start``, ``end``: of the
    hands-on work, set-up included; ``begun``: the place of the start among all starts, which
    tells apart those of one moment. ``setup_min``, ``work_min``: hands-on minutes as drawn.
    ``clamps_off``: when its clamps came off (NaN: never in clamps). ``unclamp_start``,
    ``unclamp_end``: hands-on time of taking them off (NaN: none). ``done``: clamps off and
    cured. ``wet_until``: end of its wet time (NaN: never wet). ``workers``: a bit a worker;
    ``unclamp_worker``, ``station_unit``: numbers, -1 for none. ``clamps``: how many of each
    kind, shape (tasks, kinds). ``stretches``: for work that was broken off when somebody left and
    gone on with, perhaps by others, the times (start, end, a bit a worker) at which it was
    worked on; ``unclamp_stretches``: the like for taking clamps off. ``workers`` and
    ``unclamp_worker`` are those who began. ``batch_opened``: one a batch.
    """

    ready: np.ndarray
    start: np.ndarray
    begun: np.ndarray
    end: np.ndarray
    setup_min: np.ndarray
    work_min: np.ndarray
    clamps_off: np.ndarray
    unclamp_start: np.ndarray
    unclamp_end: np.ndarray
    done: np.ndarray
    wet_until: np.ndarray
    workers: np.ndarray
    unclamp_worker: np.ndarray
    station_unit: np.ndarray
    clamps: np.ndarray
    batch_opened: np.ndarray
    stretches: dict[int, list[tuple[float, float, int]]] = field(default_factory=dict)
    unclamp_stretches: dict[int, list[tuple[float, float, int]]] = field(default_factory=dict)


class Stretches(NamedTuple):
    """Work that was broken off and gone on with, in several runs: one place a stretch.

    ``rows``: the run, by its place; ``tasks``; ``since``, ``until``: minutes; ``crews``: a bit a worker.
    """

    rows: np.ndarray
    tasks: np.ndarray
    since: np.ndarray
    until: np.ndarray
    crews: np.ndarray

    def of(self, row: int) -> Stretches:
        """Those of one run."""
        mine = self.rows == row
        return Stretches(*(column[mine] for column in self))


@dataclass(frozen=True, eq=False)
class RecordBlock:
    """What measures need of the records of several runs of a plan: the columns of ``RunRecord`` with a row a run."""

    start: np.ndarray
    end: np.ndarray
    setup_min: np.ndarray
    work_min: np.ndarray
    clamps_off: np.ndarray
    unclamp_start: np.ndarray
    unclamp_end: np.ndarray
    done: np.ndarray
    workers: np.ndarray
    unclamp_worker: np.ndarray
    clamps: np.ndarray
    batch_opened: np.ndarray
    stretches: Stretches
    unclamp_stretches: Stretches

    @classmethod
    def of(cls, record: RunRecord) -> RecordBlock:
        """One record as a block."""
        columns = {
            name: getattr(record, name)[None]
            for name in cls.__dataclass_fields__
            if name not in ("stretches", "unclamp_stretches")
        }
        return cls(
            **columns,
            stretches=_lay_end_to_end(record.stretches),
            unclamp_stretches=_lay_end_to_end(record.unclamp_stretches),
        )


def _lay_end_to_end(stretches: dict[int, list[tuple[float, float, int]]]) -> Stretches:
    tasks = [task for task, spans in stretches.items() for _ in spans]
    spans = [span for spans in stretches.values() for span in spans]
    since, until, crews = ([span[n] for span in spans] for n in range(3))
    whole = np.int64
    return Stretches(
        np.zeros(len(tasks), whole), np.array(tasks, whole), np.array(since), np.array(until), np.array(crews, whole)
    )


@dataclass(frozen=True, eq=False)
class StartingState:
    """What is known of a run at ``now_min`` (minutes from midnight of day 0).

    ``record``: what has happened, in the columns of a finished run; a moment that has not come is NaN, and a task that has
    not begun has no workers, no station unit, no clamps and no set-up. ``left_min``: for work that has begun and not
    ended the hands-on minutes that are left of it (clock minutes where nobody is needed), set-up included, else NaN;
    ``unclamp_left_min``: the like for clamps that are half off. Both have a place a task. How long a task stays in clamps,
    cures and is wet follows from the draws, counted from the end of its work in the record.
    """

    now_min: float
    record: RunRecord
    left_min: np.ndarray
    unclamp_left_min: np.ndarray
