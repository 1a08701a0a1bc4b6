"""The tables that a maker fills in: which columns each has, and how each is written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from shopsim.app.cells import AT_ONCE, Cell, Kind, from_cell, to_cell
from shopsim.scenario import CAUTIONS, NONE_NEEDED, ClampKind, Line, Material, Operation, Rack, Station, Worker
from shopsim.scenario.list_edits import RowEdit
from shopsim.scenario.record import Record

#: The column that holds the number of the row in the file a row came from, -1 for a new one; never shown.
ROW = "_row"
Row = dict[str, Any]


@dataclass(frozen=True)
class Column:
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
class Table:
    """A table of a page: ``word`` names one row, ``new`` is what a new row begins with."""

    word: str
    columns: tuple[Column, ...]
    new: Mapping[str, Cell]
    empty: str = ""
    groups: tuple[str, ...] = field(default=())

    @property
    def keys(self) -> list[str]:
        """The keys of the columns, in order."""
        return [column.key for column in self.columns]


def explain(record: type[Record], columns: Iterable[Column]) -> tuple[Column, ...]:
    """The columns with the help that the record's fields have, and with what holds where nothing is said."""
    made = []
    for column in columns:
        field_there = record.model_fields[column.key]
        help_text = column.help or str(field_there.description or "")
        example = f' Like "{column.example}".' if column.example else ""
        default = field_there.default
        says = column.kind in ("whole", "number", "choice") and isinstance(default, str | int | float)
        made.append(
            replace(column, help=help_text.replace("`", "") + example, usual=str(default) if says else column.usual)
        )
    return tuple(made)


def worker_table() -> Table:
    """Who works in the shop."""
    columns = (
        Column("name", "Name"),
        Column("open", "Own hours", "hours", "sat 09:00-12:00; tue 18:00-21:30"),
        Column("closed", "Days away", "days", "2027-03-01, 2027-04-05..2027-04-09"),
        Column("can", "Can do", "names", "sand, first coat"),
    )
    note = "Nobody is listed, so one person, the maker, is taken to work whenever the shop is open."
    return Table("worker", explain(Worker, columns), {"name": "helper"}, note)


def station_table() -> Table:
    """Machines and benches."""
    columns = (Column("name", "Name"), Column("count", "How many", "whole"))
    return Table("station", explain(Station, columns), {"name": "bench", "count": 1}, "No machine or bench is listed.")


def rack_table() -> Table:
    """Places where things stand while they dry."""
    columns = (Column("name", "Name"), Column("spots", "Spots", "whole"))
    return Table("rack", explain(Rack, columns), {"name": "drying rack", "spots": 10}, "No rack or shelf is listed.")


def clamp_table() -> Table:
    """Clamps by kind."""
    columns = (
        Column("name", "Name"),
        Column("reach", "Reach", example="24 in"),
        Column("count", "How many", "whole"),
        Column("price", "Price of one", "number"),
    )
    new: dict[str, Cell] = {"name": "bar clamp", "reach": "24 in", "count": 4}
    return Table("clamp kind", explain(ClampKind, columns), new, "No clamps are listed.")


#: Groups of the columns of operations, of which one is shown at a time beside the names.
STEPS, GLUE, FINE = "Steps and times", "Glue and drying", "Fine points"


