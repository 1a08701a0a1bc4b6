"""Time in which people were at work with nothing in hand."""

from __future__ import annotations

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.compiled.bits import count_bits
from shopsim.engine.compiled.jit import Real, Whole, compiled
from shopsim.units import MINUTES_PER_DAY


@compiled
def _lay_out(
    p: Whole,
    q: Real,
    share: Real,
    c: int,
    last: float,
    opens: Real,
    closes: Real,
    worked: Real,
    of_day: Whole,
    n_days: int,
) -> int:
    """The stretches of calendar c before ``last``, the minutes before each, and the first that ends on a day or later."""
    size, day, total = 0, 0, 0.0
    if p[p[at.ENDLESS] + c]:
        opens[0], closes[0], worked[0], worked[1] = 0.0, last, 0.0, last
        for n in range(n_days):
            of_day[n] = 0
        return 1
    for n in range(p[p[at.STRETCH_FIRST] + c], p[p[at.STRETCH_FIRST] + c + 1]):
        begins, ends = q[p[at.STRETCH_START] + n], q[p[at.STRETCH_END] + n]
        if begins >= last:
            break
        if p[at.N_DAYS] and share[p[p[at.STRETCH_DAY] + n]] <= 0.0:
            continue
        ends = min(ends, last)
        while day < n_days and day * MINUTES_PER_DAY < ends:
            of_day[day] = size
            day += 1
        opens[size], closes[size], worked[size] = begins, ends, total
        total += ends - begins
        size += 1
    worked[size] = total
    while day < n_days:
        of_day[day] = size
        day += 1
    return size


@compiled
def _at_work(moment: float, opens: Real, closes: Real, worked: Real, of_day: Whole, n_days: int, size: int) -> float:
    """Minutes at work up to a moment."""
    k = of_day[min(int(moment / MINUTES_PER_DAY), n_days - 1)]
    while k < size and closes[k] < moment:
        k += 1
    if k == size:
        return worked[size]
    return worked[k] + max(0.0, moment - opens[k])


@compiled
def _busy(
    p: Whole, w: Whole, x: Real, broken: Whole, c: int, opens: Real, closes: Real, worked: Real, of_day: Whole,
    n_days: int, size: int,
) -> float:  # fmt: skip
    """Minutes at work that the workers of calendar c had something in hand, work that was broken off left out."""
    crew, busy = p[p[at.CREW] + c], 0.0
    for task in range(p[at.N_TASKS]):
        n = count_bits(w[p[at.WORKERS] + task] & crew)
        if n and not broken[task] & 1:
            until = _at_work(x[p[at.END] + task], opens, closes, worked, of_day, n_days, size)
            since = _at_work(x[p[at.START] + task], opens, closes, worked, of_day, n_days, size)
            busy += n * (until - since)
        worker = w[p[at.UNCLAMP_WORKER] + task]
        if worker >= 0 and crew >> worker & 1 and not broken[task] & 2:
            until = _at_work(x[p[at.UNCLAMP_END] + task], opens, closes, worked, of_day, n_days, size)
            since = _at_work(x[p[at.UNCLAMP_START] + task], opens, closes, worked, of_day, n_days, size)
            busy += until - since
    return busy


@compiled
def _busy_with_broken(
    p: Whole, w: Whole, x: Real, c: int, opens: Real, closes: Real, worked: Real, of_day: Whole, n_days: int, size: int
) -> float:
    """Minutes at work that the workers of calendar c were at work that was broken off."""
    crew, busy = p[p[at.CREW] + c], 0.0
    for n in range(w[at.N_STRETCHES]):
        people = count_bits(w[p[at.BROKEN_OFF_WORKERS] + n] & crew)
        if people:
            until = _at_work(x[p[at.BROKEN_UNTIL] + n], opens, closes, worked, of_day, n_days, size)
            since = _at_work(x[p[at.BROKEN_FROM] + n], opens, closes, worked, of_day, n_days, size)
            busy += people * (until - since)
    return busy


@compiled
def _mark_broken(p: Whole, w: Whole, broken: Whole, mark: bool) -> None:
    """Tasks whose work (1) or whose taking off of clamps (2) was broken off; or none again."""
    for n in range(w[at.N_STRETCHES]):
        task = w[p[at.BROKEN_OFF_TASK] + n]
        broken[task] = broken[task] | (2 if w[p[at.BROKEN_OFF_UNCLAMPS] + n] else 1) if mark else 0


@compiled
def idle_minutes(
    p: Whole, q: Real, share: Real, w: Whole, x: Real, last: float, opens: Real, closes: Real, worked: Real, of_day: Whole,
    n_days: int, broken: Whole,
) -> float:  # fmt: skip
    """People's minutes from 0 to ``last`` in which they were at work with nothing in hand, in one run.

    The last six are room to work in: ``opens``, ``closes`` and ``worked`` have two places more than there are stretches,
    ``of_day`` one for each of ``n_days`` days (the days that are laid out), and ``broken`` a nought a task.
    """
    _mark_broken(p, w, broken, True)
    idle = 0.0
    for c in range(p[at.N_CALENDARS]):
        size = _lay_out(p, q, share, c, last, opens, closes, worked, of_day, n_days)
        idle += count_bits(p[p[at.CREW] + c]) * worked[size]
        idle -= _busy(p, w, x, broken, c, opens, closes, worked, of_day, n_days, size)
        idle -= _busy_with_broken(p, w, x, c, opens, closes, worked, of_day, n_days, size)
    _mark_broken(p, w, broken, False)
    return max(0.0, idle)
