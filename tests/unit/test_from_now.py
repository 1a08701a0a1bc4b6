"""The forecast from now: exact at both ends, what has shipped is no longer forecast, and what is at risk comes first."""

from __future__ import annotations

import datetime as dt

import pytest

from shopsim import forecast_delivery, forecast_from_now
from shopsim.answers.from_now import FROM_NOW, NEXT, NOTES, STANDS, UNDER_WAY
from shopsim.errors import DoubtfulLog, InputError, ScenarioError
from shopsim.scenario import Scenario, change_scenario, parse_scenario

#: Every evening 90 minutes; a tray takes 40 (cut) + 20 (oil), then 12 h to dry, and a second is not cut in what is left: one tray an
#: evening, the next day it ships.
SURE = parse_scenario("""\
[shop]
open = { mon-sun = "18:00-19:30" }
interrupted = "0 %"
lost_days = "0 %"
[[materials]]
name = "boards"
lead = "0 d"
needed_by = ["cut"]
[design]
name = "tray"
[[design.operations]]
name = "cut"
work = "40 min"
pausable = false
[[design.operations]]
name = "oil"
work = "20 min"
cure = "12 h"
caution = "oily rags"
[run]
orders = 4
batch = 1
start = 2027-01-11
promised = 2027-01-14
""")
UNSURE = change_scenario(
    SURE, {'design.operations."cut".work': "20 / 30 / 60 min", 'design.operations."oil".work': "10 / 15 / 30 min"}
)
HEAD = "when,what,operation,pieces,order,material,minutes\n"
FIRST = (
    "2027-01-11 18:00,material came,,,,boards,\n2027-01-11 18:40,done,cut,1,,,40\n2027-01-11 19:00,done,oil,1,,,20\n"
)
MANY = 40


def log(*rows: str) -> str:
    return HEAD + FIRST + "".join(f"{row}\n" for row in rows)


def test_an_empty_log_gives_the_forecast_of_before_bit_for_bit() -> None:
    before, now = forecast_delivery(UNSURE, replications=MANY), forecast_from_now(UNSURE, "", replications=MANY)
    rows = now.rows.sort_values("position").reset_index(drop=True)
    same = [
        "order",
        "expected",
        "ship_from",
        "ship_to",
        "window_chance",
        "promise",
        "chance_kept",
        "promise_low",
        "promise_high",
    ]
    for column in same:
        assert rows[column].tolist() == before.rows[column].tolist()
    assert rows["chance_now"].tolist() == rows["chance_then"].tolist() == before.rows["told_chance"].tolist()
    assert "Nothing is logged by then, so this is the forecast of before." in now.notes
    assert now.study is not None
    assert (now.study.order_days["now"] == forecast_delivery(UNSURE, replications=MANY).study.order_days["now"]).all()  # type: ignore[union-attr]


def test_a_run_by_the_clock_goes_on_by_the_clock() -> None:
    # tray 1 on Monday, dry on Tuesday at 7:00; trays 2 to 4 on the evenings to Thursday: out on Tuesday to Friday
    now = forecast_from_now(SURE, log(), replications=MANY)
    rows = now.rows.set_index("position")
    assert rows["ship_from"].tolist() == rows["ship_to"].tolist()
    assert rows.loc[[1, 2, 3, 4], "ship_from"].tolist() == ["2027-01-12", "2027-01-13", "2027-01-14", "2027-01-15"]
    assert rows.loc[[1, 2, 3, 4], "stands"].tolist() == ["good", "good", "good", "late"]
    assert now.rows["position"].tolist() == [4, 1, 2, 3]  # what is at risk comes first
    stands = dict(zip(now.tables[STANDS]["what"], now.tables[STANDS]["count"], strict=True))
    assert (stands["pieces done"], stands["pieces"], stands["tasks done"], stands["tasks"]) == (1, 4, 2, 8)
    (following,) = now.tables[NEXT].head(1).to_dict("records")
    assert (following["day"], following["begin_at"], following["do"]) == ("2027-01-12", "18:00", "begin")
    assert (following["operation"], following["pieces"], following["minutes"]) == ("cut", "2", 40.0)
    (drying,) = now.tables[UNDER_WAY].to_dict("records")
    assert (drying["operation"], drying["pieces"], drying["state"], drying["since"]) == (
        "oil",
        "1",
        "curing or drying",
        "2027-01-11 19:00",
    )
    assert now.sentence == (
        "At 2027-01-11 19:00, 0 of 4 orders have shipped and 1 of 4 pieces are done. 1 promise is late or at risk of being so; kept "
        "are order 4, due 2027-01-14, in 0 % of runs (0 % at the outset). The last order to ship goes out on "
        "2027-01-15, in at least 80 % of runs. Next on the bench: begin cut, batch 2, pieces 2, on 2027-01-12 at 18:00."
    )


