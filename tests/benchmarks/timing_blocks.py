"""Timing by turns: blocks of work of two or more kinds, one after the other, and ratios with intervals from the pairs."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Sequence

import numpy as np

SEED = 20270111
#: Tells the time; processor time leaves out what else the machine is doing, but counts this process alone.
Clock = Callable[[], float]


def time_block(run: Callable[[int], None], first: int, n_runs: int, clock: Clock = time.process_time) -> float:
    """Seconds a run, over ``n_runs`` replications from ``first``; of the processor unless another clock is given."""
    gc.collect()
    since = clock()
    for replication in range(first, first + n_runs):
        run(replication)
    return (clock() - since) / n_runs


def time_by_turns(
    runs: Sequence[Callable[[int], None]], rounds: int, block_s: float, clock: Clock = time.process_time
) -> np.ndarray:
    """Seconds a run of each kind in each round, shape (rounds, kinds).

    A block lasts about ``block_s`` seconds, at least one run. All kinds have their turn in every round,
    forwards and backwards by turns, so that a machine that slows down slows all of them.
    """
    sizes = []
    for run in runs:  # once unmeasured, so that nothing is loaded or built while it is timed
        run(0)
        once = time_block(run, 0, 1, clock)
        sizes.append(max(1, round(block_s / once)))
    seconds = np.zeros((rounds, len(runs)))
    for number in range(rounds):
        places = range(len(runs)) if number % 2 == 0 else range(len(runs) - 1, -1, -1)
        for place in places:
            seconds[number, place] = time_block(runs[place], number * max(sizes), sizes[place], clock)
    return seconds


def resample_ratio(upper: np.ndarray, lower: np.ndarray, n_resamples: int = 10_000) -> tuple[float, float, float]:
    """Ratio of the mean times of paired blocks, and its 95 % interval over resampled pairs."""
    rng = np.random.default_rng(SEED)
    picks = rng.integers(0, len(upper), (n_resamples, len(upper)))
    ratios = upper[picks].mean(axis=1) / lower[picks].mean(axis=1)
    low, high = np.quantile(ratios, [0.025, 0.975])
    return float(upper.mean() / lower.mean()), float(low), float(high)
