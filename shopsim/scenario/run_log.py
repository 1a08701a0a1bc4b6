"""The log of a run: what happened when, one row a happening, only ever added to. Read from CSV, all faults at once, by row.

What a row says in its own words is read here; whether it can be true of the shop and the run is looked at by the studies.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import re
from collections.abc import Sequence
from typing import NamedTuple

from shopsim.dates import parse_date, parse_timestamp
from shopsim.errors import Fault
from shopsim.limits import MAX_LOG_ROWS, MAX_LOGGED_UNITS
from shopsim.scenario.happenings import (
    BEGUN,
    CAME,
    CLAMPS_OFF,
    DONE,
    PAUSED,
    RUN_COLUMNS,
    SHIPPED,
    SHORTENED,
    SPOILED,
    TAKEN_BACK,
    WHATS,
    Happening,
    find_what,
)
from shopsim.scenario.log_table import LogTable, plain_name, read_length, say_csv_error
from shopsim.scenario.places import NameSuggester, clean, say_names
from shopsim.scenario.text import decode_text
from shopsim.units import UnitError

#: What stands for bytes that are no letter.
BROKEN = "\ufffd"


class RunLog(NamedTuple):
    """What a log says: its rows without those that were taken back, its faults, and what was passed over, in words."""

    rows: tuple[Happening, ...]
    faults: tuple[Fault, ...]
    remarks: tuple[str, ...]


def read_run_log(text: str, name: str) -> RunLog:
    """The log of a run from the text of its file, called ``name`` in the faults; an empty text is an empty log.

    A last line that has no end and fewer cells than the head was cut off while it was written: it is left out, with a
    remark. So is whatever a later row takes back, and any fault in it.
    """
    return _Reader(name).read(text)


def decode_log(data: bytes) -> str:
    """The text of a log's bytes; raises Unreadable for what is no text.

    A power cut may leave part of a letter, or bytes of nothing: such are marked, so that only their own line is a fault.
    """
    if not data.strip(b"\x00 \t\r\n\xef\xbb\xbf"):
        return ""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return decode_text(data, "log")
    return decode_text(data.replace(b"\x00", b"").decode("utf-8", "replace").encode(), "log")


def find_form(text: str) -> tuple[str, list[str]] | None:
    """(what stands between cells, head) of the text of a log; None where it has no head yet."""
    head = next((line for line in text.removeprefix("\ufeff").splitlines() if line.strip()), None)
    if head is None:
        return None
    delimiter = max(",;\t", key=head.count)
    return delimiter, [cell.strip() for cell in next(csv.reader([head], delimiter=delimiter))]


def is_run_log(text: str) -> bool:
    """Whether a text is the log of a run, and not one of times alone: its head says what happened when."""
    form = find_form(text)
    names = {plain_name(cell) for cell in form[1]} if form is not None else set()
    return bool(names & {*RUN_COLUMNS["what"].spellings}) and bool(names & {*RUN_COLUMNS["when"].spellings})


class _Reader(LogTable):
    def __init__(self, name: str) -> None:
        super().__init__(name, NameSuggester())
        self.remarks: list[str] = []

    def read(self, text: str) -> RunLog:
        form = find_form(text)
        if form is None:
            return RunLog((), (), ())
        delimiter, _ = form
        lines = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n").split("\n")
        unended = lines.pop() if lines[-1] == "" else None
        cut = len(lines) if unended is None else 0
        places: dict[str, int] | None = None
        width = 0
        told: list[tuple[int, dict[str, str], Fault | None]] = []
        for line, written in enumerate(lines, start=1):
            if not written.strip(f"{delimiter} \t"):
                continue
            try:
                cells = next(csv.reader([written], delimiter=delimiter, strict=True, skipinitialspace=True))
            except csv.Error as error:
                if line == cut and places is not None:
                    self._say_cut(line)
                    continue
                rule, mend = say_csv_error(str(error))
                told.append(
                    (line, {}, Fault(self.name, line, "", clean(rule), f"{clean(mend)}; a note stands on one line"))
                )
                continue
            if places is None:
                places, width = (
                    self._head(cells, line, RUN_COLUMNS, "begin with: when,what,operation,batch,pieces"),
                    len(cells),
                )
                if places is None:
                    return RunLog((), tuple(self.faults), ())
                continue
            if len(told) == MAX_LOG_ROWS:
                self.fault(line, "", f"holds more than {MAX_LOG_ROWS:,} rows", "begin a new log with the next run")
                break
            if line == cut and (len(cells) < width or BROKEN in written):
                self._say_cut(line)
                continue
            fault = None
            if BROKEN in written:
                fault = Fault(self.name, line, "", "holds letters that are not UTF-8", "save it as UTF-8")
            if any(cell.strip() for cell in cells[width:]):
                rule = f"has {len(cells)} cells, the head has {width}"
                fault = Fault(self.name, line, "", rule, 'put a cell that holds a comma in "quotes"')
            told.append(
                (line, {key: cells[at].strip() if at < len(cells) else "" for key, at in places.items()}, fault)
            )
        return self._tell(told)

    def _say_cut(self, line: int) -> None:
        self.remarks.append(f"{self.name}:{line} · is cut off, as by a power cut, and is left out · log it again")

    def _tell(self, told: Sequence[tuple[int, dict[str, str], Fault | None]]) -> RunLog:
        """The rows that stand, after those that take others back."""
        back = self._find_taken_back(told)
        rows: list[Happening] = []
        for line, cells, fault in told:
            if line in back:
                continue
            if fault is not None:
                self.faults.append(fault)
                continue
            row = self._read_row(line, cells)
            if row is not None and row.what != TAKEN_BACK:
                rows.append(row)
        return RunLog(tuple(rows), tuple(sorted(self.faults, key=lambda one: one.line or 0)), tuple(self.remarks))

    def _find_taken_back(self, told: Sequence[tuple[int, dict[str, str], Fault | None]]) -> set[int]:
        """Lines that later rows take back; a taking back that is itself taken back does nothing."""
        takes: dict[int, int] = {}
        known = {line: cells for line, cells, _ in told}
        for line, cells, fault in told:
            if fault is not None or find_what(cells.get("what", "")) != TAKEN_BACK:
                continue
            row = cells.get("row", "")
            if not re.fullmatch(r"[0-9]{1,9}", row):
                mend = "name the row that is taken back in the column row"
                self.fault(line, "row", "is blank" if not row else f'"{clean(row, 40)}" is no number of a row', mend)
            elif int(row) >= line:
                self.fault(line, "row", f"row {int(row)} does not come before this one", "name an earlier row")
            elif int(row) not in known and int(row) > 1:
                self.fault(line, "row", f"row {int(row)} is blank", "name the row that is taken back")
            elif int(row) <= 1:
                self.fault(line, "row", "row 1 is the head", "rows are counted from 1 with the head")
            else:
                takes[line] = int(row)
        back: set[int] = set()
        for line in sorted(takes, reverse=True):  # the last word counts
            if line not in back:
                back.add(takes[line])
        return back

    def _read_row(self, line: int, cells: dict[str, str]) -> Happening | None:
        before = len(self.faults)
        what = find_what(cells["what"])
        if what is None:
            near = self.suggester.nearest(cells["what"], [*WHATS])
            mend = f'write "{near}"' if near else f"write one of {say_names(WHATS, 20)}"
            rule = f'"{clean(cells["what"], 40)}" is nothing that happens' if cells["what"] else "is blank"
            self.fault(line, "what", rule, mend)
            return None
        day = self.parse(line, "when", cells["when"], _read_when)
        batch = self.parse(line, "batch", cells.get("batch", ""), _read_number)
        pieces = self.parse(line, "pieces", cells.get("pieces", ""), read_numbers)
        units = self.parse(line, "units", cells.get("units", ""), read_numbers)
        minutes = self.parse(line, "minutes", cells.get("minutes", ""), _read_minutes)
        if what in (BEGUN, PAUSED, DONE, CLAMPS_OFF) and not cells.get("operation"):
            self.fault(line, "operation", "is blank", "name the operation as the scenario does")
        if what == SPOILED and not cells.get("operation") and not cells.get("part") and pieces is None:
            self.fault(line, "pieces", "is blank", "say which piece was spoiled, and which part if it was one")
        if what == SHIPPED and not cells.get("order"):
            self.fault(line, "order", "is blank", "name the order that shipped")
        if what == CAME and not cells.get("material"):
            self.fault(line, "material", "is blank", "name the material that came")
        if what == SHORTENED and not cells.get("minutes"):
            self.fault(line, "minutes", "is blank", "say by how many minutes the day was shortened; 0 is a whole day")
        if what == TAKEN_BACK or len(self.faults) > before or day is None:
            return None if len(self.faults) > before or day is None else Happening(line, day[0], day[1], what)
        said = {key: cells.get(key, "")[:200] for key in RUN_COLUMNS}
        return Happening(
            line, *day, what, said["operation"], batch, pieces, said["part"], units, said["worker"], said["station"],
            said["clamps"], said["order"], said["material"], minutes, note=said["note"],
        )  # fmt: skip


def _read_when(text: str) -> tuple[dt.date, float | None]:
    if not text:
        raise UnitError("is blank", "write when it happened, like 2027-02-03 21:00")
    return parse_timestamp(text) if len(text) > 10 else (parse_date(text), None)


def _read_number(text: str) -> int | None:
    if not text:
        return None
    if not re.fullmatch(r"0*[1-9][0-9]{0,5}", text):
        raise UnitError(f'"{clean(text, 40)}" is not a number', "write a whole number, like 2")
    return int(text)


def read_numbers(text: str) -> tuple[int, ...] | None:
    """Whole numbers from 1 on, each once and rising: ``1-3, 5``; None where nothing is said. Raises UnitError."""
    if not text:
        return None
    numbers: set[int] = set()
    for part in re.split(r"[,;+ ]+", re.sub(r"\s*[-\u2010-\u2015\u2212]\s*", "-", text.strip())):
        found = re.fullmatch(r"0*([1-9][0-9]{0,5})(?:-0*([1-9][0-9]{0,5}))?", part)
        if found is None:
            raise UnitError(f'"{clean(text, 40)}" cannot be read as numbers', "write them like 1-3, 5")
        first, last = int(found[1]), int(found[2] or found[1])
        if last < first or last - first >= MAX_LOGGED_UNITS:
            raise UnitError(f'"{clean(text, 40)}" runs backwards or too far', "write the lower number first, like 1-3")
        numbers.update(range(first, last + 1))
    return tuple(sorted(numbers))


def _read_minutes(text: str) -> float | None:
    if not text:
        return None
    minutes = read_length(re.sub(r"^([0-9]+),([0-9]+)$", r"\1.\2", text))
    if not math.isfinite(minutes) or minutes < 0:
        raise UnitError(f'"{clean(text, 40)}" is no time', "write minutes, like 42")
    return minutes
