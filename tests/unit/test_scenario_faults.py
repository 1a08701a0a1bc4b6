"""All faults of a file are told at once, each with file, line, place, rule and mend, and none twice."""

from __future__ import annotations

import pytest

from shopsim.errors import Fault, ScenarioError
from shopsim.scenario import parse_scenario, read_scenario_text

TEN_FAULTS = """\
title = "ten faults of ten kinds"

[shop]
open = { sat = "08:30-12:30, 13:30-17:30" }
interupted = "10 %"
lost_days = "104 %"

[[shop.stations]]
name = "bench"
count = "two"

[[shop.racks]]
name = "drying rack"

[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 10

[design]
name = "counter stool"
parts = { "side frame" = 2 }

[[design.operations]]
name = "cut joints"
station = "bnech"
work = "5 min"

[[design.operations]]
name = "glue side frames"
after = ["cut joints", "oil"]
per = "side frame"
clamps = [{ count = 12, reach = "24 in" }]
in_clamps = "an hour"
basis = "guessed"
rest = "drying rack"

[[design.operations]]
name = "oil"
after = ["glue side frames"]
work = "5 min"

[run]
orders = 18
batch = 0
start = 2027-01-11
"""


def faults_of(text: str, **kind: object) -> list[str]:
    return [str(fault) for fault in read_scenario_text(text, "stools.toml", **kind).faults]  # type: ignore[arg-type]


def test_ten_faults_of_ten_kinds_are_told_at_once_in_the_order_of_the_file() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(TEN_FAULTS, "stools.toml")
    glue = 'design.operations "glue side frames"'
    assert caught.value.faults == (
        Fault("stools.toml", 5, "shop.interupted", "is not a known key", 'write "interrupted"'),
        Fault("stools.toml", 6, "shop.lost_days", '"104 %" is over 100 %', "a share lies between 0 % and 100 %"),
        Fault(
            "stools.toml",
            10,
            'shop.stations "bench" · count',
            '"two" is not a whole number',
            "write a whole number without quotes, like 3",
        ),
        Fault("stools.toml", 12, 'shop.racks "drying rack" · spots', "is missing", "add spots = 10, for instance"),
        Fault(
            "stools.toml",
            26,
            'design.operations "cut joints" · station',
            'there is no station "bnech"',
            'write "bench"',
        ),
        Fault(
            "stools.toml",
            31,
            f"{glue} · after",
            'the operations wait for each other in a circle: "glue side frames" after "oil" after "glue side frames"',
            "take one of them out of an after",
        ),
        Fault(
            "stools.toml",
            33,
            glue,
            "needs 12 clamps of 24 in or more, the shop owns 10",
            "buy 2, or lower the need",
        ),
        Fault(
            "stools.toml",
            34,
            f"{glue} · in_clamps",
            '"an hour" cannot be read as a time',
            'write something like "8 / 10 / 16 min"',
        ),
        Fault("stools.toml", 35, f"{glue} · basis", '"guessed" is not one of "guess", "timed"', 'write "guess"'),
        Fault("stools.toml", 45, "run.batch", "0 is less than 1", "write 1 or more"),
    )


def test_the_error_prints_one_fault_a_line_as_file_line_place_rule_and_mend() -> None:
    with pytest.raises(ScenarioError) as caught:
        parse_scenario(TEN_FAULTS, "stools.toml")
    lines = str(caught.value).splitlines()
    assert len(lines) == 10
    assert lines[6] == (
        'stools.toml:33 · design.operations "glue side frames" · needs 12 clamps of 24 in or more, '
        "the shop owns 10 · buy 2, or lower the need"
    )


SMALL = """\
[shop]
open = "always"
[[shop.stations]]
name = "bench"
[design]
name = "serving tray"
[[design.operations]]
name = "glue"
station = "bench"
work = "5 min"
[run]
orders = 2
start = 2027-01-11
"""


def test_a_small_scenario_has_no_faults_and_no_warnings() -> None:
    reading = read_scenario_text(SMALL)
    assert reading.faults == reading.warnings == ()
    assert reading.scenario is not None
    assert reading.scenario.design is not None
    assert reading.scenario.design.operations[0].work.likely == 5.0


