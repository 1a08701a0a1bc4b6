"""Reads a CSV text with a head row: columns by plain names, blank rows passed over, all faults gathered by row."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeVar

from shopsim.dates import parse_date
from shopsim.errors import Fault
from shopsim.limits import MAX_LOG_ROWS
from shopsim.scenario.places import NameSuggester, clean, say_names
from shopsim.units import UnitError, parse_minutes


class CsvColumn(NamedTuple):
    """A column of a CSV file: what may stand in its head, what it means, and a cell of it.

    ``spellings``: what it may be called, in lower case, with blanks and marks taken out. ``meaning`` says after
    "; default" what holds where the column or the cell is left out. ``needed``: the head must have it, or a column
    that says it stands ``instead_of`` it.
    """

    spellings: tuple[str, ...]
    meaning: str
    example: str
    needed: bool = False
    instead_of: str = ""


CsvColumns = Mapping[str, CsvColumn]
_Value = TypeVar("_Value")


def say_csv_error(message: str) -> tuple[str, str]:
    """(rule, mend) for what the reader of CSV found in a row."""
    if message == "unexpected end of data":
        return 'a cell begins with " and is never closed', 'close it with ", or take the " out'
    if "expected after" in message:
        return 'something stands behind the closing " of a cell', 'write a " within a cell twice, as ""'
    if "field larger than field limit" in message:
        return "a cell is longer than anybody needs", 'look for a " that is never closed'
    return f"cannot be read as CSV: {message}", "save it again as plain CSV"


def plain_name(cell: str) -> str:
    """A column's name as spellings are compared: lower case, blanks and marks taken out."""
    return re.sub(r"[\W_]", "", cell.casefold())


def find_near(plain: str, columns: CsvColumns) -> str | None:
    """The column of which a name is a slip of the pen: one letter more, less, other or swapped, two in a long name.

    A name that is merely like it, as price is like pieces, is no slip; nor is any of up to three letters.
    """
    for name, column in columns.items():
        for spelling in column.spellings:
            most = 0 if min(len(plain), len(spelling)) < 4 else 1 if len(spelling) < 8 else 2
            if abs(len(plain) - len(spelling)) <= most and _count_slips(plain, spelling) <= most:
                return name
    return None


def find_column(plain: str, columns: CsvColumns) -> str | None:
    """The column that may be called so (``plain_name``)."""
    return next((name for name, column in columns.items() if plain in column.spellings), None)


def find_missing(present: Iterable[str], columns: CsvColumns) -> list[str]:
    """The needed columns that are not there, nor any that may stand in place of them."""
    there = {columns[name].instead_of or name for name in present}
    return [name for name, column in columns.items() if column.needed and name not in there]


def _count_slips(one: str, other: str) -> int:
    """Letters put in, left out, changed, or swapped with their neighbour between two words (optimal string alignment)."""
    before, row = list[int](), list(range(len(other) + 1))
    for i, letter in enumerate(one, start=1):
        last, before, row = before, row, [i]
        for j, wanted in enumerate(other, start=1):
            least = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and wanted == one[i - 2]:
                least = min(least, last[j - 2] + 1)
            row.append(least)
    return row[-1]


def read_length(text: str, unit: str = "min") -> float:
    """Minutes; ``unit`` is that of a plain number. Raises UnitError."""
    return parse_minutes(f"{text} {unit}" if is_bare(text) else text)


def is_bare(text: str) -> bool:
    """Whether a cell is a plain number, with no unit behind it."""
    return re.fullmatch(r"[0-9]*\.?[0-9]+|[0-9]+\.", text) is not None


def read_day(text: str) -> dt.date:
    """A date that must be there; raises UnitError."""
    if not text:
        raise UnitError("is blank", "write the day, like 2027-01-08")
    return parse_date(text)


class LogTable:
    """A CSV text read row by row; ``faults`` gathers what is wrong, by row; ``last_line``: of what was read so far."""

    def __init__(self, name: str, suggester: NameSuggester) -> None:
        self.name, self.suggester = name, suggester
        self.faults: list[Fault] = []
        self.last_line = 0

    def fault(self, line: int | None, place: str, rule: str, mend: str) -> None:
        """Note a fault of a row."""
        self.faults.append(Fault(self.name, line, place.removeprefix(" · "), clean(rule), clean(mend)))

    def parse(self, line: int, place: str, text: str, read: Callable[[str], _Value]) -> _Value | None:
        """The value of a cell; a fault and None where it cannot be read."""
        try:
            return read(text)
        except UnitError as error:
            self.fault(line, place, error.rule, error.mend)
            return None

    def rows(self, text: str, most: int, too_many: tuple[str, str]) -> Iterator[tuple[int, list[str]]]:
        """(line, cells) of the head and of each row below it that is not blank.

        Commas, semicolons or tabs stand between the cells, as in the head. Rows that are wider than the head, broken
        or beyond ``most`` are faults, of which ``too_many`` is the last one's (rule, mend).
        """
        text = text.removeprefix("\ufeff")
        head = next((line for line in text.splitlines() if line.strip()), "")
        rows = csv.reader(
            io.StringIO(text, newline=""), delimiter=max(",;\t", key=head.count), strict=True, skipinitialspace=True
        )
        width, n_rows = 0, -1
        try:
            for row in rows:
                line, self.last_line = self.last_line + 1, rows.line_num
                if not any(cell.strip() for cell in row):
                    continue
                n_rows += 1
                if n_rows > most:
                    self.fault(line, "", *too_many)
                    return
                if n_rows and any(cell.strip() for cell in row[width:]):
                    rule = f"has {len(row)} cells, the head has {width}"
                    self.fault(line, "", rule, 'put a cell that holds a comma in "quotes"')
                    continue
                width = width if n_rows else len(row)
                yield line, row
        except csv.Error as error:
            self.fault(self.last_line + 1, "", *say_csv_error(str(error)))

    def table(self, text: str, columns: CsvColumns, example: str) -> list[tuple[int, dict[str, str]]]:
        """(line, cells by column) of every row that is not blank; nothing where the head cannot be used."""
        found: list[tuple[int, dict[str, str]]] = []
        places: dict[str, int] | None = None
        for line, row in self.rows(text, MAX_LOG_ROWS, (f"holds more than {MAX_LOG_ROWS:,} rows", "split the log")):
            if places is None:
                places = self._head(row, line, columns, example)
                if places is None:
                    return []
            else:
                found.append((line, {key: row[at].strip() if at < len(row) else "" for key, at in places.items()}))
        return found

    def _head(self, row: Sequence[str], line: int, columns: CsvColumns, example: str) -> dict[str, int] | None:
        places: dict[str, int] = {}
        for number, cell in enumerate(row):
            if not cell.strip() and number == len(row) - 1:
                continue  # a delimiter at the end of each line
            plain = plain_name(cell)
            column = find_column(plain, columns)
            if column is None:
                key = find_near(plain, columns)
                mend = f'call it "{key}"' if key else f"take it out; columns are {', '.join(columns)}"
                self.fault(line, "head", f'"{clean(cell.strip(), 40)}" is not a known column', mend)
                if key is not None:
                    places.setdefault(key, number)  # read on as if it were called so
            elif column in places:
                self.fault(line, "head", f'there are two columns for "{column}"', "keep one of them")
            else:
                places[column] = number
        missing = find_missing(places, columns)
        if missing:
            self.fault(line, "head", f"has no column {say_names(missing)}", example)
        return None if missing else places
