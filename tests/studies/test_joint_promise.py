"""Dates that are to be kept together: what so few runs leave them short of, and that the answer says it."""

from __future__ import annotations

import numpy as np
import pytest

from shopsim import parse_scenario
from shopsim.answers.delivery import forecast_delivery
from shopsim.answers.delivery_words import ENOUGH_TOGETHER, FEW_TOGETHER
from shopsim.answers.promises import find_joint_days
from shopsim.answers.unlogged import find_largest_guess, say_unlogged
from shopsim.answers.what_moves import find_what_moves

TRAY = """
[shop]
open = {{ mon-sun = "08:00-16:00" }}
[design]
name = "tray"
operations = [{{ name = "saw", work = "20 / 30 / 40 min"{basis} }}, {{ name = "fold", work = "50 / 60 / 90 min" }}]
[run]
orders = {orders}
start = 2027-01-11
{more}"""


def tray(orders: int = 4, basis: str = "", more: str = "") -> str:
    return TRAY.format(orders=orders, basis=basis, more=more)


def shortfall(n: int, tries: int) -> float:
    """Kept less stated of the joint promise of 8 orders whose days share half of their variance, on ``tries`` sets of runs."""
    rng = np.random.default_rng(n)
    short = []
    for _ in range(tries):
        days = rng.standard_normal((n, 1)) + rng.standard_normal((n, 8))
        joint, stated = find_joint_days(days, 0.8)
        happened = rng.standard_normal((400, 1)) + rng.standard_normal((400, 8))
        short.append((happened <= joint).all(axis=1).mean() - stated)
    return float(np.mean(short))


def test_joint_dates_fall_short_of_what_is_stated_by_one_over_the_number_of_runs() -> None:
    few, many = shortfall(99, 600), shortfall(ENOUGH_TOGETHER, 300)
    assert -0.04 < few < -0.01
    assert -0.012 < many < 0.004


@pytest.mark.parametrize(("replications", "orders", "told"), [(99, 4, True), (99, 1, False), (400, 4, False)])
def test_few_runs_are_told_where_dates_are_promised_together(replications: int, orders: int, told: bool) -> None:
    answer = forecast_delivery(parse_scenario(tray(orders)), replications=replications)
    assert (FEW_TOGETHER in answer.notes) is told


def test_a_shop_that_has_timed_nothing_is_told_which_log_to_write_first() -> None:
    scenario = parse_scenario(tray())
    assert find_largest_guess(scenario) == "fold"
    note = forecast_delivery(scenario, replications=99).notes[0]
    assert note == say_unlogged(scenario)
    assert note.startswith("Nothing has been timed or logged yet")
    assert "72 to 80 %" in note
    assert note.endswith('What mends it first: time "fold", the largest guess, and log your days.')


def test_every_forecast_of_dates_says_so() -> None:
    note = say_unlogged(parse_scenario(tray()))
    assert note in forecast_delivery(parse_scenario(tray()), orders=[2, 3], replications=99).notes
    coming = parse_scenario(tray(more='demand = "2 / 3 / 5"\n'))
    assert note in forecast_delivery(coming, replications=200).notes


def test_what_moves_the_date_names_the_first_log_where_it_is_known() -> None:
    scenario = parse_scenario(tray(20))
    rows = find_what_moves(scenario, replications=300).rows
    first = rows[rows["time_first"] == 1]
    note = say_unlogged(scenario, rows)
    assert len(first) == 1
    assert f'time "{first["name"].iloc[0]}"' in note


@pytest.mark.parametrize(
    ("basis", "more"),
    [
        (', basis = "timed"', ""),
        ("", '[[learned.times]]\noperation = "saw"\nunits = 5\nmean = 0.1\nsquares = 0.2\n'),
        ("", "[[learned.days]]\ndays = 20\n"),
    ],
)
def test_once_something_is_timed_or_logged_it_is_silent(basis: str, more: str) -> None:
    scenario = parse_scenario(tray(basis=basis, more=more))
    assert say_unlogged(scenario) == ""
    assert not any("Nothing has been timed" in note for note in forecast_delivery(scenario, replications=99).notes)