def test_a_misspelt_key_that_was_needed_is_one_fault_not_two() -> None:
    assert faults_of(SMALL.replace('name = "bench"', 'nmae = "bench"')) == [
        'stools.toml:4 · shop.stations[0] · nmae · is not a known key · write "name"'
    ]


def test_a_misspelt_table_is_one_fault_and_what_is_in_it_is_still_checked() -> None:
    text = SMALL.replace("[[shop.stations]]", "[[shop.statoins]]").replace("[design]", "[desing]")
    text = text.replace("[[design.operations]]", "[[desing.operations]]").replace('"5 min"', '"5 minuets"')
    assert faults_of(text) == [
        'stools.toml:3 · shop.statoins · is not a known key · write "stations"',
        'stools.toml:5 · desing · is not a known key · write "design"',
        'stools.toml:10 · design.operations "glue" · work · "minuets" in "5 minuets" is not a unit of time · '
        "use one of s, sec, m, min, h, hr, hrs, d, day, w, wk",
    ]


@pytest.mark.parametrize(
    ("written", "instead", "fault"),
    [
        ('name = "serving tray"', "", 'stools.toml:5 · design.name · is missing · add name = "…"'),
        ("orders = 2", "", "stools.toml:11 · run.orders · is missing · add orders = 10, for instance, or a CSV file of orders"),
        ("orders = 2", "orders = 0", "stools.toml:12 · run.orders · 0 orders cannot be made · write a whole number from 1 to 10000"),
        ("orders = 2", "orders = 2.5", "stools.toml:12 · run.orders · 2.5 is not a number of orders · write a whole number, or the name of a CSV file, like \"orders.csv\""),
        ('station = "bench"', "station = 5", 'stools.toml:9 · design.operations "glue" · station · 5 is not text · write it in "quotes"'),
        ('station = "bench"', "hands = true", 'stools.toml:9 · design.operations "glue" · hands · true is not a whole number · write a whole number without quotes, like 3'),
        ('station = "bench"', 'dusty = "no"', 'stools.toml:9 · design.operations "glue" · dusty · "no" is neither true nor false · write true or false, without quotes'),
        ('station = "bench"', 'wait_for = "piece"', 'stools.toml:9 · design.operations "glue" · wait_for · "piece" is not what may stand here · write "batch", or leave it out'),
        ('station = "bench"', "clamps = 4", 'stools.toml:9 · design.operations "glue" · clamps · 4 is not a list of tables · write [[design.operations.clamps]] above each'),
        ('station = "bench"', "after = 4", 'stools.toml:9 · design.operations "glue" · after · 4 is not a list · write it in brackets, like [..]'),
        ('station = "bench"', "redo = 4", 'stools.toml:9 · design.operations "glue" · redo · 4 is not a table · write [design.operations.redo] above its keys, or { key = value }'),
        ('station = "bench"', 'cure = { law = "gauss", mean = "3 h" }', 'stools.toml:9 · design.operations "glue" · cure · "gauss" is not a law · name one of fixed, exponential, erlang, lognormal, triangular, beta-pert, or give { logged = [..] }'),
        ('station = "bench"', 'cure = "9 / 8 / 7 h"', 'stools.toml:9 · design.operations "glue" · cure · in "9 / 8 / 7 h" low, likely and high are not in rising order · write the low first, then the likely, then the high'),
        ('station = "bench"', "duration = 5", 'stools.toml:9 · design.operations "glue" · duration · is not a known key · write "work"'),
        ("start = 2027-01-11", 'start = "soon"', 'stools.toml:13 · run.start · "soon" is not a date · write it like 2027-01-08 (year, month, day)'),
        ("start = 2027-01-11", "start = 1066-10-14", "stools.toml:13 · run.start · 1066-10-14 is too far away · dates lie between 1990 and 2200"),
        ("[run]", '[run]\npriority = "gule first"', 'stools.toml:12 · run.priority · "gule first" is not one of "glue first", "oldest batch", "longest tail", "nearest done", "due first", "as planned" · write "glue first"'),
        ("[run]", "[luck]\nbias = 20.0\n[run]", "stools.toml:12 · luck.bias · 20.0 is not less than 10 · write less than 10"),
        ('open = "always"', "open = { mno = '8:00-9:00' }", 'stools.toml:2 · shop.open · "mno" is not a day · name days mon, tue, wed, thu, fri, sat, sun, or a span like mon-fri'),
    ],
)  # fmt: skip
def test_one_wrong_value_gives_one_fault_with_its_line_and_mend(written: str, instead: str, fault: str) -> None:
    assert written in SMALL
    assert faults_of(SMALL.replace(written, instead)) == [fault]


