"""Windows set by what became of earlier promises: the level asked for is mapped to the one that has held so often."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shopsim.say import say_chance, say_level
from shopsim.scenario.model import Learned

#: Shipped orders from which on forecasts are recalibrated.
MIN_ORDERS = 8
#: Runs from which on recalibration may also narrow; before, shipped orders share the luck of few runs.
MIN_RUNS = 8


@dataclass(frozen=True)
class Recalibration:
    """What shipped orders say of the forecasts made of them.

    ``pits``: sorted, for each shipped order the share of its forecast before the day it shipped,
    float64, shape (orders,). ``runs``: how many runs they were of.
    """

    pits: np.ndarray
    runs: int

    def upper(self, level: float) -> float:
        """The level of the forecast that a new order stays at or below with chance ``level``.

        The k-th smallest of n earlier values, k = ceil((n + 1) level), is not passed by the next with
        chance k / (n + 1), if they are exchangeable (split conformal prediction: Vovk, Gammerman &
        Shafer 2005). Where k is over n, earlier orders cannot tell so high a level: the
        forecast's own then stands, or the worst seen if that was worse. Orders of one run share its
        luck, so that below MIN_RUNS runs the level is never lowered (own caution).
        """
        n = self.pits.size
        rank = math.ceil(round((n + 1) * level, 9))
        if rank > n:
            return max(level, float(self.pits[-1]))
        held = float(self.pits[rank - 1])
        return held if self.runs >= MIN_RUNS else max(level, held)

    def lower(self, level: float) -> float:
        """The level that a new order stays at or above with chance ``1 - level``; see ``upper``."""
        n = self.pits.size
        rank = math.floor(round((n + 1) * level, 9))
        if rank < 1:
            return min(level, float(self.pits[0]))
        held = float(self.pits[rank - 1])
        return held if self.runs >= MIN_RUNS else min(level, held)

    def say(self, confidence: float) -> str:
        """What is done and why, for the notes of an answer."""
        used = self.upper(confidence)
        text = (
            f"Recalibrated on {self.pits.size} shipped orders of {self.runs} {'run' if self.runs == 1 else 'runs'}: "
            f"to be kept with {say_level(confidence)}, a date is read where {say_chance(used)} of the replications "
            "are at or before it."
        )
        if self.runs < MIN_RUNS:
            text += (
                f" Orders of one run share its luck, so with fewer than {MIN_RUNS} runs this only ever widens a window."
            )
        return text


def find_recalibration(learned: Learned) -> Recalibration | None:
    """The recalibration that a scenario's shipped orders support; None below MIN_ORDERS of them."""
    if len(learned.delivered) < MIN_ORDERS:
        return None
    pits = np.sort(np.array([order.pit for order in learned.delivered]))
    return Recalibration(pits, len({order.run for order in learned.delivered}))
