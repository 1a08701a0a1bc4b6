"""The promise sheet: one row an order and the spare pieces below, as a table, as CSV and as a spreadsheet that opens."""

from __future__ import annotations

import csv
import datetime as dt
import io
import time
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import load_workbook

from shopsim.answers import forecast_delivery
from shopsim.answers.promise_sheet import SHEET
from shopsim.errors import InputError
from shopsim.export import format_csv, format_workbook, write_workbook
from shopsim.scenario import Scenario, parse_scenario

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
BOOK = """id,date,quantity,destination,option,promised
A1,2027-01-04,1,near,,2027-01-11
=HYPERLINK("x"),2027-01-04,2,far,dark,
@A3,2027-01-05,1,,dark,2027-01-13
"""
OPTIONS = '[[design.options]]\nname = "dark"\nadd = [{ name = "stain", after = ["make"], work = "0 min" }]\n'
TRANSIT = '[shipping]\ntransit = { near = "0 d", far = "3 d" }\n'


@pytest.fixture
def scenario(write_shop: Callable[..., str], tmp_path: Path) -> Scenario:
    (tmp_path / "orders.csv").write_text(BOOK)
    text = write_shop(
        '{ name = "make", work = "8 h" }', shop=CALM, open=DAILY, more=OPTIONS + TRANSIT,
        run='orders = "orders.csv"\nround_up_to = 3\nbatch = 3',
    )  # fmt: skip
    return parse_scenario(text, folder=tmp_path)


@pytest.fixture
def sheet(scenario: Scenario) -> pd.DataFrame:
    return forecast_delivery(scenario, replications=20).tables[SHEET]


def test_it_has_a_row_for_each_order_and_lists_spare_pieces_as_spare(sheet: pd.DataFrame) -> None:
    # one a day from Monday 11; what is made at closing is stained in the morning, after what is still to be made of its
    # batch: the two dark ones of the first on Thursday 14, those of the second on Sunday 17; two of six are spare
    shown = sheet[["order", "quantity", "destination", "option", "batch"]].values.tolist()
    assert shown == [
        ["A1", 1, "near", "", "1"],
        ['=HYPERLINK("x")', 2, "far", "dark", "1"],
        ["@A3", 1, "", "dark", "2"],
        ["spare", 2, "", "dark", "2"],
    ]
    days = {
        name: [None if pd.isna(day) else f"{day:%d}" for day in sheet[name]] for name in ("expected", "promise", "told")
    }
    assert days == {
        "expected": ["11", "14", "17", None],
        "promise": ["11", "14", "17", None],
        "told": ["11", None, "13", None],
    }
    assert sheet["late"].tolist() == ["", "", "late", ""]
    assert sheet["chance_kept"].tolist()[:3] == [1.0, 1.0, 1.0]
    assert pd.isna(sheet["chance_kept"].iloc[3])
    # near is fetched; far takes three business days; who is said to be nowhere gets the slowest way
    assert [None if pd.isna(day) else f"{day:%a %d}" for day in sheet["arrives_by"]] == [
        "Mon 11",
        "Tue 19",
        "Wed 20",
        None,
    ]


