"""Reads a CSV file of orders."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re

from shopsim.errors import Fault
from shopsim.scenario.log_table import say_csv_error
from shopsim.scenario.places import Guesser, clean
from shopsim.scenario.record import has_control_letter
from shopsim.scenario.values import Order
from shopsim.units import UnitError, parse_clock, parse_date

#: The largest number of orders a file may hold, and of pieces one order may be for.
MOST_ORDERS = 10_000
MOST_PIECES = 10_000

#: What each column may be called, in lower case, spaces and marks taken out.
COLUMNS: dict[str, tuple[str, ...]] = {
    "id": ("id", "order", "orderno", "orderid", "ordernumber", "ordernr", "number", "no", "nr", "reference", "ref"),
    "date": ("date", "ordered", "orderdate", "orderedon", "dateordered", "day", "placed", "received"),
    "quantity": ("quantity", "qty", "pieces", "count", "amount", "howmany"),
    "destination": ("destination", "shipto", "to", "place", "region", "zone"),
    "option": ("option", "options", "wood", "finish", "colour", "color", "stain", "variant", "note", "notes"),
    "promised": ("promised", "promise", "promiseddate", "datepromised", "promisedby", "shipby", "shipsby", "due"),
}
_NEEDED = ("id", "date")
#: Several columns may say options, a wood and a colour; notes count as options only where nothing else does.
_NOTES = ("note", "notes")


def read_orders(text: str, name: str, guesser: Guesser | None = None) -> tuple[list[Order], list[int], list[Fault]]:
    """(orders, their file lines, faults) of a CSV text with a head row; a file called ``name`` in the faults.

    Columns stand in any order: id, date (2027-01-08, or 2027-01-08 14:30), quantity (default 1),
    destination, option (also wood, colour and the like: several are joined by " + "), promised (the day a
    buyer was told); commas or semicolons between them.
    """
    book = _Book(name, guesser or Guesser())
    try:
        book.read(text)
    except csv.Error as error:
        book.find_fault(book.row_line, "", *say_csv_error(str(error)))
    return book.orders, book.lines, book.faults


def _read_moment(text: str) -> tuple[dt.date, float]:
    """A date, with or without a time of day: ``2027-01-08``, ``2027-01-08 14:30``."""
    timed = re.fullmatch(r"(\S{10})[T ](\d{1,2}:\d{2})(?::\d{2})?", text)
    return (parse_date(timed[1]), parse_clock(timed[2])) if timed else (parse_date(text), 0.0)


class _Book:
    def __init__(self, name: str, guesser: Guesser) -> None:
        self.name = name
        self.guesser = guesser
        self.orders: list[Order] = []
        self.lines: list[int] = []
        self.faults: list[Fault] = []
        self.seen: dict[str, int] = {}
        self.row_line = 1  # of the row that is being read

    def find_fault(self, line: int | None, place: str, rule: str, mend: str) -> None:
        self.faults.append(Fault(self.name, line, place, clean(rule), clean(mend)))

    def read(self, text: str) -> None:
        text = text.removeprefix("\ufeff")
        head = next((line for line in text.splitlines() if line.strip()), "")
        mark = max(",;\t", key=head.count)
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True, skipinitialspace=True)
        columns: dict[str, list[int]] | None = None
        width = 0
        last_line = 0
        for row in rows:
            line = self.row_line
            last_line = rows.line_num
            self.row_line = last_line + 1
            if not any(cell.strip() for cell in row):
                continue
            if columns is None:
                columns, width = self._read_head(row, line), len(row)
                if columns is None:
                    return
            elif len(self.orders) >= MOST_ORDERS:
                self.find_fault(line, "", f"holds more than {MOST_ORDERS:,} orders", "split the run")
                return
            else:
                self._read_row(row, columns, width, line)
        if not self.orders and not self.faults:
            self.find_fault(last_line or None, "", "holds no orders", "write one order on each line below the head")

    def _read_head(self, row: list[str], line: int) -> dict[str, list[int]] | None:
        columns: dict[str, list[int]] = {}
        said: set[str] = set()
        notes: list[int] = []
        every = [spelling for spellings in COLUMNS.values() for spelling in spellings]
        for number, cell in enumerate(row):
            if not cell.strip() and number == len(row) - 1:
                continue  # a delimiter at the end of each line
            plain = re.sub(r"[\W_]", "", cell.casefold())
            column = next((key for key, spellings in COLUMNS.items() if plain in spellings), None)
            if column is None:
                near = self.guesser.nearest(plain, every, 0.7)
                key = next((key for key, spellings in COLUMNS.items() if near in spellings), None)
                mend = f'call it "{key}"' if key else f"take it out; columns are {', '.join(COLUMNS)}"
                self.find_fault(line, "head", f'"{clean(cell.strip(), 40)}" is not a known column', mend)
                if key is not None:
                    columns.setdefault(key, [number])  # read on as if it were called so
            elif plain in _NOTES:
                notes.append(number)
            elif column in columns and (column != "option" or plain in said):
                self.find_fault(line, "head", f'there are two columns for "{column}"', "keep one of them")
            else:
                columns.setdefault(column, []).append(number)
                said.add(plain)
        if notes and "option" not in columns:
            columns["option"] = notes[:1]
        if not columns and not notes:
            self.faults.clear()
            self.find_fault(line, "head", "names none of the columns", "begin with a line like: id,date,quantity")
            return None
        missing = [column for column in _NEEDED if column not in columns]
        if missing:
            shown = " and ".join(f'"{column}"' for column in missing)
            self.find_fault(line, "head", f"has no column {shown}", "begin with a line like: id,date,quantity")
        return columns if not missing else None

    def _read_row(self, row: list[str], columns: dict[str, list[int]], width: int, line: int) -> None:
        if len(row) > width and any(cell.strip() for cell in row[width:]):
            rule = f"has {len(row)} cells, the head has {width}"
            self.find_fault(line, "", rule, 'put a cell that holds a comma in "quotes"')
            return
        cells = {
            key: " + ".join(row[number].strip() for number in numbers if number < len(row) and row[number].strip())
            for key, numbers in columns.items()
        }
        before = len(self.faults)
        name = cells["id"]
        place = f'order "{clean(name, 60)}"' if name else "order"
        if not name:
            self.find_fault(line, f"{place} · id", "is blank", "give every order its own id")
        elif name.casefold() in self.seen:
            rule = f"the same id is on line {self.seen[name.casefold()]}"
            self.find_fault(line, f"{place} · id", rule, "give every order its own id")
        elif has_control_letter(name):
            self.find_fault(
                line, f"{place} · id", "holds a line break or another control character", "write it plainly"
            )
        self.seen.setdefault(name.casefold(), line)
        try:
            if not cells["date"]:
                raise UnitError("is blank", "write the day it came in, like 2027-01-08")
            date, minute = _read_moment(cells["date"])
        except UnitError as error:
            self.find_fault(line, f"{place} · date", error.rule, error.mend)
        promised: dt.date | None = None
        if cells.get("promised"):
            try:
                promised = parse_date(cells["promised"])
            except UnitError as error:
                self.find_fault(line, f"{place} · promised", error.rule, error.mend)
        quantity = cells.get("quantity") or "1"
        if not re.fullmatch(r"0*[1-9][0-9]{0,8}", quantity) or int(quantity) > MOST_PIECES:
            rule = f'"{clean(quantity, 40)}" is not a number of pieces'
            self.find_fault(line, f"{place} · quantity", rule, f"write a whole number from 1 to {MOST_PIECES}")
        if len(self.faults) == before:
            self.orders.append(
                Order(
                    name,
                    date,
                    int(quantity),
                    cells.get("destination", "")[:200],
                    cells.get("option", "")[:200],
                    minute,
                    promised,
                )
            )
            self.lines.append(line)
