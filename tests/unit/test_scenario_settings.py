"""Values set by hand find their place by number or name, and faults name the setting."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from shopsim.errors import ScenarioError
from shopsim.laws import own_law
from shopsim.scenario import Order, OrderBook, Scenario, change_scenario, parse_scenario, read_scenario_text
from shopsim.scenario.settings import read_value, split_place

TEXT = """\
[shop]
open = { sat = "08:00-12:00" }
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 4
[[shop.clamps]]
name = "band clamp"
count = 1
[design]
name = "serving tray"
parts = { "long side" = 2 }
[[design.operations]]
name = "cut 1.5 in strips"
work = "5 min"
[[design.operations]]
name = "glue"
work = "5 min"
clamps = [{ count = 2, reach = "18 in" }]
in_clamps = "1 h"
[run]
orders = 2
start = 2027-01-11
"""


def read(*settings: str) -> Scenario:
    return parse_scenario(TEXT, settings=settings)


def faults_of(*settings: str) -> list[str]:
    return [str(fault) for fault in read_scenario_text(TEXT, settings=settings).faults]


@pytest.mark.parametrize(
    "place",
    [
        "shop.clamps.1.count",
        "shop.clamps[1].count",
        "shop . clamps [ 1 ] . count",
        "shop.clamps.band clamp.count",
        'shop.clamps."band clamp".count',
        "shop.clamps.'Band Clamp'.count",
        '"shop"."clamps"[1]."count"',
    ],
)
def test_a_list_item_is_found_by_number_or_by_name(place: str) -> None:
    assert [kind.count for kind in read(f"{place}=7").shop.clamps] == [4, 7]


def test_names_with_dots_and_equals_signs_stand_in_quotes() -> None:
    changed = read('design.operations."cut 1.5 in strips".work = "8 min"', 'design.parts."a=b"=3')
    assert changed.design is not None
    assert changed.design.operations[0].work.likely == 8.0
    assert changed.design.parts == {"long side": 2, "a=b": 3}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("5", 5),
        ("1.5", 1.5),
        ("true", True),
        ("2027-01-11", dt.date(2027, 1, 11)),
        ('["a", "b"]', ["a", "b"]),
        ('"12"', "12"),
        ("12 min", "12 min"),
        ("glue first", "glue first"),
        ("", ""),
        ("1\nother = 2", "1\nother = 2"),
        ("[" * 5000, "[" * 5000),
    ],
)
def test_a_value_is_read_as_toml_or_else_as_text(text: str, value: object) -> None:
    assert read_value(text) == value
    assert type(read_value(text)) is type(value)


def test_tables_and_keys_that_the_file_does_not_have_can_be_set() -> None:
    changed = read("luck.bias=1.5", "run.batch=2", "design.operations.glue.redo={ chance = '5 %', work = '9 min' }")
    assert changed.luck.bias == 1.5
    assert changed.run.batch == 2
    assert changed.design is not None
    assert changed.design.operations[1].redo is not None


def test_the_last_of_several_settings_of_one_place_counts() -> None:
    assert read("run.orders=3", "run.orders=4").run.orders == 4


def test_a_mapping_sets_values_as_they_are() -> None:
    changed = parse_scenario(TEXT, settings={"run.batch": np.int64(2), "run.start": dt.date(2027, 2, 1)})
    assert changed.run.batch == 2
    assert changed.run.start == dt.date(2027, 2, 1)


@pytest.mark.parametrize(
    ("setting", "fault"),
    [
        ("run.batch=abc", '--set run.batch=abc · run.batch · "abc" is not a whole number · write a whole number without quotes, like 3'),
        ("run.bacth=3", '--set run.bacth=3 · there is no "bacth" in run · write "batch"'),
        ("rnu.batch=3", '--set rnu.batch=3 · there is no "rnu" · write "run"'),
        ("shop.clamps.bar clmp.count=3", '--set shop.clamps.bar clmp.count=3 · shop.clamps has no "bar clmp" · write "bar clamp"'),
        ("shop.clamps.bar clamp.cuont=3", '--set shop.clamps.bar clamp.cuont=3 · there is no "cuont" in shop.clamps "bar clamp" · write "count"'),
        ("luck.zzz=3", '--set luck.zzz=3 · there is no "zzz" in luck · known here are "bias", "bias_spread", "pace_spread", "guess_widening", "timed_widening", "guess_spread", "timed_spread", "hand_spread", "machine_spread"'),
        ("shop.clamps[2].count=3", "--set shop.clamps[2].count=3 · shop.clamps has no [2] · there are 2, counted from 0"),
        ("shop.stations[0].count=3", "--set shop.stations[0].count=3 · shop.stations has nothing in it · write the list in the file first"),
        ("run.start.year=3", "--set run.start.year=3 · run.start is one value, with nothing in it · set run.start as a whole"),
        ("run.batch", "--set run.batch · no value is given · write it as place=value, like run.batch=5"),
        ("=5", '--set =5 · "" is not a place · write it like run.batch or shop.clamps[0].count'),
        ("run.=5", '--set run.=5 · "run." is not a place · write it like run.batch or shop.clamps[0].count'),
        ("run..batch=5", '--set run..batch=5 · "run..batch" is not a place · write it like run.batch or shop.clamps[0].count'),
        ("shop.open.sat=8", '--set shop.open.sat=8 · shop.open · 8 is not a stretch of hours · write it like "08:30-12:30, 13:30-17:30"'),
        ("shop.clamps[0].count=1", 'scenario.toml:19 · design.operations "glue" · needs 2 clamps of 18 in or more, the shop owns 1 · buy 1, or lower the need'),
        ("shop=none.txt", '--set shop=none.txt · shop · "none.txt" is not the name of a .toml file · name a file that ends in .toml'),
    ],
)  # fmt: skip
def test_a_wrong_setting_is_told_by_the_setting_with_what_was_meant(setting: str, fault: str) -> None:
    told = faults_of(setting)
    assert [line for line in told if line.startswith(("--set", "scenario.toml:19"))] == [fault]
    if not setting.startswith("shop="):
        assert told == [fault]


def test_faults_of_the_file_and_of_settings_are_told_together_those_of_the_file_first() -> None:
    told = read_scenario_text(TEXT.replace('"5 min"', '"5"', 1), settings=["run.batch=0", "run.round_up_to=x"]).faults
    assert [(fault.file, fault.line) for fault in told] == [
        ("scenario.toml", 15),
        ("--set run.batch=0", None),
        ("--set run.round_up_to=x", None),
    ]


def test_a_place_is_split_at_dots_and_brackets() -> None:
    assert split_place('shop.clamps[0]."a.b"') == ["shop", "clamps", 0, "a.b"]


def test_changing_nothing_gives_an_equal_scenario_and_a_change_only_what_was_asked() -> None:
    scenario = read()
    assert change_scenario(scenario, {}) == scenario
    changed = change_scenario(scenario, {"shop.clamps.bar clamp.count": 9})
    assert [kind.count for kind in changed.shop.clamps] == [9, 1]
    assert change_scenario(changed, {"shop.clamps[0].count": 4}) == scenario
    assert [kind.count for kind in scenario.shop.clamps] == [4, 1]


def test_a_change_is_held_to_the_same_rules() -> None:
    with pytest.raises(ScenarioError) as caught:
        change_scenario(read(), {"shop.clamps[0].count": 1, "run.batch": "all"})
    assert [str(fault) for fault in caught.value.faults] == [
        'scenario · design.operations "glue" · needs 2 clamps of 18 in or more, the shop owns 1 · '
        "buy 1, or lower the need",
        'changed run.batch=all · run.batch · "all" is not a whole number · write a whole number without quotes, like 3',
    ]


def test_none_takes_a_key_out() -> None:
    scenario = read("run.batch=2")
    assert change_scenario(scenario, {"run.batch": None}) == read()
    with pytest.raises(ScenarioError, match=r"run\.orders · is missing"):
        change_scenario(scenario, {"run.orders": None})


def test_laws_and_order_books_of_a_python_user_survive_a_change() -> None:
    scenario = read()
    assert scenario.design is not None
    law = own_law(np.sqrt, 3.0)
    glue = scenario.design.operations[1].model_copy(update={"work": law})
    design = scenario.design.model_copy(update={"operations": (scenario.design.operations[0], glue)})
    book = OrderBook("mine.csv", (Order("A1", dt.date(2027, 1, 4), 3),))
    own = scenario.model_copy(update={"design": design, "run": scenario.run.model_copy(update={"orders": book})})
    changed = change_scenario(own, {"run.batch": 1})
    assert changed.design is not None
    assert changed.design.operations[1].work is law
    assert changed.run.orders == book
