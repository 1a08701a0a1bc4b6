"""The tables that a maker fills in: which columns each has, and how each is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic.fields import FieldInfo

from shopsim.app.cells import Cell, Kind, choices_of, from_cell, kind_of, to_cell
from shopsim.app.titles import title_of
from shopsim.scenario import ClampKind, Line, Material, Operation, Rack, Station, Worker, cell_texts
from shopsim.scenario.base_record import Group, Record
from shopsim.scenario.cell_texts import CELL_TEXTS
from shopsim.scenario.fields import marks_of
from shopsim.scenario.list_edits import RowEdit

#: The column that holds the number of the row in the file a row came from, -1 for a new one; never shown.
ROW = "_row"
Row = dict[str, Any]


@dataclass(frozen=True)
class EditedColumn:
    """One column: its key in the file, its title, how it is written, what may be chosen, and what holds unless said."""

    key: str
    title: str
    kind: Kind = "text"
    example: str = ""
    group: str = ""
    choices: tuple[str, ...] = ()
    help: str = ""
    usual: str = ""


@dataclass(frozen=True)
class EditedTable:
    """A table of a page: ``word`` names one row, ``new`` is what a new row begins with."""

    word: str
    columns: tuple[EditedColumn, ...]
    new: Mapping[str, Cell]
    empty: str = ""
    groups: tuple[str, ...] = field(default=())

    @property
    def keys(self) -> list[str]:
        """The keys of the columns, in order."""
        return [column.key for column in self.columns]


def columns_of(record: type[Record], things: Mapping[str, Iterable[str]] | None = None) -> tuple[EditedColumn, ...]:
    """A column for each field of a record, in the order of its groups: all that it has stands with the field.

    ``things``: names in the file, by the kind of thing, for fields that call things by their names.
    """
    fields = record.model_fields
    marked = {key: _group_of(field) for key, field in fields.items()}
    groups = list(dict.fromkeys(group for group in marked.values() if group))
    last = FINE if groups else ""
    columns = [
        EditedColumn(
            key,
            title_of(record, key),
            kind_of(field),
            _example(field),
            "" if key == "name" else marked[key] or last,
            choices_of(field, things or {}),
        )
        for key, field in fields.items()
    ]
    order = ["", *groups, last]
    return explain(record, sorted(columns, key=lambda column: order.index(column.group)))


def _group_of(field: FieldInfo) -> str:
    return next((mark.title for mark in marks_of(field) if isinstance(mark, Group)), "")


def _example(field: FieldInfo) -> str:
    kind = kind_of(field)
    if kind in ("whole", "number", "choice", "yes", "maybe", cell_texts.CAUTIONS.kind):
        return ""
    return " or ".join(str(to_cell(kind, example)) for example in field.examples or ())


def explain(record: type[Record], columns: Iterable[EditedColumn]) -> tuple[EditedColumn, ...]:
    """The columns with the help that the record's fields have, and with what holds where nothing is said."""
    made = []
    for column in columns:
        field_there = record.model_fields[column.key]
        help_text = column.help or str(field_there.description or "")
        written = CELL_TEXTS.get(column.kind)
        hint = f" {written.hint}" if written is not None and written.hint else ""
        example = f' Like "{column.example}".' if column.example else ""
        default = field_there.default
        says = column.kind in ("whole", "number", "choice") and isinstance(default, str | int | float)
        made.append(
            replace(
                column,
                help=help_text.replace("`", "") + hint + example,
                usual=str(default) if says else column.usual,
            )
        )
    return tuple(made)


def worker_table() -> EditedTable:
    """Who works in the shop."""
    note = "Nobody is listed, so one person, the maker, is taken to work whenever the shop is open."
    return EditedTable("worker", columns_of(Worker), {"name": "helper"}, note)


def station_table() -> EditedTable:
    """Machines and benches."""
    return EditedTable("station", columns_of(Station), {"name": "bench", "count": 1}, "No machine or bench is listed.")


def rack_table() -> EditedTable:
    """Places where things stand while they dry."""
    return EditedTable("rack", columns_of(Rack), {"name": "drying rack", "spots": 10}, "No rack or shelf is listed.")


