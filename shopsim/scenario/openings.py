"""When people are in the shop together, and for how long at a stretch: for the rules, before anything runs."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from functools import cached_property
from typing import Any

from shopsim.scenario.model import Shop, Worker
from shopsim.units import MINUTES_PER_DAY

#: Days looked ahead from the first day of the run: three years.
DAYS_AHEAD = 3 * 366
_FORTNIGHT = 15

Stretch = tuple[float, float]
_Days = Sequence[tuple[dt.date, dt.date]]


class Openings:
    """The hours of a shop and its workers, as seen from the run's first day.

    Where the next three years hold a fortnight without any day off, the weekly
    hours alone decide; else the three years are laid out day by day.
    """

    def __init__(self, shop: Shop, day0: dt.date) -> None:
        self.shop = shop
        self.day0 = day0
        self._known: dict[tuple[Any, _Days], list[Stretch]] = {}

    @cached_property
    def first_day(self) -> tuple[dt.date, int]:
        """(day, number of days) of the window that decides."""
        off = sorted(
            (max(0, (first - self.day0).days), min(DAYS_AHEAD, (last - self.day0).days + 1))
            for closed in (self.shop.closed, *(worker.closed for worker in self.shop.workers))
            for first, last in closed
        )
        clean = 0
        for start, end in off:
            if end <= clean:
                continue
            if start - clean >= _FORTNIGHT:
                break
            clean = end
        if DAYS_AHEAD - clean >= _FORTNIGHT:
            return self.day0 + dt.timedelta(days=clean), _FORTNIGHT
        return self.day0, DAYS_AHEAD

    def shop_days(self) -> set[int]:
        """Weekdays on which the shop opens, Monday 0."""
        return set(range(7)) if self.shop.open == "always" else {day for day in range(7) if self.shop.open[day]}

    def open_years(self) -> list[bool]:
        """For each of the next three years, whether the shop opens on any day of it."""
        weekdays = self.shop_days()
        closed = [((first - self.day0).days, (last - self.day0).days) for first, last in self.shop.closed]
        return [
            any(
                (self.day0.weekday() + day) % 7 in weekdays and not any(first <= day <= last for first, last in closed)
                for day in range(year * 366, (year + 1) * 366)
            )
            for year in range(3)
        ]

    def at_work(self, worker: Worker) -> list[Stretch]:
        """A worker's unbroken times at work in the window, in minutes from its first midnight."""
        key = (worker.open, worker.closed)
        if key not in self._known:
            if worker.open is None or worker.open == "always":
                stretches = self._lay(self.shop.open, (*self.shop.closed, *worker.closed))
            else:
                stretches = _shared(self._lay(self.shop.open, self.shop.closed), self._lay(worker.open, worker.closed))
            self._known[key] = _joined(stretches)
        return self._known[key]

    def _lay(self, week: Any, closed: _Days) -> list[Stretch]:
        first, n_days = self.first_day
        off: set[int] = set()
        for start, end in closed:
            off.update(range(max(0, (start - first).days), min(n_days, (end - first).days + 1)))
        laid: list[Stretch] = []
        for day in range(n_days):
            if day in off:
                continue
            midnight = day * MINUTES_PER_DAY
            hours = ((0.0, MINUTES_PER_DAY),) if week == "always" else week[(first.weekday() + day) % 7]
            laid.extend((midnight + start, midnight + end) for start, end in hours)
        return laid

    def longest_together(self, workers: Sequence[Worker], hands: int) -> float:
        """The longest unbroken time, in minutes, in which ``hands`` of the workers are at work; inf if it never ends."""
        if hands <= 0:
            return math.inf
        times = [self.at_work(worker) for worker in workers]
        _, n_days = self.first_day
        if sum(1 for stretches in times if _is_endless(stretches, n_days)) >= hands:
            return math.inf
        longest = 0.0
        starts = sorted({start for stretches in times for start, _ in stretches})
        at = [0] * len(times)
        for start in starts:
            ends = []
            for number, stretches in enumerate(times):
                while at[number] < len(stretches) and stretches[at[number]][1] <= start:
                    at[number] += 1
                if at[number] < len(stretches) and stretches[at[number]][0] <= start:
                    ends.append(stretches[at[number]][1])
            if len(ends) >= hands:
                longest = max(longest, sorted(ends, reverse=True)[hands - 1] - start)
        return longest


def _is_endless(stretches: list[Stretch], n_days: int) -> bool:
    return len(stretches) == 1 and stretches[0] == (0.0, n_days * MINUTES_PER_DAY) and n_days == _FORTNIGHT


def _shared(a: list[Stretch], b: list[Stretch]) -> list[Stretch]:
    shared = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if start < end:
            shared.append((start, end))
        if a[i][1] <= b[j][1]:
            i += 1
        else:
            j += 1
    return shared


def _joined(stretches: list[Stretch]) -> list[Stretch]:
    joined: list[Stretch] = []
    for start, end in stretches:
        if joined and joined[-1][1] >= start:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined
