"""Rules about what one task needs: clamps, people, spots and handfuls that the shop can give it."""

from __future__ import annotations

import pytest

from shopsim.scenario import read_scenario_text


def scenario_text(operation: str, shop: str = "", run: str = "orders = 6\nbatch = 3", more: str = "") -> str:
    """A shop that is always open, with the lines of one operation called "glue" of a piece with two frames."""
    return f"""\
[shop]
open = "always"
{shop}
[design]
name = "counter stool"
parts = {{ frame = 2 }}
[[design.operations]]
name = "glue"
{operation}
[run]
start = 2027-01-11
{run}
{more}
"""


CLAMPS = """\
[[shop.clamps]]
name = "short"
reach = "12 in"
count = 4
[[shop.clamps]]
name = "middle"
reach = "24 in"
count = 10
[[shop.clamps]]
name = "long"
reach = "48 in"
count = 2
[[shop.clamps]]
name = "band clamp"
count = 2
"""


def told(operation: str, **lines: str) -> list[str]:
    """Place, rule and mend of every fault."""
    return [
        " · ".join((fault.place, fault.rule, fault.mend))
        for fault in read_scenario_text(scenario_text(operation, **lines)).faults
    ]


GLUE = 'design.operations "glue"'


@pytest.mark.parametrize(
    ("clamps", "faults"),
    [
        ('{ count = 12, reach = "24 in" }', []),
        ('{ count = 13, reach = "24 in" }', ["needs 13 clamps of 24 in or more, the shop owns 12 · buy 1, or lower the need"]),
        ('{ count = 3, reach = "600 mm" }', []),
        ('{ count = 3, reach = "25 in" }', ["needs 3 clamps of 25 in or more, the shop owns 2 · buy 1, or lower the need"]),
        ('{ reach = "49 in" }', ["needs 1 clamp of 49 in or more, the shop owns 0 · buy 1, or lower the need"]),
        # longer stands in for shorter, never the reverse, and each clamp serves once
        ('{ count = 4, reach = "12 in" }, { count = 12, reach = "24 in" }', []),
        ('{ count = 5, reach = "12 in" }, { count = 12, reach = "24 in" }', ["needs 17 clamps of 12 in or more at once, the shop owns 16 · buy 1, or lower the need"]),
        ('{ count = 2, reach = "48 in" }, { count = 11, reach = "24 in" }', ["needs 13 clamps of 24 in or more at once, the shop owns 12 · buy 1, or lower the need"]),
        # what is bought for the longer need also helps the shorter one
        ('{ count = 4, reach = "48 in" }, { count = 10, reach = "24 in" }', ["needs 4 clamps of 48 in or more, the shop owns 2 · buy 2, or lower the need"]),
        ('{ count = 4, reach = "48 in" }, { count = 11, reach = "24 in" }', ["needs 4 clamps of 48 in or more, the shop owns 2 · buy 2, or lower the need", "needs 15 clamps of 24 in or more at once, the shop owns 12 · buy 1, or lower the need"]),
        ('{ count = 3, reach = "24 in" }, { count = 9, reach = "24 in" }', []),
        ('{ count = 3, reach = "24 in" }, { count = 10, reach = "24 in" }', ["needs 13 clamps of 24 in or more, the shop owns 12 · buy 1, or lower the need"]),
        # a kind without a reach serves only those who name it
        ('{ count = 2, kind = "band clamp" }, { count = 16, reach = "12 in" }', []),
        ('{ count = 3, kind = "band clamp" }', ['needs 3 clamps of the kind "band clamp", the shop owns 2 · buy 1, or lower the need']),
        ('{ count = 1, kind = "band clamp" }, { count = 2, kind = "band clamp" }', ['needs 3 clamps of the kind "band clamp", the shop owns 2 · buy 1, or lower the need']),
        # clamps asked for by name are not there for a reach any more
        ('{ count = 8, kind = "middle" }, { count = 4, reach = "24 in" }', []),
        ('{ count = 8, kind = "middle" }, { count = 5, reach = "24 in" }', ["needs 5 clamps of 24 in or more besides those it names, the shop owns 4 · buy 1, or lower the need"]),
    ],
)  # fmt: skip
def test_the_clamps_of_one_task_are_counted_together_and_exactly(clamps: str, faults: list[str]) -> None:
    assert told(f'clamps = [{clamps}]\nin_clamps = "1 h"', shop=CLAMPS) == [f"{GLUE} · {fault}" for fault in faults]


