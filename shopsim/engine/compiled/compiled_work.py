"""Work on the floor: hands on a task until it ends or is broken off, then clamps, cure and wetness by themselves."""

from __future__ import annotations

import math

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import (
    AVAILABLE,
    BREAKS_OFF,
    COMES_OFF,
    CURED,
    CURVE_CLOSE,
    CURVE_END,
    CURVE_RATE,
    DRIES,
    END,
    FREE,
    HOLD_ENDS,
    LOOK_AGAIN,
    MATERIAL_COMES,
    N_BROKEN,
    N_CALENDARS,
    N_DUE,
    N_DUSTY,
    N_KINDS_OF_EVENTS,
    N_WET,
    TASK_STEP,
    UNCLAMPED,
    UNIT,
    WORK_ENDS,
)
from shopsim.engine.compiled.compiled_progress import note_done, open_batches
from shopsim.engine.compiled.curves import (
    finish,
    finish_late,
    left_at_close,
    next_at_work,
    place_of,
    to_tick,
    together,
)
from shopsim.engine.compiled.events import drop_first, note_stretch, schedule
from shopsim.engine.compiled.jit import Real, Whole, compiled, inlined

# ---- hands on a task


@compiled
def put_hands_on(p: Whole, w: Whole, x: Real, task: int, workers: int, minutes: float, now: float) -> None:
    """Workers, who are all at work, begin or go on, until it is done or the first of them leaves."""
    w[FREE] &= ~workers
    w[AVAILABLE] &= ~workers
    kinds, alone, c = 0, True, 0
    pace, until = math.inf, math.inf
    for calendar in range(p[N_CALENDARS]):
        if workers & p[p[at.CREW] + calendar]:
            alone = kinds == 0
            c = calendar
            kinds |= 1 << calendar
            place = place_of(p, w, calendar)
            pace = min(pace, x[p[CURVE_RATE] + place])
            until = min(until, x[p[CURVE_END] + place])
    ends = now + minutes if pace == 1.0 else to_tick(now + minutes / pace)
    if ends > until:
        if not alone:
            c = together(p, w, x, kinds, now)
        if not p[p[at.PAUSABLE] + p[p[TASK_STEP] + task]]:
            ends = finish_late(p, w, x, c, now, minutes)
        elif p[N_CALENDARS] == 1:
            ends = finish(p, w, x, c, now, minutes)
        else:
            left = left_at_close(p, w, x, c, now, minutes)
            close = x[p[CURVE_CLOSE] + place_of(p, w, c)]
            if left > 0:
                note_stretch(p, w, x, task, now, close, workers, 0)
                x[p[at.LEFT_AT_BREAK] + task] = left
                schedule(p, w, x, close, BREAKS_OFF, task)
                return
            ends = min(finish(p, w, x, c, now, minutes), close)
    if w[p[at.BEGAN_BY] + task]:
        note_stretch(p, w, x, task, now, ends, workers, 0)
    w[p[at.WORKERS] + task] = workers
    x[p[END] + task] = ends
    schedule(p, w, x, ends, WORK_ENDS, task)


@compiled
def take_clamps_off(p: Whole, w: Whole, x: Real, task: int, worker: int, minutes: float, now: float) -> None:
    """A worker begins to take clamps off, or goes on with it, until they are off or the worker leaves."""
    w[FREE] &= ~(1 << worker)
    w[AVAILABLE] &= ~(1 << worker)
    w[p[at.UNCLAMP_WORKER] + task] = worker
    c = p[p[at.WORKER_CALENDAR] + worker]
    if p[N_CALENDARS] == 1:
        ends = finish(p, w, x, c, now, minutes)
    else:
        left = left_at_close(p, w, x, c, now, minutes)
        close = x[p[CURVE_CLOSE] + place_of(p, w, c)]
        if left > 0:
            note_stretch(p, w, x, task, now, close, 1 << worker, 1)
            x[p[at.LEFT_AT_BREAK] + task] = left
            schedule(p, w, x, close, BREAKS_OFF, task)
            return
        ends = min(finish(p, w, x, c, now, minutes), close)
    if w[p[at.BEGAN_BY] + task]:
        note_stretch(p, w, x, task, now, ends, 1 << worker, 1)
    x[p[at.UNCLAMP_END] + task] = ends
    schedule(p, w, x, ends, UNCLAMPED, task)


