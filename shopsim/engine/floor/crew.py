"""The crew: who is at work, who has a hand free, and who would do what."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.engine.days import DayLuck
from shopsim.engine.floor.layout import FloorOperation, Layout
from shopsim.engine.hours import Hours, SharedHours
from shopsim.engine.plan import SimulationPlan


class Crew:
    """The people of the shop; sets of them are numbers with a bit a worker.

    ``free``: those with nothing in hand, at home or not. ``here``: those at work. ``available``: both, as it was
    when the dispatcher began to choose, less those it has given something to do. ``next_coming``: when somebody
    who is away comes next. ``closing_refused``: somebody was passed over because work would not fit before closing.
    """

    __slots__ = (
        "_here_if", "_here_until", "_together", "_worker_calendar", "all_leave_at_once", "available", "closing_refused",
        "free", "here", "hours", "next_coming",
    )  # fmt: skip

    def __init__(self, plan: SimulationPlan, layout: Layout, days: DayLuck | None) -> None:
        self.hours = [Hours(calendar, days) for calendar in plan.calendars]
        self._worker_calendar = layout.worker_calendar
        self._here_if = [
            sum(1 << worker for worker, calendar in enumerate(layout.worker_calendar) if calendar == n)
            for n in range(len(self.hours))
        ]
        self._together: dict[tuple[int, ...], SharedHours] = {}
        self.all_leave_at_once = len(self.hours) == 1  # and come at once: then everybody goes on with what they began
        self.free = (1 << len(layout.worker_calendar)) - 1
        self.available = self.here = 0
        self._here_until = self.next_coming = -1.0
        self.closing_refused = False

    def muster(self, now: float) -> None:
        """See who can be given something to do at this moment."""
        if now >= self._here_until:
            self._look_around(now)
        self.available = self.free & self.here
        self.closing_refused = False

    def _look_around(self, now: float) -> None:
        """Who is at work, until when that stays so, and when somebody comes next."""
        here = 0
        until = coming = math.inf
        for members, curve in zip(self._here_if, self.hours, strict=True):
            if curve.seek(now):
                here |= members
                until = min(until, curve.end[curve.cursor])
            else:
                coming = min(coming, curve.start[curve.cursor])
        self.here, self.next_coming, self._here_until = here, coming, min(until, coming)

    def choose(self, operation: FloorOperation, likely_min: float, now: float) -> int:
        """Who would do a task, the one with the fewest skills first; 0 if too few are available.

        Of work that cannot be left half done, only who is likely to finish it before closing.
        """
        available, wanted = self.available, operation.hands
        chosen = 0
        for worker in operation.workers:
            if available >> worker & 1:
                if not operation.pausable and not self.hours_of(worker).fits(now, likely_min):
                    self.closing_refused = True
                    continue
                chosen |= 1 << worker
                wanted -= 1
                if not wanted:
                    return chosen
        return 0

    def choose_successors(self, wanted: int, able: Sequence[int], began: int, last: int) -> int:
        """Who goes on with broken-off work: who began it, who had it last, then as always; 0 if too few."""
        chosen = 0
        for some in (began, last, -1):
            for worker in able:
                if self.available & some & ~chosen & 1 << worker:
                    chosen |= 1 << worker
                    wanted -= 1
                    if not wanted:
                        return chosen
        return 0

    def put_to_work(self, workers: int) -> None:
        """They have something in hand from now on."""
        self.free &= ~workers
        self.available &= ~workers

    def let_go(self, workers: int) -> None:
        """Their hands are free again."""
        self.free |= workers

    def hours_of(self, worker: int) -> Hours:
        """The hours of one worker."""
        return self.hours[self._worker_calendar[worker]]

    def hours_together(self, workers: int, now: float) -> Hours:
        """The times at which all of these are at work, at the slowest of their paces."""
        kinds = tuple(n for n, members in enumerate(self._here_if) if workers & members)
        if len(kinds) == 1:
            return self.hours[kinds[0]]
        if kinds not in self._together:
            self._together[kinds] = SharedHours([self.hours[kind] for kind in kinds])
        shared = self._together[kinds]
        shared.seek(now)
        return shared

    def pace_of(self, workers: int) -> tuple[float, float]:
        """(the slowest pace of these workers, who are at work; until when it stays so)."""
        if not workers & (workers - 1):  # one alone
            curve = self.hours[self._worker_calendar[workers.bit_length() - 1]]
            return curve.rate[curve.cursor], curve.end[curve.cursor]
        curves = [curve for members, curve in zip(self._here_if, self.hours, strict=True) if workers & members]
        return min([curve.rate[curve.cursor] for curve in curves]), min([curve.end[curve.cursor] for curve in curves])

    def next_at_work(self, moment: float) -> float:
        """This moment if somebody is at work then, else when the next one comes."""
        return min([curve.next_at_work(moment) for curve in self.hours])

    def next_opening(self, now: float) -> float:
        """When somebody comes next; those count too who are here, if their closing was in the way."""
        when = self.next_coming
        if self.closing_refused:
            when = min(when, *(curve.next_start(now) for curve in self.hours if curve.start[curve.cursor] <= now))
        return when
