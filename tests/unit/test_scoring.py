"""Scores of a forecast, against sums that fit in a comment."""

from __future__ import annotations

import numpy as np
import pytest

from shopsim.errors import InputError
from shopsim.study.scoring import check_uniform, find_pit, interval_score, pinball_loss, sample_crps


def test_a_promise_costs_more_on_the_side_that_its_level_rules_out() -> None:
    # At 90 %: 4 days later than promised cost 4 x 0.9 = 3.6; 4 days sooner 4 x 0.1 = 0.4; on the day nothing.
    assert pinball_loss([14.0, 6.0, 10.0], 10.0, 0.9).tolist() == pytest.approx([3.6, 0.4, 0.0])


def test_a_window_costs_its_width_and_ten_times_what_an_80_percent_one_misses_by() -> None:
    # Window 10 to 16: width 6. Hit: 6. Two days after its end, or before its beginning: 6 + 2 / 0.2 x 2 = 26.
    assert interval_score([12.0, 18.0, 8.0], 10.0, 16.0, 0.8).tolist() == pytest.approx([6.0, 26.0, 26.0])


def test_the_score_of_a_sample_is_its_distance_less_half_its_spread() -> None:
    # Sample 1, 3, 8; what came is 4. Mean distance (3 + 1 + 4) / 3 = 8/3. Pairs: |1-3| + |1-8| + |3-8| = 14, twice over
    # nine: 28/9, half of it 14/9. 8/3 - 14/9 = 10/9. One value alone: its distance.
    assert sample_crps(4.0, [8.0, 1.0, 3.0]) == pytest.approx(10 / 9)
    assert sample_crps(4.0, [1.0]) == 3.0


def test_a_forecast_of_no_values_cannot_be_scored() -> None:
    with pytest.raises(InputError, match="take at least one replication"):
        sample_crps(1.0, [])


def test_what_happened_lies_in_a_forecast_by_the_values_below_and_its_share_of_the_ties() -> None:
    # Four runs: 3, 5, 5, 9. Day 5: one below and half of (two equal + itself): (1 + 1.5) / 5 = 0.5. Day 1: half of its
    # own place, 0.5 / 5. Day 10: (4 + 0.5) / 5.
    assert [find_pit(day, [9.0, 5.0, 3.0, 5.0], 0.5) for day in (5.0, 1.0, 10.0)] == pytest.approx([0.5, 0.1, 0.9])


def test_chances_that_are_spread_evenly_pass_and_those_in_one_corner_do_not() -> None:
    # 0.05, 0.15 .. 0.95 are never further than 0.05 from even; all at 0.9 are 0.9 away from it.
    distance, p = check_uniform(np.arange(0.05, 1.0, 0.1))
    assert distance == pytest.approx(0.05)
    assert p > 0.99
    distance, p = check_uniform([0.9] * 10)
    assert distance == pytest.approx(0.9)
    assert p < 1e-6
