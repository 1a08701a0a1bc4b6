"""Before orders close: each number of orders, and how many can be taken to keep a date. Known by hand without luck."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shopsim.answers import forecast_delivery, order_counts
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, parse_scenario
from shopsim.study import run_study

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
#: One a day from Monday 2027-01-11 on, without luck and with.
ONE_A_DAY = '{ name = "make", work = "8 h" }'
VARIED = '{ name = "make", work = "3 / 5 / 12 h" }'


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(
        operations: str = ONE_A_DAY, run: str = "orders = 4", more: str = "", folder: Path | None = None
    ) -> Scenario:
        return parse_scenario(write_shop(operations, shop=CALM, run=run, more=more, open=DAILY), folder=folder)

    return make


def test_eighteen_orders_are_made_as_twenty_and_two_are_spare(build: Callable[..., Scenario]) -> None:
    scenario = build(run="orders = 18\nround_up_to = 4\nbatch = 5")
    rows = forecast_delivery(scenario, orders=[17, 18, 20, 21], replications=20).rows
    assert rows["pieces"].tolist() == [20, 20, 20, 24]
    assert rows["spare"].tolist() == [3, 2, 0, 3]
    # a batch opens when fewer than two are unfinished; the pieces come one a day all the same
    assert rows["promise"].tolist() == ["2027-01-27", "2027-01-28", "2027-01-30", "2027-01-31"]
    assert rows["expected"].tolist() == rows["promise"].tolist() == rows["all_kept"].tolist()
    whole = forecast_delivery(scenario, replications=20)
    assert len(whole.rows) == 18
    assert "2 pieces more are made and spare." in whole.sentence


@pytest.mark.parametrize(
    ("keep", "last"), [("2027-01-11", 1), ("2027-01-17", 7), ("2027-01-31", 21), ("2027-02-19", 40)]
)
def test_the_book_closes_at_the_number_counted_by_hand(build: Callable[..., Scenario], keep: str, last: int) -> None:
    day = dt.date.fromisoformat(keep)
    found = forecast_delivery(build(run="orders = 4\nbatch = 1"), ship_by=day, replications=20)
    assert [count for count, keeps in zip(found.rows["orders"], found.rows["keeps"], strict=True) if keeps][-1] == last
    word = "1 order (kept in 100 %)" if last == 1 else f"{last} orders (kept in 100 %)"
    assert f"To ship every order by {keep} in at least 90 % of runs, close the book at {word}" in found.sentence
    assert f"; with {last + 1} it would be 0 %." in found.sentence
    asked = forecast_delivery(
        build(run="orders = 4\nbatch = 1"), orders=range(1, last + 4), ship_by=day, replications=20
    )
    assert asked.rows["keeps"].tolist() == [True] * last + [False] * 3
    assert f"close the book at {word}; with {last + 1}" in asked.sentence


def test_rounding_counts_for_when_to_close_the_book(build: Callable[..., Scenario]) -> None:
    # made in fives that move together: a piece ships when its batch is done
    pack = ONE_A_DAY + ', { name = "pack", per = "batch", work = "0 min" }'
    scenario = build(pack, run="orders = 4\nround_up_to = 5\nbatch = 5\npieces_open = 5")
    # the first batch ends at closing on Friday 15 and is packed on the 16th, the second on the 21st
    assert forecast_delivery(scenario, ship_by=dt.date(2027, 1, 20), replications=20).rows["orders"].tolist() == [
        3,
        4,
        5,
        6,
        7,
    ]
    found = forecast_delivery(scenario, ship_by=dt.date(2027, 1, 21), replications=20)
    assert found.rows["keeps"].tolist() == [True] * 3 + [False] * 2
    assert found.rows["orders"].tolist() == [8, 9, 10, 11, 12]


def test_a_date_that_even_one_order_misses_is_told(build: Callable[..., Scenario]) -> None:
    found = forecast_delivery(build('{ name = "make", work = "20 h" }'), ship_by=dt.date(2027, 1, 12), replications=20)
    assert "Not even one order ships by 2027-01-12 in 90 % of runs: with 1 order it is 0 %." in found.sentence
    asked = forecast_delivery(build(), orders=[5, 6], ship_by=dt.date(2027, 1, 12), replications=20)
    assert "None of these numbers of orders all ship by 2027-01-12" in asked.sentence


def test_a_cap_is_kept_and_said(build: Callable[..., Scenario]) -> None:
    scenario = build(run="orders = 4\nbatch = 1\ncap = 6")
    rows = forecast_delivery(scenario, orders=range(4, 10), replications=20)
    assert rows.rows["orders"].tolist() == [4, 5, 6]
    assert rows.notes[0] == "No more than 6 orders are taken."
    keep = forecast_delivery(scenario, ship_by=dt.date(2027, 3, 1), replications=20)
    assert keep.rows["orders"].tolist() == [4, 5, 6]
    assert "close the book at 6 orders (kept in 100 %), which is the cap" in keep.sentence
    assert forecast_delivery(scenario, orders=[5, 9], cap=9, replications=20).rows["orders"].tolist() == [5, 9]
    with pytest.raises(InputError, match="no number of orders is left under the cap of 6"):
        forecast_delivery(scenario, orders=[7, 8], replications=20)
    with pytest.raises(InputError, match="8 orders are more than the cap of 6"):
        forecast_delivery(scenario, orders=8, replications=20)


def test_each_chance_of_a_number_of_orders_is_counted_in_its_own_runs(build: Callable[..., Scenario]) -> None:
    scenario = build(VARIED, run="orders = 4\nround_up_to = 3\nbatch = 3")
    keep = dt.date(2027, 1, 16)
    answer = forecast_delivery(scenario, orders=[5, 6, 8], ship_by=keep, replications=150, seed=4)
    six, nine = build(VARIED, run="orders = 6\nbatch = 3"), build(VARIED, run="orders = 9\nbatch = 3")
    study = run_study({"6": six, "9": nine}, replications=150, seed=4)
    for count, row in zip((5, 6, 8), answer.rows.to_dict("records"), strict=True):
        days = study.order_days["6" if count <= 6 else "9"][:, :count]
        last = days[:, -1]
        assert row["ship_by_chance"] == np.mean(days.max(axis=1) <= 5)
        assert row["chance_kept"] == np.mean(last <= row["promise_day"]) >= 0.9
        assert np.mean(last <= row["promise_day"] - 1) < 136 / 150  # no day too late: 136 = ceil(151 * 0.9)
        assert row["all_kept_day"] >= row["promise_day"]
        assert row["expected_day"] == np.sort(last)[75]  # the 76th of 150: ceil(151 / 2)


def test_dates_that_all_are_kept_together_hold_for_all_as_often_as_asked(build: Callable[..., Scenario]) -> None:
    scenario = build(VARIED, run="orders = 9\nbatch = 3")
    row = forecast_delivery(scenario, orders=[9], replications=400, seed=1).rows.iloc[0]
    whole = forecast_delivery(scenario, replications=400, seed=1).rows
    assert row["all_kept"] == whole["all_kept"].iloc[-1]
    new = run_study({"x": scenario}, replications=400, first_replication=9000).order_days["x"]
    kept = (new <= whole["all_kept_day"].to_numpy()).all(axis=1).mean()
    assert 0.85 <= kept <= 0.96  # 0.9 with three standard errors of both samples


def test_runs_that_make_as_many_pieces_are_run_once(build: Callable[..., Scenario]) -> None:
    runs: list[int] = []
    scenario = build(run="orders = 4\nround_up_to = 5")
    answer = forecast_delivery(
        scenario, orders=range(1, 11), replications=30, on_progress=lambda done, _: runs.append(done)
    )
    assert max(runs) == 60
    assert answer.study is not None
    assert answer.study.names == ("5 pieces", "10 pieces")


def test_many_numbers_of_orders_share_the_runs_and_say_how_well_a_chance_is_known(
    build: Callable[..., Scenario], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(order_counts, "TOGETHER", 1200)
    monkeypatch.setattr(order_counts, "MIN_REPLICATIONS", 50)
    scenario = build(run="orders = 4\nbatch = 1")
    runs: list[int] = []
    answer = forecast_delivery(scenario, orders=range(1, 13), on_progress=lambda done, _: runs.append(done))
    assert answer.replications == 100
    assert max(runs) == 1200
    assert any("100 replications" in note and "within 8 in a hundred" in note for note in answer.notes)
    assert forecast_delivery(scenario, orders=range(1, 31)).replications == 50


def test_one_order_is_spoken_of_as_one_and_its_arrival_is_said_apart(build: Callable[..., Scenario]) -> None:
    more = '[shipping]\ntransit = "2 d"\n'
    answer = forecast_delivery(build(more=more), orders=[1], replications=20)
    assert answer.sentence == (
        "With 1 order it ships on 2027-01-11 (100 % of runs): promise it by 2027-01-11, kept in 100 % "
        "of runs; it arrives by 2027-01-13 in 100 %. But where arrival is said, these are the days of shipping."
    )
    two = forecast_delivery(build(), orders=[1, 2], replications=20).sentence
    assert "With 2 orders the last ships on 2027-01-12 " in two
    assert two.endswith("the time on the way comes on top, and the file says nothing of it.")


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_while_it_looks_for_the_number_it_says_so(build: Callable[..., Scenario]) -> None:
    runs: list[int] = []
    with pytest.raises(Cancelled):
        forecast_delivery(
            build(run="orders = 4\nbatch = 1"),
            ship_by=dt.date(2027, 2, 1),
            replications=50,
            on_progress=lambda done, _: runs.append(done),
            should_stop=lambda: len(runs) >= 70,
        )


@pytest.mark.parametrize("cap", [0, -1, True, 2.5])
def test_a_cap_that_is_no_number_of_orders_is_refused(build: Callable[..., Scenario], cap: object) -> None:
    with pytest.raises(InputError, match="number of orders"):
        forecast_delivery(build(), orders=[1], cap=cap, replications=20)  # type: ignore[arg-type]


def test_where_the_most_asked_about_still_keep_the_date_it_says_that_more_may(build: Callable[..., Scenario]) -> None:
    # One a day from the 11th: four orders ship by the 14th.
    answer = forecast_delivery(build(), orders=[3, 4], ship_by=dt.date(2027, 1, 20), replications=20)
    assert answer.rows["keeps"].tolist() == [True, True]
    assert (
        "close the book at 4 orders (kept in 100 %), the most asked about; more may still be kept." in answer.sentence
    )


def test_a_cap_below_the_orders_that_are_in_is_refused(build: Callable[..., Scenario], tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date\nA,2027-01-04\nB,2027-01-05\nC,2027-01-06\n")
    scenario = build(run='orders = "orders.csv"\norders_close = 2027-01-11\nbatch = 1', folder=tmp_path)
    with pytest.raises(InputError, match="3 orders are in the file, more than the cap of 2 · raise the cap"):
        forecast_delivery(scenario, orders=[4], cap=2, replications=20)