# ---- what a task goes on to


@inlined
def give_back_station(p: Whole, w: Whole, task: int, step: int) -> None:
    """The unit is free again, and stays set."""
    w[p[at.UNIT_FREE] + w[p[UNIT] + task]] = 1
    w[p[at.N_SET] + step] += 1


@inlined
def _end_work(p: Whole, w: Whole, x: Real, d: Real, task: int, now: float) -> None:
    """Hands, station and clean air are free again; what goes on does so by itself."""
    step = p[p[TASK_STEP] + task]
    w[FREE] |= w[p[at.WORKERS] + task]
    if w[p[UNIT] + task] >= 0 and not p[p[at.KEEPS_STATION] + step]:
        give_back_station(p, w, task, step)
    if p[p[at.DUSTY] + step]:
        w[N_DUSTY] -= 1
    if p[p[at.ENDS_WITH_WORK] + step]:
        note_done(p, w, x, task, now)
        return
    if p[p[at.WET_COAT] + step]:
        minutes = d[p[at.WET] + task]
        x[p[at.WET_UNTIL] + task] = now + minutes
        if minutes > 0 and p[at.ANY_DUSTY]:
            schedule(p, w, x, now + minutes, DRIES, task)
        else:
            w[N_WET] -= 1
    if p[p[at.HOLDS_CLAMPS] + step]:
        stay_in_clamps(p, w, x, d, task, step, now, now)
    else:
        cure(p, w, x, d, task, now)


@compiled
def stay_in_clamps(p: Whole, w: Whole, x: Real, d: Real, task: int, step: int, ended: float, now: float) -> None:
    """In clamps from the end of the hands-on work on, until somebody has taken them off, or until they come off unasked while somebody is there."""
    if p[p[at.TIMED_HOLD] + step] or p[p[at.UNCLAMPS] + step]:
        due = ended + d[p[at.IN_CLAMPS] + task]
        if p[p[at.UNCLAMPS] + step] and d[p[at.UNCLAMP] + task] > 0:
            if due > now:
                schedule(p, w, x, due, HOLD_ENDS, task)
            else:
                _await_hands(p, w, x, task, due)
            return
        off = due
        if due > ended:
            off = math.inf
            for c in range(p[N_CALENDARS]):
                off = min(off, next_at_work(p, w, x, c, due))
        if off > now:
            schedule(p, w, x, off, COMES_OFF, task)
            return
    _come_off(p, w, x, d, task, now)


@compiled
def _await_hands(p: Whole, w: Whole, x: Real, task: int, due: float) -> None:
    """Its clamps are due, and somebody is to take them off; those due longest stand first."""
    n, moments, tasks = w[N_DUE], p[at.DUE_AT], p[at.DUE_TASK]
    while n > 0 and (x[moments + n - 1] > due or (x[moments + n - 1] == due and w[tasks + n - 1] > task)):
        x[moments + n], w[tasks + n] = x[moments + n - 1], w[tasks + n - 1]
        n -= 1
    x[moments + n], w[tasks + n] = due, task
    w[N_DUE] += 1
    w[p[at.UNCLAMPING] + task] = 1
    w[p[at.BEGAN_BY] + task] = w[p[at.LAST_BY] + task] = 0


@compiled
def _come_off(p: Whole, w: Whole, x: Real, d: Real, task: int, now: float) -> None:
    """Its clamps hang in the rack again."""
    x[p[at.CLAMPS_OFF] + task] = now
    w[p[at.OFF_TASK] + w[at.N_OFF]] = task
    w[at.N_OFF] += 1
    n_kinds = p[at.N_KINDS]
    for kind in range(n_kinds):
        w[p[at.CLAMPS_FREE] + kind] += w[p[at.CLAMPS] + task * n_kinds + kind]
    cure(p, w, x, d, task, now)