def test_a_need_of_clamps_is_by_reach_or_by_kind() -> None:
    operation = 'clamps = [{ count = 2 }, { reach = "12 in", kind = "short" }]\nin_clamps = "1 h"'
    assert told(operation, shop=CLAMPS) == [
        f'{GLUE} · clamps[0] · says neither reach nor kind · add reach = "24 in", or kind = "…"',
        f"{GLUE} · clamps[1] · gives both a reach and a kind · keep one of them",
    ]


@pytest.mark.parametrize(
    ("operation", "faults"),
    [
        ('per = "frame"\nhandful = 2', []),
        ('per = "frame"\nhandful = "batch"', []),
        ('per = "piece"\nhandful = 1', []),
        ('per = "frame"\nhandful = 3', [f'{GLUE} · handful · 3 is more than one piece gives: one piece has 2 · write 2, or "batch"']),
        ("handful = 2", [f'{GLUE} · handful · 2 is more than one piece gives: one piece is one unit · write 1, or "batch"']),
        ('per = "run"\nhandful = "batch"', [f'{GLUE} · handful · a handful has no meaning for work done once a run · take it out, or set per = "piece"']),
        ('per = "batch"\nhandful = 1', [f'{GLUE} · handful · a handful has no meaning for work done once a batch · take it out, or set per = "piece"']),
        ("handful = 0", [f'{GLUE} · handful · 0 is not a handful · write how many units make one task, like 2, or "batch"']),
    ],
)  # fmt: skip
def test_a_handful_never_spans_pieces_unless_it_is_the_batch(operation: str, faults: list[str]) -> None:
    assert told(operation) == faults


WORKERS = """\
[[shop.workers]]
name = "maker"
can = ["glue"]
[[shop.workers]]
name = "helper"
can = ["glue"]
[[shop.workers]]
name = "painter"
can = []
"""


@pytest.mark.parametrize(
    ("operation", "shop", "faults"),
    [
        ("hands = 2", WORKERS, []),
        ("hands = 3", WORKERS, [f"{GLUE} · hands · needs 3 people at once, 2 can do it · lower hands, or let more workers do it"]),
        ("hands = 2", "", [f"{GLUE} · hands · needs 2 people at once, 1 can do it · lower hands, or let more workers do it"]),
        ("hands = 1", WORKERS.replace('["glue"]', "[]"), [f'{GLUE} · nobody in the shop can do it · add "glue" to what a worker can do']),
        ("hands = 0", WORKERS.replace('["glue"]', "[]"), []),
        ("hands = 1", "workers = []", ["shop.workers · nobody works in the shop · add [[shop.workers]], or set hands = 0"]),
        ("hands = 0", "workers = []", []),
        ('hands = 0\nclamps = [{ reach = "9 in" }]\nin_clamps = "1 h"', "workers = []\nclamps = [{ name = 'bar', reach = '9 in', count = 1 }]", ["shop.workers · there is nobody to take clamps off · add [[shop.workers]]"]),
        # one who may have been meant counts as able, so that a slip of the pen is one fault
        ("hands = 2", WORKERS.replace('["glue"]', '["gleu"]', 1), ['shop.workers "maker" · can[0] · there is no operation "gleu" · write "glue"']),
    ],
)  # fmt: skip
def test_as_many_people_can_do_an_operation_as_it_takes(operation: str, shop: str, faults: list[str]) -> None:
    assert told(operation, shop=shop) == faults


