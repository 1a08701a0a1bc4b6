"""What a task takes: a unit of its station, its clamps, and people who can do it."""

from __future__ import annotations

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.array_columns import (
    AVAILABLE,
    CLAMPS_FREE,
    CLAMPS_LEFT,
    HANDS,
    N_KINDS,
    N_SET,
    REFUSED,
    UNIT_SET_FOR,
    UNIT_USED,
)
from shopsim.engine.compiled.curves import fits
from shopsim.engine.compiled.jit import Real, Whole, inlined


@inlined
def find_unit(p: Whole, w: Whole, x: Real, step: int) -> int:
    """The unit it would take: set for it, else never used, else used longest ago; -1 if none is free."""
    station = p[p[at.STATION] + step]
    best = -1
    for k in range(p[p[at.UNITS_FIRST] + station], p[p[at.UNITS_FIRST] + station + 1]):
        unit = p[p[at.UNITS] + k]
        if not w[p[at.UNIT_FREE] + unit]:
            continue
        if best < 0:
            best = unit
            continue
        is_set, best_is_set = w[p[UNIT_SET_FOR] + unit] == step, w[p[UNIT_SET_FOR] + best] == step
        used, best_used = x[p[UNIT_USED] + unit], x[p[UNIT_USED] + best]
        if (is_set and not best_is_set) or (
            is_set == best_is_set and (used < best_used or (used == best_used and unit < best))
        ):
            best = unit
    return best


@inlined
def find_clamps(p: Whole, w: Whole, step: int) -> bool:
    """Whether the clamps it needs are there, the smallest that serve first; ``CLAMPS_LEFT`` is what would stay."""
    left = p[CLAMPS_LEFT]
    for kind in range(p[N_KINDS]):
        w[left + kind] = w[p[CLAMPS_FREE] + kind]
    for need in range(p[p[at.NEEDS_FIRST] + step], p[p[at.NEEDS_FIRST] + step + 1]):
        count = p[p[at.NEED_COUNT] + need]
        for k in range(p[p[at.NEED_KINDS_FIRST] + need], p[p[at.NEED_KINDS_FIRST] + need + 1]):
            kind = p[p[at.NEED_KINDS] + k]
            some = min(w[left + kind], count)
            if some > 0:
                w[left + kind] -= some
                count -= some
        if count > 0:
            return False
    return True


@inlined
def choose_workers(p: Whole, w: Whole, x: Real, step: int, likely: float, now: float) -> int:
    """Who would do it, the one with the fewest skills first; 0 if too few, or if it would not fit before closing."""
    chosen, wanted = 0, p[p[HANDS] + step]
    for k in range(p[p[at.WORKERS_FIRST] + step], p[p[at.WORKERS_FIRST] + step + 1]):
        worker = p[p[at.ABLE_WORKERS] + k]
        if w[AVAILABLE] >> worker & 1:
            if not p[p[at.PAUSABLE] + step] and not fits(p, w, x, p[p[at.WORKER_CALENDAR] + worker], now, likely):
                w[REFUSED] = 1
                continue
            chosen |= 1 << worker
            wanted -= 1
            if wanted == 0:
                return chosen
    return 0


@inlined
def take_unit(p: Whole, w: Whole, x: Real, unit: int, step: int, pays: bool, now: float) -> None:
    """The unit is taken and set for the operation."""
    w[p[at.UNIT_FREE] + unit] = 0
    before = w[p[UNIT_SET_FOR] + unit]
    if before >= 0:
        w[p[N_SET] + before] -= 1
    if pays:
        w[p[UNIT_SET_FOR] + unit] = step
    x[p[UNIT_USED] + unit] = now


@inlined
def take_clamps(p: Whole, w: Whole, task: int) -> None:
    """The clamps that were found are put on a task."""
    n_kinds = p[N_KINDS]
    for kind in range(n_kinds):
        free, left = p[CLAMPS_FREE] + kind, p[CLAMPS_LEFT] + kind
        w[p[at.CLAMPS] + task * n_kinds + kind] = w[free] - w[left]
        w[free] = w[left]
