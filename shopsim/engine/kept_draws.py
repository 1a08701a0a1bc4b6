"""Draws that plans share: days and materials come out alike whatever is made, so those drawn last are kept for the next plan."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable

import numpy as np


class KeptDraws:
    """The arrays that were drawn last, up to so many numbers in all. Threads may share it; an array is never changed.

    A key must say all that the array follows from. Arrays are not marked read-only: to numba that is another type, compiled anew.
    """

    def __init__(self, most: int) -> None:
        self._most, self._size = most, 0
        self._lock = threading.Lock()
        self._kept: OrderedDict[Hashable, np.ndarray] = OrderedDict()

    def get(self, key: Hashable, draw: Callable[[], np.ndarray]) -> np.ndarray:
        """The array that ``key`` stands for, drawn when it is not there."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
                return found
        drawn = draw()
        with self._lock:
            if key not in self._kept:
                self._kept[key] = drawn
                self._size += drawn.size
            while self._size > self._most:
                self._size -= self._kept.popitem(last=False)[1].size
        return drawn
