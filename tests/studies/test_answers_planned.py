"""Answers about a file that goes by a plan of its own: other batches are tried under the usual rule, and the answer says so."""

from __future__ import annotations

import pytest

from shopsim import Scenario, compare_batch_sizes, compare_clamps, forecast_delivery, parse_scenario
from shopsim.answers.answer import PLAN_NOTE
from shopsim.scenario.batches import batch_changes, rules_to_compare

PLANNED = """
title = "Planned trays"
[shop]
open = { mon-fri = "08:00-16:00" }
workers = [{ name = "maker" }]
clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]
[design]
name = "tray"
operations = [
  { name = "cut", work = "30 / 40 / 60 min" },
  { name = "glue", work = "30 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "4 h" },
]
[run]
orders = 4
batch = 2
start = 2027-01-11
priority = "as planned"
[run.plan]
order = [
  { operation = "cut", batch = 2 },
  { operation = "cut", batch = 1 },
  { operation = "glue" },
]
"""


@pytest.fixture(scope="module")
def planned() -> Scenario:
    return parse_scenario(PLANNED)


def test_other_batch_sizes_are_under_the_usual_rule(planned: Scenario) -> None:
    answer = compare_batch_sizes(planned, sizes=[1, 2, 4], replications=20)
    told = {row["batch"]: row["priority"] for row in answer.rows.to_dict("records")}
    assert told == {1: "glue first", 2: "as planned", 4: "glue first"}
    assert not answer.rows["average_ship_day"].isna().any()
    assert PLAN_NOTE in answer.notes


def test_other_numbers_of_orders_are_under_the_usual_rule(planned: Scenario) -> None:
    answer = forecast_delivery(planned, orders=[3, 4, 6], replications=60)
    assert answer.rows["orders"].tolist() == [3, 4, 6]
    assert answer.rows["promise"].notna().all()


def test_clamps_are_tried_under_the_plan(planned: Scenario) -> None:
    answer = compare_clamps(planned, replications=20)
    assert (answer.rows["thing"] == "clamps").any()
    assert answer.study is not None
    assert answer.study.outcomes["now"].scenario.run.priority == "as planned"


def test_a_plan_is_one_of_the_rules_that_are_compared(planned: Scenario) -> None:
    assert rules_to_compare(planned)[0] == "as planned"
    assert batch_changes(planned, 4)["run.priority"] == "glue first"
