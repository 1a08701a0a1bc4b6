"""Batch sizes that are tried where none is named: today's, those that divide the run, and smaller ones."""

from __future__ import annotations

import math

from shopsim.scenario.batches import own_batches, pieces_of_lines
from shopsim.scenario.model import Scenario

#: Sizes that are always tried where the run has so many pieces.
ALWAYS = (5, 10, 20)
#: The most that are tried unasked; each costs as many runs as any other.
MAX_SIZES = 7


def usual_sizes(scenario: Scenario) -> tuple[int, ...]:
    """Pieces in a batch, rising, at most seven: today's largest, 5, 10 and 20, one batch of all, and what lies far from these.

    The others are sizes that divide the largest line of the run, and half of today's where none but 1 is smaller
    than it: of those, again and again, the one that is farthest in proportion from those that are chosen.
    """
    most, today = max(pieces_of_lines(scenario)), max(own_batches(scenario))
    chosen = {today, most, *(size for size in ALWAYS if size <= most)}
    others = {size for size in range(1, most + 1) if most % size == 0}
    if not any(1 < size < today for size in others):
        others.add(-(-today // 2))
    while len(chosen) < MAX_SIZES and others - chosen:
        chosen.add(max(sorted(others - chosen), key=lambda size: min(abs(math.log(size / one)) for one in chosen)))
    return tuple(sorted(chosen))
