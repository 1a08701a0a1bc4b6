"""What is measured of a run, against schedules that can be worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run as run_engine
from shopsim.scenario import parse_scenario
from shopsim.study.measures import MEASURES, Measurer, RunMeasures

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'


@pytest.fixture
def measure(write_shop: Callable[..., str]) -> Callable[..., tuple[dict[str, float], RunMeasures]]:
    """Runs a few lines with likely times and hands back the measures by name, and all that was measured."""

    def run(operations: str, folder: Path | None = None, **lines: Any) -> tuple[dict[str, float], RunMeasures]:
        shop = CALM + lines.pop("shop", "")
        plan = build_plan(parse_scenario(write_shop(operations, shop=shop, **lines), folder=folder))
        draws = likely_luck(plan.luck)
        measured = Measurer(plan).measure(draws, run_engine(plan, draws))
        return dict(zip(MEASURES, measured.rows[0].tolist(), strict=True)), measured

    return run


def test_ship_days_count_from_the_day_orders_close(measure: Callable[..., Any]) -> None:
    # one piece takes half a day; orders close on Friday 8, work starts on Monday 11
    row, measured = measure('{ name = "make", work = "4 h" }', run="orders = 3\norders_close = 2027-01-08", open=DAILY)
    assert measured.order_days[0].tolist() == [3, 3, 4]
    assert (row["first_ship_day"], row["average_ship_day"], row["last_ship_day"]) == (3, pytest.approx(10 / 3), 4)
    assert row["average_lead_days"] == row["average_ship_day"]
    assert row["makespan_days"] == 1.5  # Tuesday noon, from Monday's midnight


def test_spare_pieces_go_to_nobody_but_count_as_work(measure: Callable[..., Any]) -> None:
    row, measured = measure('{ name = "make", work = "8 h" }', run="orders = 1\nround_up_to = 3", open=DAILY)
    assert measured.order_days[0].tolist() == [0]
    assert row["last_ship_day"] == 0
    assert row["makespan_days"] == pytest.approx(2 + 16 / 24)
    assert row["hands_on_h_a_piece"] == 8


def test_hours_of_people_are_counted_for_each_person(measure: Callable[..., Any]) -> None:
    row, _ = measure(
        '{ name = "lift", work = "1 h", setup = "30 min", hands = 2 },'
        '{ name = "dry by machine", work = "2 h", hands = 0 }',
        shop='[[shop.workers]]\nname = "maker"\n[[shop.workers]]\nname = "helper"\n',
        run="orders = 1",
        open=DAILY,
    )
    assert row["hands_on_h_a_piece"] == 3  # two people for an hour and a half
    assert row["setup_h"] == 1
    # both are at work from 8:00 to 11:30 and busy until 9:30
    assert row["idle_h"] == 4


def test_idle_hands_are_at_work_hours_with_nothing_in_hand(measure: Callable[..., Any]) -> None:
    # glue 8:00-9:00, cures until Tuesday 9:00, sand 9:00-10:00: Monday 9:00-16:00 and Tuesday 8:00-9:00 are idle
    row, _ = measure('{ name = "glue", work = "1 h", cure = "24 h" }, { name = "sand", work = "1 h" }', open=DAILY)
    assert row["idle_h"] == 8
    assert row["hands_on_h_a_piece"] == 2


def test_nobody_is_idle_while_the_work_goes_on(measure: Callable[..., Any]) -> None:
    row, _ = measure('{ name = "make", work = "5 h" }', run="orders = 7", open=DAILY)
    assert row["idle_h"] == 0


def test_work_for_two_that_was_broken_off_keeps_nobody_busy_meanwhile(measure: Callable[..., Any]) -> None:
    # The helper is there 10:00-12:00. Assembly of 3 h for two: Monday 10-12, Tuesday 10-11. Meanwhile the maker has
    # nothing: idle Monday 8-10 and 12-16, Tuesday 8-10; by Tuesday 11:00, the end, the helper was never idle.
    row, _ = measure(
        '{ name = "assemble", hands = 2, work = "3 h" }',
        shop='[[shop.workers]]\nname = "maker"\n[[shop.workers]]\nname = "helper"\nopen = { mon-sun = "10:00-12:00" }\n',
        open=DAILY,
    )
    assert row["makespan_days"] == pytest.approx(1 + 11 / 24)
    assert row["hands_on_h_a_piece"] == 6
    assert row["idle_h"] == 8


def test_staying_late_is_not_idleness(measure: Callable[..., Any]) -> None:
    # fits by its likely time, so it starts; nothing else is there to do
    row, _ = measure('{ name = "coat", work = "8 h", pausable = false }', run="orders = 2", open=DAILY)
    assert row["idle_h"] == 0


def test_time_to_take_clamps_off_is_hands_on(measure: Callable[..., Any]) -> None:
    clamps = '[[shop.clamps]]\nname = "bar clamp"\nreach = "24 in"\ncount = 4\n'
    row, measured = measure(
        '{ name = "glue", work = "1 h", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "2 h",'
        ' unclamp = "30 min" }',
        shop=clamps,
        run="orders = 2",
        open=DAILY,
    )
    # glue 8-9 and 9-10, off 11:00-11:30 and 12:00-12:30; idle 10-11 and 11:30-12
    assert row["hands_on_h_a_piece"] == 1.5
    assert row["idle_h"] == 1.5
    assert row["most_clamps"] == 4
    assert measured.clamp_peaks[0].tolist() == [4]


def test_a_clamp_that_comes_free_and_is_taken_at_once_is_one_clamp(measure: Callable[..., Any]) -> None:
    clamps = (
        '[[shop.clamps]]\nname = "bar clamp"\nreach = "24 in"\ncount = 9\n[[shop.clamps]]\nname = "strap"\ncount = 2\n'
    )
    row, measured = measure(
        '{ name = "glue", work = "1 h", clamps = [{ count = 2, reach = "20 in" }, { count = 1, kind = "strap" }] }',
        shop=clamps,
        run="orders = 3",
        open=DAILY,
    )
    assert measured.clamp_peaks[0].tolist() == [2, 1]
    assert row["most_clamps"] == 3


def test_a_shop_without_clamps_uses_none(measure: Callable[..., Any]) -> None:
    row, measured = measure('{ name = "make", work = "1 h" }', open=DAILY)
    assert row["most_clamps"] == 0
    assert measured.clamp_peaks[0].size == 0


def test_pieces_are_under_way_from_their_first_task_or_their_batches(measure: Callable[..., Any]) -> None:
    jig = '{ name = "jig", per = "run", work = "1 h" }'
    alone, _ = measure(f'{jig}, {{ name = "make", work = "1 h" }}', run="orders = 4", open=DAILY)
    assert alone["most_pieces"] == 1  # the jig begins no piece, and each piece is done before the next
    batch, _ = measure(
        '{ name = "choose", per = "batch", work = "1 h" }, { name = "make", work = "1 h" }',
        run="orders = 4\nbatch = 2\npieces_open = 2",
        open=DAILY,
    )
    assert batch["most_pieces"] == 2


def test_orders_of_a_file_are_served_by_date_and_ship_whole(measure: Callable[..., Any], tmp_path: Path) -> None:
    orders = "id,date,quantity\nlate,2027-01-06,1\nearly,2027-01-05,2\n"
    (tmp_path / "orders.csv").write_text(orders)
    row, measured = measure(
        '{ name = "make", work = "8 h" }',
        folder=tmp_path,
        run='orders = "orders.csv"\norders_close = 2027-01-10',
        open=DAILY,
    )
    # pieces ship on days 1, 2 and 3 after the close; the early order takes the first two
    assert measured.order_days[0].tolist() == [2, 3]
    assert row["first_ship_day"] == 2


def test_lead_time_counts_from_an_orders_own_day_when_made_as_ordered(
    measure: Callable[..., Any], tmp_path: Path
) -> None:
    (tmp_path / "orders.csv").write_text("id,date\na,2027-01-11\nb,2027-01-13\n")
    row, measured = measure(
        '{ name = "make", work = "8 h" }',
        folder=tmp_path,
        run='orders = "orders.csv"\nrelease = "as ordered"\nbatch = 1',
        open=DAILY,
    )
    assert measured.order_days[0].tolist() == [0, 2]
    assert row["average_ship_day"] == 1
    assert row["average_lead_days"] == 0


def test_a_row_has_a_finite_number_for_every_measure(measure: Callable[..., Any]) -> None:
    row, measured = measure('{ name = "make", work = "1 h" }', open='"always"')
    assert list(row) == list(MEASURES)
    assert np.isfinite(measured.rows).all()
    assert row["idle_h"] == 0
