"""What one run leaves behind: fixed columns, nothing else; and what a run that is under way has left so far."""

from __future__ import annotations

from dataclasses import dataclass, field

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


@dataclass(frozen=True, eq=False)
class StartingState:
    """What is known of a run at ``now_min`` (minutes from midnight of day 0).

    ``record``: what has happened, in the columns of a finished run; a moment that has not come is NaN, and a task that has
    not begun has no workers, no station unit, no clamps and no set-up. ``left_min``: for work that has begun and not
    ended the hands-on minutes that are left of it (clock minutes where nobody is needed), set-up included, else NaN;
    ``unclamp_left_min``: the like for clamps that are half off. Both have a place a task. Whoever was at something that is
    not left half done when the shop closed is at it still, if its last stretch in the record ends now or is not told. How long a task stays in clamps,
    cures and is wet follows from the draws, counted from the end of its work in the record.
    """

    now_min: float
    record: RunRecord
    left_min: np.ndarray
    unclamp_left_min: np.ndarray
