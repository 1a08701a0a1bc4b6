"""Whatever is wrong with a file, it is told in words: no crash, no half-read scenario, nothing told twice."""

from __future__ import annotations

import copy
import datetime as dt
import math
import tomllib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopsim.scenario import dump_scenario, parse_scenario, read_scenario_text
from shopsim.scenario.plain import _value

GOOD = """\
title = "stools and trays"
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }
closed = [2027-02-15, "2027-03-01..2027-03-05"]
interrupted = "5 / 10 / 25 %"
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
open = { fri = "09:00-12:00" }
can = ["sand", "packing"]
[[shop.stations]]
name = "bench"
count = 2
[[shop.racks]]
name = "drying rack"
spots = 10
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 10
[[shop.clamps]]
name = "band clamp"
count = 2
[[designs]]
name = "counter stool"
parts = { "side frame" = 2 }
[[designs.operations]]
name = "cut joints"
work = { logged = ["5 min", "6 min"] }
[[designs.operations]]
name = "glue side frames"
after = ["cut joints"]
per = "side frame"
handful = 1
station = "bench"
work = "6 / 8 / 14 min"
clamps = [{ count = 2, reach = "18 in" }, { kind = "band clamp" }]
in_clamps = "1 h"
rest = { rack = "drying rack", spots = 2 }
redo = { chance = "3 %", work = "20 / 30 / 60 min" }
caution = "glue-up"
[[designs]]
name = "serving tray"
[[designs.operations]]
name = "sand"
work = "5 min"
[[materials]]
name = "walnut"
needed_by = ["cut joints"]
lead = "5 / 7 / 14 d"
[shipping]
packing = "20 min"
pick_up = ["tue", "fri"]
transit = { near = "1 d", far = "3 d" }
[luck]
bias = 1.3
[run]
orders_close = 2027-01-08
start = 2027-01-11
[[run.lines]]
design = "counter stool"
orders = 10
batch = 5
[[run.lines]]
design = "serving tray"
orders = 6
"""
DATA = tomllib.loads(GOOD)
WRONG: list[Any] = [
    5, -1, 0, 1.5, "x", "", True, [], {}, [[]], [{}], {"a": 1}, {"name": "x"}, dt.date(2027, 1, 1), math.inf, 10**30,
    "x.toml", "x.csv", "\x1b[31m", "4000 d", "5 min", [5], ["zz"], dt.datetime(2027, 1, 1, 1), "\ue000",
]  # fmt: skip


