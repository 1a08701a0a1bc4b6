"""Tables out: as CSV and XLSX files, written beside and swapped in, and as plain rows for JSON.

Takes tables only and computes nothing. Columns keep their order, rows theirs. What a cell becomes is said in ``rows``;
what is not there is an empty cell in CSV and ``null`` in JSON.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import math
import os
import re
import sys
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from shopsim.columns import CHANCE, SHARE, columns_of
from shopsim.errors import InputError
from shopsim.rows import list_cells, plain_value, table_rows
from shopsim.scenario import write_bytes_safely, write_text_safely

_NOT_IN_A_NAME = re.compile(r"[^a-z0-9]+")
#: What a spreadsheet allows neither in the name of a sheet nor in a cell.
_NOT_IN_A_SHEET = re.compile(r"[\[\]:*?/\\]")
_NOT_IN_A_CELL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
#: How text begins that a spreadsheet may work out.
_FORMULA = re.compile(r"[\t\r\n]|[\s\x00-\x20\u200b-\u200f\u2060\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20]")
#: The earliest moment that a packed part can bear.
_EARLIEST = (1980, 1, 1, 0, 0, 0)
#: Where the properties of a workbook say when it was made.
_MADE_AT = re.compile(rb"<dcterms:(created|modified)\b[^>]*>[^<]*</dcterms:\1>")
#: Letters that the widest column shows, and that a date takes.
_WIDEST, _LENGTH_OF_DATE = 60, 10


def format_csv(table: pd.DataFrame) -> str:
    """A table as CSV text: a line of column names, then one line a row, UTF-8, lines ended by a line feed.

    Text that a spreadsheet would take for a formula gets an apostrophe before it (see ``is_formula``); numbers stay as
    they are.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in ([str(name) for name in table.columns], *(row.values() for row in table_rows(table))):
        cells = [_csv_cell(value) for value in row]
        cells = [f"'{cell}" if is_formula(cell) else cell for cell in cells]
        writer.writerow([cell.replace("\r", " ") if isinstance(cell, str) else cell for cell in cells])
    return out.getvalue()


def _csv_cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list | dict):
        return json.dumps(value, ensure_ascii=False)
    return "" if value is None else value


