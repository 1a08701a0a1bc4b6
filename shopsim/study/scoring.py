"""How good a forecast was, once the day is known: losses that reward honesty, and whether chances held.

Losses are 0 at best and grow with the error; all are proper (Gneiting & Raftery 2007).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopsim.errors import InputError

#: Numbers, or an array of any shape.
Numbers = float | Sequence[float] | np.ndarray


def pinball_loss(actual: Numbers, quantile: Numbers, level: Numbers) -> np.ndarray:
    """The loss of a ``level`` quantile: (y - q)(level - [y < q]) (Koenker & Bassett 1978); arrays broadcast."""
    y, q, p = (np.asarray(value, dtype=np.float64) for value in (actual, quantile, level))
    return np.asarray((y - q) * (p - (y < q)))


def interval_score(actual: Numbers, low: Numbers, high: Numbers, confidence: float) -> np.ndarray:
    """Width of a central interval plus 2 / (1 - confidence) for each unit by which it is missed; arrays broadcast.

    Gneiting & Raftery (2007), eq. 43.
    """
    y, a, b = (np.asarray(value, dtype=np.float64) for value in (actual, low, high))
    return np.asarray(b - a + 2 / (1 - confidence) * (np.maximum(a - y, 0.0) + np.maximum(y - b, 0.0)))


def sample_crps(actual: float, sample: Numbers) -> float:
    """Continuous ranked probability score of a forecast given as a sample, shape (n,), n >= 1.

    mean |x - y| - sum_i (2 i - n - 1) x_(i) / n^2: that of the sample's own distribution (Gneiting & Raftery 2007, eq. 21).
    """
    x = np.sort(np.asarray(sample, dtype=np.float64))
    n = x.size
    if n == 0:
        raise InputError("a forecast of no values cannot be scored · take at least one replication")
    return float(np.abs(x - actual).mean() - ((2 * np.arange(1, n + 1) - n - 1) @ x) / n**2)


def find_pit(actual: float, sample: Numbers, u: float) -> float:
    """Where in a forecast what happened lies, from 0 (before all of it) to 1, drawn within ties by ``u`` in (0, 1).

    (values below + u (values equal + 1)) / (n + 1): uniform when forecast and truth are
    exchangeable, whole days or not (randomised probability integral transform: Czado,
    Gneiting & Held 2009, here for a sample).
    """
    x = np.asarray(sample, dtype=np.float64)
    return float((np.sum(x < actual) + u * (np.sum(x == actual) + 1)) / (x.size + 1))


def check_uniform(pits: Numbers) -> tuple[float, float]:
    """(largest distance, p-value) of the Kolmogorov-Smirnov test that independent values are uniform on 0 to 1."""
    from scipy import stats  # loads slowly, and only those who judge forecasts need it

    found = stats.kstest(np.asarray(pits, dtype=np.float64), "uniform")
    return float(found.statistic), float(found.pvalue)
