"""A whole number that changes at instants, such as clamps that are free, and how many spans of time cover a moment."""

from __future__ import annotations

import numpy as np


class StepFunction:
    """A whole number that changes at instants: ``initial`` before the first of them."""

    def __init__(self, moments: np.ndarray, changes: np.ndarray, initial: int = 0) -> None:
        order = np.argsort(moments, kind="stable")
        times, place = np.unique(np.asarray(moments, dtype=np.float64)[order], return_inverse=True)
        steps = np.bincount(place, weights=np.asarray(changes, dtype=np.float64)[order], minlength=times.size)
        self.times = times
        self.values = initial + np.cumsum(np.rint(steps).astype(np.int64))
        self.initial = initial

    def at(self, moments: np.ndarray) -> np.ndarray:
        """The level just after each moment, same shape."""
        place = np.searchsorted(self.times, moments, side="right") - 1
        if not self.times.size:
            return np.full(np.shape(moments), self.initial)
        return np.where(place >= 0, self.values[np.maximum(place, 0)], self.initial)

    @property
    def lowest(self) -> int:
        """The least it ever is."""
        return int(min(self.initial, self.values.min(initial=self.initial)))

    @property
    def highest(self) -> int:
        """The most it ever is."""
        return int(max(self.initial, self.values.max(initial=self.initial)))


def count_spans(since: np.ndarray, until: np.ndarray, weight: np.ndarray | int = 1, initial: int = 0) -> StepFunction:
    """How many spans [since, until) cover a moment, each counting ``weight``."""
    weights = np.broadcast_to(np.asarray(weight), np.shape(since))
    return StepFunction(np.concatenate((since, until)), np.concatenate((weights, -weights)), initial)
