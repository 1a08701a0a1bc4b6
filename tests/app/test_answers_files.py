"""It holds that what an answer page lets a maker keep opens elsewhere and holds what stands on the page."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

import openpyxl
import pytest
import streamlit
from streamlit.testing.v1 import AppTest

from shopsim.columns import find_column

Open = Callable[..., AppTest]

#: The small scenario of these tests: two trays, named so that a workbook would take the name for a formula.
TEXT = """\
title = "Trays & boxes"

[shop]
open = { mon-fri = "09:00-17:00" }

[design]
name = "tray"

[[design.operations]]
name = "=1+1"
work = "60 / 90 / 150 min"
caution = "table saw"

[run]
orders = 3
batch = 1
start = 2027-01-11
"""


@pytest.fixture(autouse=True)
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers rest on a hundred runs, so that a test is short."""
    monkeypatch.setattr("shopsim.app.pages.batches_page.MAX_SEARCH_REPLICATIONS", 100)
    monkeypatch.setattr("shopsim.app.pages.delivery_page.USUAL", 100)


@pytest.fixture
def files(monkeypatch: pytest.MonkeyPatch) -> dict[str, tuple[str, Any]]:
    """The files that a page offers: name and content (or what makes it) by the words on the button."""
    offered: dict[str, tuple[str, Any]] = {}
    real = streamlit.download_button

    def offer(label: str, data: Any, name: str, *args: Any, **named: Any) -> Any:
        offered[label] = (name, data)
        return real(label, data, name, *args, **named)

    monkeypatch.setattr(streamlit, "download_button", offer)
    return offered


def open_whole(open_page: Open, name: str, slot: str) -> AppTest:
    """A page once its job has ended."""
    page = open_page(name, TEXT)
    page.session_state[f"shopsim job {slot}"].job.wait(60)
    return page.run()


def content(files: dict[str, tuple[str, Any]], label: str) -> bytes:
    data = files[label][1]
    made = data() if callable(data) else data
    assert isinstance(made, bytes)
    return made


def test_every_table_is_kept_as_csv_and_as_a_workbook_with_the_same_numbers(
    open_page: Open, files: dict[str, tuple[str, Any]]
) -> None:
    page = open_whole(open_page, "delivery", "delivery")
    tables = [label.removeprefix("CSV: ") for label in files if label.startswith("CSV: ")]
    assert "Delivery window" in tables
    for title in tables:
        assert files[f"CSV: {title}"][0].endswith(".csv")
        assert files[f"XLSX: {title}"][0].endswith(".xlsx")
        lines = content(files, f"CSV: {title}").decode().splitlines()
        book = openpyxl.load_workbook(io.BytesIO(content(files, f"XLSX: {title}")))
        rows = list(book.worksheets[0].iter_rows(values_only=True))
        keys = lines[0].lstrip("\ufeff").split(",")
        assert list(rows[0]) == [find_column(key).heading for key in keys]
        assert len(rows) == len(lines)
    answer = page.session_state["shopsim job delivery"].job.result
    book = openpyxl.load_workbook(io.BytesIO(content(files, "XLSX: Delivery window")))
    assert [row[0] for row in book.worksheets[0].iter_rows(min_row=2, values_only=True)] == list(
        answer.rows["position"]
    )


def test_the_whole_answer_is_one_page_with_its_charts_notes_and_scenario(
    open_page: Open, files: dict[str, tuple[str, Any]]
) -> None:
    page = open_whole(open_page, "delivery", "delivery")
    report = content(files, "Whole answer as a report (HTML)").decode()
    answer = page.session_state["shopsim job delivery"].job.result
    assert report.startswith("<!doctype html>")
    assert "Trays &amp; boxes" in report
    assert answer.sentence.split(".")[0] in report
    assert "Before you state a date" in report
    assert "Guard and riving knife on" in report
    assert "seed 1" in report
    assert "Ship window of each order" in report


def test_a_chart_is_kept_as_a_page_of_its_own(open_page: Open, files: dict[str, tuple[str, Any]]) -> None:
    open_whole(open_page, "batches", "batches")
    name, _ = files["Chart: Lead time by order position (HTML)"]
    chart = content(files, "Chart: Lead time by order position (HTML)").decode()
    assert name.endswith(".html")
    assert "Lead time by order position" in chart
    assert "<html" in chart


def test_names_that_a_workbook_would_reckon_with_stay_text(open_page: Open, files: dict[str, tuple[str, Any]]) -> None:
    open_whole(open_page, "one_run", "one run")
    (title,) = [label.removeprefix("CSV: ") for label in files if label.startswith("CSV: ") and "task" in label.lower()]
    book = openpyxl.load_workbook(io.BytesIO(content(files, f"XLSX: {title}")))
    cells = [cell for row in book.worksheets[0].iter_rows() for cell in row if "1+1" in str(cell.value)]
    assert cells
    assert {cell.data_type for cell in cells} == {"s"}
    assert ",=1+1" not in content(files, f"CSV: {title}").decode()


def test_the_promise_sheet_and_the_words_are_kept_too(open_page: Open, files: dict[str, tuple[str, Any]]) -> None:
    open_whole(open_page, "delivery", "delivery")
    book = openpyxl.load_workbook(io.BytesIO(content(files, "Promise sheet, to print or pin up (XLSX)")))
    assert book.worksheets[0].max_row == 1 + 3
    assert "made to order" in content(files, "All of it as text").decode()
