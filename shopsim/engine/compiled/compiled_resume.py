"""Takes the floor to where a run is that is under way; see ``floor/resume.py``, operation by operation."""

from __future__ import annotations

import math

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import (
    BEGINS_AT,
    CLAMPS_OFF,
    CURVE_CLOSE,
    CURVE_END,
    CURVE_LENGTH,
    CURVE_RATE,
    CURVE_SIZE,
    CURVE_START,
    DONE,
    END,
    FREE,
    GROUP_LEFT,
    N_BATCHES,
    N_CALENDARS,
    N_DONE,
    N_DUSTY,
    N_OPENED,
    N_STRETCHES,
    N_TASKS,
    N_UNDER_WAY,
    N_WET,
    PIECE_WAITS,
    READY,
    START,
    STATUS,
    TASK_STEP,
    TASK_WAITS,
    UNCLAMP_END,
    UNCLAMP_START,
    UNIT,
    WORK_ENDS,
    WORKERS,
)
from shopsim.engine.compiled.compiled_work import cure, give_back_station, lie_half_done, stay_in_clamps
from shopsim.engine.compiled.curves import seek, to_tick, together
from shopsim.engine.compiled.events import enqueue, note_stretch, schedule
from shopsim.engine.compiled.jit import Real, Whole, compiled
from shopsim.engine.compiled.resources import take_unit

#: Groups that a task waits for which has begun: it never waits in the queue again.
NEVER = 1 << 40


@compiled
def _complete(p: Whole, w: Whole, x: Real, group: int, now: float) -> None:
    """One member of a group was done before now."""
    w[p[GROUP_LEFT] + group] -= 1
    if w[p[GROUP_LEFT] + group] > 0:
        return
    for k in range(p[p[at.LISTENERS_FIRST] + group], p[p[at.LISTENERS_FIRST] + group + 1]):
        task = p[p[at.LISTENERS] + k]
        w[p[TASK_WAITS] + task] -= 1
        if w[p[TASK_WAITS] + task] == 0 and math.isnan(x[p[START] + task]):
            if math.isnan(x[p[READY] + task]):
                x[p[READY] + task] = now
            enqueue(p, w, task)


@compiled
def _restore_progress(p: Whole, w: Whole, x: Real, now: float) -> None:
    """What is done; what is ready and has not begun waits in the queue."""
    for batch in range(p[N_BATCHES]):
        if not math.isnan(x[p[at.BATCH_OPENED] + batch]):
            w[N_OPENED] += 1
    for task in range(p[N_TASKS]):
        if not math.isnan(x[p[DONE] + task]):
            w[N_DONE] += 1
            for k in range(p[p[at.ENDS_FIRST] + task], p[p[at.ENDS_FIRST] + task + 1]):
                w[p[PIECE_WAITS] + p[p[at.ENDS] + k]] -= 1
    for batch in range(w[N_OPENED]):
        first = p[p[at.BATCH_FIRST] + batch]
        for piece in range(first, first + p[p[at.BATCH_SIZE] + batch]):
            if w[p[PIECE_WAITS] + piece] > 0:
                w[N_UNDER_WAY] += 1
    for batch in range(p[N_BATCHES]):
        if not math.isnan(x[p[at.BATCH_OPENED] + batch]):
            _complete(p, w, x, p[p[at.BATCH_GATE] + batch], now)
    for task in range(p[N_TASKS]):
        if not math.isnan(x[p[DONE] + task]):
            for k in range(p[p[at.GROUPS_FIRST] + task], p[p[at.GROUPS_FIRST] + task + 1]):
                _complete(p, w, x, p[p[at.GROUPS] + k], now)
    for task in range(p[N_TASKS]):
        if not math.isnan(x[p[START] + task]):
            w[p[TASK_WAITS] + task] = NEVER


@compiled
def _take_what_it_holds(p: Whole, w: Whole, x: Real, task: int) -> None:
    """Station, clamps, spots and air, as far as a task that has begun still has them."""
    step, unit = p[p[TASK_STEP] + task], w[p[UNIT] + task]
    works, is_done = math.isnan(x[p[END] + task]), not math.isnan(x[p[DONE] + task])
    setup = p[at.SETUP_PAID] + p[p[at.ENTRY_SETUP] + p[p[at.TASK_ENTRY] + task]]
    pays = w[p[at.UNIT_SET_FOR] + unit] != step if unit >= 0 else w[setup] == 0
    if unit >= 0:
        take_unit(p, w, x, unit, step, pays, x[p[START] + task])
        if is_done or not (works or p[p[at.KEEPS_STATION] + step]):
            give_back_station(p, w, task, step)
    elif pays:
        w[setup] = 1
    if math.isnan(x[p[CLAMPS_OFF] + task]):
        n_kinds = p[at.N_KINDS]
        for kind in range(n_kinds):
            w[p[at.CLAMPS_FREE] + kind] -= w[p[at.CLAMPS] + task * n_kinds + kind]
    rack = p[p[at.RACK] + step]
    if not is_done and rack >= 0:
        w[p[at.SPOTS_FREE] + rack] -= p[p[at.SPOTS] + step] * p[p[at.TASK_UNITS] + task]
    if works:
        w[N_DUSTY] += p[p[at.DUSTY] + step]
        w[N_WET] += p[p[at.WET_COAT] + step]


@compiled
def _last_stretch(p: Whole, w: Whole, task: int, unclamps: int) -> int:
    """The number of the last stretch in which somebody was at it, -1 for none."""
    found = -1
    for n in range(w[N_STRETCHES]):
        if w[p[at.BROKEN_OFF_TASK] + n] == task and w[p[at.BROKEN_OFF_UNCLAMPS] + n] == unclamps:
            found = n
    return found


