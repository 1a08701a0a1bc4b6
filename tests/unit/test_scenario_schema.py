"""The JSON Schema says the same as the program about every key and about the form of every value."""

from __future__ import annotations

import datetime as dt
import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from shopsim.scenario import CAUTIONS, read_scenario_text, scenario_schema

EXAMPLES = sorted((Path(__file__).parents[2] / "scenarios").rglob("*.toml"))

FULL = """\
title = "stools and trays"
materials = [{ name = "walnut", needed_by = "sand", lead = "5 / 7 / 14 d", ordered = 2027-01-05, late = "20 %", unit = "m3", price = 2100.5, waste = "25 / 33 / 40 %", in_stock = 0.1, lengths = ["2.5 m", "3 m"], width = "150 mm", saw_cut = "3 mm", pack = 0.5 }]
money = { currency = "EUR", wage = 28, overhead_month = "1 200.50", fees = "3 %", deposit = "50 %", beside_the_bench = "20 min" }
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00", sat = "22:00-02:00" }
closed = [2027-02-15, "2027-03-01..2027-03-05"]
interrupted = "5 / 10 / 25 %"
workers = [{ name = "maker" }, { name = "helper", open = "always", can = "sand", pay = "18.50" }]
stations = [{ name = "bench", count = 2 }]
racks = [{ name = "rack", spots = 6 }]
clamps = [{ name = "bar clamp", reach = "24 in", count = 10, price = 34 }]
[design]
name = "counter stool"
parts = { "side frame" = 2 }
price = 480
shipping_paid = 45.0
boards = [{ part = "side frame", wood = "walnut", thickness = "19 mm", width = "60 mm", length = "500 mm", rough = "4/4", spare = 2 }]
goods = [{ material = "walnut", amount = 0.01, per = "run" }]
[[design.operations]]
name = "sand"
after = []
work = { logged = ["5 min", "6.5 min"] }
setup = { law = "Erlang", mean = "5 min", shape = 2 }
dusty = true
[[design.operations]]
name = "glue"
per = "side frame"
handful = "batch"
wait_for = "batch"
station = "bench"
work = "6 min / 0.2 h / 14 min"
clamps = [{ count = 2, reach = "600 mm" }]
in_clamps = { law = "beta-PERT", low = "45 min", likely = "1 h", high = "90 min" }
cure = "1e1 h"
rest = { rack = "rack", spots = 1 }
caution = ["glue-up", "mind the cat"]
learning = "95 %"
redo = { chance = "3 %", work = "20 / 30 / 60 min" }
[shipping]
packing = "20 min"
caution = "lifting"
pick_up = ["tue", "fri"]
pick_up_at = 16:00:00
transit = { near = "1 d", far = { law = "triangular", low = "1 d", likely = "3 d", high = "7 d" } }
[luck]
bias = 1.3
[run]
orders = 3
start = 2027-01-11
"""


def as_json(data: Any) -> Any:
    """TOML data as JSON has it: dates and times as text."""
    if isinstance(data, dict):
        return {key: as_json(value) for key, value in data.items()}
    if isinstance(data, list):
        return [as_json(value) for value in data]
    return data.isoformat() if isinstance(data, dt.date | dt.time) else data


@pytest.fixture(scope="module")
def validator() -> Any:
    schema = scenario_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def faults_by_schema(validator: Any, text: str) -> list[str]:
    return [error.json_path for error in validator.iter_errors(as_json(tomllib.loads(text)))]


def test_a_file_with_everything_in_it_is_right_for_both(validator: Any) -> None:
    assert read_scenario_text(FULL).faults == ()
    assert faults_by_schema(validator, FULL) == []


def test_the_examples_are_right_for_the_schema(validator: Any) -> None:
    texts = {path.name: path.read_text(encoding="utf-8") for path in EXAMPLES}
    whole = {name: text for name, text in texts.items() if "run" in tomllib.loads(text)}  # not single tables
    assert whole
    assert {name: faults_by_schema(validator, text) for name, text in whole.items()} == {name: [] for name in whole}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("[shop]", "[shpo]"),
        ("interrupted", "interupted"),
        ("orders = 3", "order = 3"),
        ("orders = 3", "orders = 0"),
        ("orders = 3", 'orders = "many"'),
        ("dusty = true", "dustty = true"),
        ("dusty = true", 'dusty = "yes"'),
        ("dusty = true", "hands = -1"),
        ("dusty = true", "caution = 5"),
        ("price = 480", "price = -480"),
        ("price = 480", 'price = "EUR 480"'),
        ("price = 480", "prize = 480"),
        ('rough = "4/4"', 'rough = "4/4/4"'),
        ('length = "500 mm"', "length = 500"),
        ('per = "run"', 'per = "day"'),
        ('lengths = ["2.5 m", "3 m"]', "lengths = []"),
        ('fees = "3 %"', "fees = 3"),
        ("dusty = true", 'caution = " "'),
        ("dusty = true", 'caution = ["dust", "dust"]'),
        ("dusty = true", 'caution = ["dust", 5]'),
        ("dusty = true", 'basis = "guessed"'),
        ("dusty = true", 'cure = "an hour"'),
        ("dusty = true", 'cure = "5"'),
        ("dusty = true", 'cure = "1 / 2 h"'),
        ("dusty = true", 'cure = { law = "gauss", mean = "3 h" }'),
        ("dusty = true", 'cure = { law = "exponential" }'),
        ("dusty = true", 'open_time = "1 / 2 / 3 h"'),
        ('reach = "600 mm"', 'reech = "600 mm"'),
        ('reach = "600 mm"', "reach = 600"),
        ('learning = "95 %"', 'learning = "0.95"'),
        ('rest = { rack = "rack", spots = 1 }', 'rest = { rakc = "rack" }'),
        ("mon-fri", "mno-fri"),
        ('"22:00-02:00"', '"22-02"'),
        ("start = 2027-01-11", 'start = "soon"'),
        ('["tue", "fri"]', '["tues"]'),
        ("16:00:00", '"4 pm"'),
        ("bias = 1.3", "bias = 20.0"),
        ("bias = 1.3", "bais = 1.3"),
        ("spots = 6", "spots = 6.5"),
        ('handful = "batch"', 'handful = "all"'),
        ('name = "counter stool"', ""),
    ],
)
def test_what_the_program_refuses_in_one_value_the_schema_refuses_too(validator: Any, old: str, new: str) -> None:
    text = FULL.replace(old, new, 1)
    assert text != FULL
    assert read_scenario_text(text).faults
    assert faults_by_schema(validator, text)


def test_a_table_may_be_the_name_of_a_file(validator: Any) -> None:
    text = 'shop = "my-shop.toml"\ndesigns = ["stool.toml"]\nmaterials = "walnut.toml"\nrun = "winter.toml"\n'
    assert faults_by_schema(validator, text) == []
    assert faults_by_schema(validator, text.replace("my-shop.toml", "my-shop"))


def test_every_key_is_described_and_the_schema_is_plain_json() -> None:
    schema = json.loads(json.dumps(scenario_schema(), allow_nan=False))
    tables = {"scenario": schema, **schema["$defs"]}
    described = 0
    for name, table in tables.items():
        for key, value in table.get("properties", {}).items():
            assert value.get("description"), f"{name}.{key} has no description"
            described += 1
    assert described > 90
    assert '"null"' not in json.dumps(schema)


def test_an_editor_is_offered_every_caution_by_its_key() -> None:
    caution = scenario_schema()["$defs"]["Caution"]
    assert caution["anyOf"][0]["enum"] == [*CAUTIONS, "none needed"]
    assert all(key in caution["description"] for key in CAUTIONS)
