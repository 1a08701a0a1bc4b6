"""On random shops: a way of making it that is in use is what an option would be that every buyer chose."""

from __future__ import annotations

import copy

import pandas as pd
from hypothesis import assume, event, given, settings
from hypothesis import strategies as st

from shopsim import Scenario, run_once
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario
from shopsim.scenario.values import Order, OrderBook

from . import strategies as shop


def see(scenario: Scenario) -> pd.DataFrame:
    run = run_once(scenario, seed=3)
    assert run.check() == []
    keys = ["operation", "batch", "piece", "unit"]
    return run.tasks[[*keys, "ready", "start", "done"]].sort_values(keys).reset_index(drop=True)


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_a_way_in_use_is_an_option_that_every_buyer_chose(data: st.DataObject) -> None:
    plain = data.draw(shop.shops())
    assume("design" in plain)
    plain.pop("shipping", None)
    design = plain["design"]
    names = [operation["name"] for operation in design["operations"]]
    change = data.draw(shop.options(names, design["parts"], 0))
    pieces = data.draw(st.integers(1, 4))
    run = plain["run"]
    run.pop("lines", None)
    run |= {"batch": data.draw(st.integers(1, 4)), "release": "when orders close"}

    def book(option: str) -> OrderBook:
        return OrderBook("orders.csv", (Order("1", shop.FIRST_DAY, pieces, option=option),))

    chosen, way = copy.deepcopy(plain), copy.deepcopy(plain)
    chosen["design"]["options"] = [change]
    chosen["run"]["orders"] = book(change["name"])
    way["design"]["ways"] = [change]
    way["run"] |= {"orders": book(""), "ways": [change["name"]]}
    by_option, by_way = Scenario.model_validate(chosen), Scenario.model_validate(way)
    sound = not check_scenario(CheckContext(by_option))
    assert sound == (not check_scenario(CheckContext(by_way)))
    event("can be made" if sound else "is refused")
    assume(sound)
    pd.testing.assert_frame_equal(see(by_option), see(by_way))
