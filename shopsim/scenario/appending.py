"""Adds rows to a log that is only ever added to: one row, one write, on the disk before anybody is told so.

Each row goes out in a single write at the end of the file, under a lock and with its end of line, and is on the disk
(fsync) before the next. So of a process that is killed, or a power cut, at most the row that was being written is lost, and
two who write at once lose nothing. Where the last line was cut off, the next row begins on a line of its own and takes back
what is left of it: nothing that stands in the file is ever changed.
"""

from __future__ import annotations

import contextlib
import csv
import io
import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import BinaryIO

from shopsim.errors import InputError
from shopsim.limits import MAX_FILE_BYTES
from shopsim.scenario.happenings import RUN_COLUMNS, TAKEN_BACK
from shopsim.scenario.log_table import find_column, plain_name
from shopsim.scenario.run_log import BROKEN, decode_log, find_form
from shopsim.scenario.text import Unreadable

#: The name of a log that stands in a scenario's folder, alone or behind the scenario's own name.
LOG_NAME = "run-log.csv"


def find_run_log(scenario: str | Path) -> Path:
    """Where the log of a scenario's run stands: ``stools-run-log.csv`` beside ``stools.toml``, or ``run-log.csv``.

    Where neither is there yet, the first, which the first row then makes.
    """
    path = Path(scenario)
    own, plain = path.with_name(f"{path.stem}-{LOG_NAME}"), path.with_name(LOG_NAME)
    return plain if plain.exists() and not own.exists() else own


def append_row(path: str | Path, cells: Mapping[str, str]) -> int:
    """Add one row to a log of a run, by column; the number of its line. The file is made if it is not there.

    The row is written in the form of the file (its delimiter, order of columns and ends of line). Raises InputError where it
    cannot be written; then at most a line that is cut off has been added, which the next row takes back.
    """
    target = Path(path)
    try:
        is_new = not target.exists()
        with _locked(target) as file:
            size = file.seek(0, os.SEEK_END)
            file.seek(0)
            held = file.read()
            data, line = _lay_out(target, held, cells)
            if size + len(data) > MAX_FILE_BYTES:
                raise InputError(f"{target} · would be larger than {MAX_FILE_BYTES // 1000:,} kB · begin a new log")
            written = os.write(file.fileno(), data)
            os.fsync(file.fileno())
            if written < len(data):
                raise InputError(f"{target} · cannot be written whole: the disk is full · make room and log it again")
        if is_new:
            _keep_folder(target.parent)
    except OSError as error:
        raise InputError(
            f"{target} · cannot be written: {(error.strerror or str(error)).lower()} · nothing is logged"
        ) from None
    return line


def complete_head(text: str) -> str:
    """The text of a log without faults with every column in its head, those that it lacks at the end, so that any row can be added.

    A last line that is whole gets its end; one that was cut off stays as it is.
    """
    form = find_form(text)
    if form is None:
        return text
    delimiter, head = form
    known = {find_column(plain_name(cell), RUN_COLUMNS) for cell in head}
    missing = [key for key in RUN_COLUMNS if key not in known]
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = plain.split("\n")
    if lines[-1] and not _is_cut(lines[-1], delimiter, len(head)):
        lines.append("")
    at = next(number for number, line in enumerate(lines) if line.removeprefix("\ufeff").strip())
    lines[at] = delimiter.join([lines[at], *missing])
    return "\n".join(lines)


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[BinaryIO]:
    """The file, opened to be added to, with nobody else adding to it meanwhile."""
    with open(
        os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666), "r+b", buffering=0
    ) as file:
        unlock = _lock(file)
        try:
            yield file
        finally:
            unlock()


if os.name == "nt":  # pragma: no cover
    import msvcrt
    from collections.abc import Callable

    def _lock(file: BinaryIO) -> Callable[[], None]:
        """Lock one byte far behind the end, which all who add to the file lock."""
        far = 1 << 40

        def at(how: int) -> None:
            file.seek(far)
            msvcrt.locking(file.fileno(), how, 1)  # type: ignore[attr-defined]

        at(msvcrt.LK_LOCK)  # type: ignore[attr-defined]
        return lambda: at(msvcrt.LK_UNLCK)  # type: ignore[attr-defined]

else:
    import fcntl
    from collections.abc import Callable

    def _lock(file: BinaryIO) -> Callable[[], None]:
        """Wait until nobody else adds to the file."""
        fcntl.flock(file.fileno(), fcntl.LOCK_EX)
        return lambda: fcntl.flock(file.fileno(), fcntl.LOCK_UN)


def _keep_folder(folder: Path) -> None:
    """See to it that a new name is on the disk too, where a folder can be synced."""
    with contextlib.suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def _lay_out(path: Path, held: bytes, cells: Mapping[str, str]) -> tuple[bytes, int]:
    """(what is to be added for a row, the number of its line), from what the file holds."""
    try:
        text = decode_log(held)
    except Unreadable as error:
        raise InputError(f"{path} · {error.rule} · {error.mend}; nothing is logged") from None
    form = find_form(text)
    if form is None:
        head = list(RUN_COLUMNS)
        return (write_line(head, ",", "\n") + write_line([cells.get(key, "") for key in head], ",", "\n")).encode(), 2
    delimiter, head = form
    columns = [find_column(plain_name(cell), RUN_COLUMNS) for cell in head]
    for key in cells:
        if cells[key] and key not in columns:
            raise InputError(
                f'{path}:1 · head · has no column "{key}" · add it at the end of the head; nothing is logged'
            )
    end = "\r\n" if "\r\n" in text else "\n"
    begin = ""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    n_lines = plain.count("\n")
    if not plain.endswith("\n"):
        begin, n_lines = end, n_lines + 1
        last = plain.rsplit("\n", 1)[-1]
        if n_lines > 1 and _is_cut(last, delimiter, len(head)) and "row" in columns:
            back = {"when": cells["when"], "what": TAKEN_BACK, "row": str(n_lines), "note": "was cut off"}
            begin += write_line([back.get(key or "", "") for key in columns], delimiter, end)
            n_lines += 1
    return (begin + write_line([cells.get(key or "", "") for key in columns], delimiter, end)).encode(), n_lines + 1


def _is_cut(line: str, delimiter: str, width: int) -> bool:
    """Whether a last line without an end is no whole row."""
    if not line.strip():
        return False
    try:
        return BROKEN in line or len(next(csv.reader([line], delimiter=delimiter, strict=True))) < width
    except csv.Error:
        return True


def write_line(cells: Sequence[str], delimiter: str, end: str) -> str:
    """A line of a log as it is added: cells on one line, quoted where they must be."""
    written = io.StringIO()
    csv.writer(written, delimiter=delimiter, lineterminator=end).writerow([" ".join(cell.split()) for cell in cells])
    return written.getvalue()
