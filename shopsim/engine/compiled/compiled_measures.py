"""What is measured of a run that has just ended, from where it stands in ``w`` and ``x``: see ``engine/measured.py``."""

from __future__ import annotations

import math

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import HANDS_ON_MIN, IDLE_MIN, MOST_CLAMPS, MOST_PIECES, SETUP_MIN
from shopsim.engine.compiled.idle import idle_minutes
from shopsim.engine.compiled.jit import Real, Whole, beginning, compiled


@compiled
def _finish_pieces(
    p: Whole, x: Real, task_piece: np.ndarray, shared_task: np.ndarray, shared_cell: np.ndarray, piece_cell: np.ndarray,
    piece_batch: np.ndarray, cells: np.ndarray, finished: np.ndarray,
) -> float:  # fmt: skip
    """When each piece is done, into ``finished``; the last of them comes back. ``cells``: room for a number a cell."""
    done = p[at.DONE]
    for piece in range(finished.size):
        finished[piece] = 0.0
    for cell in range(cells.size):
        cells[cell] = 0.0
    for task in range(task_piece.size):
        piece = task_piece[task]
        if piece >= 0:
            finished[piece] = max(finished[piece], x[done + task])
    for n in range(shared_task.size):
        cells[shared_cell[n]] = max(cells[shared_cell[n]], x[done + shared_task[n]])
    last = 0.0
    for piece in range(finished.size):
        when = max(finished[piece], cells[piece_cell[piece]])
        finished[piece] = max(when, x[p[at.BATCH_OPENED] + piece_batch[piece]])
        last = max(last, finished[piece])
    return last


@compiled
def _sort(values: np.ndarray) -> None:
    """Sort in place, by a heap: rising, NaN nowhere."""
    n = values.size
    for unsorted in range(
        n + n // 2 - 1, 0, -1
    ):  # first the heap is built, then its largest is taken off again and again
        if unsorted >= n:
            at_place, size = unsorted - n, n
        else:
            at_place, size = 0, unsorted
            values[0], values[unsorted] = values[unsorted], values[0]
        value = values[at_place]
        child = 2 * at_place + 1
        while child < size:
            if child + 1 < size and values[child + 1] > values[child]:
                child += 1
            if values[child] <= value:
                break
            values[at_place] = values[child]
            at_place, child = child, 2 * child + 1
        values[at_place] = value


@compiled
def _most_pieces(
    p: Whole, x: Real, task_piece: np.ndarray, shared_task: np.ndarray, shared_cell: np.ndarray, shared_begins: np.ndarray,
    piece_cell: np.ndarray, cells: np.ndarray, begun: np.ndarray, ends: np.ndarray, finished: np.ndarray,
) -> int:  # fmt: skip
    """The most pieces begun and not done at one moment. ``cells``: room for a number a cell; ``begun``, ``ends``: a piece."""
    start = p[at.START]
    for piece in range(begun.size):
        begun[piece] = math.inf
        ends[piece] = finished[piece]
    for cell in range(cells.size):
        cells[cell] = math.inf
    for task in range(task_piece.size):
        piece = task_piece[task]
        if piece >= 0:
            begun[piece] = min(begun[piece], x[start + task])
    for n in range(shared_task.size):
        if shared_begins[n]:
            cells[shared_cell[n]] = min(cells[shared_cell[n]], x[start + shared_task[n]])
    for piece in range(begun.size):
        begun[piece] = min(begun[piece], cells[piece_cell[piece]])
    _sort(begun)
    _sort(ends)
    n_begun, n_done, most = 0, 0, -begun.size
    while n_begun < begun.size:
        if n_done < ends.size and ends[n_done] <= begun[n_begun]:
            n_done += 1
        else:
            n_begun += 1
        most = max(most, n_begun - n_done)
    return most


@compiled
def _clamp_peaks(p: Whole, w: Whole, x: Real, by_task: np.ndarray, in_use: np.ndarray, peaks: np.ndarray) -> int:
    """The most clamps of each kind in use at one moment, into ``peaks``; the most of all kinds comes back.

    Those that come off at a moment can be taken at it. ``by_task``: room for a number a task; ``in_use``: a kind.
    """
    n_kinds, n_tasks, clamps = p[at.N_KINDS], p[at.N_TASKS], p[at.CLAMPS]
    for kind in range(n_kinds):
        peaks[kind] = 0
        in_use[kind] = 0
    for task in range(n_tasks):
        by_task[w[p[at.BEGUN] + task]] = task
    off, most, total = 0, 0, 0
    for turn in range(n_tasks):
        task = by_task[turn]
        now = x[p[at.START] + task]
        if math.isnan(x[p[at.CLAMPS_OFF] + task]):
            continue
        while off < w[at.N_OFF]:
            gone = w[p[at.OFF_TASK] + off]
            if x[p[at.CLAMPS_OFF] + gone] > now:
                break
            for kind in range(n_kinds):
                in_use[kind] -= w[clamps + gone * n_kinds + kind]
                total -= w[clamps + gone * n_kinds + kind]
            off += 1
        for kind in range(n_kinds):
            in_use[kind] += w[clamps + task * n_kinds + kind]
            total += w[clamps + task * n_kinds + kind]
            peaks[kind] = max(peaks[kind], in_use[kind])
        most = max(most, total)
    return most


@compiled
def _work_minutes(p: Whole, x: Real, d: Real, hands: np.ndarray, unclamped: np.ndarray, measured: np.ndarray) -> None:
    """People's minutes; sums are exact, as times lie on a grid."""
    setup, work = 0.0, 0.0
    for task in range(hands.size):
        setup += x[p[at.PAID_SETUP] + task] * hands[task]
        work += d[p[at.WORK] + task] * hands[task]
        if unclamped[task]:
            work += d[p[at.UNCLAMP] + task]
    measured[SETUP_MIN], measured[HANDS_ON_MIN] = setup, setup + work


@compiled
def measure_run(
    p: Whole, q: Real, w: Whole, x: Real, d: Real, share: Real, task_piece: np.ndarray, shared_task: np.ndarray,
    shared_cell: np.ndarray, shared_begins: np.ndarray, piece_cell: np.ndarray, piece_batch: np.ndarray,
    hands: np.ndarray, unclamped: np.ndarray, finished: np.ndarray, measured: np.ndarray, peaks: np.ndarray,
    cells: np.ndarray, begun: np.ndarray, ends: np.ndarray, spans: np.ndarray, by_task: np.ndarray, by_kind: np.ndarray,
    of_day: np.ndarray,
) -> None:  # fmt: skip
    """Measure one run into ``finished`` (a number a piece), ``measured`` (``N_MEASURED``) and ``peaks`` (a kind).

    The last seven are room to work in: a number a cell, a piece, a piece; three rows with two places more than there are stretches;
    a whole number a task, a clamp kind, and a day that is laid out.
    """
    last = _finish_pieces(p, x, task_piece, shared_task, shared_cell, piece_cell, piece_batch, cells, finished)
    measured[MOST_PIECES] = _most_pieces(
        p, x, task_piece, shared_task, shared_cell, shared_begins, piece_cell, cells, begun, ends, finished
    )
    measured[MOST_CLAMPS] = _clamp_peaks(p, w, x, by_task, by_kind, peaks)
    _work_minutes(p, x, d, hands, unclamped, measured)
    for task in range(by_task.size):
        by_task[task] = 0
    measured[IDLE_MIN] = idle_minutes(
        p, q, share, w, x, last, beginning(spans[0]), beginning(spans[1]), beginning(spans[2]), beginning(of_day),
        of_day.size, beginning(by_task),
    )  # fmt: skip
