"""In shops at random what is said of ways of making it agrees with its tables: what is sure, what pays, and every number."""

from __future__ import annotations

import copy
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from shopsim import InputError, Scenario, compare_ways
from shopsim.answers.answer import Answer
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario

from . import strategies as shop
from .sentences import find_strange, find_unsaid, stated


def without_refusals(answer: Answer) -> Answer:
    """The answer less the note that says in the words of a check why a number of pieces that was tried cannot be made."""
    return replace(answer, notes=tuple(note for note in answer.notes if "they pay is not told: " not in note))


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much])
@given(st.data())
def test_in_shops_at_random_the_sentence_stands_in_its_tables(data: st.DataObject) -> None:
    plain = copy.deepcopy(data.draw(shop.shops()))
    assume("design" in plain)
    names = [operation["name"] for operation in plain["design"]["operations"]]
    ways = [data.draw(shop.options(names, plain["design"]["parts"], n)) for n in range(data.draw(st.integers(1, 2)))]
    for n, way in enumerate(ways):
        way["name"] = ("the jig", "another glue")[n]
        if data.draw(st.booleans()):
            way["price"] = 12.0
    plain["design"]["ways"] = ways
    plain["run"] = {key: value for key, value in plain["run"].items() if key != "lines"}
    plain["run"]["orders"] = data.draw(st.integers(1, 4))
    scenario = Scenario.model_validate(plain)
    assume(not check_scenario(CheckContext(scenario)))
    answer = compare_ways(scenario, replications=30)
    assert find_strange(answer) == []
    assert find_unsaid(without_refusals(answer), stated(scenario, answer)) == []
    for row in answer.rows.to_dict("records")[1:]:
        assert f'"{row["ways"]}"' in answer.sentence
    assert answer.rows.iloc[0]["average_saved_days"] == 0.0
    if (answer.rows["average_saved_days_low"] > 0).any():
        assert "sooner" in answer.sentence


def test_ways_are_asked_for_by_name_alone_or_together_and_nothing_is_run_where_there_are_none() -> None:
    plain = {
        "shop": {"open": "always"},
        "design": {"name": "tray", "operations": [{"name": "cut", "work": "8 / 10 / 14 min"}]},
        "run": {"start": "2027-01-04", "orders": 2},
    }
    with pytest.raises(InputError, match="the file knows no other way of making it · write one under"):
        compare_ways(Scenario.model_validate(plain))
    faster = [{"operation": "cut", "work": f"{n} min"} for n in (6, 7, 8, 9)]
    plain["design"]["ways"] = [{"name": f"way {n}", "change": [one]} for n, one in enumerate(faster)]  # type: ignore[index]
    scenario = Scenario.model_validate(plain)
    assert len(compare_ways(scenario, replications=30).rows) == 5  # four are too many to be put together unasked
    rows = compare_ways(scenario, "way 0 + Way 2; way 1+way 3", replications=30).rows
    assert list(rows["ways"])[5:] == ["way 0 + way 2", "way 1 + way 3"]
    with pytest.raises(InputError, match='there is no way "wya 1" · write "way 1"'):
        compare_ways(scenario, "way 0 + wya 1")
