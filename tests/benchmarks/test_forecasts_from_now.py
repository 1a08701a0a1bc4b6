"""Forecasts from now hold in shops that no forecast has seen, and narrow as the run goes on: a smaller edition of bench_from_now.py."""

from __future__ import annotations

import numpy as np
import pytest
from judging_from_now import FIELDS, judge
from scipy import stats

SHOPS, REPLICATIONS = 60, 29


@pytest.mark.slow
def test_windows_from_now_hold_as_often_as_stated_in_60_true_shops_and_narrow() -> None:
    found = np.array([judge(True, 7_000_000 + n, REPLICATIONS, (0.25, 0.75)) for n in range(SHOPS)])
    assert found.shape == (SHOPS, 2, len(FIELDS))
    for stop in (0, 1):
        places = found[:, stop, FIELDS.index("random place")]
        inside = int((np.abs(places[~np.isnan(places)] - 0.5) <= 0.4).sum())
        n = int((~np.isnan(places)).sum())
        assert stats.binom.ppf(0.001, n, 0.8) <= inside <= stats.binom.ppf(0.999, n, 0.8), (stop, inside, n)
    widths = np.nanmean(found[:, :, FIELDS.index("width 80")], axis=0)
    assert widths[1] < 0.6 * widths[0]
