"""Which alternative is best, and which cannot be told apart yet: paired comparisons on the same luck."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from shopsim.errors import InputError

#: Delivers replications ``first`` to ``last - 1`` of the alternatives numbered in the sequence:
#: float64, shape (last - first, alternatives asked for), a row a replication, smaller is better.
Deliver = Callable[[Sequence[int], int, int], np.ndarray]


def find_survivors(values: np.ndarray, confidence: float = 0.95) -> np.ndarray:
    """Which alternatives may yet be the best: bool, shape (k,). The best by mean is always among them.

    ``values``: shape (n replications, k alternatives), paired, smaller is better, n >= 2.
    Alternative i is kept if its mean is within t * sd(X_i - X_l) / sqrt(n) of every other's,
    with t at 1 - alpha / (k - 1) and n - 1 degrees of freedom: subset selection (Nelson,
    Swann, Goldsman & Song 2001), which contains the best with at least ``confidence``.
    """
    table = np.asarray(values, dtype=np.float64)
    n, k = table.shape
    if n < 2:
        raise InputError(f"{n} replications cannot tell alternatives apart · run at least 2")
    if k == 1:
        return np.ones(1, dtype=bool)
    reach = float(special.stdtrit(n - 1, 1 - (1 - confidence) / (k - 1))) / math.sqrt(n)
    means = table.mean(axis=0)
    spread = _spreads(table)
    excess = means[:, None] - means[None, :] - reach * spread
    return np.asarray((excess <= 1e-9 * (1 + np.abs(means[:, None]))).all(axis=1))


def _spreads(table: np.ndarray) -> np.ndarray:
    """Standard deviations of all paired differences, shape (k, k), n - 1 in the denominator."""
    k = table.shape[1]
    spread = np.zeros((k, k))
    for i in range(k):
        spread[i] = (table[:, [i]] - table).std(axis=0, ddof=1)
    return spread


@dataclass(frozen=True)
class Choice:
    """What a search for the best came to.

    ``survivors``: numbers of the alternatives that may yet be the best, the best by mean first;
    ``settled``: one is left, best or within the smallest difference that matters.
    ``values``: float64, shape (replications, k), NaN from where an alternative was dropped.
    ``replications``: of those that stayed; ``runs``: of all alternatives together.
    """

    survivors: tuple[int, ...]
    settled: bool
    values: np.ndarray
    replications: int
    runs: int


def choose_best(
    deliver: Deliver,
    k: int,
    *,
    delta: float = 0.25,
    alpha: float = 0.05,
    n0: int = 50,
    block: int = 25,
    most: int = 5000,
    should_stop: Callable[[], bool] | None = None,
) -> Choice:
    """Find the best of ``k`` alternatives, dropping those that are surely worse as soon as that shows.

    The procedure of Kim & Nelson (2001), which allows unequal variances and the same luck
    for all: the one left is the best, or within ``delta`` of it, with chance 1 - ``alpha``
    if the values are near normal. ``n0``: replications before anything is dropped;
    ``block``: added at a time (later dropping than one by one, never earlier);
    ``most``: when to end without one, with the set that ``find_survivors`` cannot tell apart.
    ``deliver`` is asked for rising, adjoining ranges of replications.
    """
    if k < 1 or n0 < 2 or block < 1 or delta <= 0 or most < n0 or not 0 < alpha < 1:
        raise InputError(
            f"no choice can be made with k={k}, n0={n0}, block={block}, delta={delta}, most={most}, alpha={alpha} "
            "· need k, block >= 1, n0 >= 2, delta > 0, most >= n0 and alpha between 0 and 1"
        )
    values = np.full((0, k), np.nan)
    left = list(range(k))
    runs = 0

    def extend(last: int) -> None:
        nonlocal values, runs
        first = values.shape[0]
        fresh = np.full((last - first, k), np.nan)
        fresh[:, left] = deliver(left, first, last)
        runs += (last - first) * len(left)
        values = np.concatenate((values, fresh))

    extend(n0)
    spread2 = _spreads(values) ** 2
    eta = 0.5 * ((2 * alpha / (k - 1)) ** (-2 / (n0 - 1)) - 1) if k > 1 else 0.0
    h2 = 2 * eta * (n0 - 1)
    while len(left) > 1:
        r = values.shape[0]
        means = values[:, left].mean(axis=0)
        slack = np.maximum(0.0, delta / (2 * r) * (h2 * spread2[np.ix_(left, left)] / delta**2 - r))
        stays = (means[:, None] <= means[None, :] + slack).all(axis=1)
        if not stays.all():
            if not stays.any():  # exact ties at the edge of rounding: keep the best by mean
                stays[int(np.argmin(means))] = True
            left = [number for number, stay in zip(left, stays.tolist(), strict=True) if stay]
            continue
        if not np.any(slack > 0):  # all means equal: any of them is the best
            break
        if r >= most or (should_stop is not None and should_stop()):
            break
        extend(min(r + block, most))
    means = values[:, left].mean(axis=0)
    settled = len(left) == 1
    if not settled:
        kept = find_survivors(values[:, left], 1 - alpha)
        left = [number for number, stay in zip(left, kept.tolist(), strict=True) if stay]
        means = values[:, left].mean(axis=0)
    order = np.argsort(means, kind="stable")
    return Choice(tuple(left[n] for n in order.tolist()), settled, values, values.shape[0], runs)