def places_in(data: Any, where: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    items = list(data.items()) if isinstance(data, dict) else list(enumerate(data)) if isinstance(data, list) else []
    found = []
    for key, value in items:
        found += [(*where, key), *places_in(value, (*where, key))]
    return found


PLACES = places_in(DATA)


def change(data: Any, where: tuple[str | int, ...], kind: str, value: Any) -> None:
    """Replace, take out or misspell what stands at a place, if the place is still there."""
    for step in where[:-1]:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return
    last = where[-1]
    if isinstance(data, dict) and last in data:
        if kind == "replace":
            data[last] = copy.deepcopy(value)
        elif kind == "misspell":
            data[f"{last}x"] = data.pop(last)
        else:
            del data[last]
    elif isinstance(data, list) and isinstance(last, int) and last < len(data):
        if kind == "replace":
            data[last] = copy.deepcopy(value)
        else:
            del data[last]


def text_of(data: dict[str, Any]) -> str:
    return "\n".join(f"{_value(key, (), data)} = {_value(value, (), data)}" for key, value in data.items())


def test_the_unchanged_file_is_right() -> None:
    assert parse_scenario(text_of(DATA)) == parse_scenario(GOOD)


changes = st.lists(
    st.tuples(
        st.sampled_from(PLACES), st.sampled_from(["replace", "replace", "misspell", "out"]), st.sampled_from(WRONG)
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(changes)
def test_a_file_with_anything_wrong_in_it_is_told_in_words(changed: list[tuple[Any, str, Any]]) -> None:
    data = copy.deepcopy(DATA)
    for where, kind, value in changed:
        change(data, where, kind, value)
    text = text_of(data)
    reading = read_scenario_text(text)
    assert (reading.scenario is None) == bool(reading.faults)
    told = [str(fault) for fault in (*reading.faults, *reading.warnings)]
    assert len(set(told)) == len(told)
    assert all(line.isprintable() and "\ue000" not in line for line in told)
    assert all(fault.rule and fault.mend and fault.place for fault in reading.faults)
    assert all(fault.line is None or 1 <= fault.line <= text.count("\n") + 1 for fault in reading.faults)
    assert [fault.line or 0 for fault in reading.faults] == sorted(fault.line or 0 for fault in reading.faults)
    if reading.scenario is not None:
        assert parse_scenario(dump_scenario(reading.scenario)) == reading.scenario


KEYS = [
    place
    for place in PLACES
    if not isinstance(place[-1], int)
    and place[-1] != "logged"
    and not {"parts", "open", "transit", "rest"} & set(place[:-1])  # keys within one value: see the next test
]


@pytest.mark.parametrize("where", KEYS)
def test_a_key_spelt_wrong_is_one_fault_that_names_the_key_meant(where: tuple[str | int, ...]) -> None:
    data = copy.deepcopy(DATA)
    change(data, where, "misspell", None)
    told = read_scenario_text(text_of(data)).faults
    assert [(fault.rule, fault.mend) for fault in told] == [("is not a known key", f'write "{where[-1]}"')]
    assert told[0].place.endswith(f"{where[-1]}x")


@pytest.mark.parametrize(
    ("where", "place"),
    [
        (("shop", "open", "mon-fri"), "shop.open"),
        (("designs", 0, "operations", 0, "work", "logged"), 'designs "counter stool" · operations "cut joints" · work'),
        (
            ("designs", 0, "operations", 1, "rest", "rack"),
            'designs "counter stool" · operations "glue side frames" · rest',
        ),
    ],
)
def test_a_key_spelt_wrong_within_one_value_is_one_fault_of_the_value(where: tuple[str | int, ...], place: str) -> None:
    data = copy.deepcopy(DATA)
    change(data, where, "misspell", None)
    told = read_scenario_text(text_of(data)).faults
    assert [fault.place for fault in told] == [place]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('parts = { "side frame" = 2 }', 'parts = { "side frame" = "two" }', ['designs "counter stool" · parts.side frame · "two" is not a whole number']),
        ('parts = { "side frame" = 2 }', 'parts = { "side frame" = 2, "" = 1 }', ['designs "counter stool" · parts · a name in it is blank']),
        ('parts = { "side frame" = 2 }', "parts = 2", ['designs "counter stool" · parts · 2 is not a table']),
        ('after = ["cut joints"]', 'after = ["cut joints", 5]', ['designs "counter stool" · operations "glue side frames" · after[1] · 5 is not text']),
        ('can = ["sand", "packing"]', 'can = [["sand"]]', ['shop.workers "helper" · can[0] · a list is not text']),
        ("closed = [2027-02-15,", "closed = [15,", ["shop.closed[0] · 15 is not a date"]),
        ('closed = [2027-02-15, "2027-03-01..2027-03-05"]', 'closed = ["2027-03-05..2027-03-01"]', ['shop.closed[0] · "2027-03-05..2027-03-01" ends before it begins']),
        ('name = "bench"', "", ["shop.stations[0] · name · is missing"]),
        ('reach = "24 in"', "reach = 24", ['shop.clamps "bar clamp" · reach · 24 is not a length with its unit']),
        ('transit = { near = "1 d", far = "3 d" }', 'transit = { near = "1 d", far = 3 }', ["shipping.transit · 3 is not a time with its unit"]),
        ('transit = { near = "1 d", far = "3 d" }', "transit = {}", ["shipping.transit · no destination is given"]),
        ('pick_up = ["tue", "fri"]', "pick_up = []", ["shipping.pick_up · no day is named"]),
        ('pick_up = ["tue", "fri"]', 'pick_up_at = "4 pm"', ['shipping.pick_up_at · "4 pm" is not a time of day']),
        ('pick_up = ["tue", "fri"]', "pick_up_at = 4", ["shipping.pick_up_at · 4 is not a time of day"]),
        ('open = { fri = "09:00-12:00" }', 'open = { fri = "09:00-12:00", mon-sat = "09:00-10:00" }', ['shop.workers "helper" · open · fri is given twice']),
        ('open = { fri = "09:00-12:00" }', 'open = { fri = "22:00-03:00", sat = "02:00-04:00" }', ['shop.workers "helper" · open · the night hours of fri run into the next day\'s']),
        ('open = { fri = "09:00-12:00" }', 'open = "sometimes"', ['shop.workers "helper" · open · "sometimes" is not opening hours']),
        ('rest = { rack = "drying rack", spots = 2 }', "rest = { rack = 'drying rack', spots = 0 }", ['designs "counter stool" · operations "glue side frames" · rest · a table is not a rack']),
        ('work = { logged = ["5 min", "6 min"] }', "work = { logged = [] }", ['designs "counter stool" · operations "cut joints" · work · no logged values are given']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { logged = ["5 min"], mean = "3 min" }', ['designs "counter stool" · operations "cut joints" · work · "mean" does not go with logged values']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { logged = "5 min" }', ['designs "counter stool" · operations "cut joints" · work · logged is not a list of times']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { law = "erlang", mean = "3 min" }', ['designs "counter stool" · operations "cut joints" · work · the law erlang: "shape" is missing']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { law = "erlang", mean = "3 min", shape = "2" }', ['designs "counter stool" · operations "cut joints" · work · "2" is not a plain number']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { law = "fixed", value = "1 / 2 / 3 min" }', ['designs "counter stool" · operations "cut joints" · work · "1 / 2 / 3 min" is 3 numbers where one is wanted']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = { mean = "3 min" }', ['designs "counter stool" · operations "cut joints" · work · the table names no law']),
        ('work = { logged = ["5 min", "6 min"] }', 'work = "5 / 6 min"', ['designs "counter stool" · operations "cut joints" · work · "5 / 6 min" is 2 numbers']),
        ("[luck]", "[luck]\npace_spread = nan", ["luck.pace_spread · nan is not a number"]),
        ("[luck]", "[luck]\npace_spread = '0.1'", ['luck.pace_spread · "0.1" is not a number']),
        ('title = "stools and trays"', f'title = "{"x" * 301}"', ["title · is too long a text"]),
    ],
)  # fmt: skip
def test_each_kind_of_wrong_value_is_told_once(old: str, new: str, told: list[str]) -> None:
    assert old in GOOD
    faults = read_scenario_text(GOOD.replace(old, new, 1)).faults
    assert [f"{fault.place} · {fault.rule}" for fault in faults] == told
