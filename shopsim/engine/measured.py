"""What is measured of runs: which tasks count for what, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class MeasurePlan:
    """Which tasks of a plan count for what; arrays of int64 but for ``hands``.

    A task belongs to one piece (``task_piece``, -1 where it is shared) or to the cells of several pieces:
    ``shared_task`` and ``shared_cell`` are such pairs, and ``shared_begins`` says (1 or 0) whether its start begins the
    pieces of that cell. ``piece_cell``, ``piece_batch``: of each piece. ``hands``: people at each task, float64.
    ``unclamped``: 1 for tasks whose clamps somebody takes off. ``n_cells``: cells in all.
    """

    task_piece: np.ndarray
    shared_task: np.ndarray
    shared_cell: np.ndarray
    shared_begins: np.ndarray
    piece_cell: np.ndarray
    piece_batch: np.ndarray
    hands: np.ndarray
    unclamped: np.ndarray
    n_cells: int


@dataclass(frozen=True, eq=False)
class MeasuredRuns:
    """What was measured of several runs, a row a run.

    ``finished``: when each piece is done, minutes from midnight of day 0, shape (runs, pieces). ``setup_min``,
    ``hands_on_min``: people's minutes of set-up, and of that, work and taking clamps off. ``idle_min``: people's minutes at
    work with nothing in hand until the last piece is done. ``most_pieces``: the most begun and not done at one moment;
    ``most_clamps``: the most clamps in use, all kinds together. All float64. ``clamp_peaks``: the most of each kind, int64,
    shape (runs, kinds).
    """

    finished: np.ndarray
    setup_min: np.ndarray
    hands_on_min: np.ndarray
    idle_min: np.ndarray
    most_pieces: np.ndarray
    most_clamps: np.ndarray
    clamp_peaks: np.ndarray

    def take(self, which: np.ndarray) -> MeasuredRuns:
        """Some of them."""
        return MeasuredRuns(*(getattr(self, name)[which] for name in self.__dataclass_fields__))
