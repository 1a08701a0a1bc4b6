"""Rules about names: each thing has its own, and every name that is used is known."""

from __future__ import annotations

import pytest

from shopsim.scenario import read_scenario_text

PLAIN = """\
[shop]
open = { mon-fri = "08:00-12:00, 13:00-17:00" }
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
can = ["sand", "packing"]
[[shop.stations]]
name = "bench"
[[shop.stations]]
name = "table saw"
[[shop.racks]]
name = "drying rack"
spots = 10
[[shop.racks]]
name = "shelf"
spots = 4
[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 10
[[shop.clamps]]
name = "band clamp"
count = 2
[design]
name = "counter stool"
parts = { "side frame" = 2, seat = 1 }
[[design.operations]]
name = "cut joints"
station = "table saw"
work = "5 min"
[[design.operations]]
name = "sand"
work = "5 min"
[[design.operations]]
name = "glue frames"
after = ["cut joints", "sand"]
per = "side frame"
station = "bench"
clamps = [{ count = 1, kind = "band clamp" }, { count = 2, reach = "18 in" }]
in_clamps = "1 h"
rest = "drying rack"
caution = "glue-up"
[[materials]]
name = "walnut"
needed_by = ["cut joints"]
[[materials]]
name = "glue"
needed_by = "glue frames"
[shipping]
packing = "10 min"
packing_station = "bench"
[run]
orders = 4
start = 2027-01-11
"""


def check(*changes: tuple[str, str]) -> list[str]:
    """Faults of the plain file with some text replaced, each as the text of its line, its place, rule and mend."""
    text = PLAIN
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    lines = text.splitlines()
    return [
        " · ".join((lines[(fault.line or 0) - 1], fault.place, fault.rule, fault.mend))
        for fault in read_scenario_text(text).faults
    ]


def test_the_plain_file_has_no_faults_and_no_warnings() -> None:
    reading = read_scenario_text(PLAIN)
    assert reading.faults == reading.warnings == ()


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ('name = "helper"', 'name = "Maker"', 'name = "Maker" · shop.workers "Maker" · name · there are two workers of this name ("maker" differs only in capitals or spaces) · give each its own name'),
        ('[[shop.racks]]', '[[shop.stations]]\nname = "bench"\n[[shop.racks]]', 'name = "bench" · shop.stations "bench" · name · there are two stations of this name · give each its own name, or one of them a count'),
        ('name = "shelf"', 'name = "drying  rack"', 'name = "drying  rack" · shop.racks "drying  rack" · name · there are two racks of this name ("drying rack" differs only in capitals or spaces) · give each its own name, or one of them more spots'),
        ('[design]', '[[shop.clamps]]\nname = "bar clamp"\ncount = 1\n[design]', 'name = "bar clamp" · shop.clamps "bar clamp" · name · there are two kinds of clamps of this name · give each its own name, or one of them a higher count'),
        ('[[materials]]', '[[design.operations]]\nname = "Sand"\n[[materials]]', 'name = "Sand" · design.operations "Sand" · name · there are two operations of this name ("sand" differs only in capitals or spaces) · give each its own name'),
        ('name = "glue"\n', 'name = "walnut"\n', 'name = "walnut" · materials "walnut" · name · there are two materials of this name · give each its own name'),
        ('name = "shelf"', 'name = "  "', 'name = "  " · shop.racks[1] · name · is blank · write a name'),
        ('seat = 1', 'batch = 1', 'parts = { "side frame" = 2, batch = 1 } · design.parts.batch · "batch" means something else in per · give the part another name'),
        ('seat = 1', "Side-frame = 1, 'Side Frame' = 1", 'parts = { "side frame" = 2, Side-frame = 1, \'Side Frame\' = 1 } · design.parts.Side Frame · differs from "side frame" only in capitals or spaces · give each part its own name'),
        ('[[materials]]', '[[design.operations]]\nname = "packing"\n[[materials]]', 'name = "packing" · design.operations "packing" · name · "packing" is what shipping adds after the last operation · call it otherwise, or leave it to shipping'),
        ('station = "table saw"', 'station = "tabel saw"', 'station = "tabel saw" · design.operations "cut joints" · station · there is no station "tabel saw" · write "table saw"'),
        ('station = "table saw"', 'station = "Table Saw"', 'station = "Table Saw" · design.operations "cut joints" · station · there is no station "Table Saw" · write "table saw"'),
        ('station = "table saw"', 'station = "planer"', 'station = "planer" · design.operations "cut joints" · station · there is no station "planer" · known are "bench", "table saw"; or add it under [[shop.stations]]'),
        ('rest = "drying rack"', 'rest = "drying racks"', 'rest = "drying racks" · design.operations "glue frames" · rest · there is no rack "drying racks" · write "drying rack"'),
        ('kind = "band clamp"', 'kind = "bandclamp"', 'clamps = [{ count = 1, kind = "bandclamp" }, { count = 2, reach = "18 in" }] · design.operations "glue frames" · clamps[0] · kind · there is no kind of clamp "bandclamp" · write "band clamp"'),
        ('per = "side frame"', 'per = "side frames"', 'per = "side frames" · design.operations "glue frames" · per · there is no part "side frames" · write "side frame"'),
        ('per = "side frame"', 'per = "peice"', 'per = "peice" · design.operations "glue frames" · per · there is no part "peice" · write "piece"'),
        ('caution = "glue-up"', 'caution = "glueup"', 'caution = "glueup" · design.operations "glue frames" · caution · there is no caution "glueup" · write "glue-up", or a sentence of your own'),
        ('after = ["cut joints", "sand"]', 'after = ["cut joints", "snad"]', 'after = ["cut joints", "snad"] · design.operations "glue frames" · after[1] · there is no operation "snad" · write "sand"'),
        ('after = ["cut joints", "sand"]', 'after = ["sand", "sand"]', 'after = ["sand", "sand"] · design.operations "glue frames" · after[1] · names "sand" twice · name it once'),
        ('after = ["cut joints", "sand"]', 'after = ["glue frames"]', 'after = ["glue frames"] · design.operations "glue frames" · after · comes after itself · take its own name out'),
        ('can = ["sand", "packing"]', 'can = ["sanding", "packing"]', 'can = ["sanding", "packing"] · shop.workers "helper" · can[0] · there is no operation "sanding" · write "sand"'),
        ('needed_by = ["cut joints"]', 'needed_by = ["cut joint"]', 'needed_by = ["cut joint"] · materials "walnut" · needed_by[0] · there is no operation "cut joint" · write "cut joints"'),
        ('needed_by = ["cut joints"]', 'needed_by = []', 'needed_by = [] · materials "walnut" · needed_by · names no operation · name the operations that need it, or take the material out'),
        ('packing_station = "bench"', 'packing_station = "bnech"', 'packing_station = "bnech" · shipping.packing_station · there is no station "bnech" · write "bench"'),
    ],
)  # fmt: skip
def test_each_rule_about_names_is_told_once_with_its_mend(old: str, new: str, fault: str) -> None:
    assert check((old, new)) == [fault]


