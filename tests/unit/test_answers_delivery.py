"""Delivery: what is promised is kept as often as it says, and which day a date means."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from shopsim.answers import forecast_delivery
from shopsim.answers.promises import find_joint_days, find_promise
from shopsim.answers.transit import arrival_days
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, parse_scenario
from shopsim.study import run_study

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
VARIED = '{ name = "make", work = "3 / 5 / 12 h" }'


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(operations: str = VARIED, run: str = "orders = 4", more: str = "", folder: Path | None = None) -> Scenario:
        text = write_shop(operations, shop=CALM, run=run, more=more, open=DAILY)
        return parse_scenario(text, folder=folder)

    return make


def test_without_luck_the_dates_are_the_days_counted_by_hand(build: Callable[..., Scenario]) -> None:
    answer = forecast_delivery(build('{ name = "make", work = "4 h" }'), replications=30)
    # two a day from Monday 2027-01-11 on
    for column in ("ship_from", "ship_to", "promise", "promise_low", "promise_high", "all_kept"):
        assert answer.rows[column].tolist() == ["2027-01-11", "2027-01-11", "2027-01-12", "2027-01-12"]
    assert answer.rows["promise_day"].tolist() == [0, 0, 1, 1]
    for column in ("chance_kept", "window_chance", "chance_kept_then"):
        assert (answer.rows[column] == 1).all()
    assert "all 4 together in 100 %" in answer.sentence
    assert "These are the days of shipping; the time on the way comes on top" in answer.sentence


def test_the_chance_said_is_the_share_of_runs_at_or_before_the_day(build: Callable[..., Scenario]) -> None:
    scenario = build()
    answer = forecast_delivery(scenario, replications=300, seed=2, service_level=0.8)
    days = run_study({"x": scenario}, replications=300, seed=2).order_days["x"]
    for n, row in enumerate(answer.rows.to_dict("records")):
        assert row["chance_kept"] == np.mean(days[:, n] <= row["promise_day"]) >= 0.8
        assert np.mean(days[:, n] <= row["promise_day"] - 1) < 241 / 300  # no day too late: 241 = ceil(301 * 0.8)
        assert row["window_chance"] == np.mean(
            (days[:, n] >= row["ship_from_day"]) & (days[:, n] <= row["ship_to_day"])
        )
        assert row["window_chance"] >= 0.8
        assert row["promise_day"] <= row["all_kept_day"]
    together = np.mean((days <= answer.rows["all_kept_day"].to_numpy()).all(axis=1))
    assert together >= 0.8
    each = np.mean((days <= answer.rows["promise_day"].to_numpy()).all(axis=1))
    assert f"all 4 together in {int(each * 100)} %; for all to be kept in {int(together * 100)} %" in answer.sentence


def test_a_more_certain_promise_is_a_later_one(build: Callable[..., Scenario]) -> None:
    scenario = build()
    study = run_study({"x": scenario}, replications=400)
    low, high = (
        forecast_delivery(scenario, confidence=c, service_level=c, replications=400, reuse=study).rows
        for c in (0.6, 0.95)
    )
    assert (low["promise_day"] <= high["promise_day"]).all()
    assert (low["promise_day"] < high["promise_day"]).any()
    assert (low["ship_from_day"] >= high["ship_from_day"]).all()
    assert (low["all_kept_day"] <= high["all_kept_day"]).all()


def test_promises_are_kept_in_new_runs_of_the_same_shop(build: Callable[..., Scenario]) -> None:
    scenario = build(run="orders = 8")
    answer = forecast_delivery(scenario, replications=800, seed=1)
    new = run_study({"x": scenario}, replications=800, seed=1, first_replication=5000).order_days["x"]
    kept = (new <= answer.rows["promise_day"].to_numpy()).mean(axis=0)
    assert (np.abs(kept - answer.rows["chance_kept"].to_numpy()) < 0.07).all()  # 3.5 standard errors of both
    assert (new <= answer.rows["all_kept_day"].to_numpy()).all(axis=1).mean() > 0.75


def test_synthetic_orders_promised_together_are_kept_together_as_often_as_asked() -> None:
    rng = np.random.default_rng(8)

    def runs(n: int) -> np.ndarray:
        days = 40 + 5 * rng.normal(size=(n, 1)) + rng.gamma(2.0, 1.0, size=(n, 12)).cumsum(axis=1)
        return np.ceil(days).astype(np.int64)

    kept = []
    for _ in range(40):
        joint, share = find_joint_days(runs(500), 0.8)
        assert share >= 0.8
        kept.append(np.mean((runs(500) <= joint).all(axis=1)))
    assert 0.78 <= np.mean(kept) <= 0.86


def test_a_window_is_rounded_outward_to_whole_days() -> None:
    promise = find_promise(np.arange(1, 101), 0.8)
    assert (promise.first, promise.last, promise.day) == (10, 91, 81)
    assert promise.inside == 0.82
    assert promise.chance == 0.81
    assert promise.day_low is not None
    assert promise.day_high is not None
    assert promise.day_low < promise.day < promise.day_high


def test_transit_is_added_in_business_days_and_apart(build: Callable[..., Scenario]) -> None:
    more = '[shipping]\ntransit = "1 d"\npick_up = ["fri"]\n'
    answer = forecast_delivery(build('{ name = "make", work = "4 h" }', "orders = 1", more), replications=20)
    row = answer.rows.iloc[0]
    assert row["promise"] == "2027-01-15"  # a Friday
    assert row["arrive_promise"] == row["arrive_from"] == row["arrive_all"] == "2027-01-18"  # the Monday
    assert "These are the days of shipping; with the time on the way added, arrival has columns" in answer.sentence
    assert any("business days" in note for note in answer.notes)


def test_what_is_fetched_at_once_arrives_on_the_day_it_ships(build: Callable[..., Scenario], tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date,destination\na,2027-01-04,here\nb,2027-01-05,far\n")
    more = '[shipping]\npick_up = ["sat"]\ntransit = { here = "0 d", far = "3 d" }\n'
    scenario = build('{ name = "make", work = "1 h" }', 'orders = "orders.csv"', more, tmp_path)
    answer = forecast_delivery(scenario, replications=20)
    assert answer.rows["order"].tolist() == ["a", "b"]
    assert answer.rows["promise"].tolist() == ["2027-01-16"] * 2  # a Saturday
    assert answer.rows["arrive_promise"].tolist() == ["2027-01-16", "2027-01-20"]
    # of orders to come nobody knows where they go: the slowest way is counted
    more_orders = forecast_delivery(scenario, orders=3, replications=20)
    assert more_orders.rows["arrive_promise"].tolist() == ["2027-01-16", "2027-01-20", "2027-01-20"]


def test_transit_luck_is_the_same_for_an_order_however_many_there_are(build: Callable[..., Scenario]) -> None:
    scenario = build(more='[shipping]\ntransit = "1 / 4 / 9 d"\n')
    study = run_study({"x": scenario}, replications=30)
    queue = study.outcomes["x"].queue
    days = study.order_days["x"]
    replications = np.arange(30)
    four = arrival_days(scenario, queue.orders, days, queue.close, 1, replications)
    two = arrival_days(scenario, queue.orders[:2], days[:, :2], queue.close, 1, replications)
    assert four is not None
    assert two is not None
    assert np.array_equal(four[:, :2], two)
    assert len(set((four[:, 0] - days[:, 0]).tolist())) > 3
    assert not np.array_equal(four[:, 0] - days[:, 0], four[:, 1] - days[:, 1])


def test_without_transit_there_are_no_arrivals(build: Callable[..., Scenario]) -> None:
    answer = forecast_delivery(build(), replications=20)
    assert not [name for name in answer.rows if name.startswith("arrive")]


def test_each_number_of_orders_has_a_row_that_agrees_with_so_many_orders(build: Callable[..., Scenario]) -> None:
    scenario = build(run="orders = 4\nround_up_to = 3\nbatch = 3")
    many = forecast_delivery(scenario, orders=range(4, 8), replications=60)
    assert many.rows["orders"].tolist() == [4, 5, 6, 7]
    assert many.rows["pieces"].tolist() == [6, 6, 6, 9]
    assert many.rows["spare"].tolist() == [2, 1, 0, 2]
    for count, row in zip(range(4, 8), many.rows.to_dict("records"), strict=True):
        alone = forecast_delivery(scenario, orders=count, replications=60).rows
        assert len(alone) == count
        for column in ("ship_from", "ship_to", "promise", "chance_kept", "all_kept"):
            assert row[column] == alone[column].iloc[-1]
    assert "With 4 orders the last ships from" in many.sentence
    assert "With 7 orders the last ships from" in many.sentence
    assert many.rows["all_chance_each"].between(0, 1).all()


def test_more_orders_are_never_promised_sooner_where_pieces_are_made_one_by_one(
    build: Callable[..., Scenario],
) -> None:
    rows = forecast_delivery(build(run="orders = 1\nbatch = 1"), orders=range(1, 7), replications=100).rows
    assert (rows["promise_day"].diff().dropna() >= 0).all()
    assert (rows["all_kept_day"] >= rows["promise_day"]).all()


def test_a_number_of_orders_stands_in_for_a_file_made_as_ordered(
    build: Callable[..., Scenario], tmp_path: Path
) -> None:
    (tmp_path / "orders.csv").write_text("id,date\na,2027-01-11\nb,2027-01-13\n")
    run = 'orders = "orders.csv"\nrelease = "as ordered"\norders_close = 2027-01-15'
    scenario = build('{ name = "make", work = "4 h" }', run, folder=tmp_path)
    assert forecast_delivery(scenario, replications=20).rows["lead_days"].tolist() == [0, 0]
    assert len(forecast_delivery(scenario, orders=5, replications=20).rows) == 5


def test_one_order_is_spoken_of_as_one(build: Callable[..., Scenario]) -> None:
    answer = forecast_delivery(build(run="orders = 1"), replications=50)
    assert answer.sentence.startswith("The order ships from ")
    assert "orders" not in answer.sentence


def test_several_lines_cannot_be_given_one_number_of_orders(
    build: Callable[..., Scenario], write_shop: Callable[..., str]
) -> None:
    text = write_shop(VARIED, shop=CALM, run="round_up_to = 1", open=DAILY)
    text += '\n[[run.lines]]\ndesign = "tray"\norders = 1\n\n[[run.lines]]\ndesign = "tray"\norders = 2\n'
    scenario = parse_scenario(text)
    with pytest.raises(InputError, match="2 lines"):
        forecast_delivery(scenario, orders=[5], replications=20)
    assert len(forecast_delivery(scenario, replications=20).rows) == 3


@pytest.mark.parametrize("confidence", [0, 1, 80, -0.2, True, "0.8", float("nan")])
def test_a_confidence_outside_0_to_1_is_refused(build: Callable[..., Scenario], confidence: float) -> None:
    with pytest.raises(InputError, match="confidence"):
        forecast_delivery(build(), confidence=confidence, replications=20)


@pytest.mark.parametrize("orders", [0, -3, [2, 0], [], 2.5, [True]])
def test_what_is_no_number_of_orders_is_refused(build: Callable[..., Scenario], orders: object) -> None:
    with pytest.raises(InputError, match="number of orders"):
        forecast_delivery(build(), orders=orders, replications=20)  # type: ignore[arg-type]


def test_too_few_replications_for_the_confidence_are_refused_before_anything_runs(
    build: Callable[..., Scenario],
) -> None:
    runs: list[int] = []
    with pytest.raises(InputError, match="take at least 199"):
        forecast_delivery(build(), confidence=0.99, replications=100, on_progress=lambda done, _: runs.append(done))
    assert not runs


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_stopped_early_it_promises_on_what_it_has_or_not_at_all(build: Callable[..., Scenario]) -> None:
    runs: list[int] = []

    def forecast(after: int) -> object:
        runs.clear()
        return forecast_delivery(
            build(), on_progress=lambda done, _: runs.append(done), should_stop=lambda: len(runs) >= after
        )

    kept = forecast(60)
    assert kept.partial  # type: ignore[attr-defined]
    assert kept.replications == 60  # type: ignore[attr-defined]
    with pytest.raises(Cancelled, match="too few"):
        forecast(5)


def test_the_answer_says_that_a_date_can_bind_and_that_it_is_no_advice(build: Callable[..., Scenario]) -> None:
    answer = forecast_delivery(build(), replications=385)
    assert any("can bind you" in note and "30 days" in note and "not legal advice" in note for note in answer.notes)
    assert any("385 replications" in note and "within 4 in a hundred" in note for note in answer.notes)
    json.dumps(answer.to_dict(), allow_nan=False)


def test_of_a_longer_study_only_the_replications_asked_for_are_used(build: Callable[..., Scenario]) -> None:
    scenario = build()
    study = run_study({"x": scenario}, replications=300)
    answer = forecast_delivery(scenario, replications=200, reuse=study)
    assert answer.replications == 200
    assert not answer.partial
    assert answer.rows.equals(forecast_delivery(scenario, replications=200).rows)


def test_late_lumber_holds_back_what_needs_it_as_often_as_it_comes_late(build: Callable[..., Scenario]) -> None:
    lumber = '[[materials]]\nname = "boards"\nneeded_by = ["make"]\nlead = "3 d"\nrest = "2 d"\nlate = "{late}"\n'
    one = '{ name = "make", work = "8 h" }'
    on_time = forecast_delivery(build(one, "orders = 1", lumber.format(late="0 %")), replications=20).rows.iloc[0]
    # ordered on Monday 11, there on the 14th, rested until the 16th
    assert on_time["promise"] == on_time["expected"] == "2027-01-16"
    late = forecast_delivery(build(one, "orders = 1", lumber.format(late="100 %"))).rows.iloc[0]
    # late by whole days, exponential of mean 2: at most k days with chance 1 - exp(-k / 2), so 2 for half, 5 for nine in ten
    assert (late["expected"], late["promise"]) == ("2027-01-18", "2027-01-21")
    assert late["chance_kept"] == pytest.approx(1 - np.exp(-2.5), abs=0.03)
    seldom = forecast_delivery(build(one, "orders = 1", lumber.format(late="8 %"))).rows.iloc[0]
    assert seldom["promise"] == "2027-01-16"


def test_eight_shipped_orders_that_were_later_than_forecast_make_dates_later_and_it_is_said(
    build: Callable[..., Scenario],
) -> None:
    pits = [0.5, 0.7, 0.8, 0.9, 0.95, 0.97, 0.98, 0.99]
    shipped = "".join(
        f'[[learned.delivered]]\norder = "{n}"\npit = {pit}\nrun = "run {n}"\n' for n, pit in enumerate(pits)
    )
    plain = forecast_delivery(build(), replications=400)
    learned = forecast_delivery(build(more=shipped), replications=400)
    assert (learned.rows["promise_day"] > plain.rows["promise_day"]).all()
    assert (learned.rows["ship_from_day"] >= plain.rows["ship_from_day"]).all()
    assert (learned.rows["all_kept_day"] >= learned.rows["promise_day"]).all()
    assert learned.notes[0].startswith("Recalibrated on 8 shipped orders of 8 runs")
    seven = shipped.rsplit("[[learned.delivered]]", 1)[0]
    assert forecast_delivery(build(more=seven), replications=400).rows.equals(plain.rows)
    counts = forecast_delivery(build(more=shipped), orders=[4], replications=400)
    assert counts.rows["promise"].iloc[0] == learned.rows["promise"].iloc[-1]
    assert counts.notes[0] == learned.notes[0]
