"""Who is at work over time without any luck, for bounds: how many of some workers, and how long until so much can be done.

At likely times every open day has one pace, so minutes of work are clock minutes at work over that pace.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence

Spans = Sequence[tuple[float, float]]


class Presence:
    """How many of several people are at work at each moment; ``at_most``: more than so many do not count.

    Known up to the end of the spans: what would take longer is said to end there, which is never too late.
    """

    def __init__(self, spans_of_each: Iterable[Spans], at_most: float = math.inf) -> None:
        change: dict[float, int] = {}
        for spans in spans_of_each:
            for since, until in spans:
                change[since] = change.get(since, 0) + 1
                change[until] = change.get(until, 0) - 1
        self._since, self._until, self._level, self._before = [], [], [], []
        level, total, last = 0, 0.0, 0.0
        for moment in sorted(change):
            if level > 0 and moment > last:
                counted = min(float(level), at_most)
                self._since.append(last)
                self._until.append(moment)
                self._level.append(counted)
                self._before.append(total)
                total += (moment - last) * counted
            level, last = level + change[moment], moment
        self.end = self._until[-1] if self._until else 0.0

    def next(self, moment: float) -> float:
        """The first moment from this one on at which anybody is at work."""
        n = bisect_right(self._until, moment)
        return max(moment, self._since[n]) if n < len(self._until) else max(moment, self.end)

    def after(self, moment: float, minutes: float) -> float:
        """When so many minutes of people have passed since a moment, at the earliest; 0 minutes are over at once."""
        if minutes <= 0.0:
            return moment
        n = bisect_right(self._until, moment)
        if n == len(self._until):
            return max(moment, self.end)
        total = self._before[n] + max(0.0, moment - self._since[n]) * self._level[n] + minutes
        n = max(n, bisect_left(self._before, total, n + 1) - 1)
        return min(self._until[n], self._since[n] + (total - self._before[n]) / self._level[n])

    def after_gaps(self, moment: float, minutes: float, most: float) -> float:
        """When so many clock minutes have passed since a moment, of which each time without anybody counts for ``most`` at the most."""
        n = bisect_right(self._until, moment)
        if n == len(self._until):
            return max(moment, self.end)
        moment = max(moment, self._since[n])
        while minutes > self._until[n] - moment:
            minutes -= self._until[n] - moment
            if n + 1 == len(self._until):
                return self.end
            minutes -= min(self._since[n + 1] - self._until[n], most)
            if minutes <= 0:
                return self._until[n]
            n, moment = n + 1, self._since[n + 1]
        return moment + max(0.0, minutes)

    def fits(self, moment: float, minutes: float) -> float:
        """The first moment from this one on from which so many clock minutes pass before the stretch ends; its end if none."""
        n = bisect_right(self._until, moment)
        while n < len(self._until):
            last = n
            while last + 1 < len(self._until) and self._since[last + 1] == self._until[last]:
                last += 1
            begin = max(moment, self._since[n])
            if begin + minutes <= self._until[last]:
                return begin
            n = last + 1
        return max(moment, self.end)