@compiled
def _leave(
    p: Whole, w: Whole, x: Real, task: int, left: float, since: float, now: float, crew: int, unclamps: int
) -> None:
    """It lies half done, since its last stretch; nothing of it is noted as a stretch of its own that lasted no time."""
    last = _last_stretch(p, w, task, unclamps)
    if last < 0:
        w[p[at.BEGAN_BY] + task] = 0
        note_stretch(p, w, x, task, since, now, crew, unclamps)
        lie_half_done(p, w, x, task, now, left)
    else:
        lie_half_done(p, w, x, task, x[p[at.BROKEN_UNTIL] + last], left)


@compiled
def _restore_work(p: Whole, w: Whole, x: Real, task: int, left: float, now: float) -> None:
    """Half-done work lies there, but for what may not be left half done and went on past closing: that goes on."""
    since, until, crew = x[p[START] + task], now, w[p[WORKERS] + task]
    last = _last_stretch(p, w, task, 0)
    if last >= 0:
        since, until = x[p[at.BROKEN_FROM] + last], x[p[at.BROKEN_UNTIL] + last]
        crew = w[p[at.BROKEN_OFF_WORKERS] + last]
    kinds, c, n_kinds = 0, 0, 0
    for calendar in range(p[N_CALENDARS]):
        if crew & p[p[at.CREW] + calendar]:
            kinds |= 1 << calendar
            n_kinds += 1
            c = calendar
    if n_kinds > 1:
        c = together(p, w, x, kinds, now)
    seek(p, w, x, c, now)
    if w[STATUS] != at.OVER:
        return
    if not p[p[at.PAUSABLE] + step_of(p, task)] and until == now:
        first, size = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c]
        place = size - 1
        while place >= 0 and x[p[CURVE_START] + first + place] > since:
            place -= 1
        if place >= 0 and x[p[CURVE_CLOSE] + first + place] <= now:
            close = x[p[CURVE_CLOSE] + first + place]
            while x[p[CURVE_END] + first + place] < close:
                place += 1
            ends = to_tick(now + left / x[p[CURVE_RATE] + first + place])
            w[FREE] &= ~crew
            if last >= 0:
                x[p[at.BROKEN_UNTIL] + last] = ends
            x[p[END] + task] = ends
            schedule(p, w, x, ends, WORK_ENDS, task)
            return
    _leave(p, w, x, task, left, since, now, crew, 0)


@compiled
def step_of(p: Whole, task: int) -> int:
    """The step of a task."""
    return p[p[TASK_STEP] + task]


@compiled
def _restore_task(
    p: Whole, w: Whole, x: Real, d: Real, task: int, left: float, unclamp_left: float, now: float
) -> None:
    """A task that has begun goes on from where it is; who had it in hand lets go, and may take it up again at once."""
    step = step_of(p, task)
    if p[p[at.WET_COAT] + step] and x[p[at.WET_UNTIL] + task] > now and p[at.ANY_DUSTY]:
        w[N_WET] += 1
        schedule(p, w, x, x[p[at.WET_UNTIL] + task], at.DRIES, task)
    if not math.isnan(x[p[DONE] + task]):
        return
    if math.isnan(x[p[END] + task]):
        if w[p[WORKERS] + task] == 0:
            x[p[END] + task] = now + left
            schedule(p, w, x, now + left, WORK_ENDS, task)
        else:
            _restore_work(p, w, x, task, left, now)
        return
    if not math.isnan(x[p[UNCLAMP_START] + task]) and math.isnan(x[p[UNCLAMP_END] + task]):
        w[p[at.UNCLAMPING] + task] = 1
        since, crew = x[p[UNCLAMP_START] + task], 1 << w[p[at.UNCLAMP_WORKER] + task]
        _leave(p, w, x, task, unclamp_left, since, now, crew, 1)
    elif p[p[at.HOLDS_CLAMPS] + step] and math.isnan(x[p[CLAMPS_OFF] + task]):
        stay_in_clamps(p, w, x, d, task, step, x[p[END] + task], now)
    else:
        cure(p, w, x, d, task, now)


@compiled
def resume(p: Whole, w: Whole, x: Real, d: Real, own_x: Real, own_w: Whole) -> None:
    """Put a floor on which nothing has happened yet into a starting state, at its moment.

    ``own_x``: what is this run's own of the record, columns of tasks: ``START``, ``END``, ``DONE``, ``CLAMPS_OFF``,
    ``WET_UNTIL``, then the minutes that are left of work and of taking clamps off; ``own_w``: ``BEGUN``, and the tasks in
    the order in which they were begun.
    """
    now, n_tasks, n_begun = x[BEGINS_AT], p[N_TASKS], 0
    for task in range(n_tasks):
        x[p[START] + task], x[p[END] + task] = own_x[task], own_x[n_tasks + task]
        x[p[DONE] + task], x[p[CLAMPS_OFF] + task] = own_x[2 * n_tasks + task], own_x[3 * n_tasks + task]
        x[p[at.WET_UNTIL] + task] = own_x[4 * n_tasks + task]
        w[p[at.BEGUN] + task] = own_w[task]
        if not math.isnan(own_x[task]):
            n_begun += 1
    w[at.N_BEGUN] = n_begun
    _restore_progress(p, w, x, now)
    for n in range(n_begun):
        _take_what_it_holds(p, w, x, own_w[n_tasks + n])
    for n in range(n_begun):
        task = own_w[n_tasks + n]
        _restore_task(p, w, x, d, task, own_x[5 * n_tasks + task], own_x[6 * n_tasks + task], now)
