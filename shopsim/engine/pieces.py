"""From the tasks of a record to its pieces: when each is finished, and on which day it ships."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

import numpy as np

from shopsim.engine.record import RunRecord
from shopsim.engine.worklist import Worklist
from shopsim.scenario.model import Scenario
from shopsim.units import MINUTES_PER_DAY


def piece_done(work: Worklist, record: RunRecord) -> np.ndarray:
    """When every piece is done: all its tasks are, those it shares with others included. Minutes, shape (pieces,)."""
    return np.asarray(pieces_done(work, record.done[None], record.batch_opened[None])[0])


def pieces_done(work: Worklist, done: np.ndarray, batch_opened: np.ndarray) -> np.ndarray:
    """``piece_done`` of several runs: when each task is done and each batch opened, a row a run; shape (runs, pieces)."""
    return _last_done(work, done, batch_opened, np.ones(work.n_tasks, dtype=np.bool_))


def piece_made(work: Worklist, record: RunRecord) -> np.ndarray:
    """When every piece is no longer under way: as ``piece_done``, but standing and packing do not count."""
    of_design = np.array([step.of_design for step in work.steps])
    counts = of_design[np.asarray(work.task_step)]
    return np.asarray(_last_done(work, record.done[None], record.batch_opened[None], counts)[0])


def _last_done(work: Worklist, done: np.ndarray, batch_opened: np.ndarray, counts: np.ndarray) -> np.ndarray:
    """When the last of those tasks of every piece that count is done, and not before its batch opens; a row a run."""
    piece_of, rows = np.asarray(work.task_piece), np.arange(len(done))[:, None]
    own = np.zeros((len(done), work.n_pieces))
    single = (piece_of >= 0) & counts
    np.maximum.at(own, (rows, piece_of[single]), done[:, single])
    shared = np.zeros((len(done), max(work.piece_cell) + 1))
    for task in np.flatnonzero((piece_of < 0) & counts):
        for cell in work.task_cells[task]:
            np.maximum(shared[:, cell], done[:, task], out=shared[:, cell])
    opened = batch_opened[:, np.asarray(work.piece_batch)]  # work for the whole run may all be done before
    return np.asarray(np.maximum(np.maximum(own, shared[:, np.asarray(work.piece_cell)]), opened))


def ship_days(scenario: Scenario, day0: dt.date, done: np.ndarray) -> np.ndarray:
    """The day on which what is done at ``done`` (minutes from midnight of ``day0``, any shape) ships, in days from day 0 (int64, same shape).

    The first pick-up day (any day where none is named) whose pick-up time is not before it and
    on which the shop is not closed; hours and lost days do not matter, as a carrier may collect
    outside them. A piece done at midnight belongs to the day that ends.
    """
    shipping, weekday0 = scenario.shipping, day0.weekday()
    pick_up = range(7) if shipping.pick_up is None else shipping.pick_up
    wait = np.array([min((pick - today) % 7 for pick in pick_up) for today in range(7)])
    day = np.maximum(np.ceil(done / MINUTES_PER_DAY) - 1, 0).astype(np.int64)
    picked_today = np.isin((day + weekday0) % 7, pick_up)
    day = day + (picked_today & (done - day * MINUTES_PER_DAY > shipping.pick_up_at))
    first, last = _closed_days(scenario.shop.closed, day0)
    while True:
        ships = day + wait[(day + weekday0) % 7]
        holiday = np.searchsorted(first, ships, side="right") - 1
        reopens = np.where(holiday >= 0, last[holiday] + 1, 0) if first.size else ships
        if (reopens <= ships).all():
            return np.asarray(ships)
        day = np.maximum(ships, reopens)


@lru_cache(maxsize=64)
def _closed_days(closed: tuple[tuple[dt.date, dt.date], ...], day0: dt.date) -> tuple[np.ndarray, np.ndarray]:
    """First and last day of every time that a shop is closed, in days from day 0, rising and apart."""
    spans: list[list[int]] = []
    for since, until in sorted(((first - day0).days, (last - day0).days) for first, last in closed):
        if spans and since <= spans[-1][1] + 1:
            spans[-1][1] = max(spans[-1][1], until)
        else:
            spans.append([since, until])
    return np.array([since for since, _ in spans]), np.array([until for _, until in spans])
