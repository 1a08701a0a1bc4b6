"""Logs far from what is believed: an honest one in a hundred at most is questioned, slips are found and named."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pytest
from scipy import stats

from shopsim.scenario import Scenario
from shopsim.scenario.day_logs import read_days
from shopsim.scenario.logs import read_times
from shopsim.study.beliefs import list_loggable
from shopsim.study.day_doubts import doubt_days
from shopsim.study.doubts import doubt_times
from shopsim.study.row_doubts import Doubt
from shopsim.study.taking_in import take_times

from .believed_shops import Shop, draw_days, draw_shop, write_log

HONEST = 150


def doubts_of(shop: Shop, scenario: Scenario, minutes: np.ndarray, run: str = "spring") -> list[Doubt]:
    rows, faults = read_times(write_log(shop, minutes, run), f"{run}.csv", list_loggable(scenario))
    assert faults == []
    return doubt_times(scenario, rows, f"{run}.csv")


def most_of(found: int, of: int) -> float:
    """The share that is not exceeded with 97.5 % (Clopper and Pearson 1934)."""
    return float(stats.beta.ppf(0.975, found + 1, of - found))


def test_at_most_one_honest_log_in_a_hundred_is_questioned() -> None:
    questioned = shops = 0
    for lopsided in (False, True):
        for units in (1, 5):
            for seed in range(HONEST):
                rng = np.random.default_rng([seed, units, lopsided, 9])
                shop = draw_shop(rng, 8, lopsided)
                questioned += bool(doubts_of(shop, shop.scenario(), shop.minutes(rng, units)))
                shops += 1
    assert questioned / shops <= 0.01
    assert most_of(questioned, shops) < 0.02


def test_an_honest_log_of_a_second_run_is_hardly_ever_questioned() -> None:
    questioned = 0
    for seed in range(HONEST):
        rng = np.random.default_rng([seed, 31])
        shop = draw_shop(rng, 6)
        scenario = shop.scenario()
        first, _ = read_times(write_log(shop, shop.minutes(rng, 4)), "spring.csv", list_loggable(scenario))
        known = scenario.model_copy(update={"learned": take_times(scenario, first, "spring.csv").learned})
        questioned += bool(doubts_of(shop, known, shop.minutes(rng, 4), "autumn"))
    assert most_of(questioned, HONEST) < 0.05


def slip_all(factor: float) -> Callable[[np.ndarray, Shop], np.ndarray]:
    return lambda minutes, shop: minutes * factor


def slip_some(factor: float, places: slice) -> Callable[[np.ndarray, Shop], np.ndarray]:
    def slip(minutes: np.ndarray, shop: Shop) -> np.ndarray:
        minutes[places] *= factor
        return minutes

    return slip


def only(place: int, factor: float) -> Callable[[np.ndarray, Shop], np.ndarray]:
    def slip(minutes: np.ndarray, shop: Shop) -> np.ndarray:
        minutes[np.arange(len(shop.works)) != place] = np.nan
        return minutes * factor

    return slip


def swap_shortest_and_longest(minutes: np.ndarray, shop: Shop) -> np.ndarray:
    likely = [one.likely for one in shop.works]
    ends = [int(np.argmin(likely)), int(np.argmax(likely))]
    minutes[ends] = minutes[ends[::-1]]
    return minutes


def one_row(minutes: np.ndarray, shop: Shop) -> np.ndarray:
    minutes[3, 2] /= 60
    return minutes


@pytest.mark.parametrize(
    ("slip", "found_at_least", "word"),
    [
        (slip_all(1 / 60), 0.99, "in hours?"),
        (slip_all(60), 0.99, "in seconds?"),
        (slip_some(1 / 60, slice(3, 4)), 0.95, "in hours?"),
        (slip_some(60, slice(3, 4)), 0.95, "in seconds?"),
        (slip_some(1 / 60, slice(0, 4)), 0.95, "in hours?"),
        (only(2, 1 / 60), 0.95, "in hours?"),
        (one_row, 0.99, "in hours?"),
        (swap_shortest_and_longest, 0.90, "the other way round?"),
    ],
    ids=["all hours", "all seconds", "one hours", "one seconds", "half hours", "alone hours", "one row", "swapped"],
)
def test_slips_are_found_and_named(
    slip: Callable[[np.ndarray, Shop], np.ndarray], found_at_least: float, word: str
) -> None:
    found, named, n = 0, 0, 60
    for seed in range(n):
        rng = np.random.default_rng([seed, 4])
        shop = draw_shop(rng, 8)
        scenario = shop.scenario()
        written = write_log(shop, slip(shop.minutes(rng, 5), shop), "spring")
        rows, faults = read_times(written, "spring.csv", list_loggable(scenario))
        # more than a week of work for one unit is refused before it is ever held against a belief
        told = [fault.mend for fault in faults] or [doubt.slip for doubt in doubt_times(scenario, rows, "spring.csv")]
        found += bool(told)
        named += any(word in one for one in told)
    assert found / n >= found_at_least
    assert named >= 0.9 * found


def test_at_most_one_honest_log_of_days_in_a_hundred_is_questioned_and_slips_of_days_are_found() -> None:
    rng = np.random.default_rng(8)
    stated = {"": (0.0350, 0.10, 0.2542), 'interrupted = "5 / 10 / 25 %"\n': (0.05, 0.10, 0.25)}
    for more, interrupted in stated.items():
        scenario = draw_shop(rng, 2).scenario(more)
        questioned, reversed_shares, bad_days, n, slips = 0, 0, 0, 1500, 100

        def doubts_in(share: np.ndarray, lost: np.ndarray, scenario: Scenario = scenario) -> list[Doubt]:
            lines = ["date,open_share,lost"]
            for day, (left, gone) in enumerate(zip(share, lost, strict=True)):
                date = np.datetime64("2026-03-02") + day
                lines.append(f"{date},{'' if gone else f'{100 * left:.1f} %'},{'yes' if gone else 'no'}")
            rows, faults = read_days("\n".join(lines) + "\n", "days.csv", scenario.shop)
            assert faults == []
            return doubt_days(scenario, rows, "days.csv")

        for _ in range(n):
            questioned += bool(doubts_in(*draw_days(rng, 20, interrupted)))
        for _ in range(slips):
            share, lost = draw_days(rng, 20, interrupted)
            reversed_shares += any("that were lost?" in doubt.slip for doubt in doubts_in(1 - share, lost))
            longer, _ = draw_days(rng, 60, interrupted)
            bad = np.sort(longer)[:8] * 0.5  # a maker who writes down only days on which half was gone
            bad_days += any("bad days?" in doubt.slip for doubt in doubts_in(bad, np.arange(8) < 3))
        assert most_of(questioned, n) < 0.0125
        assert reversed_shares / slips > 0.95
        assert bad_days / slips >= 0.9


def test_a_doubt_says_where_how_far_and_what_to_look_at() -> None:
    rng = np.random.default_rng(2)
    shop = draw_shop(rng, 8)
    (doubt,) = doubts_of(shop, shop.scenario(), shop.minutes(rng, 5) / 60)
    log, found, slip = str(doubt).split(" · ")
    assert log == "spring.csv"
    ratio = float(found.split()[4])
    assert ratio == pytest.approx(1.2 / 60, rel=0.7)
    assert re.search(r"times the likely times of the file, where about 1\.[23] times is believed$", found)
    assert slip == "are they in hours? Write the unit, like 0.2 h, or call the column hours"
