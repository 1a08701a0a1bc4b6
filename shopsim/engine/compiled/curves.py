"""Working time against clock time: the rules of ``engine/hours.py`` over plain arrays.

Curve c is ``x[p[CURVE_START] + c * p[CURVE_LENGTH]]`` and so on, ``w[p[CURVE_SIZE] + c]`` pieces long, and stands at piece
``w[p[CURVE_AT] + c]``. Behind the curves of the calendars there is room for those of several who work together, and for one more. Where
a rule would have to know more days than are laid out, ``STATUS`` says so, and the run is begun anew with more.
"""

from __future__ import annotations

import math

import numpy as np

from shopsim.engine.compiled.array_columns import (
    CURVE_AT,
    CURVE_CLOSE,
    CURVE_DONE,
    CURVE_END,
    CURVE_ENDLESS,
    CURVE_LENGTH,
    CURVE_OF,
    CURVE_RATE,
    CURVE_SIZE,
    CURVE_START,
    ENDLESS,
    MAX_TOGETHER,
    N_CALENDARS,
    N_DAYS,
    N_TOGETHER,
    NEEDS_DAYS,
    NEEDS_SPACE,
    STATUS,
    STRETCH_DAY,
    STRETCH_END,
    STRETCH_FIRST,
    STRETCH_START,
)
from shopsim.engine.compiled.jit import Real, Whole, compiled, inlined
from shopsim.units import TICKS_PER_MIN


@inlined
def to_tick(minutes: float) -> float:
    """The nearest moment of the time grid, the even one of two equally near."""
    return float(np.rint(minutes * TICKS_PER_MIN) / TICKS_PER_MIN)


@compiled
def lay_out(p: Whole, q: Real, w: Whole, x: Real, share: Real) -> None:
    """The curves of all calendars; ``share``: what is left of each day for the shop, 0 for a day that is lost."""
    for c in range(p[N_CALENDARS]):
        first, size = c * p[CURVE_LENGTH], 0
        if p[p[ENDLESS] + c]:
            x[p[CURVE_START] + first], x[p[CURVE_END] + first] = 0.0, math.inf
            x[p[CURVE_RATE] + first] = 1.0
            size = 1
        else:
            for n in range(p[p[STRETCH_FIRST] + c], p[p[STRETCH_FIRST] + c + 1]):
                rate = share[p[p[STRETCH_DAY] + n]] if p[N_DAYS] else 1.0
                if rate > 0.0:
                    place = first + size
                    x[p[CURVE_START] + place] = q[p[STRETCH_START] + n]
                    x[p[CURVE_END] + place] = q[p[STRETCH_END] + n]
                    x[p[CURVE_RATE] + place] = rate
                    size += 1
        w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c] = size, 0
        w[p[CURVE_ENDLESS] + c] = p[p[ENDLESS] + c]
        _add_up(p, x, first, size)


@compiled
def _add_up(p: Whole, x: Real, first: int, size: int) -> None:
    """Working minutes before each piece, and when the unbroken stretch that holds it ends."""
    start, end, rate = p[CURVE_START] + first, p[CURVE_END] + first, p[CURVE_RATE] + first
    done, close = p[CURVE_DONE] + first, p[CURVE_CLOSE] + first
    worked = 0.0
    for n in range(size):
        x[done + n] = worked
        worked += (x[end + n] - x[start + n]) * x[rate + n]
        x[close + n] = x[end + n]
    for n in range(size - 2, -1, -1):
        if x[start + n + 1] == x[end + n]:
            x[close + n] = x[close + n + 1]


@inlined
def seek(p: Whole, w: Whole, x: Real, c: int, now: float) -> bool:
    """Move curve c on to ``now``; whether somebody with these hours is at work then."""
    first, size, at = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c]
    end = p[CURVE_END] + first
    while at < size and x[end + at] <= now:
        at += 1
    if at + 1 >= size and not w[p[CURVE_ENDLESS] + c]:  # the last stretch may go on, so never stand in it
        w[STATUS] = NEEDS_DAYS
        w[p[CURVE_AT] + c] = max(0, size - 1)
        return False
    w[p[CURVE_AT] + c] = at
    return x[p[CURVE_START] + first + at] <= now


@inlined
def place_of(p: Whole, w: Whole, c: int) -> int:
    """Where curve c stands, counted from the beginning of all curves."""
    return c * p[CURVE_LENGTH] + w[p[CURVE_AT] + c]


@inlined
def _last_end(p: Whole, w: Whole, x: Real, c: int) -> float:
    """The end of the last piece that is laid out."""
    return x[p[CURVE_END] + c * p[CURVE_LENGTH] + w[p[CURVE_SIZE] + c] - 1]


@inlined
def fits(p: Whole, w: Whole, x: Real, c: int, now: float, likely: float) -> bool:
    """Whether so many minutes from ``now`` end before the unbroken stretch does in which curve c stands."""
    close = x[p[CURVE_CLOSE] + place_of(p, w, c)]
    if now + likely <= close:
        return True
    if close >= _last_end(p, w, x, c) and not w[p[CURVE_ENDLESS] + c]:
        w[STATUS] = NEEDS_DAYS
    return False


@compiled
def next_at_work(p: Whole, w: Whole, x: Real, c: int, moment: float) -> float:
    """``moment`` if somebody is at work then, else the next start."""
    first, size = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c]
    for n in range(w[p[CURVE_AT] + c], size):
        if x[p[CURVE_END] + first + n] > moment:
            return max(moment, x[p[CURVE_START] + first + n])
    w[STATUS] = NEEDS_DAYS
    return moment


