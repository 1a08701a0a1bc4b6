"""Scenario files are read safely, with the files they name, and never anything outside their folder."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import pytest

from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.limits import MAX_FILE_BYTES
from shopsim.scenario import Order, load_scenario, parse_scenario, read_scenario, read_scenario_text

SHOP = """\
open = "always"
[[stations]]
name = "bench"
"""
DESIGN = """\
name = "serving tray"
[[operations]]
name = "glue"
station = "bench"
work = "5 min"
"""
MAIN = """\
shop = "my-shop.toml"
design = "designs/tray.toml"
[run]
orders = 2
start = 2027-01-11
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a scenario whose shop and design are in files of their own."""
    (tmp_path / "designs").mkdir()
    (tmp_path / "run.toml").write_text(MAIN)
    (tmp_path / "my-shop.toml").write_text(SHOP)
    (tmp_path / "designs" / "tray.toml").write_text(DESIGN)
    return tmp_path


def faults_in(folder: Path, monkeypatch: pytest.MonkeyPatch, *settings: str) -> list[str]:
    monkeypatch.chdir(folder)
    return [str(fault) for fault in read_scenario("run.toml", settings).faults]


@pytest.mark.parametrize(
    ("content", "line", "rule"),
    [
        (b"", None, "is an empty file"),
        (b" \n\t\n", None, "is an empty file"),
        (b"title = \x00", 1, "holds a NUL byte, so it is not a text file"),
        (b"a = 1\nb = '\xff\xfe'\n", 2, "is not written in UTF-8"),
        ("title = 'x'".encode("utf-16"), None, "is written in UTF-16"),
        (b"#" * (MAX_FILE_BYTES + 1), None, "is larger than 1,000 kB, which no shop needs"),
        (b"\x89PNG\r\n\x1a\n", 1, "is no text but a picture"),
    ],
)
def test_a_file_that_is_no_text_is_refused_by_name(tmp_path: Path, content: bytes, line: int | None, rule: str) -> None:
    path = tmp_path / "stools.toml"
    path.write_bytes(content)
    (fault,) = read_scenario(path).faults
    assert (fault.file, fault.line, fault.rule) == (str(path), line, rule)
    assert fault.mend
    assert [(f.line, f.rule) for f in read_scenario_text(content).faults] == [(line, rule)]


def test_a_missing_file_a_folder_and_a_pipe_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.toml")
    for name, rule in (
        ("none.toml", "there is no such file"),
        ("", "is a folder, not a file"),
        ("pipe.toml", "is not an ordinary file"),
        ("a\x00b.toml", "cannot be read: its name holds a null character"),
    ):
        with pytest.raises(ScenarioError) as caught:
            load_scenario(f"{tmp_path}/{name}")
        (fault,) = caught.value.faults
        assert fault.rule == rule


def test_a_byte_order_mark_is_accepted(folder: Path) -> None:
    plain = load_scenario(folder / "run.toml")
    (folder / "run.toml").write_bytes(b"\xef\xbb\xbf" + MAIN.encode())
    assert load_scenario(folder / "run.toml") == plain


def test_tables_in_other_files_read_as_if_they_stood_in_the_scenario(folder: Path) -> None:
    scenario = load_scenario(folder / "run.toml")
    assert [station.name for station in scenario.shop.stations] == ["bench"]
    assert scenario.design is not None
    assert scenario.design.operations[0].name == "glue"


def test_a_table_may_stand_under_a_header_of_its_name_beside_others(folder: Path) -> None:
    plain = load_scenario(folder / "run.toml")
    under_header = (
        "title = 'another scenario'\n[shop]\nopen = 'always'\n[[shop.stations]]\nname = 'bench'\n[run]\norders = 9\n"
    )
    (folder / "my-shop.toml").write_text(under_header)
    assert load_scenario(folder / "run.toml") == plain


def test_items_of_lists_may_stand_in_files_of_their_own(folder: Path) -> None:
    (folder / "walnut.toml").write_text('[material]\nname = "walnut"\nneeded_by = "glue"\n')
    text = MAIN.replace("[run]", 'materials = ["walnut.toml"]\n[run]').replace(
        'design = "designs/tray.toml"', 'designs = ["designs/tray.toml"]'
    )
    scenario = parse_scenario(text, folder=folder)
    assert scenario.designs[0].name == "serving tray"
    assert scenario.materials[0].needed_by == ("glue",)


def test_faults_name_the_file_and_line_they_stand_in(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "my-shop.toml").write_text(SHOP.replace('"bench"', '"bank"').replace("open", "opne"))
    (folder / "designs" / "tray.toml").write_text(DESIGN.replace('"5 min"', "5"))
    (folder / "run.toml").write_text(MAIN.replace("orders = 2", "orders = -2"))
    assert faults_in(folder, monkeypatch) == [
        "run.toml:4 · run.orders · -2 orders cannot be made · write a whole number from 1 to 10000",
        'my-shop.toml:1 · shop.opne · is not a known key · write "open"',
        'designs/tray.toml:4 · design.operations "glue" · station · there is no station "bench" · '
        'known are "bank"; or add it under [[shop.stations]]',
        'designs/tray.toml:5 · design.operations "glue" · work · 5 is not a time with its unit · '
        'write it in quotes with a unit, like "8 / 10 / 16 min"',
    ]


@pytest.mark.parametrize(
    ("name", "rule"),
    [
        ("/etc/passwd.toml", '"/etc/passwd.toml" is a full path'),
        ("~/shop.toml", '"~/shop.toml" is a full path'),
        ("C:/shop.toml", '"C:/shop.toml" is a full path'),
        ("../secret.toml", '"../secret.toml" leads out of the scenario\'s folder'),
        ("a/../../secret.toml", '"a/../../secret.toml" leads out of the scenario\'s folder'),
        ("link/secret.toml", '"link/secret.toml" leads out of the scenario\'s folder'),
        ("sub\\\\shop.toml", '"sub\\shop.toml" has a backslash in it'),
        ("shop.txt", '"shop.txt" is not the name of a .toml file'),
        ("", '"" is not the name of a .toml file'),
        ("none.toml", '"none.toml": there is no such file'),
        ("designs", '"designs" is not the name of a .toml file'),
        ("folder.toml", '"folder.toml": is a folder, not a file'),
        ("a\\u0000.toml", '"a\\x00.toml" is not a file name'),
    ],
)
def test_a_file_outside_the_folder_or_of_another_kind_is_refused(
    folder: Path, tmp_path_factory: pytest.TempPathFactory, name: str, rule: str
) -> None:
    outside = tmp_path_factory.mktemp("outside")
    (outside / "secret.toml").write_text(SHOP)
    (folder / "link").symlink_to(outside)
    (folder / "folder.toml").mkdir()
    reading = read_scenario_text(MAIN.replace("my-shop.toml", name), "run.toml", folder=folder)
    assert [(fault.file, fault.line, fault.place, fault.rule) for fault in reading.faults] == [
        ("run.toml", 1, "shop", rule)
    ]
    assert reading.faults[0].mend


def test_files_that_name_each_other_in_a_circle_are_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "my-shop.toml").write_text('shop = "other.toml"\n')
    (folder / "other.toml").write_text('# round again\nshop = "./my-shop.toml"\n')
    assert faults_in(folder, monkeypatch) == [
        "other.toml:2 · shop · the files name each other in a circle: my-shop.toml → other.toml → ./my-shop.toml · "
        "write the table itself"
    ]


def test_a_fault_of_syntax_in_a_named_file_is_told_with_the_others(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "my-shop.toml").write_text("open = 'always'\nstations = [\n")
    (folder / "run.toml").write_text(MAIN.replace("orders = 2", "orders = 0"))
    assert faults_in(folder, monkeypatch) == [
        "run.toml:4 · run.orders · 0 orders cannot be made · write a whole number from 1 to 10000",
        "my-shop.toml:2 · shop · a list is not closed · close it with ]",
    ]


def test_an_upload_may_name_no_files_but_those_handed_over_with_it(folder: Path) -> None:
    told = read_scenario_text(MAIN, "upload.toml").faults
    assert [(fault.place, fault.rule) for fault in told] == [
        ("shop", '"my-shop.toml" is another file, and other files are not read here'),
        ("design", '"designs/tray.toml" is another file, and other files are not read here'),
    ]
    given = {"my-shop.toml": SHOP.encode(), "designs/tray.toml": DESIGN.encode()}
    assert parse_scenario(MAIN, beside=given) == load_scenario(folder / "run.toml")


def test_a_setting_can_name_another_file_or_change_what_is_in_one(folder: Path) -> None:
    (folder / "big.toml").write_text(SHOP + "count = 4\n")
    changed = load_scenario(folder / "run.toml", ["shop=big.toml", "design.operations.glue.work=9 min"])
    assert changed.shop.stations[0].count == 4
    assert changed.design is not None
    assert changed.design.operations[0].work.likely == 9.0


def test_strange_keys_beside_a_header_in_a_named_file_are_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "my-shop.toml").write_text(
        "colour = 'green'\n[shop]\nopen = 'always'\n[[shop.stations]]\nname = 'bench'\n"
    )
    assert faults_in(folder, monkeypatch) == [
        "my-shop.toml:1 · colour · is not a known key · take it out, or put it under [shop]"
    ]


def test_an_order_book_is_read_with_the_scenario(folder: Path) -> None:
    (folder / "orders.csv").write_text("id,date,quantity\nA1,2027-01-04,2\nA2,2027-01-05,1\n")
    scenario = load_scenario(folder / "run.toml", ["run.orders=orders.csv", "run.release=as ordered"])
    orders = scenario.run.orders
    assert not isinstance(orders, int)
    assert orders is not None
    assert orders.path == "orders.csv"
    assert orders.orders == (Order("A1", dt.date(2027, 1, 4), 2), Order("A2", dt.date(2027, 1, 5), 1))


def test_faults_of_an_order_book_are_told_by_row_with_all_others(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "orders.csv").write_text("id,date,quantity\nA1,2027-01-04,two\n,2027-01-05,1\n")
    (folder / "run.toml").write_text(MAIN.replace("orders = 2", 'orders = "orders.csv"\nbatch = 0'))
    assert faults_in(folder, monkeypatch) == [
        "run.toml:5 · run.batch · 0 is less than 1 · write 1 or more",
        'orders.csv:2 · order "A1" · quantity · "two" is not a number of pieces · write a whole number from 1 to 10000',
        "orders.csv:3 · order · id · is blank · give every order its own id",
    ]


def test_a_missing_order_book_is_told_where_it_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "run.toml").write_text(MAIN.replace("orders = 2", 'orders = "orders.csv"'))
    assert faults_in(folder, monkeypatch) == [
        'run.toml:4 · run.orders · "orders.csv": there is no such file · check the name and the folder'
    ]


def test_a_scenario_error_is_an_input_error_and_survives_being_copied() -> None:
    with pytest.raises(InputError) as caught:
        parse_scenario("a = 1")
    again = type(caught.value)(*caught.value.args)
    assert str(again) == str(caught.value)
    assert isinstance(caught.value, ScenarioError)
    assert all(isinstance(fault, Fault) for fault in caught.value.faults)