@compiled
def cure(p: Whole, w: Whole, x: Real, d: Real, task: int, now: float) -> None:
    """It cures from the end of its work on, if that is not over yet."""
    cured = x[p[END] + task] + d[p[at.CURE] + task]
    if cured > now:
        schedule(p, w, x, cured, CURED, task)
    else:
        _end_task(p, w, x, task, now)


@compiled
def _end_task(p: Whole, w: Whole, x: Real, task: int, now: float) -> None:
    """What it still held is free, and it is done."""
    step = p[p[TASK_STEP] + task]
    rack = p[p[at.RACK] + step]
    if rack >= 0:
        w[p[at.SPOTS_FREE] + rack] += p[p[at.SPOTS] + step] * p[p[at.TASK_UNITS] + task]
    if p[p[at.KEEPS_STATION] + step] and w[p[UNIT] + task] >= 0:  # a run under way may have it without a station
        give_back_station(p, w, task, step)
    note_done(p, w, x, task, now)


@compiled
def move_broken(p: Whole, w: Whole, x: Real, source: int, target: int) -> None:
    """Broken-off work moves up or down in its list."""
    x[p[at.BROKEN_SINCE] + target] = x[p[at.BROKEN_SINCE] + source]
    x[p[at.BROKEN_LEFT] + target] = x[p[at.BROKEN_LEFT] + source]
    w[p[at.BROKEN_TASK] + target] = w[p[at.BROKEN_TASK] + source]


@compiled
def _break_off(p: Whole, w: Whole, x: Real, task: int, now: float) -> None:
    """Whoever was at it leaves."""
    w[FREE] |= w[p[at.LAST_BY] + task]
    lie_half_done(p, w, x, task, now, x[p[at.LEFT_AT_BREAK] + task])


@compiled
def lie_half_done(p: Whole, w: Whole, x: Real, task: int, moment: float, left: float) -> None:
    """It lies half done from a moment on; what has lain longest stands first, then what was begun first."""
    n, since, tasks = w[N_BROKEN], p[at.BROKEN_SINCE], p[at.BROKEN_TASK]
    begun = w[p[at.BEGUN] + task]
    while n > 0 and (
        x[since + n - 1] > moment or (x[since + n - 1] == moment and w[p[at.BEGUN] + w[tasks + n - 1]] > begun)
    ):
        move_broken(p, w, x, n - 1, n)
        n -= 1
    x[since + n], w[tasks + n], x[p[at.BROKEN_LEFT] + n] = moment, task, left
    w[N_BROKEN] += 1


@inlined
def happen(p: Whole, w: Whole, x: Real, d: Real) -> None:
    """The first event happens."""
    what, now = w[p[at.EVENT_WHAT]], x[p[at.EVENT_AT]]
    kind, task = what % N_KINDS_OF_EVENTS, what // N_KINDS_OF_EVENTS
    drop_first(p, w, x)
    if kind == WORK_ENDS:
        _end_work(p, w, x, d, task, now)
    elif kind == CURED:
        _end_task(p, w, x, task, now)
    elif kind == HOLD_ENDS:
        _await_hands(p, w, x, task, now)
    elif kind == COMES_OFF:
        _come_off(p, w, x, d, task, now)
    elif kind == UNCLAMPED:
        w[FREE] |= 1 << w[p[at.UNCLAMP_WORKER] + task]
        w[p[at.UNCLAMPING] + task] = 0
        _come_off(p, w, x, d, task, now)
    elif kind == BREAKS_OFF:
        _break_off(p, w, x, task, now)
    elif kind == DRIES:
        w[N_WET] -= 1
    elif kind == MATERIAL_COMES:
        for k in range(p[p[at.MATERIALS_FIRST] + task], p[p[at.MATERIALS_FIRST] + task + 1]):
            w[p[at.OUTSTANDING] + p[p[at.MATERIAL_ENTRIES] + k]] -= 1
    elif kind == LOOK_AGAIN:  # somebody comes, a batch may open, or an entry may begin
        open_batches(p, w, x, now)
