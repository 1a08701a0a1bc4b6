"""Rules about the run: its orders, dates, batches and size."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim import parse_scenario, run_once
from shopsim.scenario import read_scenario_text
from shopsim.scenario.batches import rules_to_compare

CUT = '[[design.operations]]\nname = "cut"\nwork = "5 min"\n'


def scenario_text(run: str, operations: str = CUT, more: str = "") -> str:
    return f"""\
[shop]
open = "always"
[design]
name = "stool"
parts = {{ leg = 4 }}
{operations}
[run]
{run}
{more}
"""


BOOK = {"orders.csv": b"id,date,quantity,destination\nA1,2027-01-04,3,far\nA2,2027-01-06,2,near\n"}


def told(run: str, **lines: str) -> list[str]:
    reading = read_scenario_text(scenario_text(run, **lines), beside=BOOK)
    return [" · ".join((fault.place, fault.rule, fault.mend)) for fault in reading.faults]


def warned(run: str, **lines: str) -> list[str]:
    reading = read_scenario_text(scenario_text(run, **lines), beside=BOOK)
    assert reading.faults == ()
    return [" · ".join((fault.place, fault.rule, fault.mend)) for fault in reading.warnings]


@pytest.mark.parametrize(
    ("run", "faults"),
    [
        ("orders = 3\nstart = 2027-01-11", []),
        ("orders = 3\norders_close = 2027-01-08", []),
        ("start = 2027-01-11", ["run.orders · is missing · add orders = 10, for instance, or a CSV file of orders"]),
        ("orders = 3", ["run.start · neither start nor orders_close is given · add start = 2027-01-11, for instance"]),
        ('start = 2027-01-11\norders = 3\nlines = [{ design = "stool", orders = 2 }]', ["run.orders · orders are given for the run and for its lines · keep those of the lines"]),
        ('lines = [{ design = "stool", orders = 2 }, { design = "stool", orders = 2, start = 2027-01-11 }]', ['run.lines "stool" · start · neither start nor orders_close is given, here or in [run] · add start = 2027-01-11, for instance']),
        ('orders = 3\nstart = 2027-01-11\nrelease = "as ordered"', ['run.release · "as ordered" needs the date of every order, and a number has none · name a CSV file of orders, or write release = "when orders close"']),
        ('orders = "orders.csv"\nstart = 2027-01-11\nrelease = "as ordered"', []),
        ('start = 2027-01-11\nrelease = "as ordered"\nlines = [{ design = "stool", orders = 2 }, { design = "stool", orders = "orders.csv" }]', ['run.lines "stool" · orders · "as ordered" needs the date of every order, and a number has none · name a CSV file of orders, or write release = "when orders close"']),
        ("orders = 3\nstart = 2027-01-11\nbatch = -2", ["run.batch · -2 is less than 1 · write 1 or more"]),
        ("orders = 3\nstart = 2027-01-11\nbatch = 500", []),
    ],
)  # fmt: skip
def test_orders_and_dates_are_given_once_and_fit_the_release(run: str, faults: list[str]) -> None:
    assert told(run) == faults


def test_several_designs_need_lines() -> None:
    text = """\
