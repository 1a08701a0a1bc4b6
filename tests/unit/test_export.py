"""It holds that tables leave as they are: columns in order, dates as ISO text, nothing half written."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from shopsim.errors import InputError
from shopsim.export import check_folder, file_name, format_csv, format_json, write_tables
from shopsim.rows import plain_value, table_rows


def table() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "piece": pd.array([1, pd.NA], dtype="Int64"),
            "start": pd.array([np.datetime64("2027-01-11T18:00:00", "us"), np.datetime64("NaT", "us")]),
            "ships": np.array(["2027-01-12", "2027-01-13"], dtype="datetime64[D]").astype("datetime64[s]"),
            "day": [dt.date(2027, 1, 12), None],
            "work_min": [12.5, float("nan")],
            "late": [True, False],
            "worker": ['maker, or "helper"', ""],
        }
    )


def test_rows_hold_plain_values_with_dates_as_iso_text_and_nothing_as_none() -> None:
    assert table_rows(table()) == [
        {
            "piece": 1,
            "start": "2027-01-11T18:00:00",
            "ships": "2027-01-12",
            "day": "2027-01-12",
            "work_min": 12.5,
            "late": True,
            "worker": 'maker, or "helper"',
        },
        {
            "piece": None,
            "start": None,
            "ships": "2027-01-13",
            "day": None,
            "work_min": None,
            "late": False,
            "worker": None,
        },
    ]


def test_csv_keeps_the_order_of_columns_and_quotes_what_needs_it() -> None:
    rows = list(csv.reader(io.StringIO(format_csv(table()))))
    assert rows == [
        ["piece", "start", "ships", "day", "work_min", "late", "worker"],
        ["1", "2027-01-11T18:00:00", "2027-01-12", "2027-01-12", "12.5", "true", 'maker, or "helper"'],
        ["", "", "2027-01-13", "", "", "false", ""],
    ]


def test_an_empty_table_is_its_column_names() -> None:
    empty = pd.DataFrame({"piece": pd.Series(dtype="int64"), "ships": pd.Series(dtype="datetime64[s]")})
    assert format_csv(empty) == "piece,ships\n"
    assert table_rows(empty) == []


def test_json_has_no_number_that_json_lacks() -> None:
    text = format_json({"a": float("nan"), "b": np.float64("inf"), "c": np.int64(3), "d": (1, np.bool_(True))})
    assert json.loads(text) == {"a": None, "b": None, "c": 3, "d": [1, True]}
    assert text.endswith("}\n")


@pytest.mark.parametrize(
    ("value", "plain"),
    [
        (pd.NA, None),
        (pd.NaT, None),
        (pd.Timestamp("2027-01-11 18:00:30.4"), "2027-01-11T18:00:30"),
        ({"a": pd.NaT}, {"a": None}),
    ],
)
def test_a_value_becomes_plain(value: object, plain: object) -> None:
    assert plain_value(value) == plain


def test_a_title_becomes_a_file_name_without_blanks_or_signs() -> None:
    assert file_name("More clamps: bar clamp") == "more-clamps-bar-clamp.csv"
    assert file_name("../../etc") == "etc.csv"
    assert file_name("???") == "table.csv"


def test_tables_are_written_into_a_folder_that_is_made(tmp_path: Path) -> None:
    folder = tmp_path / "a" / "b"
    written = write_tables(folder, {"day plan": table(), "pieces": table()})
    assert [path.name for path in written] == ["day-plan.csv", "pieces.csv"]
    assert sorted(path.name for path in folder.iterdir()) == ["day-plan.csv", "pieces.csv"]
    assert (folder / "pieces.csv").read_text(encoding="utf-8") == format_csv(table())


def test_what_was_there_is_kept_when_the_disk_gives_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_tables(tmp_path, {"pieces": table()})
    before = (tmp_path / "pieces.csv").read_bytes()

    def no_space(_number: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    with pytest.raises(InputError, match=r"pieces\.csv · cannot be written: no space left on device"):
        write_tables(tmp_path, {"pieces": table().head(1)})
    assert (tmp_path / "pieces.csv").read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["pieces.csv"]


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(InputError, match="taken · is a file, so tables cannot be written into it · name a folder"):
        check_folder(tmp_path / "taken")
    with pytest.raises(InputError, match="cannot be made"):
        check_folder(tmp_path / "taken" / "below")
    assert (tmp_path / "taken").read_text() == "mine"
