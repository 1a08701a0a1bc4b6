"""Other numbers of orders: those that are in stay as they are, those to come follow a mix. Checked against books written out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shopsim.answers import forecast_delivery
from shopsim.answers.order_counts import BY_PLACE
from shopsim.answers.order_mix import OrderKind, OrderPlan, follow_mix, parse_mix
from shopsim.errors import InputError
from shopsim.scenario import Scenario, parse_scenario
from shopsim.scenario.values import OrderBook
from shopsim.study import run_study

DAILY = '{ mon-sun = "08:00-16:00" }'
CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
VARIED = '{ name = "make", work = "2 / 3 / 7 h" }, { name = "oil", work = "20 min" }'
WALNUT = """
[[materials]]
name = "walnut boards"
needed_by = ["make"]
lead = "4 / 6 / 12 d"
[[design.options]]
name = "walnut"
materials = ["walnut boards"]
change = [{ operation = "make", work = "4 / 6 / 12 h" }]
[[design.options]]
name = "engraved"
add = [{ name = "engrave", after = ["make"], work = "40 / 60 / 90 min" }]
"""
ROWS = (
    "A1,2027-01-01,1,walnut", "A2,2027-01-02,4,", "A3,2027-01-02,2,walnut + engraved", "A4,2027-01-03,1,",
    "A5,2027-01-03,3,", "A6,2027-01-04,1,walnut", "A7,2027-01-05,2,", "A8,2027-01-06,1,walnut", "A9,2027-01-07,1,",
)  # fmt: skip
HEAD = "id,date,quantity,option\n"


@pytest.fixture
def build(write_shop: Callable[..., str], tmp_path: Path) -> Callable[..., Scenario]:
    def make(rows: tuple[str, ...] = ROWS, run: str = "batch = 3", orders: str = '"orders.csv"') -> Scenario:
        (tmp_path / "orders.csv").write_text(HEAD + "\n".join(rows) + "\n")
        text = write_shop(VARIED, shop=CALM, run=f"orders = {orders}\norders_close = 2027-01-08\n{run}", open=DAILY)
        text = text.replace("[run]", f"{WALNUT}\n[run]")
        return parse_scenario(text, folder=tmp_path)

    return make


@pytest.mark.parametrize("count", [1, 7, 9])
def test_the_first_orders_of_a_book_are_run_as_they_are(build: Callable[..., Scenario], count: int) -> None:
    whole, short = build(), build(ROWS[:count])
    keep = dt.date(2027, 1, 28)
    (row,) = forecast_delivery(whole, orders=[count], ship_by=keep, replications=120, seed=3).rows.to_dict("records")
    days = run_study({"x": short}, replications=120, seed=3).order_days["x"]
    last = days.max(axis=1)
    assert row["ship_by_chance"] == np.mean(last <= 20)
    assert row["chance_kept"] == np.mean(last <= row["promise_day"])
    assert row["pieces"] == sum(int(line.split(",")[2]) for line in ROWS[:count])
    one = forecast_delivery(whole, orders=count, replications=120, seed=3)
    own = forecast_delivery(short, replications=120, seed=3)
    assert one.rows.equals(own.rows)


def test_closing_the_book_counts_the_orders_that_are_in_it(build: Callable[..., Scenario]) -> None:
    scenario, keep = build(), dt.date(2027, 1, 27)
    answer = forecast_delivery(scenario, ship_by=keep, replications=100, seed=2)
    for row in answer.rows.to_dict("records"):
        if row["orders"] > len(ROWS):
            continue
        days = run_study({"x": build(ROWS[: row["orders"]])}, replications=100, seed=2).order_days["x"]
        assert row["ship_by_chance"] == np.mean(days.max(axis=1) <= 19)
        assert row["keeps"] == (row["ship_by_chance"] >= 0.9)


def test_orders_to_come_follow_the_book(build: Callable[..., Scenario]) -> None:
    plan = OrderPlan(build())
    orders = plan.orders(18)
    assert isinstance(orders, OrderBook)
    assert orders.taken == 9
    assert [order.id for order in orders.orders[:9]] == [row.split(",")[0] for row in ROWS]
    # nine more orders: exactly the book once again, in another turn
    coming = sorted((order.quantity, order.option) for order in orders.orders[9:])
    assert coming == sorted((int(q), option) for _, _, q, option in (row.split(",") for row in ROWS))
    for n in range(10, 18):  # never more than one order away from the share
        given = [(order.quantity, order.option) for order in plan.orders(n).orders[9:]]  # type: ignore[union-attr]
        for kind in set(coming):
            assert abs(given.count(kind) - coming.count(kind) * (n - 9) / 9) <= 1
    assert plan.say(18) == "6 walnut, 10 plain, 2 walnut + engraved"
    rows = forecast_delivery(build(), orders=11, replications=20).rows
    assert rows["to_come"].tolist() == [False] * 9 + [True] * 2
    assert rows["date"].tolist()[9:] == ["", ""]


def test_a_book_written_out_with_the_orders_to_come_gives_the_same_days(build: Callable[..., Scenario]) -> None:
    scenario = build()
    more = OrderPlan(scenario).orders(12)
    assert isinstance(more, OrderBook)
    lines = tuple(f"{o.id},{o.date} 23:59,{o.quantity},{o.option}" for o in more.orders[9:])
    answer = forecast_delivery(scenario, orders=[12], replications=80, seed=5)
    days = run_study({"x": build((*ROWS, *lines))}, replications=80, seed=5).order_days["x"]
    (row,) = answer.rows.to_dict("records")
    assert row["chance_kept"] == np.mean(days.max(axis=1) <= row["promise_day"])
    places = answer.tables[BY_PLACE]
    assert len(places) == 12
    for n, place in enumerate(places.to_dict("records")):
        day = (dt.date.fromisoformat(place["promise"]) - dt.date(2027, 1, 8)).days
        assert place["chance_kept"] == np.mean(days[:, n] <= day)


def test_a_stated_mix_is_met_exactly_and_drives_the_hours(build: Callable[..., Scenario]) -> None:
    scenario = build(orders="10", run="batch = 2")
    plan = OrderPlan(scenario, "6 walnut, 4 plain")
    orders = plan.orders(10)
    assert isinstance(orders, OrderBook)
    assert [order.option for order in orders.orders].count("walnut") == 6
    assert orders.taken == 0
    lasts = [
        forecast_delivery(scenario, orders=[10], mix=mix, replications=60).rows["expected_day"].iloc[0]
        for mix in ("10 plain", "6 walnut, 4 plain", "10 walnut")
    ]
    assert lasts[0] < lasts[1] < lasts[2]
    plain = forecast_delivery(scenario, orders=[10], replications=60)
    assert plain.rows["expected_day"].iloc[0] == lasts[0]
    assert plain.rows["options"].tolist() == ["10 plain"]
    assert any("every tray is counted as plain, without walnut or engraved" in note for note in plain.notes)
    assert any("counted as plain" in note for note in forecast_delivery(scenario, replications=20).notes)


def test_the_next_buyers_follow_the_mix_too(build: Callable[..., Scenario]) -> None:
    scenario = build(run='batch = 2\ndemand = "8 / 12 / 16"')
    usual = forecast_delivery(scenario, replications=60).rows.set_index("number")
    dear = forecast_delivery(scenario, mix="1 of 4 walnut", replications=60).rows.set_index("number")
    assert usual.loc[9, "promise_day"] <= dear.loc[9, "promise_day"]
    assert usual.loc[12, "promise_day"] < dear.loc[12, "promise_day"]


def test_each_order_to_come_is_of_the_kind_furthest_behind() -> None:
    mix = (OrderKind(6, 1, "walnut"), OrderKind(4, 1, ""))
    assert [kind.option or "-" for kind in follow_mix(mix, 10)] == [
        "walnut", "-", "walnut", "-", "walnut", "walnut", "-", "walnut", "-", "walnut",
    ]  # fmt: skip
    rng = np.random.default_rng(4)
    for _ in range(50):
        kinds = tuple(
            OrderKind(int(count), n + 1, "") for n, count in enumerate(rng.integers(1, 9, rng.integers(1, 6)))
        )
        whole = sum(kind.count for kind in kinds)
        given = follow_mix(kinds, 2 * whole)
        assert given[:whole] == follow_mix(kinds, whole)
        assert all(given.count(kind) == 2 * kind.count for kind in kinds)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("walnut", "says no number of orders"), ("6 wallnut", 'has no option "wallnut"'), ("0 walnut", "says no number"),
        ("3 of 0 walnut", "0 pieces cannot be ordered"), ("6 walnut,, 4", "says no number"), ("", "says no number"),
    ],
)  # fmt: skip
def test_a_mix_that_cannot_be_read_is_told(build: Callable[..., Scenario], text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        forecast_delivery(build(), orders=[12], mix=text, replications=20)


def test_a_mix_names_options_together_and_orders_of_several_pieces(build: Callable[..., Scenario]) -> None:
    design = build().all_designs[0]
    assert parse_mix("2 of 3 Engraved + walnut; 4 plain, 1", design) == (
        OrderKind(2, 3, "walnut + engraved"), OrderKind(4, 1, ""), OrderKind(1, 1, ""),
    )  # fmt: skip


def test_what_would_do_nothing_is_refused(build: Callable[..., Scenario]) -> None:
    scenario = build()
    for asked in ({"cap": 12}, {"mix": "6 walnut"}):
        with pytest.raises(InputError, match="is of use only for other numbers of orders"):
            forecast_delivery(scenario, replications=20, **asked)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="9 orders are in already, so that of 7 none is to come"):
        forecast_delivery(scenario, orders=7, mix="6 walnut", replications=20)
    with pytest.raises(InputError, match="so_far is of use only for the next buyer"):
        forecast_delivery(build(run='batch = 2\ndemand = "9 / 12 / 16"'), orders=12, so_far=9, replications=20)


def test_pieces_made_as_ordered_stay_so_and_those_to_come_keep_the_pace(build: Callable[..., Scenario]) -> None:
    scenario = build(run='batch = 1\nrelease = "as ordered"')
    answer = forecast_delivery(scenario, orders=[9], replications=60, seed=2)
    own = forecast_delivery(scenario, replications=60, seed=2)
    assert answer.rows["promise"].iloc[0] >= own.rows["promise"].max()
    assert OrderPlan(scenario).change(11).run.release == "as ordered"
    # the book closes on the 8th, a day after the last of nine orders: both that come until then come on the 8th or before
    orders = OrderPlan(scenario).orders(11)
    assert isinstance(orders, OrderBook)
    assert [order.date for order in orders.orders[9:]] == [dt.date(2027, 1, 7), dt.date(2027, 1, 8)]
