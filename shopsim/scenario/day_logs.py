"""Reads a log of open days, as CSV: what was left of each for the shop, or what other things took, and which were lost."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from shopsim.errors import Fault
from shopsim.scenario.log_table import CsvColumn, CsvColumns, LogTable, is_bare, read_day, read_length
from shopsim.scenario.model import Shop
from shopsim.scenario.places import NameSuggester, clean
from shopsim.units import MINUTES_PER_DAY, UnitError, parse_share

#: The columns of a log of days. ``open_share`` is what was left of the
#: open hours, ``interrupted`` what went to other things, as in the shop's own table.
DAY_COLUMNS: CsvColumns = {
    "date": CsvColumn(("date", "day", "on"), "The day.", "2026-09-05", needed=True),
    "open_share": CsvColumn(
        ("openshare", "shareopen", "open", "shareleft", "left"),
        "Share of its open hours that was left for the shop; default not said.",
        "92 %",
    ),
    "share": CsvColumn(
        ("share",), "Read as `open_share`, with a question whether it is that; default not said.", "92 %"
    ),
    "interrupted": CsvColumn(
        ("interrupted", "interruptions", "interruptedshare", "sharelost", "lostshare"),
        "Share of its open hours, or time, that went to other things; default not said.",
        "8 %",
    ),
    "minutes lost": CsvColumn(
        ("minuteslost", "lostminutes", "minlost", "interruptedmin", "interruptedminutes"),
        "Minutes of its open hours that went to other things; default not said.",
        "35",
    ),
    "lost": CsvColumn(
        ("lost", "lostday", "daylost", "waslost", "whollylost"),
        "Whether the day was lost altogether: yes or no; default no.",
        "no",
    ),
    "note": CsvColumn(
        ("note", "notes", "remark", "remarks", "why", "reason"),
        "Anything you like: it is not read; default nothing.",
        "school play",
    ),
}
#: The columns of which one says how much of a day was worked.
_SAYING = ("open_share", "share", "interrupted", "minutes lost")
_YES = ("yes", "y", "true", "1", "x", "lost")
_NO = ("no", "n", "false", "0", "", "-")


@dataclass(frozen=True)
class DayRow:
    """One logged day: the share of its open hours that the shop had (None: not logged), and whether it was lost.

    ``plain``: the log calls it only "share", which does not say of what.
    """

    line: int
    date: dt.date
    share: float | None
    lost: bool
    plain: bool = False


def read_days(
    text: str, name: str, shop: Shop, suggester: NameSuggester | None = None
) -> tuple[list[DayRow], list[Fault]]:
    """(rows, faults) of a log of open days, in the order of the file.

    Columns in any order: date; how much of the open hours of ``shop`` that day was left, as ``open_share`` (``85 %``),
    or went to other things, as ``interrupted`` (``15 %``, or ``1.2 h``) or as minutes lost; lost (yes or no); note.
    A column that is called only "share" is read as ``open_share``.
    """
    log = LogTable(name, suggester or NameSuggester())
    rows: list[DayRow] = []
    seen: dict[dt.date, int] = {}
    for line, cells in log.table(text, DAY_COLUMNS, "begin with: date,open_share,lost"):
        before = len(log.faults)
        date = log.parse(line, "date", cells["date"], read_day)
        place = str(date) if date else "day"
        if date in seen:
            log.fault(line, place, f"the same day is on line {seen[date]}", "keep one of them")
        elif date is not None:
            seen[date] = line
        lost = log.parse(line, f"{place} · lost", cells.get("lost", ""), _read_yes)
        share = _read_left(log, line, place, cells, None if date is None else open_minutes(shop, date))
        if len(log.faults) > before or date is None:
            continue
        if not lost and share is None and not cells.get("lost"):
            log.fault(
                line, place, "says nothing of the day", "write an open_share, what was interrupted, or lost: yes or no"
            )
        elif lost and share is not None and share > 0.0:
            mend = "write lost: no, or leave the share blank"
            log.fault(line, place, "is lost, and yet a share of it was left", mend)
        else:
            whole = lost or share == 0.0
            plain = not whole and bool(cells.get("share"))
            rows.append(DayRow(line, date, None if whole else share, bool(whole), plain))
    if not rows and not log.faults:
        log.fault(None, "", "holds no days", "write one day on each line below the head")
    return rows, log.faults


def open_minutes(shop: Shop, date: dt.date) -> float:
    """Minutes for which a shop is open on the day that ``date`` begins."""
    if any(first <= date <= last for first, last in shop.closed):
        return 0.0
    if shop.open == "always":
        return MINUTES_PER_DAY
    return float(sum(end - start for start, end in shop.open[date.weekday()]))


def _read_left(log: LogTable, line: int, place: str, cells: Mapping[str, str], hours: float | None) -> float | None:
    """The share of the day that was left; None where the row does not say, or has a fault, which is noted."""
    said = [column for column in _SAYING if cells.get(column)]
    if len(said) > 1:
        log.fault(line, place, f"says both {said[0]} and {said[1]}", "keep one of them")
        return None
    if not said:
        return None
    column, text = said[0], cells[said[0]]
    if column in ("open_share", "share"):
        return log.parse(line, f"{place} · {column}", text, _read_share)
    if column == "interrupted" and "%" in text:
        gone = log.parse(line, f"{place} · interrupted", text, lambda cell: parse_share(cell, "15 %"))
        return None if gone is None else 1.0 - gone
    read = _read_interrupted if column == "interrupted" else _read_lost_minutes
    minutes = log.parse(line, f"{place} · {column}", text, read)
    return None if minutes is None or hours is None else _share_left(log, line, place, minutes, hours)


def _read_interrupted(text: str) -> float:
    if is_bare(text) and float(text) > 0.0:
        raise UnitError(
            f'"{text}" has no unit', f'write the share of the day, like "15 %", or a time, like "{text} min"'
        )
    return read_length(text)


def _read_lost_minutes(text: str) -> float:
    if is_bare(text) and 0.0 < float(text) < 1.0:
        raise UnitError(
            f'"{text}" is less than a minute', 'a share of the day goes into a column interrupted, like "15 %"'
        )
    return read_length(text)


def _share_left(log: LogTable, line: int, place: str, gone: float, hours: float) -> float | None:
    if hours <= 0.0:
        rule = "the shop is not open that day, so minutes lost say nothing"
        log.fault(line, place, rule, "check the date, or write the share of the day")
        return None
    if gone > hours:
        log.fault(line, place, f"{gone:g} min are more than the {hours:g} min it is open", "write the minutes lost")
        return None
    return 1.0 - gone / hours


def _read_share(text: str) -> float:
    if "%" in text:
        return parse_share(text, "85 %")
    try:
        share = float(text)
    except ValueError:
        share = -1.0
    if not 0.0 <= share < 1.0:
        raise UnitError(f'"{text}" is not a share', "write it in percent, like 85 %")
    return share


def _read_yes(text: str) -> bool:
    plain = text.casefold()
    if plain not in (*_YES, *_NO):
        raise UnitError(f'"{clean(text, 40)}" is neither yes nor no', "write yes or no")
    return plain in _YES
