"""Opening hours laid out over days as stretches of working time; each run takes its interruptions and lost days out of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from shopsim.scenario.model import Shop
from shopsim.units import MINUTES_PER_DAY


class CalendarEnds(Exception):
    """Somebody asks for hours after the last day of the calendar; the floor turns it into an error of the run."""


class Calendar:
    """The stretches of one set of hours, laid out as far as somebody has asked.

    ``endless``: one stretch from minute 0 on, for a shop that never closes and has no
    luck with its days. Otherwise ``upto(n)`` gives arrays (start, end, day) of the
    stretches that begin before day ``n``, each within the day on which it begins
    but for hours that run past midnight.
    """

    def __init__(self, shop: Shop, worker: int | None, day0: dt.date, day_luck: bool) -> None:
        self.shop_open, self.shop_closed = shop.open, shop.closed
        hours = None if worker is None else shop.workers[worker].open
        self.own_open = "always" if hours is None else hours
        self.own_closed = () if worker is None else shop.workers[worker].closed
        self.day0 = day0
        self.endless = (
            self.shop_open == "always"
            and self.own_open == "always"
            and not self.shop_closed
            and not self.own_closed
            and not day_luck
        )
        self._days = 0
        self._laid = (np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.int64))

    def upto(self, n_days: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Arrays of start, end (minutes, float) and day (int) of every stretch that begins before day ``n_days``."""
        if n_days > self._days:
            if self.own_open == "always":  # the shop's hours, without those that begin on a day off of one's own
                shared = self._lay(self.shop_open, (*self.shop_closed, *self.own_closed), n_days)
            else:
                shop = self._lay(self.shop_open, self.shop_closed, n_days)
                shared = _overlap(shop, self._lay(self.own_open, self.own_closed, n_days))
            self._laid = (
                np.array([start for start, _, _ in shared], dtype=np.float64),
                np.array([end for _, end, _ in shared], dtype=np.float64),
                np.array([day for _, _, day in shared], dtype=np.int64),
            )
            self._days = n_days
        return self._laid

    def _lay(
        self, week: object, closed: Sequence[tuple[dt.date, dt.date]], n_days: int
    ) -> list[tuple[float, float, int]]:
        off = {
            day
            for first, last in closed
            for day in range(max(0, (first - self.day0).days), min(n_days, (last - self.day0).days + 1))
        }
        weekday = self.day0.weekday()
        pattern = (((0.0, MINUTES_PER_DAY),),) * 7 if week == "always" else week
        assert isinstance(pattern, tuple)
        laid = []
        for day in range(n_days):
            if day in off:
                continue
            midnight = day * MINUTES_PER_DAY
            for start, end in pattern[(weekday + day) % 7]:
                laid.append((midnight + start, midnight + end, day))
        return laid


def _overlap(a: list[tuple[float, float, int]], b: list[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """Times that lie in both lists; days are those of ``a``."""
    shared = []
    i = j = 0
    while i < len(a) and j < len(b):
        start, end = max(a[i][0], b[j][0]), min(a[i][1], b[j][1])
        if start < end:
            shared.append((start, end, a[i][2]))
        if a[i][1] <= b[j][1]:
            i += 1
        else:
            j += 1
    return shared