[shop]
open = "always"
[[designs]]
name = "stool"
operations = [{ name = "cut" }]
[[designs]]
name = "tray"
operations = [{ name = "cut" }]
[run]
start = 2027-01-11
orders = 3
"""
    (fault,) = read_scenario_text(text).faults
    assert str(fault) == (
        "scenario.toml:9 · run · there are 2 designs, and nothing says how many of each · "
        "add [[run.lines]], each with its design and orders"
    )


SEVERAL = "start = 2027-01-11\norders = 6\nbatch = 2"
GATED = CUT + '[[design.operations]]\nname = "check all"\nper = "run"\n[[design.operations]]\nname = "oil"\n'


@pytest.mark.parametrize(
    ("run", "operations", "open_needed"),
    [
        (SEVERAL, CUT, None),
        (SEVERAL, GATED, 6),
        (SEVERAL + "\npieces_open = 6", GATED, None),
        (SEVERAL + "\npieces_open = 5", GATED, 6),
        ("start = 2027-01-11\norders = 4\nbatch = 2", GATED, None),
        (SEVERAL, GATED.replace('per = "run"', 'per = "batch"'), None),
        (SEVERAL, '[[design.operations]]\nname = "make jig"\nper = "run"\n' + CUT, None),
        # by way of another operation done once a run
        (SEVERAL, GATED.replace('name = "check all"', 'name = "count"\nper = "run"\n[[design.operations]]\nname = "check all"'), 6),
        ('start = 2027-01-11\norders = "orders.csv"\nrelease = "as ordered"', GATED, None),
        ('start = 2027-01-11\norders = "orders.csv"\nrelease = "as ordered"\npieces_open = 4', GATED, 5),
    ],
)  # fmt: skip
def test_work_done_once_a_run_after_work_of_batches_needs_all_of_them_open(
    run: str, operations: str, open_needed: int | None
) -> None:
    faults = told(run, operations=operations)
    if open_needed is None:
        assert faults == []
        return
    (fault,) = faults
    assert " · per · is done once a run, after work on all " in fault
    assert f'so it could never start · set run.pieces_open = {open_needed}, or write per = "batch"' in fault


def test_lines_whose_batches_lie_between_each_other_are_counted_together() -> None:
    operations = GATED.replace("[[design.operations]]", "[[designs.operations]]")
    text = f"""\
[shop]
open = "always"
[[designs]]
name = "stool"
{operations}
[[designs]]
name = "tray"
{operations}
[run]
start = 2027-01-01
release = "as ordered"
pieces_open = 5
[[run.lines]]
design = "stool"
orders = "orders.csv"
batch = 2
[[run.lines]]
design = "tray"
orders = "orders.csv"
batch = 1
"""
    # by hand: on the 4th 2 stools and 3 trays open, on the 6th 2 stools and the last: 8 before any can be checked;
    # then the stools go, and the last two trays fit
    told = read_scenario_text(text, beside=BOOK).faults
    assert [fault.mend for fault in told] == ['set run.pieces_open = 8, or write per = "batch"'] * 2
    assert len(read_scenario_text(text.replace("pieces_open = 5", "pieces_open = 7"), beside=BOOK).faults) == 2
    enough = read_scenario_text(text.replace("pieces_open = 5", "pieces_open = 8"), beside=BOOK)
    assert enough.scenario is not None
    assert run_once(enough.scenario, likely=True).check() == []


@pytest.mark.parametrize(
    ("run", "operations", "fault"),
    [
        ("orders = 10000", CUT, None),
        ("orders = 10001", CUT, "run.orders · the run makes 10,001 pieces, more than the 10,000 that are taken on · split it into several runs"),
        ("orders = 10\nround_up_to = 20000", CUT, "run.orders · the run makes 20,000 pieces, more than the 10,000 that are taken on · split it into several runs"),
        ("orders = 10000", CUT * 1 + "".join(f'[[design.operations]]\nname = "{n}"\nper = "leg"\nhandful = 1\n' for n in range(13)), "run.orders · the run has 530,000 tasks, more than the 500,000 that are taken on · make larger handfuls, join operations or split the run"),
        ("orders = 10000", CUT + "".join(f'[[design.operations]]\nname = "{n}"\nper = "leg"\n' for n in range(13)), None),
        ("orders = 1", "".join(f'[[design.operations]]\nname = "{n}"\n' for n in range(1001)), "design.operations · 1,001 operations are more than the 1,000 that are taken on · join some of them into one"),
        ("orders = 1", "".join(f'[[design.operations]]\nname = "{n}"\n' for n in range(1000)), None),
    ],
)  # fmt: skip
def test_a_run_that_is_too_large_is_refused_with_its_size(run: str, operations: str, fault: str | None) -> None:
    assert told(f"start = 2027-01-11\n{run}", operations=operations) == ([fault] if fault else [])


def test_too_many_workers_or_stations_are_refused() -> None:
    workers = "".join(f'[[shop.workers]]\nname = "{number}"\n' for number in range(61))
    assert told("orders = 1\nstart = 2027-01-11", more=workers) == [
        "shop.workers · 61 workers are more than the 60 that are taken on · leave out those who are not needed"
    ]
    stations = '[[shop.stations]]\nname = "bench"\ncount = 1001\n'
    assert told("orders = 1\nstart = 2027-01-11", more=stations) == [
        "shop.stations · 1,001 stations are more than the 1,000 that are taken on · lower the counts"
    ]


def test_a_huge_wrong_file_is_told_whole_and_few_of_its_names_are_guessed(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is meant by a name is the costly part: it is looked for among all known names."""
    guessed: list[str] = []
    real = difflib.get_close_matches

    def guess(word: str, names: list[str], **how: Any) -> list[str]:
        guessed.append(word)
        return real(word, names, **how)

    monkeypatch.setattr("shopsim.scenario.places.difflib.get_close_matches", guess)
    names = ", ".join(f'"step {number}"' for number in range(500))
    operations = "".join(f'[[design.operations]]\nname = "op {n}"\nafter = [{names}]\n' for n in range(10))
    faults = told("orders = 1\nstart = 2027-01-11", operations=operations)
    assert len(faults) == 10 * 500
    assert 1 <= len(guessed) <= 1000


