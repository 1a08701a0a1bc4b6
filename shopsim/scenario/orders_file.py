"""Reads a CSV file of orders."""

from __future__ import annotations

import datetime as dt
import re
from typing import NamedTuple

from shopsim.dates import parse_clock, parse_date
from shopsim.errors import Fault
from shopsim.limits import MAX_ORDERS, MAX_PIECES
from shopsim.scenario.base_record import has_control_letter
from shopsim.scenario.log_table import CsvColumn, CsvColumns, LogTable, find_column, find_missing, find_near, plain_name
from shopsim.scenario.places import NameSuggester, clean, say_names
from shopsim.scenario.values import Order
from shopsim.units import UnitError

#: The columns of a book of orders.
COLUMNS: CsvColumns = {
    "id": CsvColumn(
        ("id", "order", "orderno", "orderid", "ordernumber", "ordernr", "number", "no", "nr", "reference", "ref"),
        "The order's own id: yours or the buyer's.",
        "1001",
        needed=True,
    ),
    "date": CsvColumn(
        (
            "date",
            "ordered",
            "orderdate",
            "orderedon",
            "orderedat",
            "dateordered",
            "day",
            "placed",
            "placedon",
            "placedat",
            "received",
            "created",
            "createdat",
            "createdon",
        ),
        "Day on which it came in, with a time of day if you have one.",
        "2026-12-12",
        needed=True,
    ),
    "quantity": CsvColumn(
        ("quantity", "qty", "pieces", "count", "howmany", "quantityordered", "orderedquantity", "qtyordered"),
        "Pieces ordered; default 1.",
        "2",
    ),
    "destination": CsvColumn(
        ("destination", "shipto", "to", "place", "region", "zone"),
        "Where it goes, as `transit` of `[shipping]` calls it; default the slowest one named there.",
        "far coast",
    ),
    "option": CsvColumn(
        ("option", "options", "wood", "finish", "colour", "color", "stain", "variant", "note", "notes"),
        "Options of the design it is made in, as the file calls them; several columns (wood, colour) may each say one; default none.",
        "walnut",
    ),
    "promised": CsvColumn(
        ("promised", "promise", "promiseddate", "datepromised", "promisedby", "shipby", "shipsby", "due"),
        "Day by which the buyer was told it ships; default `promised` of `[run]`.",
        "2027-04-30",
    ),
}
#: May be pieces or money, so that it is asked about where no other column says how many.
_UNCLEAR = ("amount", "amounts")
#: Several columns may say options, a wood and a colour; notes count as options only where nothing else does.
_NOTES = ("note", "notes")


class BookReading(NamedTuple):
    """What reading a file of orders gave: orders, their file lines, faults, and what was passed over, as remarks."""

    orders: list[Order]
    lines: list[int]
    faults: list[Fault]
    remarks: list[Fault]


def read_orders(text: str, name: str) -> BookReading:
    """The orders of a CSV text with a head row; a file called ``name`` in the faults.

    Columns stand in any order: id, date (2027-01-08, or 2027-01-08 14:30, with or without a zone), quantity (default
    1, also ``2.0``), destination, option (also wood, colour and the like: several are joined by " + "), promised (the
    day a buyer was told); commas, semicolons or tabs between them. Other columns are passed over and named in one remark;
    a slip of the pen in a name is a fault. Times are taken as they stand, whatever zone stands behind them.
    """
    book = _Book(name, NameSuggester())
    book.read(text)
    return BookReading(book.orders, book.lines, book.faults, book.remarks)


_MOMENT = re.compile(
    r"(\S{10})[T ]\s*(\d{1,2}:\d{2})(?::\d{2}(?:[.,]\d+)?)?\s*(?:Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?", re.IGNORECASE
)


def _read_moment(text: str) -> tuple[dt.date, float]:
    """A date, with or without a time of day: ``2027-01-08``, ``2027-01-08 14:30``, ``2027-01-08T14:30:00+01:00``."""
    timed = _MOMENT.fullmatch(text)
    return (parse_date(timed[1]), parse_clock(timed[2])) if timed else (parse_date(text), 0.0)


