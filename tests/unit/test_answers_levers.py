"""What costs nothing: which levers a shop has, and what they save, by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import load_scenario
from shopsim.answers import compare_batch_sizes, compare_clamps, find_holdups
from shopsim.answers.levers import COSTS_NOTHING, FREE, MATERIAL, is_open, is_rough, list_levers
from shopsim.scenario import Scenario, parse_scenario
from shopsim.study.intervals import Interval

ONE_A_DAY = '{ name = "glue", work = "30 min", cure = "24 h" }'
BOUGHT = '[[materials]]\nname = "boards"\nlead = "14 d"\nneeded_by = ["glue"]\n'


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def made(operations: str, run: str, more: str = "") -> Scenario:
        calm = 'interrupted = "0 %"\nlost_days = "0 %"\n'
        return parse_scenario(write_shop(operations, open="{ mon-sun = '08:00-16:00' }", shop=calm, run=run, more=more))

    return made


def test_a_shop_has_these_levers_and_each_leads_to_a_shop_that_can_be_run() -> None:
    labels = [lever.label for lever in list_levers(load_scenario("scenarios/counter-stools.toml"))]
    assert labels == [
        "priority rule: oldest batch", "priority rule: longest tail", "priority rule: nearest done",
        "room: 5", "room: 20", "batch size: 1", "batch size: 2", "batch size: 4", "batch size: 10", "batch size: 20",
        "material: boards", "material: seat fasteners and foot pads", "material: oil and wax",
    ]  # fmt: skip
    assert [lever.thing for lever in list_levers(load_scenario("scenarios/counter-stools.toml"), FREE[:3])] == [
        MATERIAL
    ] * 3


def test_room_for_all_at_once_saves_the_days_counted_by_hand(build: Callable[..., Scenario]) -> None:
    # half an hour of work and a day of curing: one at a time ships on days 1 2 3 4, two at a time 1 1 2 2, four 1 1 1 1
    scenario = build(ONE_A_DAY, "orders = 4\nbatch = 1\npieces_open = 1")
    free = compare_batch_sizes(scenario, (1,), replications=2).tables[COSTS_NOTHING].set_index("thing")
    best = free.loc["room"]
    assert (best["kind"], best["tried"]) == ("4", 2)
    assert (best["average_saved_days"], best["last_saved_days"]) == (1.5, 3)
    assert best["is_sure"]
    assert not free.drop("room")["is_sure"].any()


def test_a_week_of_waiting_for_boards_is_saved_by_a_week(build: Callable[..., Scenario]) -> None:
    # ordered on the Monday when orders close, here two weeks later, and glued on that day; a week earlier: a week sooner
    scenario = build(ONE_A_DAY, "orders = 2\nbatch = 2", BOUGHT)
    for answer in (
        compare_batch_sizes(scenario, (2,), replications=2),
        compare_clamps(scenario, replications=2),
        find_holdups(scenario, replications=2, accounted=1),
    ):
        free = answer.tables[COSTS_NOTHING].set_index("thing").loc["material"]
        assert (free["average_saved_days"], free["last_saved_days"]) == (7, 7)
        assert free["what"] == "boards ordered a week earlier, on 2027-01-04"
        assert (
            f"with {free['what']}, the average order ships 7.0 days sooner, and the last one 7.0 days sooner"
            in answer.sentence
        )


def test_material_on_the_shelf_is_not_ordered_earlier(build: Callable[..., Scenario]) -> None:
    scenario = build(ONE_A_DAY, "orders = 2", BOUGHT + "on_shelf = true\n")
    assert MATERIAL not in {lever.thing for lever in list_levers(scenario)}


@pytest.mark.parametrize(
    ("low", "value", "high", "open_", "rough"),
    [
        (-0.1, 0.1, 0.24, False, False),  # whatever it is, it is less than what matters
        (-0.1, 0.2, 0.5, True, False),
        (0.1, 0.6, 1.1, False, True),
        (0.4, 0.6, 0.8, False, False),
        (-0.8, -0.6, -0.4, False, False),
    ],
)
def test_more_is_run_of_what_may_matter(low: float, value: float, high: float, open_: bool, rough: bool) -> None:
    saved = Interval(value, low, high, 0.95)
    assert (is_open(saved), is_rough(saved)) == (open_, rough)
