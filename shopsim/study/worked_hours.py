"""How much of a stretch of the clock was hands-on work: what a log says between begun and done, less closed hours."""

from __future__ import annotations

from collections.abc import Mapping, Set
from itertools import pairwise

from shopsim.dates import day_number
from shopsim.engine.calendars import Calendar
from shopsim.scenario.model import Scenario


class WorkedHours:
    """The hours of each worker, with what the log says of the days; moments in minutes from midnight of day 0.

    ``lost``: days that were lost. ``shares``: of other days the share of the open hours that the shop had, where the log tells;
    ``typical``: what is taken for the others.
    """

    def __init__(self, scenario: Scenario, lost: Set[int], shares: Mapping[int, float], typical: float) -> None:
        self._scenario, self.lost, self.shares, self.typical = scenario, lost, shares, typical
        self._calendars: dict[int, Calendar] = {}

    def open_between(self, worker: int, since: float, until: float) -> list[tuple[float, float, int]]:
        """The opening hours (start, end, day) of a worker that meet a stretch, also those just before and after it."""
        if worker not in self._calendars:
            self._calendars[worker] = Calendar(self._scenario.shop, worker, self._scenario.day0, True)
        first, last = day_number(since) - 7, day_number(until) + 8
        laid = zip(*(column.tolist() for column in self._calendars[worker].upto(last)), strict=True)
        return [(start, end, day) for start, end, day in laid if day >= first]

    def worked(self, worker: int, since: float, until: float, whole: bool = False) -> float:
        """Hands-on minutes in a stretch: open minutes of days that were not lost, each at the share that the day had.

        Who begins early or stays late on that day has worked then too. ``whole``: interruptions are known to have been left out.
        """
        hours = self.open_between(worker, since, until)
        minutes = sum(
            (min(end, until) - max(start, since)) * self._share(day, whole)
            for start, end, day in hours
            if start < until and end > since and day not in self.lost
        )
        for (_, closes, _), (opens, _, _) in pairwise([(0.0, 0.0, 0), *hours, (float("inf"), 0.0, 0)]):
            inside = since >= closes and until <= opens
            if inside:  # all of it while closed
                minutes += (until - since) * self._share(day_number(since), whole)
            elif closes <= since < opens < until and day_number(since) == day_number(opens):  # early
                minutes += (opens - since) * self._share(day_number(since), whole)
            elif since < closes < until < opens and day_number(closes) == day_number(until):  # late
                minutes += (until - closes) * self._share(day_number(until), whole)
        return minutes

    def _share(self, day: int, whole: bool) -> float:
        return 1.0 if whole else self.shares.get(day, self.typical)
