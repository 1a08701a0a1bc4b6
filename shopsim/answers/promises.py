"""Dates to promise, from the days of many runs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopsim.study.intervals import common_rank, lower_quantile, quantile, quantile_interval_ranks


@dataclass(frozen=True)
class Promise:
    """Whole days for a column of outcomes: a window, a promise, and how often each is kept."""

    first: int
    last: int
    inside: float
    day: int
    chance: float
    day_low: int
    day_high: int


def find_promise(days: np.ndarray, confidence: float) -> Promise:
    """The window and the date to promise from the days of one order, int64, shape (replications,).

    Window: from the (1 - confidence) / 2 to the (1 + confidence) / 2 quantile, rounded outward;
    ``inside``: the share of replications in it. ``day``: the order statistic at rank
    ceil((n + 1) confidence); ``chance``: the share of replications at or before it, never less
    than asked. ``day_low``, ``day_high``: its 95 % order-statistic interval.
    """
    outside = (1 - confidence) / 2
    first, last = int(lower_quantile(days, outside)), int(quantile(days, 1 - outside))
    day = int(quantile(days, confidence))
    ordered = np.sort(days)
    low, high = quantile_interval_ranks(ordered.size, confidence)
    return Promise(
        first,
        last,
        float(np.mean((days >= first) & (days <= last))),
        day,
        float(np.mean(days <= day)),
        int(ordered[max(low, 1) - 1]),
        int(ordered[min(high, ordered.size) - 1]),
    )


def find_joint_days(days: np.ndarray, confidence: float) -> tuple[np.ndarray, float]:
    """(a day for each order, share of replications in which all are kept) with one level for all orders.

    ``days``: int64, shape (replications, orders). Every order gets the same rank of its own
    column; the share is at least ``confidence`` (see ``common_rank``).
    """
    joint = np.sort(days, axis=0)[common_rank(days, confidence) - 1]
    return joint, float(np.mean((days <= joint).all(axis=1)))
