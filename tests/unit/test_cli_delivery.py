"""``shopsim delivery``: dates before and after orders close, words, the promise sheet, and ways of cutting batches."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from shopsim.errors import Cancelled
from shopsim.study import open_study

Command = Callable[..., tuple[int, str, str]]
FEW = ("--replications", "30", "--jobs", "1")
BOOK = "id,date,quantity,destination,wood,promised\nA1,2027-01-04,1,,,\nA2,2027-01-05,2,,walnut,2027-01-08\n"
OPTIONS = '\n[[design.options]]\nname = "walnut"\nchange = [{ operation = "oil", cure = "24 h" }]\n'


@pytest.fixture
def book(trays: Path) -> Path:
    (trays.parent / "orders.csv").write_text(BOOK)
    text = trays.read_text(encoding="utf-8").replace("orders = 3", 'orders = "orders.csv"')
    trays.write_text(text.replace("[run]", OPTIONS + "\n[run]"), encoding="utf-8")
    return trays


def json_of(said: tuple[int, str, str]) -> Any:
    code, out, complaints = said
    assert (code, complaints) == (0, "")
    return json.loads(out)


def test_a_list_and_ranges_of_orders_can_be_asked_for_together(shopsim: Command, trays: Path) -> None:
    rows = json_of(shopsim("delivery", trays, "--orders", "2,4..6", *FEW, "--json"))["rows"]
    assert [row["orders"] for row in rows] == [2, 4, 5, 6]
    code, out, _ = shopsim("delivery", trays, "--orders", "2..3", *FEW)
    assert code == 0
    assert "orders   pieces   likely" in out


def test_when_to_close_the_book_is_said(shopsim: Command, trays: Path) -> None:
    code, out, complaints = shopsim("delivery", trays, "--ship-by", "2027-01-20", *FEW)
    assert (code, complaints) == (0, "")
    assert "To ship every order by 2027-01-20 in at least 90 % of runs, close the book at" in " ".join(out.split())
    assert "by then" in out
    told = json_of(shopsim("delivery", trays, "--ship-by", "2027-01-20", "--kept", "60", "--cap", "2", *FEW, "--json"))
    assert "in at least 60 % of runs, close the book at 2 orders" in told["sentence"]


def test_demand_in_the_file_gives_the_window_of_the_next_buyer(shopsim: Command, trays: Path) -> None:
    demand = ("--set", 'run.demand="2 / 4 / 7"')
    code, out, complaints = shopsim("delivery", trays, *demand, "--so-far", "2", *FEW)
    assert (code, complaints) == (0, "")
    assert "Delivery window while orders are open" in out
    assert "The next buyer would be number 3" in out
    code, out, _ = shopsim("delivery", trays, *demand, "--orders", "3", *FEW)
    assert "while orders are open" not in out
    code, out, complaints = shopsim("delivery", trays, *demand, *FEW, "--save", trays.parent / "x.study")
    assert (code, out) == (2, "")
    assert "--save and --from keep the runs of one number of orders" in complaints


def test_words_are_printed_and_written_as_they_can_be_pasted(shopsim: Command, book: Path, tmp_path: Path) -> None:
    code, out, complaints = shopsim(
        "delivery", book, "--words", "--reason", "the oil came late", *FEW, "--out", tmp_path / "out"
    )
    assert code == 0
    for heading in (
        "For the listing",
        "For the buyer of order A1",
        "Late note for order A2",
    ):
        assert heading in out
    assert "For the buyer of order A2" not in out  # who gets a late note gets no other date
    assert "What is usual when a date will be missed" in out
    assert "words-to-use.txt" in complaints
    written = (tmp_path / "out" / "words-to-use.txt").read_text(encoding="utf-8")
    lines = written.splitlines()
    assert lines[lines.index("For the listing") + 2].startswith("Trays are made to order.")
    assert "The reason: the oil came late." in written
    assert "check local law" in written
    assert "About your order A2 (2 trays)" in written
    told = json_of(shopsim("delivery", book, "--words", *FEW, "--json"))
    assert [row["kind"] for row in told["tables"]["words_to_use"]] == ["listing", "buyer", "late note"]
    plain = json_of(shopsim("delivery", book, *FEW, "--json"))
    assert "words_to_use" not in plain["tables"]


def test_the_promise_sheet_is_written_as_csv_and_as_a_spreadsheet(shopsim: Command, book: Path, tmp_path: Path) -> None:
    code, _, complaints = shopsim("delivery", book, *FEW, "--out", tmp_path / "out")
    assert code == 0
    assert "promise-sheet.csv" in complaints
    assert "promise-sheet.xlsx" in complaints
    page = load_workbook(tmp_path / "out" / "promise-sheet.xlsx").active
    assert [page.cell(row, 1).value for row in range(1, 5)] == ["order", "A1", "A2", "spare"]
    text = (tmp_path / "out" / "promise-sheet.csv").read_text(encoding="utf-8").splitlines()
    assert text[0].startswith(
        "order,design,date,quantity,destination,option,batch,expected,ships_from,ships_to,promise"
    )
    assert text[2].startswith('A2,tray,2027-01-05,2,,walnut,"1, 2",2027-01-')
    assert text[3].startswith("spare,tray,,1,,walnut,2,")


def test_text_of_buyers_is_no_formula_in_any_csv_file(shopsim: Command, book: Path, tmp_path: Path) -> None:
    (book.parent / "orders.csv").write_text('id,date\n"=1+1",2027-01-04\n')
    shopsim("delivery", book, *FEW, "--out", tmp_path / "out")
    for name in ("promise-sheet.csv", "delivery-window.csv"):
        text = (tmp_path / "out" / name).read_text(encoding="utf-8")
        assert "'=1+1" in text
        assert ",=1+1" not in text


def test_ways_of_cutting_batches_are_taken_or_compared(shopsim: Command, book: Path) -> None:
    both = json_of(shopsim("delivery", book, "--batches-by", "both", *FEW, "--json"))
    assert [answer["title"] for answer in both["answers"]] == [
        "Batches by order received or by option",
        "Delivery window",
    ]
    assert [row["batches_by"] for row in both["answers"][0]["rows"]] == ["order received", "option"]
    received = json_of(shopsim("delivery", book, "--batches-by", "received", *FEW, "--json"))
    option = json_of(shopsim("delivery", book, "--batches-by", "option", *FEW, "--json"))
    assert [row["batch"] for row in received["rows"]] == ["1", "1, 2"]
    assert [row["batch"] for row in option["rows"]] == ["1", "2"]
    assert received["rows"] == both["answers"][1]["rows"]
    code, out, _ = shopsim("delivery", book, "--batches-by", "both", *FEW)
    assert code == 0
    assert "order received (now)" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--ship-by", "30.4.2027"), '"30.4.2027" is not a date'),
        (("--orders", "5,x"), '"x" is not a whole number'),
        (("--orders", "1..300"), "300 numbers of orders are too many"),
        (("--orders", "7..5"), "7 is more than 5"),
        (("--batches-by", "colour"), "write received, option or both"),
        (("--so-far", "-1"), "is not a number of orders"),
        (("--kept", "100"), "out of range"),
        (("--so-far", "3"), "run.demand"),
        (("--batches-by", "both"), "no order asks for an option"),
    ],
)
def test_what_cannot_be_asked_is_told_in_one_line(
    shopsim: Command, trays: Path, words: tuple[str, ...], said: str
) -> None:
    code, out, complaints = shopsim("delivery", trays, *words, *FEW)
    assert (code, out) == (2, "")
    assert said in complaints
    assert "Traceback" not in complaints


def test_faults_of_an_order_book_are_told_by_row(shopsim: Command, book: Path) -> None:
    (book.parent / "orders.csv").write_text(
        "id,date,quantity,wood,promised\nA1,2027-01-04,1,,\nA1,2027-01-05,1,,\n,2027-01-05,1,,\nA4,5/1/2027,1,,\n"
        "A5,2027-01-05,none,,\nA6,2027-01-05,1,,soon\n"
    )
    code, out, complaints = shopsim("delivery", book, *FEW)
    assert (code, out) == (2, "")
    lines = complaints.splitlines()
    assert [line.split(" · ")[0] for line in lines[:-1]] == [f"orders.csv:{n}" for n in (3, 4, 5, 6, 7)]
    for line, part in zip(lines, ("the same id is on line 2", "is blank", '"5/1/2027" is not a date', '"none" is not', '"soon" is not a date'), strict=False):  # fmt: skip
        assert part in line
    assert lines[-1] == "5 faults"


ENOUGH = ("--replications", "60", "--jobs", "1")


def test_what_moves_the_date_is_said_with_the_dates(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    code, out, complaints = shopsim("delivery", trays, *ENOUGH, "--what-moves")
    assert (code, complaints) == (0, "")
    assert out.index("Delivery window") < out.index("What moves the date")
    alone = json_of(shopsim("times", trays, *ENOUGH, "--json"))
    assert " ".join(alone["sentence"].split()) in " ".join(out.split())
    dates, moves = json_of(shopsim("delivery", trays, *ENOUGH, "--what-moves", "--json"))["answers"]
    assert dates["rows"] == json_of(shopsim("delivery", trays, *ENOUGH, "--json"))["rows"]
    assert moves["rows"] == alone["rows"]
    assert shopsim("delivery", trays, *ENOUGH, "--what-moves", "--out", tmp_path / "out")[0] == 0
    assert (tmp_path / "out" / "what-moves-the-date.csv").is_file()


def test_too_few_runs_for_what_moves_the_date_are_refused_before_anything_is_run(shopsim: Command, trays: Path) -> None:
    kept = trays.parent / "kept.study"
    code, out, complaints = shopsim("delivery", trays, *FEW, "--what-moves", "--save", kept)
    assert (code, out) == (2, "")
    assert complaints.startswith("30 replications are too few to tell what moves the date of this scenario · ask for ")
    assert not kept.exists()


def test_runs_kept_with_what_moves_the_date_are_those_of_the_dates(shopsim: Command, trays: Path) -> None:
    kept = trays.parent / "kept.study"
    assert shopsim("delivery", trays, *ENOUGH, "--what-moves", "--save", kept)[0] == 0
    assert list(open_study(kept).names) == ["now"]


def test_dates_are_printed_though_it_is_stopped_before_it_is_known_what_moves_them(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(*_: object, **__: object) -> None:
        raise Cancelled("stopped too soon")

    monkeypatch.setattr("shopsim.answers.what_moves.WhatMoves.answers", stop)
    code, out, complaints = shopsim("delivery", trays, *ENOUGH, "--what-moves")
    assert code == 3
    assert "Stopped before it was known what moves the date." in out
    assert "promise" in out
    assert "stopped before the end" in complaints