def clamp_table() -> EditedTable:
    """Clamps by kind."""
    new: dict[str, Cell] = {"name": "bar clamp", "reach": "24 in", "count": 4}
    return EditedTable("clamp kind", columns_of(ClampKind), new, "No clamps are listed.")


#: The group of columns of fields that name none; one group is shown at a time beside the names.
FINE = "Fine points"


def operation_table(stations: Iterable[str], parts: Iterable[str]) -> EditedTable:
    """The operations of a piece, with the stations and parts that can be chosen."""
    columns = columns_of(Operation, {"stations": stations, "parts": ("piece", "batch", "run", *parts)})
    new: dict[str, Cell] = {"name": "new operation", "work": "8 / 10 / 16 min"}
    groups = tuple(dict.fromkeys(column.group for column in columns if column.group))
    return EditedTable("operation", columns, new, "No operation is listed.", groups)


def material_table() -> EditedTable:
    """What is bought and holds work back until it is there."""
    new: dict[str, Cell] = {"name": "boards", "lead": "1 / 3 / 7 d"}
    return EditedTable("material", columns_of(Material), new, "Nothing that is bought holds the work back.")


def line_table(designs: Iterable[str]) -> EditedTable:
    """The designs of a run, each with its orders."""
    return EditedTable("line", columns_of(Line, {"designs": designs}), {"orders": 5}, "The run has one line, above.")


def read_rows(table: EditedTable, items: Iterable[Any]) -> list[Row]:
    """The rows of a list in the file as cells, each with the number of its row there."""
    rows = []
    for number, item in enumerate(items):
        given = item if isinstance(item, Mapping) else {}
        rows.append({ROW: number, **{c.key: to_cell(c.kind, given.get(c.key)) for c in table.columns}})
    return rows


def new_row(table: EditedTable, taken: Iterable[str] = ()) -> Row:
    """A new row, with a name that is not taken."""
    row: Row = {ROW: -1, **{c.key: table.new.get(c.key, False if c.kind == "yes" else "") for c in table.columns}}
    names = set(taken)
    if "name" in row:
        plain = name = str(row["name"])
        number = 2
        while name in names:
            name, number = f"{plain} {number}", number + 1
        row["name"] = name
    return row


def find_edits(table: EditedTable, base: list[Row], rows: Iterable[Row]) -> list[RowEdit]:
    """What turns the rows of the file into these rows: only cells that differ are changes."""
    edits = []
    for row in rows:
        old = int(row[ROW])
        before = base[old] if 0 <= old < len(base) else new_row(EditedTable(table.word, table.columns, {}))
        changes = {
            column.key: from_cell(column.kind, row[column.key])
            for column in table.columns
            if row[column.key] != before[column.key]
        }
        edits.append(RowEdit(old if 0 <= old < len(base) else None, changes))
    return edits


def rebase(base: list[Row], edited_base: list[Row], rows: list[Row]) -> list[Row] | None:
    """Edits that were made on rows as they were, on the rows as they are now; None where they no longer fit."""
    if base == edited_base:
        return rows
    names = [row.get("name", row.get("design")) for row in base]
    if names != [row.get("name", row.get("design")) for row in edited_base]:
        return None
    rebased = []
    for row in rows:
        number = int(row[ROW])
        if not 0 <= number < len(base):
            rebased.append(row)
            continue
        was, now = edited_base[number], base[number]
        rebased.append({key: now[key] if cell == was.get(key) else cell for key, cell in row.items() if key in now})
    return rebased


def count_edits(base: list[Row], rows: list[Row]) -> str:
    """How rows differ from those of the file, in words; "" where they do not."""
    if rows == base:
        return ""
    olds = [int(row[ROW]) for row in rows if int(row[ROW]) >= 0]
    changed = sum(1 for row in rows if int(row[ROW]) >= 0 and row != base[int(row[ROW])])
    counts = (
        (changed, "changed"),
        (sum(1 for row in rows if int(row[ROW]) < 0), "new"),
        (len(base) - len(olds), "taken out"),
    )
    said = [f"{count} {word}" for count, word in counts if count]
    return ", ".join(said) if said else "rows moved"
