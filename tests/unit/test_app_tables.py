"""It holds that a table on a page is the list in the file: shown and read again, nothing has changed."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from pydantic import Field

from shopsim.app.cells import Kind, from_cell, to_cell
from shopsim.app.drafts import make_draft
from shopsim.app.faults import page_of
from shopsim.app.grid import make_frame, read_frame
from shopsim.app.hours_editor import hours_by_day, join_days
from shopsim.app.markdown_text import escape_markdown, file_name
from shopsim.app.operation_views import cautions_of, network_nodes
from shopsim.app.tables import (
    FINE,
    ROW,
    EditedTable,
    clamp_table,
    columns_of,
    count_edits,
    find_edits,
    line_table,
    material_table,
    new_row,
    operation_table,
    rack_table,
    read_rows,
    rebase,
    station_table,
    worker_table,
)
from shopsim.errors import Fault
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Group, Name, Record
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.writing import edit_text

SCENARIOS = sorted((Path(__file__).parents[2] / "scenarios").glob("*.toml"))
TABLES: dict[tuple[str, ...], EditedTable] = {
    ("shop", "workers"): worker_table(),
    ("shop", "stations"): station_table(),
    ("shop", "racks"): rack_table(),
    ("shop", "clamps"): clamp_table(),
    ("design", "operations"): operation_table(["bench"], ["leg"]),
    ("materials",): material_table(),
    ("run", "lines"): line_table(["tray"]),
}


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: str(path.stem))
def test_a_grid_that_nobody_has_touched_changes_nothing(path: Path) -> None:
    data = parse_toml(path.read_text(encoding="utf-8"))
    seen = 0
    for where, table in TABLES.items():
        items = value_at(data, where) or []
        rows = read_rows(table, items)
        shown = read_frame(table, make_frame(table, rows), rows)
        assert shown == rows
        assert count_edits(rows, shown) == ""
        assert all(not edit.changes for edit in find_edits(table, rows, shown))
        seen += len(items)
    assert seen > 5


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: str(path.stem))
def test_what_a_cell_shows_means_what_the_file_says(path: Path) -> None:
    """Cells of operations are read back as values that give the same scenario, though they may be written otherwise."""
    text = path.read_text(encoding="utf-8")
    data = parse_toml(text)
    columns = operation_table([], []).columns
    changes = {
        f'design.operations[{number}]."{column.key}"': from_cell(column.kind, to_cell(column.kind, step[column.key]))
        for number, step in enumerate(data["design"]["operations"])
        for column in columns
        if column.key in step
    }
    assert make_draft(edit_text(text, changes)).fingerprint == make_draft(text).fingerprint != ""


@pytest.mark.parametrize(
    ("kind", "cell", "value"),
    [
        ("text", "8 / 10 min", "8 / 10 min"),
        ("text", "", None),
        ("whole", "batch", "batch"),
        ("whole", "12", 12),
        ("whole", 3.0, 3),
        ("number", "12.50", 12.5),
        ("number", "dear", "dear"),
        ("maybe", "Yes", True),
        ("maybe", "no", False),
        ("yes", True, True),
        ("names", "a, b; c", ["a", "b", "c"]),
        ("after", "at once", []),
        ("after", "cut, glue", ["cut", "glue"]),
        ("clamps", "2 of 18 in, 1 band clamp", [{"count": 2, "reach": "18 in"}, {"count": 1, "kind": "band clamp"}]),
        ("clamps", "24 in", [{"count": 1, "reach": "24 in"}]),
        ("clamps", "3 x 300 mm", [{"count": 3, "reach": "300 mm"}]),
        ("rest", "drying rack (2 spots)", {"rack": "drying rack", "spots": 2}),
        ("rest", "shelf", "shelf"),
        ("redo", "3 %, 20 min", {"chance": "3 %", "work": "20 min"}),
        ("redo", "often", "often"),
        ("hours", "tue 18:00-21:00; sat 9:00-12:00", {"tue": "18:00-21:00", "sat": "9:00-12:00"}),
        ("hours", "always", "always"),
        ("hours", "someday 9", "someday 9"),
        ("days", "2027-01-01, 2027-02-01 .. 2027-02-05", ["2027-01-01", "2027-02-01..2027-02-05"]),
        ("day", "2027-01-02", dt.date(2027, 1, 2)),
        ("day", "soon", "soon"),
        ("transit", "1 / 4 / 7 d", "1 / 4 / 7 d"),
        ("transit", "home 1 d; abroad 9 d", {"home": "1 d", "abroad": "9 d"}),
        ("text", '{ law = "exponential", mean = "5 min" }', {"law": "exponential", "mean": "5 min"}),
        ("text", "{ broken", "{ broken"),
    ],
)
def test_a_cell_is_read_as_a_maker_means_it(kind: Kind, cell: Any, value: Any) -> None:
    assert from_cell(kind, cell) == value


@pytest.mark.parametrize(
    "value",
    ["x", 5, 5.5, True, [], {}, ["a, b"], [{"kind": "x"}], [1, 2], {"a": {"b": 1}}, 10**30, -1, float("inf"), dt.date(1066, 10, 14),
     dt.datetime(2027, 1, 1, 8, tzinfo=dt.UTC), dt.time(8, 30), "{", '"', " a ", "", ["x"], [[]], [{"count": "x", "reach": 5}]],
    ids=repr,
)  # fmt: skip
def test_whatever_stands_in_a_file_can_be_shown_and_left(value: Any) -> None:
    for table in TABLES.values():
        rows = read_rows(table, [{column.key: value for column in table.columns}, {"name": "a"}, "no table", {}])
        assert read_frame(table, make_frame(table, rows), rows) == rows


def test_edits_count_what_changed_what_is_new_and_what_went() -> None:
    table = rack_table()
    base = read_rows(table, [{"name": "a", "spots": 1}, {"name": "b", "spots": 2}])
    assert count_edits(base, base) == ""
    assert count_edits(base, [base[1], base[0]]) == "rows moved"
    changed = [{**base[0], "spots": 4}, new_row(table)]
    assert count_edits(base, changed) == "1 changed, 1 new, 1 taken out"
    edits = find_edits(table, base, changed)
    assert [(edit.old, dict(edit.changes)) for edit in edits] == [(0, {"spots": 4}), (None, {"name": "drying rack", "spots": 10})]  # fmt: skip


def test_new_rows_have_names_of_their_own() -> None:
    assert [new_row(rack_table(), taken)["name"] for taken in ([], ["drying rack"], ["drying rack", "drying rack 2"])] == [
        "drying rack", "drying rack 2", "drying rack 3",
    ]  # fmt: skip


def test_edits_not_applied_follow_a_file_that_has_changed_elsewhere_if_the_rows_are_the_same() -> None:
    table = rack_table()
    was = read_rows(table, [{"name": "a", "spots": 1}, {"name": "b", "spots": 2}])
    edited = [{**was[0], "spots": 9}, was[1]]
    now = read_rows(table, [{"name": "a", "spots": 1}, {"name": "b", "spots": 7}])
    rebased = rebase(now, was, edited)
    assert rebased is not None
    assert [(row["name"], row["spots"], row[ROW]) for row in rebased] == [("a", 9, 0), ("b", 7, 1)]
    assert rebase(now[:1], was, edited) is None


def test_what_comes_after_what_is_read_from_rows_applied_or_not() -> None:
    table = operation_table([], [])
    items: list[dict[str, Any]] = [{"name": "a"}, {"name": "b", "wet": "1 h"}, {"name": "c", "after": []}, {"name": "d", "after": ["b", "c"], "caution": "dust", "in_clamps": "1 h"}]  # fmt: skip
    rows = read_rows(table, items)
    assert network_nodes(rows) == [
        ("a", [], False, False), ("b", ["a"], False, True), ("c", [], False, False), ("d", ["b", "c"], True, False),
    ]  # fmt: skip
    assert cautions_of(rows) == {"dust": ["d"]}


def test_hours_are_taken_apart_by_day_and_put_together_again() -> None:
    assert hours_by_day({"fri-mon": "9:00-12:00"}) == dict.fromkeys(("mon", "fri", "sat", "sun"), "9:00-12:00") | dict.fromkeys(("tue", "wed", "thu"), "")  # fmt: skip
    assert hours_by_day({"mon": "9:00-12:00", "mon-fri": "8:00-9:00"}) is None
    assert hours_by_day({"someday": "9:00-12:00"}) is None
    assert hours_by_day({"mon": 5}) is None
    assert hours_by_day("9 to 5") is None
    week = {"mon": "a", "tue": "a", "wed": "a", "thu": "", "fri": "b", "sat": "b", "sun": ""}
    assert join_days(week) == {"mon-wed": "a", "fri": "b", "sat": "b"}
    assert hours_by_day(join_days(week)) == week


@pytest.mark.parametrize(
    ("place", "file", "page"),
    [
        ("shop.open", "a.toml", "shop"),
        ('shop.clamps "x" · count', "a.toml", "shop"),
        ('designs "tray" · operations "cut" · work', "a.toml", "piece"),
        ("design", "a.toml", "piece"),
        ("materials[0] · lead", "a.toml", "orders"),
        ("run.orders", "a.toml", "orders"),
        ("", "book.csv", "orders"),
        ("", "a.toml", "start"),
        ("title", "a.toml", "start"),
    ],
)
def test_a_fault_is_mended_on_the_page_of_its_table(place: str, file: str, page: str) -> None:
    assert page_of(Fault(file, 1, place, "rule", "mend")) == page


def test_places_are_written_so_that_any_key_can_be_changed() -> None:
    for key in ("plain", "two words", "a.b", 'q"q', "back\\slash", "[0]"):
        where = ("design", "parts", key)
        text = edit_text('[design]\nname = "tray" # mine\n', {place_text(where): 4})
        assert value_at(parse_toml(text), where) == 4
        assert "# mine" in text


def test_words_of_strangers_stay_words() -> None:
    assert (
        escape_markdown("a *b*\n![x](http://y) <b> $z$ :red[w]")
        == r"a \*b\* \!\[x\]\(http\://y\) \<b\> \$z\$ \:red\[w\]"
    )
    assert file_name("../../etc/pass\x00wd.toml") == "passwd.toml"
    assert file_name("..\\..\\a.toml") == "a.toml"
    assert file_name(" .. ") == "scenario.toml"
    assert len(file_name("x" * 500)) == 100


def test_a_column_follows_from_its_field() -> None:
    fine = Group("Fine points of trestles")

    class Trestle(Record):
        name: Name = Field(description="What it is called.", examples=["low trestle"])
        per_piece: Annotated[Count | None, fine] = Field(None, description="How many; default none.", examples=[2])
        kept: Annotated[bool, fine] = Field(False, title="Stays there", description="True: it is kept.")
        time: v.TimeLaw | None = Field(None, description="How long `it` is taken.", examples=["8 / 10 min"])
        spot: Annotated[v.Rest | None, Calls("racks", key="rack")] = Field(None, description="Where.")
        beside: Annotated[Name | None, Calls("stations"), fine] = Field(None, description="Which bench it is at.")
        form: Literal["low", "high"] = Field("low", description="Which.")

    shown = [
        (column.key, column.title, column.kind, column.group, column.choices, column.usual, column.help)
        for column in columns_of(Trestle, {"stations": ["saw"]})
    ]
    assert shown == [
        ("name", "Name", "text", "", (), "", 'What it is called. Like "low trestle".'),
        ("per_piece", "Per piece", "whole", fine.title, (), "", "How many; default none."),
        ("kept", "Stays there", "yes", fine.title, (), "", "True: it is kept."),
        ("beside", "Beside", "choice", fine.title, ("saw",), "", "Which bench it is at."),
        ("time", "Time", "text", FINE, (), "", 'How long it is taken. Like "8 / 10 min".'),
        ("spot", "Spot", "rest", FINE, (), "", "Where."),
        ("form", "Form", "choice", FINE, ("low", "high"), "low", "Which."),
    ]