def test_a_lost_day_makes_a_promise_late_and_its_buyer_is_written_to() -> None:
    now = forecast_from_now(SURE, log("2027-01-12,day lost,,,,,"), at=dt.datetime(2027, 1, 12, 21), replications=MANY)
    rows = now.rows.set_index("position")
    # a lost day teaches that days can be lost: half of the runs ship on these days, others later
    assert rows.loc[[2, 3, 4], "expected"].tolist() == ["2027-01-14", "2027-01-15", "2027-01-16"]
    assert rows.loc[[1, 3, 4], "stands"].to_dict() == {1: "good", 3: "late", 4: "late"}
    assert rows["chance_then"].to_dict() == {1: 1.0, 2: 1.0, 3: 1.0, 4: 0.0}
    assert rows["chance_last"].to_dict() == {1: 1.0, 2: 1.0, 3: 1.0, 4: 0.0}  # at the end of Monday
    notes = now.tables[NOTES].set_index("order")["text"]
    assert {"3", "4"} <= set(notes.index)
    assert (
        "I told you that it would ship by 14 January 2027. It will not be ready by then. My new shipping date is 15 January 2027"
        in notes["3"]
    )
    assert "You will hear from me again by 19 January 2027" in notes["3"]


def test_what_has_shipped_is_no_longer_forecast() -> None:
    rows = log("2027-01-12 12:00,shipped,,,3,,")
    now = forecast_from_now(SURE, rows, replications=MANY)
    by_order = now.rows.set_index("order")
    assert by_order.loc["3", "stands"] == "shipped"
    assert by_order.loc["3", "shipped"] == "2027-01-12"
    assert by_order.loc["3", "ship_from"] == by_order.loc["3", "promise"] == ""
    # the tray is gone, so the others wait for those that are made from now on
    assert by_order.loc[["1", "2", "4"], "ship_from"].tolist() == ["2027-01-13", "2027-01-14", "2027-01-15"]
    assert now.rows["order"].tolist() == ["4", "1", "2", "3"]


def test_half_done_work_takes_what_is_left_of_it() -> None:
    # 30 of 40 minutes are in the second tray, which is then cut at 18:10 on Wednesday and dry on Thursday as before; the third is ahead
    rows = log("2027-01-12 18:00,begun,cut,2,,,", "2027-01-12 18:30,paused,cut,2,,,", "2027-01-13,day shortened,,,,,0")
    now = forecast_from_now(SURE, rows, at=dt.datetime(2027, 1, 12, 18, 30), replications=MANY)
    (half,) = [row for row in now.tables[UNDER_WAY].to_dict("records") if row["state"] == "half done"]
    assert (half["operation"], half["pieces"], half["minutes"]) == ("cut", "2", 30.0)
    (following,) = now.tables[NEXT].head(1).to_dict("records")
    assert (following["do"], following["operation"], following["begin_at"], following["minutes"]) == (
        "go on with",
        "cut",
        "18:30",
        10.0,
    )


def test_the_same_seed_gives_the_same_forecast_in_whatever_process() -> None:
    rows = log("2027-01-12 18:00,begun,cut,2,,,", "2027-01-12 18:50,paused,cut,2,,,")
    one = forecast_from_now(UNSURE, rows, replications=80)
    other = forecast_from_now(UNSURE, rows, replications=80, jobs=2)
    assert one.to_dict() == other.to_dict()


def test_a_run_goes_at_its_own_pace_from_what_it_has_taken() -> None:
    slow = log(*(f"2027-01-{12 + n} 18:59,done,{work},{2 + n // 2},,,59" for n, work in enumerate(("cut", "oil"))))
    quick = log(*(f"2027-01-{12 + n} 18:59,done,{work},{2 + n // 2},,,9" for n, work in enumerate(("cut", "oil"))))
    late, soon = (
        forecast_from_now(UNSURE, rows, replications=200, believe=True).rows.set_index("order")
        for rows in (slow, quick)
    )
    assert late.loc["4", "expected"] > soon.loc["4", "expected"]


def test_a_log_far_from_what_is_believed_is_questioned_first() -> None:
    rows = HEAD + "".join(f"2027-01-{11 + n} 18:59,done,cut,{1 + n},,,0.5\n" for n in range(4))
    with pytest.raises(DoubtfulLog):
        forecast_from_now(UNSURE, rows, replications=MANY)
    assert forecast_from_now(UNSURE, rows, replications=MANY, believe=True).key == FROM_NOW


def test_all_faults_of_a_log_are_told_at_once() -> None:
    with pytest.raises(ScenarioError) as told:
        forecast_from_now(SURE, HEAD + "2027-01-11 19:00,done,oil,1,,,\n2027-01-11 19:00,don,cut,1,,,\n")
    assert [fault.line for fault in told.value.faults] == [2, 3]


def test_few_replications_are_refused() -> None:
    with pytest.raises(InputError, match="replications"):
        forecast_from_now(SURE, log(), replications=3)


def test_material_that_should_be_here_is_asked_about() -> None:
    rows = HEAD + "2027-01-11 18:30,day shortened,,,,,30\n"
    assert any(
        "boards should be here by now and is not logged as come" in note
        for note in forecast_from_now(SURE, rows, replications=MANY).notes
    )


def test_a_scenario_is_left_as_it_is() -> None:
    before: Scenario = SURE.model_copy()
    forecast_from_now(SURE, log(), replications=MANY)
    assert before == SURE
