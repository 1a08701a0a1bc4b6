"""``--out``: files for a folder of the user's, where nothing is replaced but what this program wrote itself.

What it wrote is known by a record in the folder, which holds a hash of each file: one that was changed since, in a
text editor or a spreadsheet, is the user's own from then on.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path

from shopsim.errors import InputError
from shopsim.export import check_folder, format_json
from shopsim.scenario import write_bytes_safely

#: The file in which a folder says what of it was written by this program, what that file calls itself, and its largest size.
RECORD, WHAT, MAX_RECORD_BYTES = ".shopsim-wrote.json", "files that shopsim wrote", 1_000_000


def check_out(folder: str, replace: bool) -> None:
    """InputError, before anything is run, where ``write_files`` could not write into the folder.

    The report is in every result, so whether that may be replaced is known beforehand. With it the charts are loaded,
    which a command without ``--out`` does without.
    """
    from shopsim.report import REPORT_NAME

    place = check_folder(folder)
    if not replace:
        _refuse_others(place, {REPORT_NAME: None})


def write_files(folder: str, files: Mapping[str, bytes], replace: bool) -> list[str]:
    """Write files, by name, into a folder, which is made if it is not there; lines that say what was written.

    ``replace``: also what this program did not write, or what was changed since. Otherwise nothing is written if
    any of the files is such a one. Each file is written beside its place and swapped in. Raises InputError; where
    some were written by then, its first line says which.
    """
    place = check_folder(folder)
    if not replace:
        _refuse_others(place, files)
    written: list[str] = []
    replaced: list[str] = []
    try:
        for name, content in files.items():
            was_there = (place / name).exists()
            write_bytes_safely(place / name, content)
            written.append(name)
            if was_there:
                replaced.append(name)
    except InputError as error:
        if not written:
            raise
        with contextlib.suppress(InputError):  # the first failure is the one to tell
            _remember(place, files, written)
        raise InputError(f"{_say_written(folder, written, replaced)}; then it failed\n{error}") from None
    _remember(place, files, written)
    return [f"written to {folder}: {', '.join(written)}"]


def _say_written(folder: str, written: Sequence[str], replaced: Sequence[str]) -> str:
    if list(written) == list(replaced):
        return f"replaced in {folder}: {', '.join(written)}"
    said = f"written to {folder}: {', '.join(written)}"
    return f"{said} (replaced: {', '.join(replaced)})" if replaced else said


def _refuse_others(place: Path, files: Mapping[str, bytes | None]) -> None:
    """InputError if any of the files is there and was not written, as it stands, by this program."""
    known = _read_record(place)
    others = [name for name, content in files.items() if not _is_ours(place / name, content, known.get(name))]
    if others:
        shown = ", ".join(others[:5]) + (f" and {len(others) - 5} more" if len(others) > 5 else "")
        was, them = ("were", "they are") if len(others) > 1 else ("was", "it is")
        raise InputError(
            f"{place} · holds {shown}, which {was} not written by shopsim or {was} changed since, so {them} not replaced "
            "· name another folder, or add --replace"
        )


def _is_ours(path: Path, content: bytes | None, known: str | None) -> bool:
    """Whether nothing is lost when the file is replaced: it is not there, is the very same, or is as it was written."""
    try:
        held = path.read_bytes()
    except FileNotFoundError:
        return True
    except OSError:
        return path.is_dir()  # which writing will refuse
    return held == content or _hash(held) == known


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _read_record(place: Path) -> dict[str, str]:
    """The hash of each file that was written into a folder, by name; none where there is no such record."""
    try:
        if (place / RECORD).stat().st_size > MAX_RECORD_BYTES:
            return {}
        held = json.loads((place / RECORD).read_bytes())
    except (OSError, ValueError, RecursionError):
        return {}
    files = held.get("files") if isinstance(held, dict) and held.get("what") == WHAT else None
    return {str(name): str(known) for name, known in files.items()} if isinstance(files, dict) else {}


def _remember(place: Path, files: Mapping[str, bytes], written: Sequence[str]) -> None:
    """Put what was written into the folder's record."""
    known = {**_read_record(place), **{name: _hash(files[name]) for name in written}}
    write_bytes_safely(place / RECORD, format_json({"what": WHAT, "files": known}).encode())
