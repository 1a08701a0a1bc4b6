"""Progress of the run: which batches are open, what is done, and what that makes ready."""

from __future__ import annotations

from shopsim.engine.compiled.array_columns import (
    BATCH_FIRST,
    BATCH_GATE,
    BATCH_OPENED,
    BATCH_OPENS,
    BATCH_SIZE,
    DONE,
    ENDS,
    ENDS_FIRST,
    GROUP_LEFT,
    GROUPS,
    GROUPS_FIRST,
    LISTENERS,
    LISTENERS_FIRST,
    N_BATCHES,
    N_DONE,
    N_OPENED,
    N_UNDER_WAY,
    PIECE_BATCH,
    PIECE_WAITS,
    READY,
    ROOM,
    TASK_WAITS,
)
from shopsim.engine.compiled.events import enqueue
from shopsim.engine.compiled.jit import Real, Whole, compiled, inlined


@inlined
def _complete_one_of(p: Whole, w: Whole, x: Real, group: int, now: float) -> None:
    """One member of a group is done; those who wait for the last of them are let go."""
    left = w[p[GROUP_LEFT] + group] - 1
    w[p[GROUP_LEFT] + group] = left
    if left > 0:
        return
    for k in range(p[p[LISTENERS_FIRST] + group], p[p[LISTENERS_FIRST] + group + 1]):
        task = p[p[LISTENERS] + k]
        waits = w[p[TASK_WAITS] + task] - 1
        w[p[TASK_WAITS] + task] = waits
        if waits == 0:
            x[p[READY] + task] = now
            enqueue(p, w, task)


@compiled
def open_batches(p: Whole, w: Whole, x: Real, now: float) -> None:
    """The next batches open, in their order, as long as their day has come and they fit into the room."""
    while w[N_OPENED] < p[N_BATCHES]:
        batch = w[N_OPENED]
        first, size = p[p[BATCH_FIRST] + batch], p[p[BATCH_SIZE] + batch]
        if x[p[BATCH_OPENS] + batch] > now:
            return
        if w[N_UNDER_WAY] and w[N_UNDER_WAY] + size > p[ROOM]:
            return
        w[N_OPENED] += 1
        for piece in range(first, first + size):
            if w[p[PIECE_WAITS] + piece]:
                w[N_UNDER_WAY] += 1
        x[p[BATCH_OPENED] + batch] = now
        _complete_one_of(p, w, x, p[p[BATCH_GATE] + batch], now)


@compiled
def note_done(p: Whole, w: Whole, x: Real, task: int, now: float) -> None:
    """A task is done: those who waited only for it are ready, and there may be room for more pieces."""
    w[N_DONE] += 1
    x[p[DONE] + task] = now
    for k in range(p[p[GROUPS_FIRST] + task], p[p[GROUPS_FIRST] + task + 1]):
        _complete_one_of(p, w, x, p[p[GROUPS] + k], now)
    begin, stop = p[p[ENDS_FIRST] + task], p[p[ENDS_FIRST] + task + 1]
    if begin == stop:
        return
    for k in range(begin, stop):
        piece = p[p[ENDS] + k]
        w[p[PIECE_WAITS] + piece] -= 1
        if w[p[PIECE_WAITS] + piece] == 0 and p[p[PIECE_BATCH] + piece] < w[N_OPENED]:
            w[N_UNDER_WAY] -= 1
    open_batches(p, w, x, now)
