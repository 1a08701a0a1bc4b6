"""The days of a run under way: as drawn, but for those of which its log tells."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopsim.engine.days import DayLuck, DrawnDays, draw_days
from shopsim.engine.luck import LuckBlock
from shopsim.study.run_state import RunState
from shopsim.units import to_tick


class KnownDays:
    """Days as drawn, but for those of which the log tells: lost ones, what others had left, and those on which work was done."""

    def __init__(self, drawn: DayLuck, state: RunState) -> None:
        self._drawn, self._state = drawn, state

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        share, lost = (column.copy() for column in self._drawn.days(n_days))
        _put_known(self._state, share, lost)
        return share, lost


def open_shares_of(state: RunState, luck: LuckBlock) -> Callable[[int], np.ndarray] | None:
    """What is left of each of the first so many days for the shop, 0 for a lost one, in the runs of a block: ``KnownDays`` of all
    of them at once, shape (replications, days). None where every day counts whole."""
    drawn = [days for days in luck.days if isinstance(days, DrawnDays)]
    if len(drawn) < len(luck.days):
        return None

    def draw(n_days: int) -> np.ndarray:
        share, lost = draw_days(drawn[0].beliefs, drawn[0].seed, luck.numbers, n_days)
        _put_known(state, share, lost)
        share[lost] = 0.0
        return share

    return draw


def _put_known(state: RunState, share: np.ndarray, lost: np.ndarray) -> None:
    """What the log tells, in place of what was drawn; the last axis is the days."""
    n_days = share.shape[-1]
    for day, left in state.shares.items():
        if day < n_days:
            share[..., day] = to_tick(max(left, 0.02))
    for days, is_lost in ((state.worked_days, False), (state.lost, True)):
        lost[..., [day for day in days if day < n_days]] = is_lost
