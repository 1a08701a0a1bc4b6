"""While orders are open: windows over the uncertainty of demand."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shopsim.answers import forecast_delivery
from shopsim.answers.next_buyer import ALL_BUYERS, NEXT_BUYER, draw_demand
from shopsim.errors import Cancelled, InputError
from shopsim.laws import Law, fixed
from shopsim.scenario import Scenario, parse_scenario

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
ONE_A_DAY = '{ name = "make", work = "8 h" }'
SPREAD = Law("range", (9.0, 18.0, 36.0))


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(run: str, operations: str = ONE_A_DAY, more: str = "", folder: Path | None = None) -> Scenario:
        return parse_scenario(write_shop(operations, shop=CALM, run=run, more=more, open=DAILY), folder=folder)

    return make


def test_demand_is_as_low_likely_and_high_as_it_says() -> None:
    orders = draw_demand(SPREAD, 1, None, seed=1, replications=2000)
    # one time in ten under the low and one in ten over the high, to within half an order
    assert np.mean(orders <= 8) == pytest.approx(0.08, abs=0.03)
    assert np.median(orders) == 18
    assert np.mean(orders > 36) == pytest.approx(0.1, abs=0.01)
    assert orders.min() >= 1
    assert (np.diff(orders) >= 0).all()


def test_demand_has_a_stream_of_its_own_and_is_the_same_for_the_same_seed() -> None:
    first, again, other = (draw_demand(SPREAD, 1, None, seed, 500) for seed in (1, 1, 2))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_given_that_so_many_have_come_fewer_are_no_longer_possible() -> None:
    whole, given = draw_demand(SPREAD, 1, None, 3, 20_000), draw_demand(SPREAD, 14, None, 3, 20_000)
    assert given.min() == 14
    beyond = whole[whole >= 14]
    for number in (14, 20, 36):
        assert np.mean(given <= number) == pytest.approx(np.mean(beyond <= number), abs=0.02)


def test_a_cap_cuts_demand_and_what_cannot_come_is_told() -> None:
    capped = draw_demand(SPREAD, 1, 20, 1, 1000)
    assert capped.max() == 20
    assert np.mean(capped == 20) == pytest.approx(np.mean(draw_demand(SPREAD, 1, None, 1, 1000) >= 20), abs=1e-9)
    assert draw_demand(fixed(7.0), 1, None, 1, 5).tolist() == [7] * 5
    with pytest.raises(InputError, match="no more than 7 orders come, and 8 are there"):
        draw_demand(fixed(7.0), 8, None, 1, 5)


def test_where_the_queue_is_all_that_counts_demand_does_not_move_a_buyers_date(build: Callable[..., Scenario]) -> None:
    answer = forecast_delivery(build('demand = "3 / 6 / 12"\nbatch = 1'), replications=200)
    assert answer.key == NEXT_BUYER
    rows = answer.rows.set_index("number")
    for number in (1, 2, 5):
        assert rows.loc[number, "promise"] == rows.loc[number, "ship_from"] == f"2027-01-{10 + number}"
    assert rows.loc[1, "chance_comes"] == 1.0
    assert (rows["chance_comes"].diff().dropna() <= 0).all()
    assert rows.loc[6, "chance_comes"] > 0.5 > rows.loc[7, "chance_comes"]
    (whole,) = answer.tables[ALL_BUYERS].to_dict("records")
    assert (whole["so_far"], whole["likely_orders"]) == (0, 6)
    # a date for everybody is the day on which the last of the most orders ships
    assert whole["all_kept_day"] == whole["most_orders"] - 1
    assert answer.sentence.startswith(
        "The next buyer would be number 1, and their order ships on 2027-01-11 in 100 % of the runs"
    )


def test_where_all_ship_together_the_window_is_that_of_the_number_of_orders(build: Callable[..., Scenario]) -> None:
    pack = ONE_A_DAY + ', { name = "pack", per = "run", work = "0 min" }'
    answer = forecast_delivery(build('demand = "3 / 6 / 12"', pack), replications=400, service_level=0.9)
    first = answer.rows.iloc[0]
    demand = draw_demand(Law("range", (3.0, 6.0, 12.0)), 1, None, 1, 400)
    # one piece a day, the last done at closing, so that all are packed the morning after
    assert first["promise_day"] == np.sort(demand)[360]  # rank ceil(401 * 0.9) = 361
    assert first["ship_from_day"] == np.sort(demand)[39]  # rank floor(401 * 0.1) = 40
    # the sixth buyer is only there where six come, and so waits for at least six
    assert answer.rows.iloc[5]["ship_from_day"] >= 6 > first["ship_from_day"]


def test_orders_of_a_file_are_kept_and_count_as_so_far(build: Callable[..., Scenario], tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date,quantity\nA7,2027-01-04,2\nA9,2027-01-05,1\n")
    scenario = build(
        'orders = "orders.csv"\norders_close = 2027-01-11\ndemand = "3 / 6 / 12"\nbatch = 1', folder=tmp_path
    )
    answer = forecast_delivery(scenario, replications=100)
    rows = answer.rows.set_index("number")
    assert rows["order"].tolist()[:3] == ["A7", "A9", ""]
    # one piece a day: those to come follow the book, one of two orders being for two pieces
    assert rows["promise"].tolist()[:4] == ["2027-01-12", "2027-01-13", "2027-01-15", "2027-01-16"]
    assert "The next buyer would be number 3" in answer.sentence
    assert rows.loc[2, "chance_comes"] == 1.0
    with pytest.raises(InputError, match="the file of orders has 2"):
        forecast_delivery(scenario, so_far=5, replications=100)


def test_a_number_of_orders_in_the_file_is_a_plan_and_so_far_says_how_many_there_are(
    build: Callable[..., Scenario],
) -> None:
    scenario = build('orders = 18\ndemand = "9 / 18 / 36"\nbatch = 1')
    assert "taken for a plan" in forecast_delivery(scenario, replications=30).notes[0]
    answer = forecast_delivery(scenario, so_far=18, replications=30)
    assert "The next buyer would be number 19, and their order ships on 2027-01-29 " in answer.sentence
    assert not any("taken for a plan" in note for note in answer.notes)
    # a number of orders asked about is answered as before
    assert forecast_delivery(scenario, orders=3, replications=30).title == "Delivery window"


def test_at_the_cap_there_is_no_next_buyer(build: Callable[..., Scenario]) -> None:
    scenario = build('demand = "9 / 18 / 36"\ncap = 10\nbatch = 1')
    assert forecast_delivery(scenario, so_far=10, replications=50).sentence.startswith(
        "The cap of 10 orders is reached: nobody else can order. With 10 orders in all (likely 10)"
    )
    assert forecast_delivery(scenario, replications=50).rows["number"].max() == 10
    with pytest.raises(InputError, match="more than the cap of 10"):
        forecast_delivery(scenario, so_far=11, replications=50)


def test_each_replication_is_run_once_with_the_orders_that_come_in_it(build: Callable[..., Scenario]) -> None:
    runs: list[tuple[int, int]] = []
    scenario = build('demand = "9 / 18 / 36"\nround_up_to = 4\nbatch = 5')
    answer = forecast_delivery(scenario, replications=80, on_progress=lambda *counts: runs.append(counts))
    assert runs[-1] == (80, 80)
    assert answer.replications == 80
    json.dumps(answer.to_dict(), allow_nan=False)


def test_stopped_early_nothing_is_said(build: Callable[..., Scenario]) -> None:
    runs: list[int] = []
    with pytest.raises(Cancelled, match="all numbers of orders"):
        forecast_delivery(
            build('demand = "9 / 18 / 36"'),
            replications=60,
            on_progress=lambda done, _: runs.append(done),
            should_stop=lambda: len(runs) >= 30,
        )


def test_the_window_over_demand_is_kept_in_new_runs_with_new_demand(build: Callable[..., Scenario]) -> None:
    varied = '{ name = "make", work = "3 / 5 / 12 h" }'
    scenario = build('demand = "3 / 6 / 12"\nround_up_to = 3', varied)
    told, later = (forecast_delivery(scenario, replications=600, seed=seed) for seed in (1, 2))
    whole, new = (answer.tables[ALL_BUYERS].iloc[0] for answer in (told, later))
    assert abs(whole["all_kept_day"] - new["all_kept_day"]) <= 3
    first, again = told.rows.iloc[0], later.rows.iloc[0]
    assert abs(first["promise_day"] - again["promise_day"]) <= 3


@pytest.mark.parametrize("so_far", [-1, 2.5, True])
def test_what_is_no_number_of_orders_so_far_is_refused(build: Callable[..., Scenario], so_far: object) -> None:
    with pytest.raises(InputError, match="so_far"):
        forecast_delivery(build('demand = "9 / 18 / 36"'), so_far=so_far, replications=30)  # type: ignore[arg-type]


def test_so_far_without_demand_is_of_no_use_and_told(build: Callable[..., Scenario]) -> None:
    with pytest.raises(InputError, match=r"run\.demand"):
        forecast_delivery(build("orders = 3"), so_far=2, replications=30)


def test_with_transit_each_buyer_is_told_when_it_arrives(build: Callable[..., Scenario]) -> None:
    # One a day from Monday the 11th, three business days on the road: the first arrives on Thursday the 14th, the third
    # (shipped on Wednesday) on Monday the 18th.
    scenario = build('demand = "5 / 6 / 8"\nbatch = 1', more='[shipping]\ntransit = "3 d"\n')
    answer = forecast_delivery(scenario, replications=60)
    rows = answer.rows.set_index("number")
    assert rows.loc[[1, 3], "ship_from"].tolist() == ["2027-01-11", "2027-01-13"]
    assert rows.loc[[1, 3], "arrive_promise"].tolist() == ["2027-01-14", "2027-01-18"]
    assert (rows["arrive_promise"].dropna() > rows.loc[rows["arrive_promise"].notna(), "promise"]).all()
