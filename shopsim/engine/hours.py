"""Working time against clock time: one piecewise-linear curve for each set of hours.

A *stretch* is a time in which somebody is at work without a break. The calendar of
stretches follows from the scenario alone; a replication's luck then takes out lost
days and slows down interrupted ones. Everything is in minutes from midnight of the
scenario's first day, and pure.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

import numpy as np

from shopsim.engine.calendars import Calendar, CalendarEnds
from shopsim.engine.days import DayLuck
from shopsim.units import MINUTES_PER_DAY, TICK_MIN, to_tick

#: Added and taken off again, it leaves minutes on the time grid, the even one of two equally near: at its
#: size the floating numbers lie as far apart as the ticks do. For moments up to 4,000 years.
ON_GRID = 1.5 * 2.0**52 * TICK_MIN
#: Days of calendar laid out at first; more are added when a run needs them.
FIRST_DAYS = 128
#: The calendar ends after so many days (22 years), and nothing is known of what comes then.
LAST_DAYS = 64 * FIRST_DAYS


class Hours:
    """One replication's curve of working time for one set of hours.

    ``start``, ``end``: moments, rising. ``rate``: working minutes in a clock minute.
    ``worked_before``: working minutes before each start. ``closes_at``: when the unbroken stretch
    that holds it ends. ``cursor``: the first piece of the curve whose end lies after the
    last moment asked about; it only moves forward.
    """

    __slots__ = ("_calendar", "_day_luck", "_days", "closes_at", "cursor", "end", "rate", "start", "worked_before")
    start: list[float]
    end: list[float]
    rate: list[float]
    worked_before: list[float]
    closes_at: list[float]

    def __init__(self, calendar: Calendar, day_luck: DayLuck | None) -> None:
        self._calendar = calendar
        self._day_luck = day_luck
        self._days = 0
        self.cursor = 0
        if calendar.endless:
            self.start, self.end, self.rate = [0.0], [math.inf], [1.0]
            self.worked_before, self.closes_at = [0.0], [math.inf]
        else:
            self.extend(FIRST_DAYS)

    def extend(self, n_days: int) -> None:
        """Lay out the first ``n_days`` days; what was laid out before does not change."""
        assert not self._calendar.endless
        start, end, day = self._calendar.upto(n_days)
        if day.size and day[-1] >= n_days:  # the calendar may know more than is asked for
            keep = int(np.searchsorted(day, n_days))
            start, end, day = start[:keep], end[:keep], day[:keep]
        rate = np.ones(start.size)
        if self._day_luck is not None:
            share, lost = self._day_luck.days(n_days)
            there = ~lost[day]
            start, end, rate = start[there], end[there], share[day[there]]
        worked = (end - start) * rate
        done = np.concatenate(([0.0], np.cumsum(worked)[:-1])) if start.size else np.zeros(0)
        close = end.copy()
        for n in np.flatnonzero(start[1:] == end[:-1])[::-1] if start.size else ():
            close[n] = close[n + 1]
        self._days = n_days
        self.start, self.end, self.rate = start.tolist(), end.tolist(), rate.tolist()
        self.worked_before, self.closes_at = done.tolist(), close.tolist()

    def _grow(self) -> None:
        if self._days >= LAST_DAYS:
            raise CalendarEnds
        self.extend(self._days * 2)

    def seek(self, now: float) -> bool:
        """Move to ``now`` (never back) and say whether somebody with these hours is at work then."""
        at = self.cursor
        if at + 1 < len(self.end) and now < self.end[at]:
            return self.start[at] <= now
        while True:
            at, end = self.cursor, self.end
            size = len(end)
            while at < size and end[at] <= now:
                at += 1
            self.cursor = at
            # the last laid-out stretch may yet turn out to go on, so never stand in it
            if at + 1 < size or self._calendar.endless:
                return self.start[at] <= now
            self._grow()

    def next_start(self, now: float) -> float:
        """The first moment after ``now`` at which a stretch begins, inf if the calendar has none; call ``seek(now)`` first."""
        at = self.cursor
        if self.start[at] > now:
            return self.start[at]
        while True:
            close = self.closes_at[at]
            n = bisect_left(self.start, close, at + 1)
            if n < len(self.start):
                return self.start[n]
            if self._calendar.endless or self._days >= LAST_DAYS:
                return math.inf
            self._grow()

    def next_at_work(self, moment: float) -> float:
        """``moment`` itself if somebody is at work then, else the next start; any moment from the last ``seek`` on."""
        while True:
            n = bisect_right(self.end, moment)
            if n < len(self.end):
                return moment if self.start[n] <= moment else self.start[n]
            self._grow()

    def finish(self, now: float, work_min: float) -> float:
        """When work begun at ``now`` (at work then) is done if it pauses outside these hours."""
        at = self.cursor
        rate = self.rate[at]
        finish = now + work_min if rate == 1.0 else now + work_min / rate + ON_GRID - ON_GRID
        if finish <= self.end[at]:
            return finish
        total = self.worked_before[at] + (now - self.start[at]) * rate + work_min
        while self.worked_before[-1] + (self.end[-1] - self.start[-1]) * self.rate[-1] < total:
            self._grow()
        n = bisect_left(self.worked_before, total, at + 1) - 1
        return to_tick(self.start[n] + (total - self.worked_before[n]) / self.rate[n])

    def finish_late(self, now: float, work_min: float) -> float:
        """When work that is not left half done ends: past closing it goes on at the last pace."""
        at = self.cursor
        rate = self.rate[at]
        finish = now + work_min if rate == 1.0 else now + work_min / rate + ON_GRID - ON_GRID
        if finish <= self.end[at]:
            return finish
        total = self.worked_before[at] + (now - self.start[at]) * rate + work_min
        while self.worked_before[at] + (self.end[at] - self.start[at]) * self.rate[at] < total:
            if at + 1 == len(self.end):  # the last stretch laid out may go on
                self._grow()
            elif self.start[at + 1] == self.end[at]:
                at += 1
            else:
                break
        return to_tick(self.start[at] + (total - self.worked_before[at]) / self.rate[at])

    def is_past_closing(self, since: float, now: float) -> bool:
        """Whether the unbroken stretch that holds ``since`` (at work then) was over by ``now``; both before the last ``seek``, or then."""
        at = bisect_right(self.start, since) - 1
        return at >= 0 and self.closes_at[at] <= now

    def finish_past_closing(self, since: float, now: float, work_min: float) -> float:
        """When work ends of which so much is left at ``now``, at the last pace of the stretch that holds ``since``."""
        close = self.closes_at[bisect_right(self.start, since) - 1]
        return to_tick(now + work_min / self.rate[bisect_left(self.end, close)])

    def fits(self, now: float, minutes: float) -> bool:
        """Whether so many clock minutes from ``now`` (at work then) are over before this unbroken stretch ends."""
        while True:
            close = self.closes_at[self.cursor]
            if now + minutes <= close:
                return True
            if close < self.end[-1]:
                return False
            self._grow()  # the last stretch laid out may go on

    def left_at_close(self, now: float, work_min: float) -> float:
        """Minutes of work begun at ``now`` (at work then) that are left when this unbroken stretch ends, 0 if it is done by then."""
        while True:
            close = self.closes_at[self.cursor]
            if close == math.inf:  # whoever never leaves is done
                return 0.0
            left = to_tick(work_min - sum((end - start) * rate for start, end, rate in self.pieces(now, close)))
            if left <= 0.0:
                return 0.0
            if close < self.end[-1]:  # the last stretch laid out may go on
                return left
            self._grow()

    def pieces(self, since: float, until: float) -> list[tuple[float, float, float]]:
        """The at-work times (start, end, rate) between two moments, for the accounts."""
        found = []
        while not self._calendar.endless and self._days * MINUTES_PER_DAY < until:
            self._grow()
        for n in range(bisect_right(self.end, since), len(self.end)):
            if self.start[n] >= until:
                break
            found.append((max(since, self.start[n]), min(until, self.end[n]), self.rate[n]))
        return found


class SharedHours(Hours):
    """The times at which several workers are all at work, at the slowest of their paces."""

    __slots__ = ("_members",)

    def __init__(self, members: Sequence[Hours]) -> None:
        self._members = tuple(members)
        self._calendar = members[0]._calendar if all(m._calendar.endless for m in members) else _first_bounded(members)
        self._day_luck = None
        self._days = 0
        self.cursor = 0
        if self._calendar.endless:
            self.start, self.end, self.rate = [0.0], [math.inf], [1.0]
            self.worked_before, self.closes_at = [0.0], [math.inf]
        else:
            self.extend(FIRST_DAYS)

    def extend(self, n_days: int) -> None:
        """Lay out the first ``n_days`` days from the members' curves."""
        until = n_days * MINUTES_PER_DAY
        shared = self._members[0].pieces(0.0, until)
        for member in self._members[1:]:
            other = member.pieces(0.0, until)
            shared = _overlap_rates(shared, other)
        start = np.array([piece[0] for piece in shared])
        end = np.array([piece[1] for piece in shared])
        rate = np.array([piece[2] for piece in shared])
        done = np.concatenate(([0.0], np.cumsum((end - start) * rate)[:-1])) if start.size else np.zeros(0)
        close = end.copy()
        for n in np.flatnonzero(start[1:] == end[:-1])[::-1] if start.size else ():
            close[n] = close[n + 1]
        self._days = n_days
        self.start, self.end, self.rate = start.tolist(), end.tolist(), rate.tolist()
        self.worked_before, self.closes_at = done.tolist(), close.tolist()


def _first_bounded(members: Sequence[Hours]) -> Calendar:
    return next(member._calendar for member in members if not member._calendar.endless)


def _overlap_rates(
    a: list[tuple[float, float, float]], b: list[tuple[float, float, float]]
) -> list[tuple[float, float, float]]:
    shared = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if start < end:
            shared.append((start, end, min(a[i][2], b[j][2])))
        if a[i][1] <= b[j][1]:
            i += 1
        else:
            j += 1
    return shared