def test_somebody_can_do_the_packing() -> None:
    packing = '[shipping]\npacking = "10 min"\n'
    assert told("", shop=WORKERS, more=packing) == [
        'shipping.packing · nobody in the shop can do the packing · add "packing" to what a worker can do'
    ]
    able = WORKERS.replace('["glue"]', '["glue", "packing"]', 1)
    assert told("", shop=able, more=packing) == []
    assert told("", shop=able, more=packing + "packing_hands = 2") == [
        "shipping.packing_hands · packing needs 2 people at once, 1 can do it · "
        'lower it, or add "packing" to what a worker can do'
    ]


RACK = '[[shop.racks]]\nname = "rack"\nspots = 5\n'


@pytest.mark.parametrize(
    ("operation", "rule"),
    [
        ('per = "frame"\nrest = "rack"', None),
        ('per = "frame"\nrest = { rack = "rack", spots = 2 }', None),
        ('per = "frame"\nrest = { rack = "rack", spots = 3 }', 'one task puts 2 units of 3 spots each on "rack", which has 5 spots'),
        ('per = "frame"\nhandful = 1\nrest = { rack = "rack", spots = 5 }', None),
        ('per = "frame"\nhandful = "batch"\nrest = "rack"', 'one task puts 6 units on "rack", which has 5 spots'),
        ('per = "piece"\nhandful = "batch"\nrest = "rack"', None),
        ('per = "batch"\nrest = { rack = "rack", spots = 6 }', 'one task puts 1 unit of 6 spots each on "rack", which has 5 spots'),
    ],
)  # fmt: skip
def test_one_task_fits_on_the_rack_where_it_rests(operation: str, rule: str | None) -> None:
    smaller = "write a smaller handful or batch, or give the rack more spots"
    mend = "give the rack 6 spots, or let a unit take fewer" if rule and "1 unit" in rule else smaller
    assert told(operation, shop=RACK) == ([f"{GLUE} · rest · {rule} · {mend}"] if rule else [])


def test_the_largest_batch_counts_for_a_handful_that_is_the_batch() -> None:
    operation = 'handful = "batch"\nrest = "rack"'
    assert told(operation, shop=RACK, run="orders = 5") == []
    assert len(told(operation, shop=RACK, run="orders = 5\nround_up_to = 6")) == 1
    assert told(operation, shop=RACK, run="orders = 50\nbatch = 5") == []


def test_nothing_is_wet_and_dusty_at_once() -> None:
    assert told('wet = "1 h"\ndusty = true') == [
        f"{GLUE} · dusty · is wet and dusty at once, so it would have to wait for itself · make two operations of it"
    ]


@pytest.mark.parametrize(
    ("operation", "warnings"),
    [
        ('in_clamps = "1 h"\nunclamp = "3 min"', [f"{GLUE} · in_clamps · is given, but the operation takes no clamps · add its clamps", f"{GLUE} · unclamp · is given, but the operation takes no clamps · add its clamps"]),
        ('clamps = [{ reach = "12 in" }]', [f'{GLUE} · clamps · takes clamps but has no in_clamps, so they come off as soon as the work ends · add in_clamps = "45 / 60 / 90 min", for instance']),
        ('clamps = [{ reach = "12 in" }]\nin_clamps = "1 h"\nopen_time = "9 min"\nwork = "10 min"', [f"{GLUE} · open_time · the work of one task is likely to take 10 min and so to pass the glue's working time of 9 min · glue fewer at once, use more hands or a slower glue"]),
        ('per = "frame"\nopen_time = "9 min"\nwork = "5 min"', [f"{GLUE} · open_time · the work of one task is likely to take 10 min and so to pass the glue's working time of 9 min · glue fewer at once, use more hands or a slower glue"]),
        ('per = "frame"\nhandful = 1\nopen_time = "9 min"\nwork = "5 min"', []),
    ],
)  # fmt: skip
def test_what_is_seldom_meant_is_a_warning_and_the_scenario_still_runs(operation: str, warnings: list[str]) -> None:
    reading = read_scenario_text(scenario_text(operation, shop=CLAMPS))
    assert reading.scenario is not None
    assert reading.faults == ()
    assert [" · ".join((fault.place, fault.rule, fault.mend)) for fault in reading.warnings] == warnings