def operation_table(stations: Iterable[str], parts: Iterable[str]) -> Table:
    """The operations of a piece, with the stations and parts that can be chosen."""
    columns = (
        Column("name", "Operation"),
        Column("after", "Comes after", "after", "cut joints, shape legs", STEPS,
               help=f'Operations it comes after, with commas between; empty: the one above; "{AT_ONCE}": nothing.'),
        Column("per", "Done per", "choice", "", STEPS, ("piece", "batch", "run", *parts)),
        Column("station", "Station", "choice", "", STEPS, tuple(stations)),
        Column("setup", "Set-up", "text", "5 min", STEPS),
        Column("work", "Hands-on time", "text", "8 / 10 / 16 min", STEPS),
        Column("basis", "Known from", "choice", "", STEPS, ("guess", "timed")),
        Column("caution", "Cautions", "cautions", "", STEPS, (*CAUTIONS, NONE_NEEDED)),
        Column("clamps", "Clamps", "clamps", "2 of 18 in, 1 band clamp", GLUE,
               help="Clamps that one task takes: how many of which least reach, or of which kind."),
        Column("in_clamps", "In clamps for", "text", "45 / 60 / 90 min", GLUE),
        Column("unclamp", "Taking off", "text", "3 min", GLUE),
        Column("cure", "Cures for", "text", "24 h", GLUE),
        Column("open_time", "Glue open for", "text", "10 min", GLUE),
        Column("wet", "Wet for", "text", "30 / 45 / 60 min", GLUE),
        Column("dusty", "Dusty", "yes", "", GLUE),
        Column("rest", "Rests on", "rest", "drying rack (2 spots)", GLUE),
        Column("hands", "People", "whole", "", FINE),
        Column("handful", "Handful", "whole", "2 or batch", FINE),
        Column("wait_for", "Waits for", "choice", "", FINE, ("batch",)),
        Column("work_kind", "Done by", "choice", "", FINE, ("hand", "machine")),
        Column("learning", "Learning", "text", "95 %", FINE),
        Column("redo", "Done again", "redo", "3 %, 20 / 30 / 60 min", FINE),
        Column("pausable", "Can be left", "maybe", "", FINE, ("yes", "no")),
        Column("stays", "Keeps station", "yes", "", FINE),
    )  # fmt: skip
    new: dict[str, Cell] = {"name": "new operation", "work": "8 / 10 / 16 min"}
    return Table("operation", explain(Operation, columns), new, "No operation is listed.", (STEPS, GLUE, FINE))


def material_table() -> Table:
    """What is bought and holds work back until it is there."""
    columns = (
        Column("name", "Material"),
        Column("needed_by", "Needed by", "names", "choose boards, glue seats"),
        Column("lead", "Delivery takes", "text", "3 / 7 / 21 d"),
        Column("ordered", "Ordered on", "day", "2027-01-02"),
        Column("rest", "Must lie for", "text", "3 / 5 / 10 d"),
        Column("on_shelf", "On the shelf", "yes"),
        Column("late", "Chance late", "text", "20 %"),
    )
    new: dict[str, Cell] = {"name": "boards", "lead": "1 / 3 / 7 d"}
    return Table("material", explain(Material, columns), new, "Nothing that is bought holds the work back.")


def line_table(designs: Iterable[str]) -> Table:
    """The designs of a run, each with its orders."""
    columns = (
        Column("design", "Design", "choice", "", "", tuple(designs)),
        Column("orders", "Orders", "whole", "18 or orders.csv"),
        Column("batch", "Batch", "whole"),
        Column("round_up_to", "Round up to", "whole"),
        Column("orders_close", "Orders close", "day", "2027-01-08"),
        Column("start", "Start", "day", "2027-01-11"),
    )
    return Table("line", explain(Line, columns), {"orders": 5}, "The run has one line, above.")


def read_rows(table: Table, items: Iterable[Any]) -> list[Row]:
    """The rows of a list in the file as cells, each with the number of its row there."""
    rows = []
    for number, item in enumerate(items):
        given = item if isinstance(item, Mapping) else {}
        rows.append({ROW: number, **{c.key: to_cell(c.kind, given.get(c.key)) for c in table.columns}})
    return rows


def new_row(table: Table, taken: Iterable[str] = ()) -> Row:
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


def find_edits(table: Table, base: list[Row], rows: Iterable[Row]) -> list[RowEdit]:
    """What turns the rows of the file into these rows: only cells that differ are changes."""
    edits = []
    for row in rows:
        old = int(row[ROW])
        before = base[old] if 0 <= old < len(base) else new_row(Table(table.word, table.columns, {}))
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
