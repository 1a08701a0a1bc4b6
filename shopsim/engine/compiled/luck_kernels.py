"""Luck drawn for many replications without the lock of Python: the arithmetic of ``keyed.py`` and ``task_times.py``, operation by operation.

Nothing here may be rounded otherwise than there, so each line does what one there does, in the same order. Logarithms and
what is like them stay with numpy and scipy.
"""

from __future__ import annotations

import numpy as np

from shopsim.engine.compiled.jit import compiled
from shopsim.units import TICK_MIN, TICKS_PER_MIN


@compiled
def fill_uniform(
    roots: np.ndarray, purpose_of: np.ndarray, key: np.ndarray, spread_key: np.ndarray, out: np.ndarray
) -> None:
    """``keyed.draw_for`` into ``out``, shape (replications, keys); ``roots``: a row a replication, a column a purpose."""
    first, second = np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB)
    for r in range(out.shape[0]):
        for n in range(key.size):
            x = roots[r, purpose_of[n]] + spread_key[n]
            x = (x ^ (x >> np.uint64(30))) * first
            x = (x ^ (x >> np.uint64(27))) * second
            x = (x ^ (x >> np.uint64(31))) + key[n]
            x = (x ^ (x >> np.uint64(30))) * first
            x = (x ^ (x >> np.uint64(27))) * second
            x = x ^ (x >> np.uint64(31))
            out[r, n] = (np.float64(x >> np.uint64(11)) + 0.5) * 2.0**-53


@compiled
def scores_to_logs(
    z: np.ndarray, z_shared: np.ndarray, shift: np.ndarray, shared: np.ndarray, noise: np.ndarray, error: np.ndarray,
    below: np.ndarray, above: np.ndarray, log_likely: np.ndarray, shifted: np.ndarray, logs: np.ndarray,
) -> None:  # fmt: skip
    """Of normal scores of units, in ``z``, those with the shared error, and in ``logs`` the logarithms of minutes; shapes (replications, cells)."""
    for r in range(z.shape[0]):
        for n in range(noise.size):
            score = z[r, n] * noise[n]
            score += error[n] * z_shared[r, shared[n]]
            z[r, n] = score
            by = below[n] if score < 0 else above[n]
            by *= score
            by += log_likely[n] + shifted[n] * shift[r]
            logs[r, n] = by


@compiled
def add_to_tasks(minutes: np.ndarray, place: np.ndarray, still: np.ndarray, out: np.ndarray) -> None:
    """What is drawn for each place (kind of time and task) added to what never varies, shape (replications, places)."""
    for r in range(out.shape[0]):
        for k in range(still.size):
            out[r, k] = 0.0
        for n in range(place.size):
            out[r, place[n]] += minutes[r, n]
        for k in range(still.size):
            out[r, k] = still[k] + out[r, k]


@compiled
def to_ticks(minutes: np.ndarray) -> None:
    """Minutes, of any number of replications in a row, onto the time grid."""
    for n in range(minutes.size):
        minutes[n] = np.rint(minutes[n] * TICKS_PER_MIN) * TICK_MIN
