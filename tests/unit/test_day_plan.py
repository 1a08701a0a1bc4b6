"""It holds that the day plan says what to do on which day, against schedules worked out by hand.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd

from shopsim import run_once
from shopsim.answers import list_cautions, plan_days
from shopsim.scenario import CAUTIONS, load_scenario, parse_scenario

SCENARIOS = Path(__file__).parents[2] / "scenarios"

RunShop = Callable[..., Any]

CLAMPS = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 8 }]'
GLUE = 'name = "glue", work = "10 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "18 h"'


def lines(plan: pd.DataFrame, *columns: str) -> list[str]:
    """Rows of a plan as text: the day, from, until, what, and the columns asked for."""
    return [
        f"{row['day']:%a} {row['from']:%H:%M}-{row['until']:%H:%M} {row['do']}"
        + "".join(f" | {row[column]}" for column in columns)
        for row in plan.to_dict("records")
    ]


def test_work_left_half_done_at_closing_has_a_row_on_each_day(run_shop: RunShop) -> None:
    plan = plan_days(run_shop('{ name = "cut", work = "10 h" }'))
    assert lines(plan, "operation", "hands_on_min", "worker") == [
        "Mon 08:00-16:00 work | cut | 480.0 | maker",
        "Tue 08:00-10:00 work | cut | 120.0 | maker",
        "Tue 00:00-00:00 ship |  | 0.0 | ",
    ]


def test_lunch_is_not_counted_as_hands_on(run_shop: RunShop) -> None:
    plan = plan_days(run_shop('{ name = "cut", work = "5 h" }', open='{ mon-fri = "08:00-12:00, 13:00-17:00" }'))
    assert lines(plan, "hands_on_min")[0] == "Mon 08:00-14:00 work | 300.0"


def test_glue_ups_list_when_each_begins_and_what_each_takes(run_shop: RunShop) -> None:
    # Cut 8:00-8:20 and glue 8:20-8:30, then the same again from 8:30: glue first.
    plan = plan_days(run_shop('{ name = "cut", work = "20 min" }, { ' + GLUE + " }", shop=CLAMPS, run="orders = 2"))
    assert lines(plan, "operation", "pieces", "begin_at", "clamps")[:3] == [
        "Mon 08:00-08:50 work | cut | 1-2 |  | ",
        "Mon 08:20-09:00 glue up | glue | 1-2 | 08:20, 08:50 | 2 bar clamps each",
        "Mon 08:30-08:00 stays in clamps overnight | glue | 1-2 |  | 4 bar clamps",
    ]


def test_what_comes_off_by_evening_does_not_stay_overnight(run_shop: RunShop) -> None:
    plan = plan_days(run_shop("{ " + GLUE.replace("18 h", "2 h") + " }", shop=CLAMPS))
    assert plan["do"].tolist() == ["glue up", "ship"]


def test_what_stays_in_clamps_overnight_is_listed_until_its_own_time(run_shop: RunShop) -> None:
    # Frames 8:00-8:10, in clamps for 26 h until Tuesday 10:10; panels 8:10-8:20, 40 h until Wednesday 0:20, off when
    # somebody comes at 8:00; boxes 8:20-8:30 only until 14:30. Two pieces: the second set of each 30 min later.
    operations = ",".join(
        f'{{ name = "glue {what}", after = [], work = "10 min", clamps = [{{ count = 1, reach = "20 in" }}], in_clamps = "{time}" }}'
        for what, time in (("frames", "26 h"), ("panels", "40 h"), ("boxes", "6 h"))
    )
    run = 'orders = 2\npriority = "oldest batch"'
    plan = plan_days(run_shop(operations, shop=CLAMPS, run=run))
    overnight = plan[plan["do"] == "stays in clamps overnight"]
    assert [
        f"{row.operation} {row.pieces} until {row.until:%a %H:%M}, {row.clamps}" for row in overnight.itertuples()
    ] == [
        "glue frames 1-2 until Tue 10:20, 2 bar clamps",
        "glue panels 1-2 until Wed 08:00, 2 bar clamps",
    ]


def test_taking_clamps_off_is_work_of_its_own(run_shop: RunShop) -> None:
    # Glued 8:00-8:10, in clamps until 2:10; taken off first thing on Tuesday.
    plan = plan_days(run_shop("{ " + GLUE + ', unclamp = "6 min" }', shop=CLAMPS))
    off = plan[plan["do"] == "take clamps off"]
    assert lines(off, "operation", "hands_on_min", "clamps", "station") == [
        "Tue 08:00-08:06 take clamps off | glue | 6.0 | 2 bar clamps | "
    ]


def test_glue_ups_that_take_different_clamps_say_so(run_shop: RunShop) -> None:
    shop = """clamps = [
      { name = "short", reach = "12 in", count = 2 },
      { name = "long", reach = "24 in", count = 2 },
    ]"""
    glue = '{ name = "glue", work = "10 min", clamps = [{ count = 2, reach = "10 in" }], in_clamps = "2 h" }'
    plan = plan_days(run_shop(glue, shop=shop, run="orders = 2"))
    assert plan.loc[0, "clamps"] == "2 short or 2 long each"


def test_work_that_needs_nobody_is_in_the_plan_without_a_worker(run_shop: RunShop) -> None:
    plan = plan_days(run_shop('{ name = "machine", hands = 0, work = "30 min" }'))
    assert lines(plan, "worker", "hands_on_min")[0] == "Mon 00:00-00:30 work |  | 0.0"


def test_work_for_two_names_both(run_shop: RunShop) -> None:
    two = 'workers = [{ name = "maker" }, { name = "helper" }]'
    plan = plan_days(run_shop('{ name = "assemble", hands = 2, work = "30 min" }', shop=two))
    assert lines(plan, "worker", "hands_on_min")[0] == "Mon 08:00-08:30 work | maker + helper | 60.0"


def test_work_of_the_whole_run_names_no_batch_and_of_the_whole_batch_no_pieces(run_shop: RunShop) -> None:
    operations = """
    { name = "jigs", per = "run", work = "10 min" },
    { name = "choose", per = "batch", work = "10 min" },
    { name = "cut", work = "10 min" },
    """
    plan = plan_days(run_shop(operations, run="orders = 5\nbatch = 5"))
    work = plan[plan["do"] == "work"]
    assert work["batch"].isna().tolist() == [True, False, False]
    assert work["pieces"].tolist() == ["", "", "1-5"]


def test_work_that_runs_late_is_on_the_day_it_was_begun(run_shop: RunShop) -> None:
    # A likely hour fits into the 90 minutes; when it comes to 200, the maker stays late.
    text = """
