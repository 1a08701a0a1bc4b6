"""From the tasks of a record to its pieces: when each is finished, and on which day it ships."""

from __future__ import annotations

import numpy as np

from shopsim.engine.record import RunRecord
from shopsim.engine.worklist import Worklist
from shopsim.units import MINUTES_PER_DAY


def piece_done(work: Worklist, record: RunRecord) -> np.ndarray:
    """When every piece is done: all its tasks are, those it shares with others included. Minutes, shape (pieces,)."""
    done = record.done
    piece_of = np.asarray(work.task_piece)
    own = np.zeros(work.n_pieces)
    single = piece_of >= 0
    np.maximum.at(own, piece_of[single], done[single])
    shared = np.zeros(max(work.piece_cell) + 1)
    for task in np.flatnonzero(~single):
        for cell in work.task_cells[task]:
            shared[cell] = max(shared[cell], done[task])
    opened = record.batch_opened[np.asarray(work.piece_batch)]  # work for the whole run may all be done before
    return np.asarray(np.maximum(np.maximum(own, shared[np.asarray(work.piece_cell)]), opened))


def ship_days(work: Worklist, done: np.ndarray) -> np.ndarray:
    """The day on which what is done at ``done`` (minutes, any shape) ships, in days from day 0 (int64, same shape).

    Without pick-up days that is the day itself; else the first pick-up day whose
    pick-up time is not before it. A piece done at midnight belongs to the day that ends.
    """
    shipping = work.scenario.shipping
    day = np.maximum(np.ceil(done / MINUTES_PER_DAY) - 1, 0).astype(np.int64)
    if shipping.pick_up is None:
        missed = done - day * MINUTES_PER_DAY > shipping.pick_up_at
        return np.asarray(day + missed)
    weekday0 = work.day0.weekday()
    wait = np.array([min((pick - today) % 7 for pick in shipping.pick_up) for today in range(7)])
    picked_today = np.isin((day + weekday0) % 7, shipping.pick_up)
    day = day + (picked_today & (done - day * MINUTES_PER_DAY > shipping.pick_up_at))
    return np.asarray(day + wait[(day + weekday0) % 7])
