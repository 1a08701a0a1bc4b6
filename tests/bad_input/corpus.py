"""Reads the corpus of broken files: the tables in ``files/``, each entry a small change of one sound file.

An entry is written like this::

    === a time without a unit
    - wet = "1 h"
    + wet = "1"
    > trays.toml:54 · design.operations "oil" · wet · "1" has no unit · write something like "8 / 10 / 16 min"

``=== name`` begins it. Lines with ``-`` are taken out of ``trays.toml`` (they stand there once, one below the
other) and those with ``+`` put in their place; ``-`` and ``+`` may come again for another place. ``+`` without ``-``
is put at the end, and ``-*`` takes out everything. ``@ name`` begins another file beside it, whose lines begin with
``|``. ``{300 * x}`` stands for 300 letters x. What is told of the file, in this order and nothing else, stands behind ``>``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

FILES = Path(__file__).parent / "files"
BASE = FILES / "trays.toml"

_MANY = re.compile(r"\{(\d+) \* (.)\}")


@dataclass
class Entry:
    """A broken file: ``text``, the files ``beside`` it, and what must be ``told`` of it."""

    table: str
    name: str
    text: str
    beside: dict[str, str] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)

    def write(self, folder: Path) -> Path:
        """Put its files into ``folder``; the path of the scenario."""
        for name, text in {**self.beside, BASE.name: self.text}.items():
            (folder / name).write_text(text, encoding="utf-8")
        return folder / BASE.name


def read_table(path: Path, base: str) -> list[Entry]:
    """The entries of one table; raises ValueError where it is not written as described above."""
    entries: list[Entry] = []
    out: list[str] = []
    new: list[str] = []
    other = ""
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
        mark, rest = line[:2], _MANY.sub(lambda found: int(found[1]) * found[2], line[2:])
        if line.startswith("=== "):
            _change(entries, out, new)
            entries.append(Entry(path.stem, line[4:], base))
        elif not entries or not line:
            continue  # what the table is about, and blank lines
        elif mark == "- " or line == "-*":
            if new:
                _change(entries, out, new)
            out.append(rest if mark == "- " else "*")
        elif mark == "+ ":
            new.append(rest)
        elif mark == "@ ":
            other = rest
            entries[-1].beside[other] = ""
        elif mark == "| ":
            entries[-1].beside[other] += f"{rest}\n"
        elif mark == "> ":
            entries[-1].told.append(rest)
        else:
            raise ValueError(f"{path.name}:{number}: begins with none of === - + @ | >")
    _change(entries, out, new)
    return entries


def _change(entries: list[Entry], out: list[str], new: list[str]) -> None:
    """Make one change in the text of the last entry; ``out`` and ``new`` are empty afterwards."""
    if not (out or new):
        return
    entry = entries[-1]
    old = "".join(f"{line}\n" for line in out)
    put = "".join(f"{line}\n" for line in new)
    if out == ["*"]:
        entry.text = put
    elif not out:
        entry.text += put
    elif f"\n{entry.text}".count(f"\n{old}") != 1:
        raise ValueError(f"{entry.table}: {entry.name}: stands not once in {BASE.name}: {old}")
    else:
        entry.text = f"\n{entry.text}".replace(f"\n{old}", f"\n{put}")[1:]
    out.clear()
    new.clear()


def read_corpus() -> list[Entry]:
    """Every entry of every table."""
    base = BASE.read_text(encoding="utf-8")
    return [entry for path in sorted(FILES.glob("*.txt")) for entry in read_table(path, base)]