[shop]
open = { mon-fri = "08:00-09:30" }
interrupted = "0 %"
lost_days = "0 %"
[design]
name = "tray"
operations = [{ name = "bend", work = { logged = ["60 min", "60 min", "200 min"] }, pausable = false }]
[run]
orders = 12
start = 2027-01-11
"""
    run = run_once(parse_scenario(text), seed=1)
    plan = plan_days(run)
    work = plan[plan["do"] == "work"]
    assert work["hands_on_min"].sum() == run.tasks["work_min"].sum()
    assert (work["until"].dt.hour >= 11).any()
    assert (work["from"].dt.normalize() == work["until"].dt.normalize()).all()


def test_every_piece_ships_once(run_shop: RunShop) -> None:
    # 3 h each in days of 8 h: 11:00 and 14:00; 9:00, 12:00 and 15:00; 10:00 and 13:00. Batches of three.
    run = run_shop('{ name = "cut", work = "3 h" }', run="orders = 7\nbatch = 3")
    ship = plan_days(run)
    ship = ship[ship["do"] == "ship"]
    assert ship["pieces"].tolist() == ["1-2", "3", "4-5", "6", "7"]
    assert [f"{day:%a}" for day in ship["day"]] == ["Mon", "Tue", "Tue", "Wed", "Wed"]


def test_hands_on_minutes_of_the_plan_are_those_at_which_people_were_at_work() -> None:
    run = run_once(load_scenario(SCENARIOS / "counter-stools.toml"), likely=True)
    plan = plan_days(run)
    # one maker, interrupted for a tenth of every day: 0.9 of the clock is work
    worked = run.tasks["setup_min"].sum() + run.tasks["work_min"].sum() + run.tasks["unclamp_min"].sum()
    assert abs(plan["hands_on_min"].sum() * 0.9 - worked) < 0.1


def test_each_caution_comes_once_with_its_operations_in_the_order_of_the_file() -> None:
    scenario = load_scenario(SCENARIOS / "serving-trays.toml")
    cautions = list_cautions(scenario)
    assert cautions["caution"].tolist() == [
        "table saw", "jointer and planer", "noise", "dust", "eye protection", "small parts", "glue-up", "power tools",
        "oily rags", "solvent fumes", "nut oils",
    ]  # fmt: skip
    assert cautions["text"].tolist() == [CAUTIONS[key] for key in cautions["caution"]]
    some = list_cautions(scenario, ["oil tray", "sand tray"])
    assert some[["caution", "operations"]].to_dict("records") == [
        {"caution": "dust", "operations": "sand tray"},
        {"caution": "power tools", "operations": "sand tray"},
        {"caution": "oily rags", "operations": "oil tray"},
        {"caution": "solvent fumes", "operations": "oil tray"},
        {"caution": "nut oils", "operations": "oil tray"},
    ]
    assert list_cautions(scenario, []).empty


def test_one_caution_names_all_its_operations() -> None:
    cautions = list_cautions(load_scenario(SCENARIOS / "counter-stools.toml")).set_index("caution")
    assert cautions.loc["oily rags", "operations"] == "first coat, second coat, third coat, wax seat"
