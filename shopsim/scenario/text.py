"""Reads a file's text safely: size, kind, encoding. Every refusal says what is wrong and what would mend it."""

from __future__ import annotations

import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath, PureWindowsPath

from shopsim.limits import MAX_FILE_BYTES, MAX_FILE_NAME_LETTERS
from shopsim.units import clean

#: What files are called by their ending, and how to begin one that is empty.
KINDS = {".toml": "file", ".csv": "file of orders"}
#: How files begin that hold no text, and what they are.
_NO_TEXT = (
    (b"\x89PNG", "a picture"), (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"), (b"%PDF-", "a PDF"),
    (b"PK\x03\x04", "a packed file, as workbooks are"), (b"\xd0\xcf\x11\xe0", "a workbook or document"),
    (b"\x7fELF", "a program"), (b"MZ\x90", "a program"), (b"\x1f\x8b", "a packed file"), (b"SQLite", "a database"),
)  # fmt: skip
_FIRST_STEPS = {"file": "start from one of the examples", "file of orders": "begin with a line like: id,date,quantity"}
#: What is a table, and what mends a file that holds no text.
_TABLES = ("file of orders", "log")
_TABLE_MEND = "open it in the spreadsheet, save its sheet as CSV, and name that file"
_SCENARIO_MEND = "name the scenario, a file that ends in .toml"


class Unreadable(Exception):
    """A file cannot be taken: ``rule``, ``mend`` and, where one is known, the ``line``."""

    def __init__(self, rule: str, mend: str, line: int | None = None) -> None:
        super().__init__(rule, mend, line)
        self.rule = rule
        self.mend = mend
        self.line = line


def read_bytes(path: Path) -> bytes:
    """The bytes of an ordinary file of at most 1 MB; raises Unreadable."""
    try:
        kind = path.stat().st_mode
        if stat.S_ISDIR(kind):
            raise Unreadable("is a folder, not a file", "name a file in it")
        if not stat.S_ISREG(kind):
            raise Unreadable("is not an ordinary file", "name a file that holds text")
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except FileNotFoundError:
        raise Unreadable("there is no such file", "check the name and the folder") from None
    except PermissionError:
        raise Unreadable("may not be read by you", "give yourself the right to read it") from None
    except ValueError:  # what systems say of it differs from one Python to the next
        raise Unreadable("cannot be read: its name holds a null character", "write the name without it") from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise Unreadable(f"cannot be read: {reason}", "check the name and the disk") from None
    return check_size(data)


def check_size(data: bytes) -> bytes:
    """The bytes of a file as they are, if they are not too many; raises Unreadable."""
    if len(data) > MAX_FILE_BYTES:
        raise Unreadable(
            f"is larger than {MAX_FILE_BYTES // 1000:,} kB, which no shop needs", "check that it is the right file"
        )
    return data


def _find_wide_letters(data: bytes) -> str | None:
    """The encoding of text whose letters take two or four bytes each, with or without a mark in front."""
    if data.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        return "UTF-32"
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "UTF-16"
    some = data[:200]
    for every in (some[::2], some[1::2]):
        if len(every) >= 4 and every.count(0) > 0.9 * len(every) and some.count(0) < 0.6 * len(some):
            return "UTF-16"
    return None


def decode_text(data: bytes, what: str = "file") -> str:
    """Text of UTF-8 bytes, with or without a byte order mark; raises Unreadable."""
    for begin, kind in _NO_TEXT:
        if data.startswith(begin):
            raise Unreadable(f"is no text but {kind}", _TABLE_MEND if what in _TABLES else _SCENARIO_MEND, 1)
    wide = _find_wide_letters(data)
    if wide:
        raise Unreadable(f"is written in {wide}", "save it as UTF-8")
    data = data.removeprefix(b"\xef\xbb\xbf")
    nul = data.find(b"\x00")
    if nul >= 0:
        raise Unreadable(
            "holds a NUL byte, so it is not a text file",
            "check that it is the right file",
            data.count(b"\n", 0, nul) + 1,
        )
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Unreadable("is not written in UTF-8", "save it as UTF-8", data.count(b"\n", 0, error.start) + 1) from None
    if not text.strip():
        raise Unreadable(
            f"is an empty {what}", _FIRST_STEPS.get(what, "write a line of column names, and rows below it")
        )
    return text


def say_file(name: str) -> str:
    """A file's name as a message quotes it."""
    return f'"{clean(name, 80)}"'


@dataclass(frozen=True)
class IncludedFiles:
    """The files that a scenario may name: those of its folder, or those handed over with it.

    ``folder`` None and ``given`` empty: none at all. Nothing outside the folder is ever read.
    """

    folder: Path | None = None
    given: Mapping[str, bytes] = field(default_factory=dict)

    def read(self, name: str, ending: str) -> tuple[str, str]:
        """(key, text) of the file ``name``; equal keys mean the same file. Raises Unreadable."""
        plain = PurePosixPath(name)
        said = say_file(name)
        if "://" in name or name.lower().startswith("file:"):
            raise Unreadable(
                f"{said} is an address, and nothing is fetched", "save the file beside this one, and name it"
            )
        if not name.lower().endswith(ending):
            raise Unreadable(f"{said} is not the name of a {ending} file", f"name a file that ends in {ending}")
        if not name.isprintable() or len(name) > MAX_FILE_NAME_LETTERS:
            raise Unreadable(f"{said} is not a file name", f"use plain letters, at most {MAX_FILE_NAME_LETTERS}")
        if "\\" in name:
            raise Unreadable(f"{said} has a backslash in it", "write / between folders")
        if plain.is_absolute() or PureWindowsPath(name).drive or name.startswith("~"):
            raise Unreadable(f"{said} is a full path", "name a file in the scenario's own folder")
        if ".." in plain.parts:
            raise Unreadable(f"{said} leads out of the scenario's folder", "put the file in the scenario's folder")
        if str(plain) in self.given:
            return str(plain), decode_text(check_size(self.given[str(plain)]), KINDS[ending])
        if self.folder is None:
            rule = f"{said} is another file, and other files are not read here"
            raise Unreadable(rule, "write its contents into this file")
        try:
            home = self.folder.resolve()
            path = (home / plain).resolve()
        except (OSError, RuntimeError, ValueError):
            raise Unreadable(f"{said} cannot be found", "check the name and the folder") from None
        if not path.is_relative_to(home):
            raise Unreadable(f"{said} leads out of the scenario's folder", "put the file in the scenario's folder")
        return str(path), decode_text(read_bytes(path), KINDS[ending])


#: More than 32 names joined by dots: no key of ours, and slow to read.
TOO_MANY_DOTS = re.compile(
    r"""(?<![\w"'-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){33}""",
)