@compiled
def next_start(p: Whole, w: Whole, x: Real, c: int, now: float) -> float:
    """The first moment after ``now`` at which a stretch of curve c begins that is not the one it stands in."""
    first, size, at = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c]
    start = p[CURVE_START] + first
    if x[start + at] > now:
        return x[start + at]
    if w[p[CURVE_ENDLESS] + c]:
        return math.inf
    close = x[p[CURVE_CLOSE] + first + at]
    for n in range(at + 1, size):
        if x[start + n] >= close:
            return x[start + n]
    w[STATUS] = NEEDS_DAYS
    return math.inf


@compiled
def finish(p: Whole, w: Whole, x: Real, c: int, now: float, minutes: float) -> float:
    """When work begun at ``now`` is done if it pauses outside these hours."""
    first, size, at = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c]
    start, end = p[CURVE_START] + first, p[CURVE_END] + first
    rates, done = p[CURVE_RATE] + first, p[CURVE_DONE] + first
    rate = x[rates + at]
    ends = now + minutes if rate == 1.0 else to_tick(now + minutes / rate)
    if ends <= x[end + at]:
        return ends
    total = x[done + at] + (now - x[start + at]) * rate + minutes
    last = size - 1
    if x[done + last] + (x[end + last] - x[start + last]) * x[rates + last] < total:
        w[STATUS] = NEEDS_DAYS
        return ends
    n = at
    while n < last and x[done + n + 1] < total:
        n += 1
    return to_tick(x[start + n] + (total - x[done + n]) / x[rates + n])


@compiled
def finish_late(p: Whole, w: Whole, x: Real, c: int, now: float, minutes: float) -> float:
    """When work is done that is not left half done: past closing it goes on at the last pace."""
    first, size, at = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c]
    start, end = p[CURVE_START] + first, p[CURVE_END] + first
    rates, done = p[CURVE_RATE] + first, p[CURVE_DONE] + first
    rate = x[rates + at]
    ends = now + minutes if rate == 1.0 else to_tick(now + minutes / rate)
    if ends <= x[end + at]:
        return ends
    total = x[done + at] + (now - x[start + at]) * rate + minutes
    last = size - 1
    while (
        at < last
        and x[start + at + 1] == x[end + at]
        and x[done + at] + (x[end + at] - x[start + at]) * x[rates + at] < total
    ):
        at += 1
    if at == last and not w[p[CURVE_ENDLESS] + c]:
        w[STATUS] = NEEDS_DAYS
    return to_tick(x[start + at] + (total - x[done + at]) / x[rates + at])


@compiled
def left_at_close(p: Whole, w: Whole, x: Real, c: int, now: float, minutes: float) -> float:
    """Minutes of work begun at ``now`` that are left when this unbroken stretch ends, 0 if it is done by then."""
    first, size, at = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c], w[p[CURVE_AT] + c]
    start, end, rates = p[CURVE_START] + first, p[CURVE_END] + first, p[CURVE_RATE] + first
    close = x[p[CURVE_CLOSE] + first + at]
    worked = 0.0
    for n in range(at, size):
        if x[start + n] >= close:
            break
        worked += (min(close, x[end + n]) - max(now, x[start + n])) * x[rates + n]
    left = to_tick(minutes - worked)
    if left <= 0.0:
        return 0.0
    if close >= x[end + size - 1] and not w[p[CURVE_ENDLESS] + c]:  # the last stretch may go on
        w[STATUS] = NEEDS_DAYS
    return left


@compiled
def together(p: Whole, w: Whole, x: Real, members: int, now: float) -> int:
    """The curve of those times at which all calendars in ``members`` (a bit each) are at work, at the slowest pace."""
    n_calendars = p[N_CALENDARS]
    for n in range(w[N_TOGETHER]):
        if w[p[CURVE_OF] + n] == members:
            seek(p, w, x, n_calendars + n, now)
            return n_calendars + n
    n = w[N_TOGETHER]
    if n >= p[MAX_TOGETHER]:
        w[STATUS] = NEEDS_SPACE
        return 0
    w[p[CURVE_OF] + n] = members
    w[N_TOGETHER] = n + 1
    own = n_calendars + n
    _overlay(p, w, x, members, own)
    seek(p, w, x, own, now)
    return own


@compiled
def _overlay(p: Whole, w: Whole, x: Real, members: int, own: int) -> None:
    """Lay the pieces in which all members are at work into the curve ``own``."""
    size, endless, begun = 0, 1, False
    to, spare = own * p[CURVE_LENGTH], (p[N_CALENDARS] + p[MAX_TOGETHER]) * p[CURVE_LENGTH]
    start, end, rate = p[CURVE_START], p[CURVE_END], p[CURVE_RATE]
    for c in range(p[N_CALENDARS]):
        if not members >> c & 1:
            continue
        since, n = c * p[CURVE_LENGTH], w[p[CURVE_SIZE] + c]
        endless &= w[p[CURVE_ENDLESS] + c]
        if not begun:
            begun = True
            size = n
            for k in range(n):
                for column in (start, end, rate):
                    x[column + to + k] = x[column + since + k]
            continue
        for k in range(size):
            for column in (start, end, rate):
                x[column + spare + k] = x[column + to + k]
        i, j, found = 0, 0, 0
        while i < size and j < n:
            a, b = spare + i, since + j
            begins, ends = max(x[start + a], x[start + b]), min(x[end + a], x[end + b])
            if begins < ends:
                x[start + to + found], x[end + to + found] = begins, ends
                x[rate + to + found] = min(x[rate + a], x[rate + b])
                found += 1
            if x[end + a] <= x[end + b]:
                i += 1
            else:
                j += 1
        size = found
    w[p[CURVE_SIZE] + own], w[p[CURVE_AT] + own], w[p[CURVE_ENDLESS] + own] = size, 0, endless
    _add_up(p, x, to, size)