def test_an_operation_may_be_called_packing_where_shipping_adds_none() -> None:
    told = check(
        ('packing = "10 min"\n', ""), ("[[materials]]", '[[design.operations]]\nname = "packing"\n[[materials]]')
    )
    assert told == []


def test_one_design_or_several_but_not_both_or_none() -> None:
    both = PLAIN + '[[designs]]\nname = "tray"\n[[designs.operations]]\nname = "cut"\n'
    assert [str(fault) for fault in read_scenario_text(both).faults] == [
        "scenario.toml:56 · designs · [design] and [[designs]] are both given · "
        "write one [design], or [[designs]] for several"
    ]
    none = '[shop]\nopen = "always"\n[run]\norders = 1\nstart = 2027-01-11\n'
    assert [str(fault) for fault in read_scenario_text(none).faults] == [
        "scenario.toml · design · no design is given · add a [design] table with name and operations"
    ]


def test_a_circle_is_printed_whole_once_and_without_those_that_only_wait_for_it() -> None:
    told = check(
        ('name = "cut joints"\n', 'name = "cut joints"\nafter = "glue frames"\n'),
        ("[[materials]]", '[[design.operations]]\nname = "oil"\nafter = ["glue frames"]\n[[materials]]'),
    )
    assert told == [
        'after = "glue frames" · design.operations "cut joints" · after · the operations wait for each other in a circle: '
        '"cut joints" after "glue frames" after "cut joints" · take one of them out of an after'
    ]


def test_a_circle_by_way_of_the_operation_above_is_found() -> None:
    told = check(('name = "cut joints"\n', 'name = "cut joints"\nafter = "sand"\n'))
    assert told == [
        'after = "sand" · design.operations "cut joints" · after · the operations wait for each other in a circle: '
        '"cut joints" after "sand" after "cut joints" · take one of them out of an after'
    ]


def test_two_separate_circles_are_two_faults() -> None:
    ring = "".join(
        f'[[design.operations]]\nname = "{name}"\nafter = ["{other}"]\n'
        for name, other in (("a", "c"), ("b", "a"), ("c", "b"), ("x", "y"), ("y", "x"))
    )
    text = '[shop]\nopen = "always"\n[design]\nname = "tray"\n' + ring + "[run]\norders = 1\nstart = 2027-01-11\n"
    assert [fault.rule for fault in read_scenario_text(text).faults] == [
        'the operations wait for each other in a circle: "a" after "c" after "b" after "a"',
        'the operations wait for each other in a circle: "x" after "y" after "x"',
    ]


def test_designs_of_the_same_name_and_unknown_designs_of_lines_are_told() -> None:
    text = """\
[shop]
open = "always"
[[designs]]
name = "stool"
[[designs.operations]]
name = "cut"
[[designs]]
name = "Stool"
[[designs.operations]]
name = "cut"
[run]
start = 2027-01-11
[[run.lines]]
design = "stol"
orders = 1
[[run.lines]]
design = "stool"
orders = 1
"""
    assert [str(fault) for fault in read_scenario_text(text).faults] == [
        'scenario.toml:8 · designs "Stool" · name · there are two designs of this name '
        '("stool" differs only in capitals or spaces) · give each its own name',
        'scenario.toml:14 · run.lines "stol" · design · there is no design "stol" · write "stool"',
    ]