class _Book(LogTable):
    def __init__(self, name: str, suggester: NameSuggester) -> None:
        super().__init__(name, suggester)
        self.remarks: list[Fault] = []
        self.orders: list[Order] = []
        self.lines: list[int] = []
        self.seen: dict[str, int] = {}

    def read(self, text: str) -> None:
        columns: dict[str, list[int]] | None = None
        for line, row in self.rows(text, MAX_ORDERS, (f"holds more than {MAX_ORDERS:,} orders", "split the run")):
            if columns is None:
                columns = self._read_head(row, line)
                if columns is None:
                    return
            else:
                self._read_row(row, columns, line)
        if not self.orders and not self.faults:
            self.fault(self.last_line or None, "", "holds no orders", "write one order on each line below the head")

    def _read_head(self, row: list[str], line: int) -> dict[str, list[int]] | None:
        columns: dict[str, list[int]] = {}
        said: set[str] = set()
        notes: list[int] = []
        others: list[tuple[int, str]] = []
        for number, cell in enumerate(row):
            if not cell.strip() and number == len(row) - 1:
                continue  # a delimiter at the end of each line
            plain = plain_name(cell)
            column = find_column(plain, COLUMNS)
            if column is None:
                others.append((number, cell))
            elif plain in _NOTES:
                notes.append(number)
            elif column in columns and (column != "option" or plain in said):
                self.fault(line, "head", f'there are two columns for "{column}"', "keep one of them")
            else:
                columns.setdefault(column, []).append(number)
                said.add(plain)
        if notes and "option" not in columns:
            columns["option"] = notes[:1]
        if not columns and not notes:
            self.fault(line, "head", "names none of the columns", "begin with a line like: id,date,quantity")
            return None
        self._look_at_others(others, columns, line)
        missing = find_missing(columns, COLUMNS)
        if missing:
            shown = " and ".join(f'"{column}"' for column in missing)
            self.fault(line, "head", f"has no column {shown}", "begin with a line like: id,date,quantity")
        return columns if not missing else None

    def _look_at_others(self, others: list[tuple[int, str]], columns: dict[str, list[int]], line: int) -> None:
        """A slip of the pen in the name of a column that is not there is a fault; the rest is passed over and named."""
        passed_over = []
        known = dict(columns)
        for number, cell in others:
            plain, name = plain_name(cell), clean(cell.strip(), 40)
            near = find_near(plain, {key: COLUMNS[key] for key in COLUMNS if key not in known})
            if near is not None:
                self.fault(line, "head", f'"{name}" is not a known column', f'call it "{near}"')
                columns.setdefault(near, [number])  # read on as if it were called so
            elif plain in _UNCLEAR and "quantity" not in known:
                mend = 'call it "quantity" if it is how many pieces, or "price" if it is money'
                self.fault(line, "head", f'"{name}" may be pieces or money', mend)
            else:
                passed_over.append(cell.strip() or "(no name)")
        if passed_over:
            alone = "" if "quantity" in columns else "; no column says how many, so each order is for one piece"
            rule = f"passed over: {say_names(passed_over, 20)}{alone}"
            mend = f"nothing, if they say nothing about the work; columns that are read are {', '.join(COLUMNS)}"
            self.remarks.append(Fault(self.name, line, "head", clean(rule), mend))

    def _read_row(self, row: list[str], columns: dict[str, list[int]], line: int) -> None:
        cells = {
            key: " + ".join(row[number].strip() for number in numbers if number < len(row) and row[number].strip())
            for key, numbers in columns.items()
        }
        before = len(self.faults)
        name = cells["id"]
        place = f'order "{clean(name, 60)}"' if name else "order"
        if not name:
            self.fault(line, f"{place} · id", "is blank", "give every order its own id")
        elif name.casefold() in self.seen:
            rule = f"the same id is on line {self.seen[name.casefold()]}"
            self.fault(line, f"{place} · id", rule, "give every order its own id")
        elif has_control_letter(name):
            self.fault(line, f"{place} · id", "holds a line break or another control character", "write it plainly")
        self.seen.setdefault(name.casefold(), line)
        try:
            if not cells["date"]:
                raise UnitError("is blank", "write the day it came in, like 2027-01-08")
            date, minute = _read_moment(cells["date"])
        except UnitError as error:
            self.fault(line, f"{place} · date", error.rule, error.mend)
        promised: dt.date | None = None
        if cells.get("promised"):
            try:
                promised = _read_moment(cells["promised"])[0]
            except UnitError as error:
                self.fault(line, f"{place} · promised", error.rule, error.mend)
        quantity = re.sub(r"(?<=\d)[.,]0{1,2}$", "", cells.get("quantity") or "1")
        if not re.fullmatch(r"0*[1-9][0-9]{0,8}", quantity) or int(quantity) > MAX_PIECES:
            rule = f'"{clean(cells.get("quantity", ""), 40)}" is not a number of pieces'
            self.fault(line, f"{place} · quantity", rule, f"write a whole number from 1 to {MAX_PIECES}")
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
