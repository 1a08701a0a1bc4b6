"""Dates to promise, from the days of many runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopsim.study.intervals import common_rank, lower_quantile, quantile, quantile_interval_ranks
from shopsim.study.recalibration import Recalibration


@dataclass(frozen=True)
class Promise:
    """Whole days for a column of outcomes: a window, a promise, and how often each is kept.

    ``expected``: the day by which half of the outcomes are in.
    """

    first: int
    last: int
    inside: float
    day: int
    chance: float
    day_low: int | None
    day_high: int | None
    expected: int


def find_promise(
    days: np.ndarray,
    confidence: float,
    service_level: float | None = None,
    recalibration: Recalibration | None = None,
) -> Promise:
    """The window and the date to promise from the days of one order, int64, shape (replications,).

    Window: from the (1 - confidence) / 2 to the (1 + confidence) / 2 quantile, rounded outward;
    ``inside``: the share of replications in it. ``day``: the order statistic at rank
    ceil((n + 1) kept); ``chance``: the share of replications at or before it, never less
    than asked. ``day_low``, ``day_high``: its 95 % order-statistic interval, None on a side that so few replications do not
    bound. ``service_level``: default ``confidence``. ``recalibration``: what earlier orders say of the levels at which to read the days.
    """
    outside = (1 - confidence) / 2
    level = _level(days.shape[0], confidence if service_level is None else service_level, recalibration)
    first = int(lower_quantile(days, _low_level(days.shape[0], outside, recalibration)))
    last = int(quantile(days, _level(days.shape[0], 1 - outside, recalibration)))
    day = int(quantile(days, level))
    ordered = np.sort(days)
    low, high = quantile_interval_ranks(ordered.size, level)
    return Promise(
        first,
        last,
        float(np.mean((days >= first) & (days <= last))),
        day,
        float(np.mean(days <= day)),
        int(ordered[low - 1]) if low >= 1 else None,
        int(ordered[high - 1]) if high <= ordered.size else None,
        int(quantile(days, 0.5)),
    )


def find_joint_days(
    days: np.ndarray, confidence: float, recalibration: Recalibration | None = None
) -> tuple[np.ndarray, float]:
    """(a day for each order, share of replications in which all are kept) with one level for all orders.

    ``days``: int64, shape (replications, orders). Every order gets the same rank of its own
    column; the share is at least ``confidence`` (see ``common_rank``).
    """
    level = _level(days.shape[0], confidence, recalibration)
    joint = np.sort(days, axis=0)[common_rank(days, level) - 1]
    return joint, float(np.mean((days <= joint).all(axis=1)))


def _level(n: int, level: float, recalibration: Recalibration | None) -> float:
    """The level at which days are read to be at or before it with chance ``level``, within what n replications can tell."""
    return level if recalibration is None else max(min(recalibration.upper(level), n / (n + 1)), 1 / (n + 1))


def _low_level(n: int, level: float, recalibration: Recalibration | None) -> float:
    return level if recalibration is None else min(max(recalibration.lower(level), 1 / (n + 1)), n / (n + 1))
