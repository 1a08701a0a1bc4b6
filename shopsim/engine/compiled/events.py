"""What will happen: a heap by time alone, as what happens at one moment comes to the same in any order; and the queue."""

from __future__ import annotations

from shopsim.engine.compiled.array_columns import (
    ACTIVE,
    ACTIVE_STEP,
    BEGAN_BY,
    BROKEN_FROM,
    BROKEN_OFF_TASK,
    BROKEN_OFF_UNCLAMPS,
    BROKEN_OFF_WORKERS,
    BROKEN_UNTIL,
    ENTRY_FIRST,
    ENTRY_STEP,
    EVENT_AT,
    EVENT_WHAT,
    HANDS,
    LAST_BY,
    MAX_EVENTS,
    MAX_STRETCHES,
    N_ACTIVE,
    N_EVENTS,
    N_HANDLESS,
    N_KINDS_OF_EVENTS,
    N_STRETCHES,
    N_WAITING,
    NEEDS_SPACE,
    STATUS,
    TASK_ENTRY,
    WAITING,
)
from shopsim.engine.compiled.jit import Real, Whole, compiled, inlined


@inlined
def schedule(p: Whole, w: Whole, x: Real, when: float, kind: int, task: int) -> None:
    """Something will happen."""
    n, at, what = w[N_EVENTS], p[EVENT_AT], p[EVENT_WHAT]
    if n >= p[MAX_EVENTS]:
        w[STATUS] = NEEDS_SPACE
        return
    w[N_EVENTS] = n + 1
    while n > 0:
        up = (n - 1) >> 1
        if x[at + up] <= when:
            break
        x[at + n], w[what + n] = x[at + up], w[what + up]
        n = up
    x[at + n], w[what + n] = when, kind + N_KINDS_OF_EVENTS * task


@inlined
def drop_first(p: Whole, w: Whole, x: Real) -> None:
    """The first event is over."""
    n, at, what = w[N_EVENTS] - 1, p[EVENT_AT], p[EVENT_WHAT]
    w[N_EVENTS] = n
    if n == 0:
        return
    when, which = x[at + n], w[what + n]
    place = 0
    while True:
        below = 2 * place + 1
        if below >= n:
            break
        if below + 1 < n and x[at + below + 1] < x[at + below]:
            below += 1
        if when <= x[at + below]:
            break
        x[at + place], w[what + place] = x[at + below], w[what + below]
        place = below
    x[at + place], w[what + place] = when, which


@inlined
def enqueue(p: Whole, w: Whole, task: int) -> None:
    """A task is ready; entries stand in their order, and the tasks of each in theirs."""
    entry = p[p[TASK_ENTRY] + task]
    n, active, steps = w[p[N_WAITING] + entry], p[ACTIVE], p[ACTIVE_STEP]
    if n == 0:
        place = w[N_ACTIVE]
        while place > 0 and w[active + place - 1] > entry:
            w[active + place], w[steps + place] = w[active + place - 1], w[steps + place - 1]
            place -= 1
        step = p[p[ENTRY_STEP] + entry]
        w[active + place], w[steps + place] = entry, step
        w[N_ACTIVE] += 1
        if p[p[HANDS] + step] == 0:
            w[N_HANDLESS] += 1
    w[p[N_WAITING] + entry] = n + 1
    first = p[WAITING] + p[p[ENTRY_FIRST] + entry]
    while n > 0:
        up = (n - 1) >> 1
        if w[first + up] <= task:
            break
        w[first + n] = w[first + up]
        n = up
    w[first + n] = task


@inlined
def take_from_queue(p: Whole, w: Whole, place: int) -> int:
    """The first task of the entry at this place of the queue, which waits no longer."""
    active, steps = p[ACTIVE], p[ACTIVE_STEP]
    entry, step = w[active + place], w[steps + place]
    first = p[WAITING] + p[p[ENTRY_FIRST] + entry]
    task = w[first]
    n = w[p[N_WAITING] + entry] - 1
    w[p[N_WAITING] + entry] = n
    if n == 0:
        for k in range(place, w[N_ACTIVE] - 1):
            w[active + k], w[steps + k] = w[active + k + 1], w[steps + k + 1]
        w[N_ACTIVE] -= 1
        if p[p[HANDS] + step] == 0:
            w[N_HANDLESS] -= 1
        return task
    moved = w[first + n]
    k = 0
    while True:
        below = 2 * k + 1
        if below >= n:
            break
        if below + 1 < n and w[first + below + 1] < w[first + below]:
            below += 1
        if moved <= w[first + below]:
            break
        w[first + k] = w[first + below]
        k = below
    w[first + k] = moved
    return task


@compiled
def note_stretch(
    p: Whole, w: Whole, x: Real, task: int, since: float, until: float, workers: int, unclamps: int
) -> None:
    """Somebody was at it for a while, and it was broken off before or after."""
    n = w[N_STRETCHES]
    if n >= p[MAX_STRETCHES]:
        w[STATUS] = NEEDS_SPACE
        return
    w[N_STRETCHES] = n + 1
    x[p[BROKEN_FROM] + n], x[p[BROKEN_UNTIL] + n] = since, until
    w[p[BROKEN_OFF_TASK] + n], w[p[BROKEN_OFF_WORKERS] + n] = task, workers
    w[p[BROKEN_OFF_UNCLAMPS] + n] = unclamps
    if w[p[BEGAN_BY] + task] == 0:
        w[p[BEGAN_BY] + task] = workers
    w[p[LAST_BY] + task] = workers
