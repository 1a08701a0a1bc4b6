"""One run after the other."""

from __future__ import annotations

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import (
    LOOK_AGAIN,
    MATERIAL_COMES,
    N_DONE,
    N_EVENTS,
    NEEDS_DAYS,
    OVER,
    RESUMES,
    STALLED,
    STATUS,
    TOO_LONG,
)
from shopsim.engine.compiled.compiled_dispatcher import choose
from shopsim.engine.compiled.compiled_measures import measure_run
from shopsim.engine.compiled.compiled_resume import resume
from shopsim.engine.compiled.compiled_work import happen
from shopsim.engine.compiled.curves import lay_out
from shopsim.engine.compiled.events import schedule
from shopsim.engine.compiled.jit import Real, Whole, beginning, compiled


@compiled
def _announce(p: Whole, q: Real, w: Whole, x: Real, material_at: Real) -> None:
    """What is known to come, whatever the shop does: days on which batches may open, material, moments to begin at."""
    now = x[at.BEGINS_AT]
    for batch in range(p[at.N_BATCHES]):
        schedule(p, w, x, max(now, x[p[at.BATCH_OPENS] + batch]), LOOK_AGAIN, 0)
    for one in range(p[at.N_ENTRIES]):
        when = q[p[at.ENTRY_NOT_BEFORE] + one]
        if when > now:
            schedule(p, w, x, when, LOOK_AGAIN, 0)
    for material in range(p[at.N_MATERIALS]):
        if material_at[material] > now:
            for k in range(p[p[at.MATERIALS_FIRST] + material], p[p[at.MATERIALS_FIRST] + material + 1]):
                w[p[at.OUTSTANDING] + p[p[at.MATERIAL_ENTRIES] + k]] += 1
            schedule(p, w, x, material_at[material], MATERIAL_COMES, material)


@compiled
def _simulate(
    p: Whole, q: Real, w: Whole, x: Real, d: Real, material_at: Real, share: Real, own_x: Real, own_w: Whole
) -> None:
    """One run, or what is left of it, until all tasks are done; how it ended stands in ``STATUS``. ``own_x``, ``own_w``: see ``resume``."""
    lay_out(p, q, w, x, share)
    for n in range(p[at.N_CALENDARS]):
        if w[p[at.CURVE_SIZE] + n] == 0:
            w[STATUS] = NEEDS_DAYS
            return
    _announce(p, q, w, x, material_at)
    if w[RESUMES]:
        resume(p, w, x, d, own_x, own_w)
        if w[STATUS] != OVER:
            return
    while w[N_DONE] < p[at.N_TASKS]:
        now = x[p[at.EVENT_AT]]
        happen(p, w, x, d)
        if w[N_EVENTS] == 0 or x[p[at.EVENT_AT]] > now:  # all that happens at this moment is taken in
            if now >= p[at.MAX_RUN_MIN]:
                w[STATUS] = TOO_LONG
                return
            choose(p, q, w, x, d, now)
            if w[STATUS] != OVER:
                return
            if w[N_EVENTS] == 0 and w[N_DONE] < p[at.N_TASKS]:
                w[STATUS] = STALLED
                return


@compiled
def simulate_block(
    p: np.ndarray, q: np.ndarray, fresh_w: np.ndarray, fresh_x: np.ndarray, w: np.ndarray, x: np.ndarray,
    minutes: np.ndarray, material_at: np.ndarray, share: np.ndarray, status: np.ndarray,
    own_x: np.ndarray, own_w: np.ndarray, log_w: np.ndarray, log_x: np.ndarray, task_piece: np.ndarray, shared_task: np.ndarray, shared_cell: np.ndarray,
    shared_begins: np.ndarray, piece_cell: np.ndarray, piece_batch: np.ndarray, hands: np.ndarray,
    unclamped: np.ndarray, finished: np.ndarray, measured: np.ndarray, peaks: np.ndarray, cells: np.ndarray,
    begun: np.ndarray, ends: np.ndarray, spans: np.ndarray, by_task: np.ndarray, by_kind: np.ndarray, of_day: np.ndarray,
) -> None:  # fmt: skip
    """Runs a plan with the luck of several replications, one after the other.

    ``fresh_w``, ``fresh_x``: how ``w`` and ``x`` begin. ``minutes``: shape (runs, 6 * tasks); ``material_at``: (runs,
    materials); ``share``: (runs, days), or no days where every minute counts whole. ``status``: how each ended.
    ``own_x``, ``own_w``: where each run is that is under way (see ``resume``), or one row of nothing.
    ``log_w``, ``log_x``: where the logbook of each run goes, a row each, or no rows where it is not asked for. From
    ``task_piece`` on see ``measure_run``; ``finished``, ``measured`` and ``peaks`` have a row a run, or none.
    """
    for r in range(status.size):
        for n in range(fresh_w.size):
            w[n] = fresh_w[n]
        for n in range(fresh_x.size):
            x[n] = fresh_x[n]
        _simulate(
            beginning(p), beginning(q), beginning(w), beginning(x), beginning(minutes[r]), beginning(material_at[r]),
            beginning(share[r]), beginning(own_x[r % own_x.shape[0]]), beginning(own_w[r % own_w.shape[0]]),
        )  # fmt: skip
        status[r] = w[STATUS]
        if log_w.shape[0]:
            for n in range(p[at.LOG_WHOLE]):
                log_w[r, n] = w[n]
            for n in range(p[at.LOG_REAL]):
                log_x[r, n] = x[n]
        if w[STATUS] == OVER and finished.shape[0]:
            measure_run(
                beginning(p), beginning(q), beginning(w), beginning(x), beginning(minutes[r]), beginning(share[r]),
                task_piece, shared_task, shared_cell, shared_begins, piece_cell, piece_batch, hands, unclamped,
                finished[r], measured[r], peaks[r], cells, begun, ends, spans, by_task, by_kind, of_day,
            )  # fmt: skip
