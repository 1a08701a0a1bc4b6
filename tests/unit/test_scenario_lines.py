"""Every value of a TOML file is found on the line on which it stands, however it is written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim.scenario import read_scenario_text
from shopsim.scenario.lines import find_lines, parse_toml
from shopsim.scenario.plain import _value

EVERY_FORM = """\
title = "forms"
shop.open.sat = "08:30-12:30"
"luck" . 'bias' = 1.3

[run]
orders = 3
lines = [
  { design = "stool" },
  # a remark
  # and another
  { design = "tray", extra.deep = 2 },
]

[[shop.clamps]]
name = \"\"\"
bar
clamp\"\"\"
count = 3
[[shop.clamps]]
reach = "24 in"
[shop.clamps.inner]
key = 1

[design]
parts = { "side frame" = 2, seat = 1 }
[[design.operations]]
name = "a"
after = [
  "b",
  "c",
]
[[design.operations]]
name = "b"
clamps = [{ count = 2, reach = "18 in" }, { kind = "x" }]
[[design.operations.more]]
x = 1
[[design.operations.more]]
x = 2
"""


@pytest.mark.parametrize(
    ("where", "line"),
    [
        (("title",), 1),
        (("shop",), 2),
        (("shop", "open"), 2),
        (("shop", "open", "sat"), 2),
        (("luck", "bias"), 3),
        (("run",), 5),
        (("run", "orders"), 6),
        (("run", "lines"), 7),
        (("run", "lines", 0), 8),
        (("run", "lines", 0, "design"), 8),
        (("run", "lines", 1), 11),
        (("run", "lines", 1, "extra", "deep"), 11),
        (("shop", "clamps"), 14),
        (("shop", "clamps", 0), 14),
        (("shop", "clamps", 0, "name"), 15),
        (("shop", "clamps", 0, "count"), 18),
        (("shop", "clamps", 1), 19),
        (("shop", "clamps", 1, "reach"), 20),
        (("shop", "clamps", 1, "inner"), 21),
        (("shop", "clamps", 1, "inner", "key"), 22),
        (("design", "parts", "side frame"), 25),
        (("design", "operations", 0), 26),
        (("design", "operations", 0, "after", 0), 29),
        (("design", "operations", 0, "after", 1), 30),
        (("design", "operations", 1, "clamps", 1, "kind"), 34),
        (("design", "operations", 1, "more", 0, "x"), 36),
        (("design", "operations", 1, "more", 1), 37),
        (("design", "operations", 1, "more", 1, "x"), 38),
    ],
)
def test_each_form_of_toml_is_found_on_its_line(where: tuple[str | int, ...], line: int) -> None:
    assert find_lines(EVERY_FORM)[where] == line


def places_in(data: Any, where: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    found = set()
    for key, value in items:
        found |= {(*where, key)} | places_in(value, (*where, key))
    return found


def test_no_place_is_without_a_line_and_no_line_without_a_place() -> None:
    assert set(find_lines(EVERY_FORM)) == places_in(tomllib.loads(EVERY_FORM))


def test_line_ends_of_other_systems_and_byte_order_marks_do_not_shift_lines() -> None:
    windows = "\ufeff" + EVERY_FORM.replace("\n", "\r\n")
    text = windows.removeprefix("\ufeff")
    assert find_lines(text)[("design", "operations", 1, "more", 1, "x")] == 38
    told = read_scenario_text(windows.encode("utf-8")).faults
    assert [fault.line for fault in told if fault.place == "shop.clamps[1] · inner"] == [21]


PLAIN_VALUES = st.recursive(
    st.integers(-5, 5) | st.booleans() | st.text(max_size=5).filter(lambda text: "\x00" not in text),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(min_size=1, max_size=4), inner, max_size=3),
    max_leaves=12,
)


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.text(min_size=1, max_size=4), PLAIN_VALUES, min_size=1, max_size=4))
def test_whatever_the_keys_are_called_each_is_found(data: dict[str, Any]) -> None:
    lines = []
    for key, value in data.items():
        lines += ["# a remark", f"{_value(key, (), data)} = {_value(value, (), data)}"]
    text = "\n".join(lines)
    assert parse_toml(text) == data
    found = find_lines(text)
    assert set(found) == places_in(data)
    for number, key in enumerate(data):
        assert {line for where, line in found.items() if where[0] == key} == {2 * number + 2}