def format_json(data: Any) -> str:
    """Plain data as JSON text, one object on indented lines, ended by a line feed; never NaN or Infinity."""
    return json.dumps(plain_value(data), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def file_name(title: str, ending: str = ".csv") -> str:
    """A file name made of a title: ``"More clamps: bar clamp"`` gives ``more-clamps-bar-clamp.csv``."""
    return (_NOT_IN_A_NAME.sub("-", title.casefold()).strip("-") or "table") + ending


def is_formula(cell: Any) -> bool:
    """Whether a spreadsheet that is given this text may work it out.

    It begins with = + - or @, plain or of full width, after any blanks, no-break spaces and marks of no width; or with a
    tab or the end of a line.
    """
    return isinstance(cell, str) and _FORMULA.match(cell) is not None


def write_workbook(path: str | Path, tables: Mapping[str, pd.DataFrame]) -> Path:
    """Write tables as the sheets of one XLSX file; the file, written beside its place and swapped in.

    ``tables``: titles to tables. Whole numbers, numbers, dates and moments are cells of their kind, a column of
    shares or chances is shown in percent, and text is always text, whatever it begins with: no cell is ever a formula.
    The head row is bold and stays in view, columns are as wide as what is in them. Raises
    InputError where it cannot be written.
    """
    write_bytes_safely(path, format_workbook(tables))
    return Path(path)


def format_workbook(tables: Mapping[str, pd.DataFrame]) -> bytes:
    """The bytes of the XLSX file that ``write_workbook`` writes: equal tables, equal bytes, as no time of day is in it.

    InputError where the system has no room to make it.
    """
    from openpyxl import Workbook  # loaded where a workbook is made, as few commands make one

    book = Workbook()
    book.remove(book.active)
    for title, table in tables.items():
        _fill_sheet(book.create_sheet(_NOT_IN_A_SHEET.sub(" ", title)[:31]), table)
    out = io.BytesIO()
    with _half_done_left_quietly():
        try:
            book.save(out)  # each sheet by way of a temporary file
            failed = ""
        except OSError as error:
            failed = _reason(error)
    if failed:
        raise InputError(
            f"the workbook cannot be put together: {failed} · make room on the disk that holds temporary files"
        )
    return _without_time_of_day(out.getvalue())


def _without_time_of_day(content: bytes) -> bytes:
    """A workbook packed anew without the moment at which it was made: none in its properties, the earliest in its parts."""
    from openpyxl.xml.constants import ARC_CORE

    written = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as held, zipfile.ZipFile(written, "w", zipfile.ZIP_DEFLATED) as archive:
        for part in held.infolist():
            info = zipfile.ZipInfo(part.filename, _EARLIEST)
            info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, part.external_attr
            data = held.read(part)
            archive.writestr(info, _MADE_AT.sub(b"", data) if part.filename == ARC_CORE else data)
    return written.getvalue()


@contextmanager
def _half_done_left_quietly() -> Iterator[None]:
    """What the block leaves half done may complain when it is cleared away; that was told already."""
    before = sys.unraisablehook
    sys.unraisablehook = lambda _what: None
    try:
        yield
    finally:
        sys.unraisablehook = before


def _fill_sheet(sheet: Any, table: pd.DataFrame) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for number, column in enumerate(columns_of(table.columns), start=1):
        head = sheet.cell(1, number)
        _put(head, column.heading)
        head.font = Font(bold=True)
        widest = len(column.heading)
        for row, value in enumerate(list_cells(table[table.columns[number - 1]]), start=2):
            cell = sheet.cell(row, number)
            _put(cell, value, column.kind in (CHANCE, SHARE))
            widest = max(widest, _LENGTH_OF_DATE if isinstance(value, dt.date) else len(str(cell.value or "")))
        sheet.column_dimensions[get_column_letter(number)].width = min(widest, _WIDEST) + 2
    sheet.freeze_panes = "A2"


def _put(cell: Any, value: Any, percent: bool = False) -> None:
    """A value as a cell of its kind."""
    if value is None or value is pd.NA or value is pd.NaT:
        return
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, pd.Timestamp):
        value = value.to_pydatetime()
    if isinstance(value, dt.datetime):
        cell.value, cell.number_format = value.replace(tzinfo=None), "yyyy-mm-dd hh:mm"
    elif isinstance(value, dt.date):
        cell.value, cell.number_format = value, "yyyy-mm-dd"
    elif isinstance(value, bool | int):
        cell.value = value
    elif isinstance(value, float):
        if math.isfinite(value):
            cell.value, cell.number_format = value, "0%" if percent else "0.00"
    else:
        text = value if isinstance(value, str) else str(plain_value(value))
        cell.value = _NOT_IN_A_CELL.sub(" ", text)[:32_767]
        cell.data_type = "s"
        if is_formula(text):
            cell.quotePrefix = True


def write_tables(folder: str | Path, tables: Mapping[str, pd.DataFrame]) -> list[Path]:
    """Write each table as a CSV file into ``folder``, which is made if it is not there; the files in order.

    ``tables``: titles to tables, see ``file_name``. Each file is written beside its place and
    swapped in, so what was there before is kept when something goes wrong.
    Raises InputError when the folder is a file or cannot be written to.
    """
    folder = check_folder(folder)
    written = []
    for title, table in tables.items():
        written.append(folder / file_name(title))
        write_text_safely(written[-1], format_csv(table))
    return written


def check_folder(folder: str | Path) -> Path:
    """The folder, made if it is not there; raises InputError when it is a file or cannot be made or written to."""
    folder = Path(folder)
    try:
        if folder.exists() and not folder.is_dir():
            raise InputError(f"{folder} · is a file, so tables cannot be written into it · name a folder")
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise InputError(f"{folder} · cannot be made: {_reason(error)} · name another folder") from None
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"{folder} · cannot be written to · name another folder")
    return folder


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
