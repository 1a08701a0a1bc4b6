"""Operations whose logged times contradict their guess: rarely named where the beliefs are right, found where a slip is in the log."""

from __future__ import annotations

import numpy as np
import pytest

from shopsim.scenario.logs import read_times
from shopsim.study.beliefs import list_loggable
from shopsim.study.contradictions import flag_contradictions
from shopsim.study.taking_in import take_times

from .believed_shops import Shop, draw_shop, write_log

SHOPS, OPERATIONS, UNITS = 120, 8, 10


def flags_of(shop: Shop, minutes: np.ndarray) -> list[str]:
    scenario = shop.scenario()
    rows, faults = read_times(write_log(shop, minutes), "spring.csv", list_loggable(scenario))
    assert faults == []
    known = scenario.model_copy(update={"learned": take_times(scenario, rows, "spring.csv").learned})
    return flag_contradictions(known)


@pytest.mark.parametrize("lopsided", [False, True])
def test_in_the_believed_world_at_most_one_operation_in_twenty_is_said_to_contradict_its_guess(lopsided: bool) -> None:
    counts = []
    for seed in range(SHOPS):
        rng = np.random.default_rng([seed, lopsided])
        shop = draw_shop(rng, OPERATIONS, lopsided)
        counts.append(len(flags_of(shop, shop.minutes(rng, UNITS))) / OPERATIONS)
    # operations of one shop share its bias and pace, so that the shop is what is counted; 99 % interval
    middle, error = float(np.mean(counts)), float(np.std(counts, ddof=1)) / SHOPS**0.5
    assert middle + 2.58 * error < 0.05
    assert middle > 0.0  # it does find those that luck has put far out


def test_an_operation_logged_in_hours_among_others_in_minutes_is_said_to_contradict_its_guess() -> None:
    found = []
    for seed in range(40):
        rng = np.random.default_rng([seed, 77])
        shop = draw_shop(rng, OPERATIONS)
        minutes = shop.minutes(rng, UNITS)
        slipped = int(np.argmax([one.likely for one in shop.works]))
        minutes[slipped] /= 60
        found.append(any(flag.startswith(f'"step {slipped + 1}" contradicts') for flag in flags_of(shop, minutes)))
    assert np.mean(found) >= 0.95
