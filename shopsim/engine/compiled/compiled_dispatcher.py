"""The dispatcher: what is begun at a moment, and by whom."""

from __future__ import annotations

import math

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import (
    AVAILABLE,
    CURVE_END,
    CURVE_START,
    ENTRY_STEP,
    FREE,
    HANDS,
    HERE,
    HERE_UNTIL,
    LOOK_AGAIN,
    N_ACTIVE,
    N_BROKEN,
    N_CALENDARS,
    N_DUE,
    N_DUSTY,
    N_EVENTS,
    N_HANDLESS,
    N_IDLE,
    N_SET,
    N_WET,
    NEXT_COMING,
    REFUSED,
    STALLED,
    STATUS,
    TASK_STEP,
    UNIT_SET_FOR,
    WAKE_AT,
    WORK_ENDS,
)
from shopsim.engine.compiled.bits import count_bits, first_bit
from shopsim.engine.compiled.compiled_work import move_broken, put_hands_on, take_clamps_off
from shopsim.engine.compiled.curves import next_start, place_of, seek
from shopsim.engine.compiled.events import schedule, take_from_queue
from shopsim.engine.compiled.jit import Real, Whole, compiled, inlined
from shopsim.engine.compiled.resources import choose_workers, find_clamps, find_unit, take_clamps, take_unit


@inlined
def _muster(p: Whole, w: Whole, x: Real, now: float) -> None:
    """Who can be given something to do at this moment."""
    if now >= x[HERE_UNTIL]:
        here, until, coming = 0, math.inf, math.inf
        for c in range(p[N_CALENDARS]):
            if seek(p, w, x, c, now):
                here |= p[p[at.CREW] + c]
                until = min(until, x[p[CURVE_END] + place_of(p, w, c)])
            else:
                coming = min(coming, x[p[CURVE_START] + place_of(p, w, c)])
        w[HERE] = here
        x[NEXT_COMING], x[HERE_UNTIL] = coming, min(until, coming)
    w[AVAILABLE] = w[FREE] & w[HERE]
    w[REFUSED] = 0


@compiled
def _choose_successors(p: Whole, w: Whole, task: int, unclamps: bool, wanted: int) -> int:
    """Who goes on with broken-off work: who began it, who had it last, then as always; 0 if too few."""
    step = p[p[TASK_STEP] + task]
    people = p[at.UNCLAMPERS] if unclamps else p[at.ABLE_WORKERS]
    first = 0 if unclamps else p[p[at.WORKERS_FIRST] + step]
    last = p[at.N_UNCLAMPERS] if unclamps else p[p[at.WORKERS_FIRST] + step + 1]
    chosen = 0
    for some in (w[p[at.BEGAN_BY] + task], w[p[at.LAST_BY] + task], np.int64(-1)):
        for k in range(first, last):
            worker = p[people + k]
            if w[AVAILABLE] & some & ~chosen & (1 << worker):
                chosen |= 1 << worker
                wanted -= 1
                if wanted == 0:
                    return chosen
    return 0


@compiled
def _take_up(p: Whole, w: Whole, x: Real, now: float) -> None:
    """Broken-off work goes on: first by those who began it, then what has lain longest by the first who can."""
    for by_its_own in (True, False):
        k = 0
        while k < w[N_BROKEN]:
            task, left = w[p[at.BROKEN_TASK] + k], x[p[at.BROKEN_LEFT] + k]
            unclamps = w[p[at.UNCLAMPING] + task] == 1
            workers = w[p[at.BEGAN_BY] + task]
            if workers & ~w[AVAILABLE]:
                workers = 0
                if not by_its_own:
                    wanted = 1 if unclamps else p[p[HANDS] + p[p[TASK_STEP] + task]]
                    workers = _choose_successors(p, w, task, unclamps, wanted)
            if workers == 0:
                k += 1
                continue
            w[N_IDLE] = 0
            w[N_BROKEN] -= 1
            for n in range(k, w[N_BROKEN]):
                move_broken(p, w, x, n + 1, n)
            if unclamps:
                take_clamps_off(p, w, x, task, first_bit(workers), left, now)
            else:
                put_hands_on(p, w, x, task, workers, left, now)


@compiled
def _begin_clamps_off(p: Whole, w: Whole, x: Real, d: Real, now: float) -> None:
    """Those who are free take clamps off, the one with the fewest skills first."""
    tasks, moments = p[at.DUE_TASK], p[at.DUE_AT]
    for k in range(p[at.N_UNCLAMPERS]):
        if w[N_DUE] == 0:
            return
        worker = p[p[at.UNCLAMPERS] + k]
        if w[AVAILABLE] >> worker & 1:
            task = w[tasks]
            w[N_DUE] -= 1
            for n in range(w[N_DUE]):
                w[tasks + n], x[moments + n] = w[tasks + n + 1], x[moments + n + 1]
            x[p[at.UNCLAMP_START] + task] = now
            take_clamps_off(p, w, x, task, worker, d[p[at.UNCLAMP] + task], now)


