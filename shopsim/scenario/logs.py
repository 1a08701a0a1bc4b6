"""Reads a log of task times as CSV, and files of logs. All faults at once, by row."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeVar

from shopsim.dates import parse_date
from shopsim.errors import Fault
from shopsim.limits import MAX_LOGGED_UNITS, MAX_UNIT_DAYS
from shopsim.scenario.log_table import CsvColumn, CsvColumns, LogTable, read_length
from shopsim.scenario.places import NameSuggester, clean, say_names
from shopsim.scenario.text import Unreadable, check_size, decode_text, read_bytes
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR, UnitError

#: The longest hands-on time of one unit that is believed: a week without a break. Own judgement.
MAX_UNIT_MIN = MAX_UNIT_DAYS * MINUTES_PER_DAY

#: The columns of a log of task times.
TIME_COLUMNS: CsvColumns = {
    "run": CsvColumn(
        ("run", "runname", "orders", "series"),
        "Name of the run in which it was timed: a run shares its pace; default the file's name.",
        "autumn",
    ),
    "design": CsvColumn(
        ("design", "model", "product"),
        "Design it belongs to; default the only one that has such an operation.",
        "counter stool",
    ),
    "operation": CsvColumn(
        ("operation", "op", "step", "task", "work"),
        "Operation that was timed, as the scenario calls it.",
        "rip rails",
        needed=True,
    ),
    "piece": CsvColumn(
        ("piece", "pieceno", "piecenumber", "part", "item", "unit"),
        "Which piece it was done for: a number or a name of yours; default not said.",
        "3",
    ),
    "units": CsvColumn(
        ("units", "unitsdone", "quantity", "qty", "count", "howmany"),
        "How many units the time is for; default those of one task.",
        "2",
    ),
    "minutes": CsvColumn(
        (
            "minutes",
            "min",
            "mins",
            "time",
            "took",
            "duration",
            "timetaken",
            "workmin",
            "minutestaken",
            "timemin",
            "timeminutes",
            "tookmin",
            "durationmin",
        ),
        "Hands-on time: minutes, or a time with its unit.",
        "4.6",
        needed=True,
    ),
    "hours": CsvColumn(
        (
            "hours",
            "hour",
            "hrs",
            "h",
            "timeh",
            "timehours",
            "tookh",
            "tookhours",
            "durationh",
            "durationhours",
            "workh",
        ),
        "Hands-on time in hours, in place of `minutes`; default not said.",
        "0.1",
        instead_of="minutes",
    ),
    "seconds": CsvColumn(
        (
            "seconds",
            "second",
            "sec",
            "secs",
            "s",
            "timesec",
            "timeseconds",
            "tooksec",
            "tookseconds",
            "durationsec",
            "durationseconds",
            "worksec",
        ),
        "Hands-on time in seconds, in place of `minutes`; default not said.",
        "276",
        instead_of="minutes",
    ),
    "date": CsvColumn(("date", "day", "on"), "Day on which it was done; default not said.", "2026-09-05"),
    "note": CsvColumn(
        ("note", "notes", "remark", "remarks", "who", "worker"),
        "Anything you like: it is not read; default nothing.",
        "new blade",
    ),
}
#: The columns that say how long it took, and the unit of a number in them that has none of its own.
_LENGTHS = {"minutes": "min", "hours": "h", "seconds": "s"}
_Row = TypeVar("_Row")


@dataclass(frozen=True)
class LoggableWork:
    """An operation that may stand in a log.

    ``usual``: units one row stands for where the log does not say; None where it must say.
    ``in_piece``: units that one piece (batch, run) has, None where there is no telling.
    """

    design: str
    operation: str
    usual: int | None = 1
    in_piece: int | None = None


@dataclass(frozen=True)
class TimeRow:
    """One logged time: ``minutes`` of hands-on work for ``units`` of an operation; ``piece`` may be empty."""

    line: int
    run: str
    design: str
    operation: str
    piece: str
    units: int
    minutes: float


def read_log_text(path: str | Path) -> str:
    """The text of a log; raises Unreadable."""
    return decode_text(read_bytes(Path(path)), "log")


def read_times(
    text: str, name: str, works: Sequence[LoggableWork], suggester: NameSuggester | None = None
) -> tuple[list[TimeRow], list[Fault]]:
    """(rows, faults) of a log of task times; a file called ``name`` in the faults.

    Columns in any order: operation, minutes (``12``, or ``12 min``, ``0.2 h``) or hours or seconds, and where
    wanted run (default: the file's name), design, piece, units, date, note. Commas, semicolons or tabs
    between them. Blank rows are passed over.
    """
    log = LogTable(name, suggester or NameSuggester())
    rows: list[TimeRow] = []
    seen: dict[tuple[str, str, str, str], tuple[int, int]] = {}
    for line, cells in log.table(text, TIME_COLUMNS, "begin with: run,operation,piece,minutes"):
        before = len(log.faults)
        place = f'"{clean(cells["operation"], 60)}"' if cells["operation"] else ""
        work = _find_work(log, line, cells, works)
        minutes = _read_minutes(log, line, place, cells)
        units = _read_units(log, line, place, cells, work)
        if cells.get("date"):
            log.parse(line, f"{place} · date", cells["date"], parse_date)
        run = cells.get("run", "")
        if "run" in cells and not run:
            log.fault(line, f"{place} · run", "is blank", "name the run it was timed in")
        if minutes is not None and units is not None and minutes / units > MAX_UNIT_MIN:
            hours = MAX_UNIT_MIN / MINUTES_PER_HOUR
            column = next(column for column in _LENGTHS if cells.get(column))
            said = cells[column]
            rule = f'"{clean(said, 40)}" is {minutes / MINUTES_PER_HOUR / units:,.0f} h of work for one unit, more than {hours:.0f} h'
            mend = "write hands-on time alone; time in clamps and drying is no work"
            if column == "minutes" and minutes / MINUTES_PER_HOUR / units <= hours * 60:
                mend = f"written in seconds? then call the column seconds; if not, {mend}"
            log.fault(line, f"{place} · {column}", rule, mend)
        if len(log.faults) > before or work is None or minutes is None or units is None:
            continue
        run = (run or Path(name).stem)[:120]
        piece = cells.get("piece", "")
        if piece and work.in_piece is not None:
            key = (run.casefold(), work.design, work.operation, piece.casefold())
            total, first = seen.get(key, (0, line))
            if total + units > work.in_piece:
                rule = f'piece "{clean(piece, 40)}" has {work.in_piece} of it, and line {first} tells of it already'
                log.fault(line, place, rule, "keep one of them; work done again is no time of its own")
                continue
            seen[key] = (total + units, first)
        rows.append(TimeRow(line, run, work.design, work.operation, piece, units, minutes))
    if not rows and not log.faults:
        log.fault(None, "", "holds no times", "write one time on each line below the head")
    return rows, log.faults


def _find_work(log: LogTable, line: int, cells: dict[str, str], works: Sequence[LoggableWork]) -> LoggableWork | None:
    named, design = cells["operation"], cells.get("design", "")
    if not named:
        log.fault(line, "operation", "is blank", "name the operation as the file does")
        return None
    designs = list(dict.fromkeys(work.design for work in works))
    if design and design.casefold() not in [one.casefold() for one in designs]:
        near = log.suggester.nearest(design, designs)
        mend = f'write "{near}"' if near else f"known are {say_names(designs)}"
        log.fault(line, "design", f'there is no design "{clean(design, 60)}"', mend)
        return None
    mine = [work for work in works if not design or work.design.casefold() == design.casefold()]
    plain = " ".join(named.casefold().split())
    found = [work for work in mine if " ".join(work.operation.casefold().split()) == plain]
    if not found:
        names = list(dict.fromkeys(work.operation for work in mine))
        near = log.suggester.nearest(named, names)
        mend = f'write "{near}"' if near else f"known are {say_names(names)}"
        log.fault(line, "operation", f'there is no operation "{clean(named, 60)}"', mend)
        return None
    if len(found) > 1:
        rule = f"{len(found)} designs have such an operation"
        log.fault(line, f'"{clean(named, 60)}"', rule, "add a column design that says which")
        return None
    return found[0]


def _read_units(log: LogTable, line: int, place: str, cells: dict[str, str], work: LoggableWork | None) -> int | None:
    text = cells.get("units", "")
    if not text:
        if work is not None and work.usual is None:
            rule = "is blank, and one task of it is a whole batch of whatever size"
            log.fault(line, f"{place} · units", rule, "add a column units: how many the minutes are for")
        return work.usual if work is not None else None
    if not re.fullmatch(r"0*[1-9][0-9]{0,8}", text) or int(text) > MAX_LOGGED_UNITS:
        rule = f'"{clean(text, 40)}" is not a number of units'
        log.fault(line, f"{place} · units", rule, f"write a whole number from 1 to {MAX_LOGGED_UNITS}")
        return None
    return int(text)


def _read_minutes(log: LogTable, line: int, place: str, cells: dict[str, str]) -> float | None:
    """How long a row took, from whichever column says it."""
    columns = [column for column in _LENGTHS if column in cells]
    said = [column for column in columns if cells[column]]
    if len(said) > 1:
        log.fault(line, place, f"says both {said[0]} and {said[1]}", "keep one of them")
        return None
    column = (said or columns)[0]
    return log.parse(line, f"{place} · {column}", cells[column], partial(_read_taken, unit=_LENGTHS[column]))


def _read_taken(text: str, unit: str) -> float:
    if not text:
        raise UnitError("is blank", "write how long it took, like 12")
    minutes = read_length(text, unit)
    if minutes <= 0.0:
        raise UnitError(f'"{text}" is no time at all', "write how long it took, or leave the row out")
    return minutes


def read_file(
    path: str | Path, read: Callable[[str, str], tuple[list[_Row], list[Fault]]], data: bytes | None = None
) -> tuple[list[_Row], list[Fault]]:
    """(rows, faults) of a log file, by ``read`` of its text and name; one that cannot be read is a fault, too.

    ``data``: its bytes, where they were handed over; then nothing is read from the disk.
    """
    try:
        return read(read_log_text(path) if data is None else decode_text(check_size(data)), str(path))
    except Unreadable as error:
        return [], [Fault(str(path), error.line, "", error.rule, error.mend)]