TRANSIT = '[shipping]\ntransit = { near = "1 d", fra = "4 d" }'


def test_destinations_of_orders_have_a_transit_time() -> None:
    run = 'orders = "orders.csv"\nstart = 2027-01-11'
    assert told(run, more=TRANSIT) == [
        'order "A1" · destination · 3 pieces go to "far", which has no transit time · write "fra"'
    ]
    assert told(run, more=TRANSIT.replace("fra", "far")) == []
    assert told(run, more='[shipping]\ntransit = "3 d"') == []
    assert told(run) == []


def test_a_start_before_orders_close_and_orders_after_it_are_warnings() -> None:
    assert warned("orders = 3\nstart = 2027-01-04\norders_close = 2027-01-08") == [
        "run.start · work starts on 2027-01-04, before orders close on 2027-01-08 · "
        'write a later start, or release = "as ordered" with a CSV file of orders'
    ]
    assert warned("orders = 3\nstart = 2027-01-08\norders_close = 2027-01-08") == []
    assert warned('orders = "orders.csv"\nstart = 2027-01-11\norders_close = 2027-01-05') == [
        'run.orders · orders that came after orders closed on 2027-01-05: "A2" · close the book later, or take them out'
    ]
    assert warned('orders = "orders.csv"\nstart = 2027-01-04\nrelease = "as ordered"') == []


def test_a_rule_that_goes_by_promised_days_is_asked_about_where_they_do_not_differ() -> None:
    mend = "give orders their promised days in a CSV file, or choose another rule"
    said = 'run.priority · "due first" goes by the days that buyers were told; '
    assert warned('orders = 3\nstart = 2027-01-11\npriority = "due first"') == [
        f"{said}nobody was told one, so they put no batch before another · {mend}"
    ]
    assert warned('orders = 3\nstart = 2027-01-11\npriority = "due first"\npromised = 2027-03-01') == [
        f"{said}all were told 2027-03-01, so they put none of their batches before another · {mend}"
    ]
    assert warned('orders = 3\nstart = 2027-01-11\npriority = "oldest batch"') == []


def test_rules_that_go_by_promised_days_are_compared_where_these_differ(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    def compared(rows: str, more: str = "") -> tuple[str, ...]:
        (tmp_path / "orders.csv").write_text("id,date,promised\n" + rows, encoding="utf-8")
        text = write_shop('{ name = "carve", work = "1 h" }', run='orders = "orders.csv"\nbatch = 1\n' + more)
        return rules_to_compare(parse_scenario(text, folder=tmp_path))

    usual = ("glue first", "oldest batch", "longest tail", "nearest done")
    assert compared("a,2027-01-04,\nb,2027-01-05,\n") == usual
    assert compared("a,2027-01-04,2027-01-20\nb,2027-01-05,\n", "promised = 2027-01-20") == usual
    assert compared("a,2027-01-04,2027-01-20\nb,2027-01-05,\n") == (*usual, "due first")
    assert compared("a,2027-01-04,\nb,2027-01-05,\n", 'priority = "due first"') == (*usual, "due first")
