"""Columns: a value is said as its column says, and not as its name ends."""

from __future__ import annotations

import io

import openpyxl
import pandas as pd
import pytest

from shopsim.columns import CHANCE, COLUMNS, DATE, NUMBER, SHARE, TABLES, YES_NO, find_column
from shopsim.export import format_workbook
from shopsim.say import say_cell, say_heading


@pytest.mark.parametrize(
    ("key", "kind", "unit", "heading"),
    [
        ("lead_days", NUMBER, "days", "lead, days"), ("chance_kept", CHANCE, "", "chance kept"),
        ("open_share", SHARE, "", "open share"), ("gain", SHARE, "", "gain"), ("promise", DATE, "", "promise"),
        ("work_min", NUMBER, "min", "work, min"), ("setup_h", NUMBER, "h", "setup, h"),
        ("average_saved_days_low", NUMBER, "days", "average saved low, days"),
        ("average_saved_days_unseen", YES_NO, "", "average saved unseen"),
        ("most_clamps: bar clamp", NUMBER, "", "most clamps: bar clamp"), ("no such key", "", "", "no such key"),
    ],
)  # fmt: skip
def test_a_key_has_its_kind_unit_and_heading(key: str, kind: str, unit: str, heading: str) -> None:
    column = find_column(key)
    assert (column.key, column.kind, column.unit, column.heading) == (key, kind, unit, heading)
    assert say_heading(key) == heading


def test_no_kind_follows_from_how_a_name_ends() -> None:
    assert say_cell("a_chance", 0.945) == say_cell("a_share", 0.945) == say_cell("a_min", 0.945) == "0.94"
    assert say_cell("gain", 0.25) == "25 %"


def test_every_key_and_title_is_there_once() -> None:
    assert all(column.key == key for key, column in COLUMNS.items())
    assert len({table.title.casefold() for table in TABLES.values()}) == len(TABLES)


def test_a_sheet_shows_shares_and_chances_in_percent_and_heads_columns_by_their_titles() -> None:
    table = pd.DataFrame({"gain": [0.25], "chance_kept": [0.9], "lead_days": [12.5], "some_share": [0.5]})
    (sheet,) = openpyxl.load_workbook(io.BytesIO(format_workbook({"A": table})))
    head, row = sheet.iter_rows()
    assert [cell.value for cell in head] == ["gain", "chance kept", "lead, days", "some share"]
    assert [cell.number_format for cell in row] == ["0%", "0%", "0.00", "0.00"]
