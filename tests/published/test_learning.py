"""The learning curve: unit n takes n^(log2 r) times the first (Crawford's unit curve).

The program knows the unit curve alone; Wright's cumulative averages (1936, Journal of the Aeronautical Sciences 3:122-128)
are another curve, on which the second unit at 80 % takes .60 of the first.
"""

from __future__ import annotations

import numpy as np
import pytest

from shopsim import parse_scenario, run_once

#: Heizer & Render, Operations Management, learning curve table (from memory), to the printed digits.
UNITS = (1, 2, 4, 5, 10, 20)
UNIT_TIMES = {
    "80 %": (1.0, 0.8, 0.64, 0.5956, 0.4765, 0.3812),
    "90 %": (1.0, 0.9, 0.81, 0.7830, 0.7047, 0.6342),
    "95 %": (1.0, 0.95, 0.9025, 0.8877, 0.8433, 0.8012),
}
TOTAL_TIMES = {
    "80 %": (1.0, 1.8, 3.1421, 3.7377, 6.3154, 10.4849),
    "90 %": (1.0, 1.9, 3.5562, 4.3392, 7.9945, 14.6078),
    "95 %": (1.0, 1.95, 3.7744, 4.6621, 8.9545, 17.1302),
}
#: Half a unit of the last printed digit, and a little for the binary fraction.
HALF_A_DIGIT = 0.5e-4 + 1e-9


def run_units(
    learning: str, orders: int, first: str, *, parts: str = "", rest: str = "", batch: int = 1000
) -> np.ndarray:
    """Hands-on minutes of each task in order, in a shop that never closes."""
    run = run_once(
        parse_scenario(
            f"""
            [shop]
            open = "always"
            [design]
            name = "tray"
            parts = {{ {parts} }}
            operations = [{{ name = "shape", work = "{first}", learning = "{learning}"{rest} }}]
            [run]
            start = 2027-01-04
            orders = {orders}
            batch = {batch}
            pieces_open = 1
            """
        )
    )
    assert run.check() == []
    minutes = run.tasks["work_min"].to_numpy()
    assert run.pieces["done"].max() - run.pieces["opened"].min() == np.timedelta64(round(minutes.sum() * 60), "s")
    return np.asarray(minutes)


@pytest.mark.parametrize("learning", UNIT_TIMES)
def test_a_unit_takes_its_share_of_the_first(learning: str) -> None:
    minutes = run_units(learning, 20, "1000 min")
    factors = minutes[[unit - 1 for unit in UNITS]] / 1000
    assert factors == pytest.approx(UNIT_TIMES[learning], abs=HALF_A_DIGIT)


@pytest.mark.parametrize("learning", TOTAL_TIMES)
def test_units_add_up_to_the_printed_totals(learning: str) -> None:
    totals = np.cumsum(run_units(learning, 20, "1000 min")) / 1000
    assert totals[[unit - 1 for unit in UNITS]] == pytest.approx(TOTAL_TIMES[learning], abs=HALF_A_DIGIT)


def test_125_units_from_100_hours_at_85_per_cent_take_5201_hours() -> None:
    # 5201.085: documentation of an open R library for learning curves, exact function.
    assert run_units("85 %", 125, "100 h").sum() / 60 == pytest.approx(5201.085, abs=0.5e-3)


def test_the_curve_is_crawfords_and_not_wrights() -> None:
    first, second = run_units("80 %", 2, "100 min")
    assert (first, second) == pytest.approx((100.0, 80.0), abs=1e-6)  # Wright: 60


def test_batches_and_handfuls_do_not_start_the_curve_again() -> None:
    # Units 1 to 20 whether they come as 20 pieces, as 4 batches of 5, or as the 4 legs of 5 pieces, two at a time.
    one_by_one = run_units("80 %", 20, "1000 min")
    assert run_units("80 %", 20, "1000 min", batch=5).tolist() == one_by_one.tolist()
    in_pairs = run_units("80 %", 5, "1000 min", parts='"leg" = 4', rest=', per = "leg", handful = 2')
    assert in_pairs == pytest.approx(one_by_one.reshape(10, 2).sum(axis=1), rel=1e-6)
