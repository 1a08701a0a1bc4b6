"""In shops at random what is said of what it would take agrees with its tables: which sets reach, and every number."""

from __future__ import annotations

import datetime as dt

from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from shopsim import Scenario, find_reach
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario
from shopsim.study.order_queue import OrderQueue

from . import strategies as shop
from .sentences import find_strange, find_unsaid, stated

MANY = "priority rule,room,batch size,material,clamps,helper"


@settings(
    max_examples=4,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(st.data())
def test_in_shops_at_random_the_sentence_stands_in_its_tables(data: st.DataObject) -> None:
    scenario = Scenario.model_validate(data.draw(shop.shops()))
    assume(not check_scenario(CheckContext(scenario)))
    by = OrderQueue(scenario).close + dt.timedelta(days=data.draw(st.integers(1, 25)))
    answer = find_reach(scenario, by, data.draw(st.sampled_from((50, 80, 90))), lock=MANY, seconds=2)
    assert find_strange(answer) == []
    levels = ("50 %", "80 %", "90 %", "2 seconds", f"{by}")
    assert find_unsaid(answer, {*stated(scenario, answer), *levels, *answer.rows["what"]}) == []
    rows = answer.rows.to_dict("records")
    assert ("Already reached" in answer.sentence) == (rows[0]["stands"] == "reaches")
    assert ("not reached by anything tried" in answer.sentence) == ({row["stands"] for row in rows} == {"falls short"})
    for row in rows[1:]:
        assert row["reach_chance_least"] <= row["reach_chance"] <= row["reach_chance_most"]