def test_missing_tables_are_told_with_what_to_add() -> None:
    assert faults_of("title = 'nothing yet'\n") == [
        'stools.toml · shop · is missing · add a [shop] table with its hours, or shop = "my-shop.toml"',
        "stools.toml · run · is missing · add a [run] table with orders and start",
        "stools.toml · design · no design is given · add a [design] table with name and operations",
    ]


def test_a_value_that_cannot_be_read_causes_no_further_faults() -> None:
    text = TEN_FAULTS.replace("count = 10", "count = -1")  # how many clamps there are is now unknown
    told = faults_of(text)
    assert any("shop.clamps" in fault and "-1 is less than 0" in fault for fault in told)
    assert not any("needs 12 clamps" in fault for fault in told)


def test_a_name_that_cannot_be_read_does_not_make_its_users_wrong() -> None:
    assert faults_of(SMALL.replace('name = "bench"', "name = 5")) == [
        'stools.toml:4 · shop.stations[0] · name · 5 is not text · write it in "quotes"'
    ]


def test_control_characters_of_a_file_never_reach_the_screen() -> None:
    (fault,) = read_scenario_text(SMALL.replace('station = "bench"', 'work_kind = "a\\u001b[31mb\\nc"')).faults
    assert fault.rule == '"a\\x1b[31mb c" is not one of "hand", "machine"'
    assert str(fault).isprintable()


def test_thousands_of_faults_are_told_without_delay() -> None:
    text = SMALL + "".join(f"unknown{number} = {number}\n" for number in range(5000))
    assert len(read_scenario_text(text).faults) == 5000


@pytest.mark.parametrize(
    ("text", "line", "rule", "mend"),
    [
        ("[shop\n", 1, "a [table] header is not closed", "close it with ]"),
        ("a = 1\na = 2\n", 2, '"a" is given twice', "keep one of them"),
        ("[shop]\n\n[shop]\n", 3, "the table [shop] is given twice", "keep one, or write [[..]] for a list of tables"),
        ('a = "open\n', 1, "a text is not closed on its line", "close it with the quote it begins with"),
        ("[run]\nwork = 5 min\n", 2, "5 min is not in quotes, as every value with a unit is", 'write "5 min"'),
        ("a = nobody\n", 1, "nobody is text and not in quotes", 'write "nobody"'),
        ("a\n", 1, "a key has no = after it", 'write it as key = value, text in "quotes"'),
        ("d = 2027-02-30\n", 1, "2027-02-30 is not a date in the calendar", "write a date that exists, like 2027-01-08"),
        ("a = [1,\n", 1, "a list is not closed", "close it with ]"),
        ("a = " + "[" * 5000, 1, "lists or tables are nested too deeply", "write them less deep"),
        ("a" + ".a" * 40 + " = 1", 1, "a key of more than 32 parts", "write tables within tables less deep"),
        ("a = " + "[" * 40 + "]" * 40, 1, "lists or tables are nested more than 32 deep", "write them less deep"),
    ],
)  # fmt: skip
def test_what_is_not_toml_is_one_fault_with_its_line(text: str, line: int | None, rule: str, mend: str) -> None:
    reading = read_scenario_text(text, "stools.toml")
    assert reading.scenario is None
    assert [fault for fault in reading.faults if not fault.place] == [Fault("stools.toml", line, "", rule, mend)]