def test_a_spreadsheet_opens_with_cells_of_their_kind(sheet: pd.DataFrame, tmp_path: Path) -> None:
    path = write_workbook(tmp_path / "promise.xlsx", {SHEET: sheet})
    opened = load_workbook(path)
    assert opened.sheetnames == [SHEET]
    page = opened[SHEET]
    assert page.freeze_panes == "A2"
    head = [cell.value for cell in page[1]]
    assert head[:4] == ["order", "design", "date", "quantity"]
    assert "chance kept" in head
    assert all(cell.font.bold for cell in page[1])
    rows = [dict(zip(head, row, strict=True)) for row in page.iter_rows(min_row=2)]
    assert len(rows) == 4
    first, second, third, spare = rows
    assert first["date"].value == dt.datetime(2027, 1, 4)
    assert first["date"].is_date
    assert first["promise"].number_format == "yyyy-mm-dd"
    assert (first["quantity"].value, first["quantity"].data_type) == (1, "n")
    assert (first["chance kept"].value, first["chance kept"].number_format) == (1.0, "0%")
    for cell, text in ((second["order"], '=HYPERLINK("x")'), (third["order"], "@A3")):
        assert (cell.value, cell.data_type, cell.quotePrefix) == (text, "s", True)
    assert not any(cell.data_type == "f" for row in page.iter_rows() for cell in row)
    assert spare["order"].value == "spare"
    assert spare["promise"].value is None
    widths = {name: page.column_dimensions[letter].width for name, letter in (("order", "A"), ("date", "C"))}
    assert widths == {"order": 17.0, "date": 12.0}


@pytest.mark.parametrize(
    "text",
    [
        "=1+1",
        "+1",
        "-1",
        "@x",
        "\tx",
        "\rx",
        "=cmd|' /C calc'!A0",
        "\u00a0=1",
        "  @x",
        "\ufeff=1",
        "\u200b+1",
        "\uff1d1",
    ],
)
def test_text_is_never_a_formula_whatever_it_begins_with(tmp_path: Path, text: str) -> None:
    table = pd.DataFrame({"order": [text, "plain"], "n": [-1, 2]})
    page = load_workbook(write_workbook(tmp_path / "x.xlsx", {"x": table})).active
    assert (page["A2"].data_type, page["A2"].quotePrefix) == ("s", True)
    assert page["A2"].value.strip() == text.strip()
    assert page["B2"].value == -1
    ((_, _), (guarded, number), (plain, _)) = csv.reader(io.StringIO(format_csv(table), newline=""))
    assert guarded == f"'{text}".replace("\r", " ")
    assert (number, plain) == ("-1", "plain")


def test_all_kinds_of_cells_are_written_as_what_they_are(tmp_path: Path) -> None:
    table = pd.DataFrame(
        {
            "yes": [True, False],
            "hours": [1.25, float("nan")],
            "moment": pd.to_datetime(["2027-01-11 08:30", None]),
            "piece": pd.array([3, None], dtype="Int64"),
            "list": [[1, 2], []],
            "bad": ["a\x00b", "x" * 40_000],
            "open_share": [0.5, 0.25],
        }
    )
    page = load_workbook(write_workbook(tmp_path / "kinds.xlsx", {"a/b: [c]*?" + "d" * 40: table})).active
    assert len(page.title) == 31
    assert [page.cell(2, n).value for n in range(1, 8)] == [
        True, 1.25, dt.datetime(2027, 1, 11, 8, 30), 3, "[1, 2]", "a b", 0.5,
    ]  # fmt: skip
    assert [page.cell(3, n).value for n in (2, 3, 4)] == [None, None, None]
    assert len(page.cell(3, 6).value) == 32_767
    assert page.cell(2, 7).number_format == "0%"
    assert page.column_dimensions["F"].width == 62


def test_equal_tables_are_equal_workbooks_whenever_they_are_made() -> None:
    table = {"sheet": pd.DataFrame({"order": ["A1"], "promise": pd.to_datetime(["2027-03-01"]), "kept_chance": [0.9]})}
    first = format_workbook(table)
    time.sleep(2.1)  # parts of a packed file bear times of two seconds
    assert format_workbook(table) == first
    assert load_workbook(io.BytesIO(first)).active["A2"].value == "A1"


def test_a_workbook_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    path = tmp_path / "kept.xlsx"
    write_workbook(path, {"one": pd.DataFrame({"x": [1]})})
    assert [item.name for item in tmp_path.iterdir()] == ["kept.xlsx"]
    with pytest.raises(InputError):
        write_workbook(tmp_path / "nowhere" / "x.xlsx", {"one": pd.DataFrame({"x": [1]})})
