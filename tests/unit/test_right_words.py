"""It holds that slips a maker makes are told in the words that mend them, and many of one kind in few lines."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.cli.options import join_numbers
from shopsim.dates import parse_stretches
from shopsim.scenario.orders_file import read_orders
from shopsim.scenario.text import Unreadable, decode_text
from shopsim.units import UnitError, parse_times

Command = Callable[..., tuple[int, str, str]]


def test_ten_thousand_bad_rows_are_told_in_few_lines(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    rows = "".join(f"A{number},8 Jan {number},-{number}\n" for number in range(1, 9001))
    (tmp_path / "book.csv").write_text("id,date,quantity\n" + rows, encoding="utf-8")
    trays.write_text(trays.read_text(encoding="utf-8").replace("orders = 3", 'orders = "book.csv"'), encoding="utf-8")
    code, out, err = shopsim("check", trays)
    lines = err.splitlines()
    assert (code, out, len(lines)) == (2, "", 53)
    assert lines[0].startswith('book.csv:2 · order "A1" · date · "8 Jan 1" is not a date')
    assert lines[50].startswith('and 8,975 more like this: book.csv:27 · order "A26" · date · "8 Jan 26" is not a date')
    assert lines[51].startswith(
        'and 8,975 more like this: book.csv:27 · order "A26" · quantity · "-26" is not a number'
    )
    assert lines[52] == "18000 faults"


@pytest.mark.parametrize(
    ("value", "told"),
    [
        ('"book.xlsx"', '"book.xlsx" is a workbook, and orders are read from CSV · in the spreadsheet, save the sheet as CSV, and write "book.csv"'),
        ("-4", "-4 orders cannot be made · write a whole number from 1 to 10000"),
        ("10001", "the run makes 10,002 pieces, more than the 10,000 that are taken on · split it into several runs"),
        ("100001", "100001 orders cannot be made · write a whole number from 1 to 10000"),
    ],
)  # fmt: skip
def test_what_is_no_number_of_orders_is_told_with_what_is(shopsim: Command, trays: Path, value: str, told: str) -> None:
    trays.write_text(trays.read_text(encoding="utf-8").replace("orders = 3", f"orders = {value}"), encoding="utf-8")
    code, _, err = shopsim("check", trays)
    assert code == 2
    assert f"run.orders · {told}\n" in err


@pytest.mark.parametrize(
    "words",
    [
        ("batches", "--sizes", "-4"),
        ("batches", "--sizes", "-4,8"),
        ("clamps", "--add", "-4"),
        ("clamps", "--add", "-4,8"),
        ("delivery", "--orders", "-4"),
        ("delivery", "--orders", "-4..8"),
    ],
)
def test_a_number_below_nothing_is_out_of_range(shopsim: Command, trays: Path, words: tuple[str, ...]) -> None:
    code, _, err = shopsim(words[0], trays, *words[1:])
    assert code == 2
    assert "-4 is out of range; write a number from" in err


def test_a_minus_before_words_is_still_an_option(shopsim: Command, trays: Path) -> None:
    assert "unrecognized arguments: -x4" in shopsim("once", trays, "--likely", "-x4")[2]
    assert join_numbers(["once", "--seed", "-1", "-h", "--", "--add", "-4"]) == [
        "once", "--seed=-1", "-h", "--", "--add", "-4"
    ]  # fmt: skip


@pytest.mark.parametrize("what", ["file of orders", "log"])
def test_a_workbook_called_csv_is_told_how_to_become_one(what: str) -> None:
    with pytest.raises(Unreadable) as caught:
        decode_text(b"PK\x03\x04...", what)
    assert caught.value.rule == "is no text but a packed file, as workbooks are"
    assert caught.value.mend == "open it in the spreadsheet, save its sheet as CSV, and name that file"


def test_a_unit_on_the_first_number_alone_belongs_behind_the_last() -> None:
    with pytest.raises(UnitError) as caught:
        parse_times("8 min / 12 / 18")
    assert caught.value.mend == 'write it there, for all, like "8 / 12 / 18 min"'
    assert parse_times("8 / 12 / 18 min") == [8.0, 12.0, 18.0]


@pytest.mark.parametrize("dash", ["\u2013", " \u2014 ", "\u2212"])
def test_a_long_dash_between_hours_is_told_with_a_plain_one(dash: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_stretches(f"08:30{dash}12:30, 13:30-17:30")
    assert caught.value.mend == 'write a plain one, like "08:30-12:30, 13:30-17:30"'


def test_a_log_row_of_sixty_days_is_told_with_its_row(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("operation,piece,minutes\nsand,1,22\nsand,2,60 d\n", encoding="utf-8")
    code, out, err = shopsim("times", trays, log, "--replications", 100, "--jobs", 1)
    assert (code, out) == (2, "")
    assert f'{log}:3 · "sand" · minutes · "60 d" is 1,440 h of work for one unit, more than 168 h' in err


def test_quantities_below_nothing_are_told_as_they_stand() -> None:
    (fault,) = read_orders("id,date,quantity\nA,2027-01-08,-4\n", "book.csv").faults
    assert fault.rule == '"-4" is not a number of pieces'
