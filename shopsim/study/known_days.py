"""The days of a run under way: as drawn, but for those of which its log tells."""

from __future__ import annotations

import numpy as np

from shopsim.engine.days import DayLuck
from shopsim.study.run_state import RunState
from shopsim.units import to_tick


class KnownDays:
    """Days as drawn, but for those of which the log tells: lost ones, what others had left, and those on which work was done."""

    def __init__(self, drawn: DayLuck, state: RunState) -> None:
        self._drawn, self._state = drawn, state

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        share, lost = (column.copy() for column in self._drawn.days(n_days))
        for day, left in self._state.shares.items():
            if day < n_days:
                share[day] = to_tick(max(left, 0.02))
        for days, is_lost in ((self._state.worked_days, False), (self._state.lost, True)):
            lost[[day for day in days if day < n_days]] = is_lost
        return share, lost