@inlined
def _try_to_begin(p: Whole, q: Real, w: Whole, x: Real, d: Real, place: int, now: float) -> bool:
    """Start the first task of the entry at this place of the queue, if all it needs is there."""
    entry = w[p[at.ACTIVE] + place]
    step, units = p[p[ENTRY_STEP] + entry], p[p[at.ENTRY_UNITS] + entry]
    if q[p[at.ENTRY_NOT_BEFORE] + entry] > now or w[p[at.OUTSTANDING] + entry]:
        return False
    if (w[N_WET] and p[p[at.DUSTY] + step]) or (w[N_DUSTY] and p[p[at.WET_COAT] + step]):
        return False
    rack = p[p[at.RACK] + step]
    if rack >= 0 and w[p[at.SPOTS_FREE] + rack] < p[p[at.SPOTS] + step] * units:
        return False
    unit = -1
    if p[p[at.STATION] + step] >= 0:
        unit = find_unit(p, w, x, step)
        if unit < 0:
            return False
    clamped = p[p[at.NEEDS_FIRST] + step] < p[p[at.NEEDS_FIRST] + step + 1]
    if clamped and not find_clamps(p, w, step):
        return False
    setup = p[at.SETUP_PAID] + p[p[at.ENTRY_SETUP] + entry]
    pays = w[p[UNIT_SET_FOR] + unit] != step if unit >= 0 else w[setup] == 0
    workers = 0
    if p[p[HANDS] + step] > 0:
        likely = q[p[at.ENTRY_LIKELY] + entry] + (q[p[at.LIKELY_SETUP] + step] if pays else 0.0)
        workers = choose_workers(p, w, x, step, likely, now)
        if workers == 0:
            return False
    task = take_from_queue(p, w, place)
    w[N_IDLE] = 0
    if unit >= 0:
        take_unit(p, w, x, unit, step, pays, now)
    elif pays:
        w[setup] = 1
    if clamped:
        take_clamps(p, w, task)
    if rack >= 0:
        w[p[at.SPOTS_FREE] + rack] -= p[p[at.SPOTS] + step] * units
    w[N_DUSTY] += p[p[at.DUSTY] + step]
    w[N_WET] += p[p[at.WET_COAT] + step]
    _begin(p, w, x, d, task, unit, workers, pays, now)
    return True


@inlined
def _begin(p: Whole, w: Whole, x: Real, d: Real, task: int, unit: int, workers: int, pays: bool, now: float) -> None:
    """Work on a task begins; without workers it passes on the clock."""
    minutes = d[p[at.WORK] + task]
    if pays:
        x[p[at.PAID_SETUP] + task] = d[p[at.SETUP] + task]
        minutes += d[p[at.SETUP] + task]
    x[p[at.START] + task] = now
    w[p[at.BEGUN] + task] = w[at.N_BEGUN]
    w[at.N_BEGUN] += 1
    w[p[at.UNIT] + task], w[p[at.WORKERS] + task] = unit, workers
    if workers:
        put_hands_on(p, w, x, task, workers, minutes, now)
    else:
        x[p[at.END] + task] = now + minutes
        schedule(p, w, x, now + minutes, WORK_ENDS, task)


@inlined
def _seek_entry(p: Whole, w: Whole, place: int, stop: int, only_set: bool) -> int:
    """The first place of the queue from here on that is no equal any more, or for whose work there are people; with ``only_set`` and a free station that is set."""
    n, people, entries, steps = w[N_ACTIVE], w[AVAILABLE], p[at.ACTIVE], p[at.ACTIVE_STEP]
    n_set, able, hands = p[N_SET], p[at.ABLE], p[HANDS]
    while place < n and w[entries + place] < stop:
        step = w[steps + place]
        if not only_set or w[n_set + step] > 0:
            there, wanted = people & p[able + step], p[hands + step]
            if wanted <= 1:
                if wanted == 0 or there != 0:
                    break
            elif count_bits(there) >= wanted:
                break
        place += 1
    return place


@inlined
def _start(p: Whole, q: Real, w: Whole, x: Real, d: Real, now: float) -> None:
    """Go through the queue and start what can start: of equals first those for which a free station is set, then all."""
    entries, first = p[at.ACTIVE], 0
    while first < w[N_ACTIVE] and (w[AVAILABLE] or w[N_HANDLESS]):
        stop = p[p[at.ENTRY_STOP] + w[entries + first]]
        alone = first + 1 == w[N_ACTIVE] or w[entries + first + 1] >= stop
        place = first
        for only_set in (True, False):
            if only_set and alone:
                continue
            place = first
            while w[AVAILABLE] or w[N_HANDLESS]:
                place = _seek_entry(p, w, place, stop, only_set)
                if place >= w[N_ACTIVE] or w[entries + place] >= stop:
                    break
                if not _try_to_begin(p, q, w, x, d, place, now):
                    place += 1
        first = place


@inlined
def choose(p: Whole, q: Real, w: Whole, x: Real, d: Real, now: float) -> None:
    """Begin all that can begin at this moment, and see to it that somebody looks again when people come."""
    _muster(p, w, x, now)
    if w[AVAILABLE]:
        if w[N_BROKEN]:
            _take_up(p, w, x, now)
        if w[N_DUE]:
            _begin_clamps_off(p, w, x, d, now)
    if w[N_ACTIVE] and (w[AVAILABLE] or w[N_HANDLESS]):
        _start(p, q, w, x, d, now)
    if w[N_ACTIVE] == 0 and w[N_DUE] == 0 and w[N_BROKEN] == 0:
        return
    when = x[NEXT_COMING]
    if w[REFUSED]:
        for c in range(p[N_CALENDARS]):
            if x[p[CURVE_START] + place_of(p, w, c)] <= now:
                when = min(when, next_start(p, w, x, c, now))
    if when == math.inf or now < x[WAKE_AT] <= when:
        return
    if w[N_EVENTS] == 0:
        w[N_IDLE] += 1
        if w[N_IDLE] > p[at.MAX_IDLE]:
            w[STATUS] = STALLED
            return
    x[WAKE_AT] = when
    schedule(p, w, x, when, LOOK_AGAIN, 0)
