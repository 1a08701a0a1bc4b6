"""It holds that the reference of the file format is whole and true: what it shows can be read, and its defaults hold.

After a change that is meant: ``shopsim schema --text -o scenarios/README.md``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim.scenario import read_orders, read_scenario_text
from shopsim.scenario.day_logs import DAY_COLUMNS, read_days
from shopsim.scenario.fields import is_list_of_records, record_in
from shopsim.scenario.log_table import CsvColumns
from shopsim.scenario.logs import TIME_COLUMNS, LoggableWork, read_times
from shopsim.scenario.model import Record, Scenario, Shop
from shopsim.scenario.orders_file import COLUMNS as ORDER_COLUMNS
from shopsim.scenario.reference import TITLE, own_fields, reference_text, sections
from shopsim.scenario.shipped_logs import SHIPPED_COLUMNS, read_shipped

SCENARIOS = Path(__file__).parents[2] / "scenarios"
TEXT = reference_text()
FIELDS = [
    pytest.param(record, key, id=f"{record.__name__}.{key}") for _, record in sections() for key in own_fields(record)
]
WHOLE = """\
[shop]
open = "always"
[design]
name = "tray"
[[design.operations]]
name = "sand"
work = "5 min"
[[design.operations]]
name = "oil"
work = "5 min"
[[materials]]
name = "walnut boards"
needed_by = "sand"
[run]
orders = 2
start = 2027-01-11
"""


def rows_of(heading: str) -> list[list[str]]:
    """The cells of every row of the table below a heading, the head and the line under it left out."""
    _, _, below = TEXT.partition(f"\n## {heading}\n")
    below = re.split(r"^## ", below, flags=re.MULTILINE)[0]
    rows = [line for line in below.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in re.split(r"(?<!\\)\|", row)[1:-1]] for row in rows[1:]]


def heading_of(record: type[Record]) -> str:
    header = next(header for header, one in sections() if one is record)
    return f"`{header}`" if header.startswith("[") else header


def row_of(record: type[Record], key: str) -> list[str]:
    return next(row for row in rows_of(heading_of(record)) if row[0] == f"`{key}`")


def least_data(record: type[Record]) -> dict[str, Any]:
    """What has to be in a record, made of the examples of its keys."""
    data: dict[str, Any] = {}
    for key, field in record.model_fields.items():
        inner = record_in(field.annotation)
        if field.is_required():
            row = least_data(inner) if inner is not None else field.examples[0]  # type: ignore[index]
            data[key] = [row] if is_list_of_records(field) else row
    return data


def test_the_page_beside_the_examples_is_what_the_program_prints() -> None:
    assert (SCENARIOS / "README.md").read_text(encoding="utf-8") == TEXT
    assert TEXT.startswith(TITLE)


def test_every_table_of_a_file_is_told_of() -> None:
    def inside(record: type[Record]) -> set[type[Record]]:
        found = {inner for field in record.model_fields.values() if (inner := record_in(field.annotation)) is not None}
        return found.union(*(inside(inner) for inner in found))

    assert {record for _, record in sections()} == {Scenario, *inside(Scenario)}


@pytest.mark.parametrize(("record", "key"), FIELDS)
def test_what_is_shown_of_a_key_can_be_read_and_its_default_holds(record: type[Record], key: str) -> None:
    _, meaning, default, example = row_of(record, key)
    assert len(meaning) > 10
    if example == "a table of its own, below":
        assert record_in(record.model_fields[key].annotation) is not None
        assert default
        return
    assert example.startswith("`")
    shown = tomllib.loads(example.strip("`"))
    assert list(shown) == [key]
    record.model_validate({**least_data(record), **shown})
    if default == "must be given":
        assert key in least_data(record)
        return
    assert key not in least_data(record)
    if (
        default.startswith("`") and default.endswith("`") and default != '`"24:00"`'
    ):  # the end of the day, written 24:00
        stated = tomllib.loads(f"{key} = {default.strip('`')}")
        assert record.model_validate({**least_data(record), **stated}) == record.model_validate(least_data(record))


@pytest.mark.parametrize(
    ("row", "table"),
    [
        ("a time", "cure = {}"),
        ("a time that varies", "cure = {}"),
        ("a named law of it", "cure = {}"),
        ("times you logged", "cure = {}"),
        ("a share or a chance", "[shop]\nopen = 'always'\nlost_days = {}"),
        ("a date", "[shop]\nopen = 'always'\nclosed = [{}]"),
        ("hours", "[shop]\nopen = {}"),
        ("a length", "[[shop.clamps]]\nname = 'c'\ncount = 1\nreach = {}"),
    ],
)
def test_values_are_written_as_it_says(row: str, table: str) -> None:
    (cells,) = [cells for cells in rows_of("How values are written") if cells[0] == row]
    values = re.findall(r"`([^`]+)`", cells[2])
    assert values
    for value in values:
        if table.startswith("cure"):
            text = WHOLE.replace("[[materials]]", f"{table.format(value)}\n[[materials]]", 1)
        elif "[shop]" in table:
            text = WHOLE.replace('[shop]\nopen = "always"', table.format(value), 1)
        else:
            text = f"{WHOLE}{table.format(value)}\n"
        assert read_scenario_text(text).faults == (), text


def test_the_options_that_are_shown_can_be_made() -> None:
    block = re.findall(r"^```toml\n(.*?)^```$", TEXT, flags=re.MULTILINE | re.DOTALL)
    assert len(block) == 2  # options, and ways of making it
    assert read_scenario_text(WHOLE.replace("[[materials]]", f"{block[0]}[[materials]]", 1)).faults == ()
    way = block[1].replace("cut panels", "oil").replace('"cut', '"oil')
    faults = read_scenario_text(WHOLE.replace("[[materials]]", f"{way}[[materials]]", 1)).faults
    assert faults == ()


def read_book(text: str) -> list[Any]:
    reading = read_orders(text, "orders.csv")
    return [*reading.faults, *reading.remarks]


def read_log(text: str) -> list[Any]:
    return list(read_times(text, "times.csv", WORK)[1])


def read_day_log(text: str) -> list[Any]:
    return list(read_days(text, "days.csv", Shop(open="always"))[1])


WORK = [LoggableWork("counter stool", "rip rails")]


@pytest.mark.parametrize(
    ("columns", "left_out", "read"),
    [
        (ORDER_COLUMNS, (), read_book),
        (TIME_COLUMNS, ("hours", "seconds"), read_log),
        (TIME_COLUMNS, ("minutes", "seconds"), read_log),
        (TIME_COLUMNS, ("minutes", "hours"), read_log),
        (DAY_COLUMNS, ("share", "interrupted", "minutes lost"), read_day_log),
        (DAY_COLUMNS, ("open_share", "interrupted", "minutes lost"), read_day_log),
        (DAY_COLUMNS, ("open_share", "share", "minutes lost"), read_day_log),
        (DAY_COLUMNS, ("open_share", "share", "interrupted", "lost"), read_day_log),
        (SHIPPED_COLUMNS, (), lambda text: read_shipped(text, "shipped.csv", ["1001"])[1]),
    ],
)
def test_a_row_of_the_cells_shown_is_read(
    columns: CsvColumns, left_out: tuple[str, ...], read: Callable[[str], list[Any]]
) -> None:
    cells = {name: column.example for name, column in columns.items() if name not in left_out}
    assert all(
        f"| `{name}` | {column.meaning.split('; default ')[0].rstrip('.')}." in TEXT for name, column in columns.items()
    )
    assert all(column.needed or column.instead_of or "; default " in column.meaning for column in columns.values())
    assert read(",".join(cells) + "\n" + ",".join(cells.values()) + "\n") == []
    needed = [name for name, column in columns.items() if column.needed]
    assert read(",".join(name for name in cells if name != needed[0]) + "\n") != []


def test_a_record_left_out_is_noticed() -> None:
    assert rows_of("`[[shop.clamps]]`")
    assert not rows_of("`[[shop.kennels]]`")
