"""Places in a scenario: how they are named to the user, and the file and line on which they stand."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from shopsim.errors import Fault
from shopsim.units import clean, say_value

#: Where a value stands in the data: keys and list indices, outermost first.
KeyPath = tuple[str | int, ...]

#: Begins the harmless name put where a name could not be read; never shown to anybody.
UNREAD = "\ue000"

_MAX_SUGGESTIONS = 200
_MAX_GUESSED_LETTERS = 120


@dataclass(frozen=True)
class Finding:
    """A fault before its file and line are known."""

    where: KeyPath
    rule: str
    mend: str
    shown: str | None = None  # the place in words, where it is not the one of ``where``
    at: KeyPath | None = None  # where its line is, where that is not the one of ``where``


@dataclass(frozen=True)
class SourcePosition:
    """A file as the user named it and a 1-based line, None where there is none."""

    file: str
    line: int | None = None


@dataclass
class SourceMap:
    """The file and line of every place of a scenario."""

    main: str
    known: dict[KeyPath, SourcePosition] = field(default_factory=dict)
    renamed: dict[KeyPath, KeyPath] = field(default_factory=dict)
    files: list[str] = field(default_factory=list)

    def put(self, where: KeyPath, spot: SourcePosition) -> None:
        """Remember where a value stands, and its file's place in the order of files."""
        self.known[where] = spot
        self.put_file(spot.file)

    def put_file(self, name: str) -> None:
        """Remember a file's place in the order of files."""
        if name not in self.files:
            self.files.append(name)

    def replace(self, where: KeyPath, spot: SourcePosition) -> None:
        """A value and all it holds now come from ``spot``."""
        for inner in [key for key in self.known if key[: len(where)] == where]:
            del self.known[inner]
        self.put(where, spot)

    def find(self, where: KeyPath) -> SourcePosition:
        """Where a value stands; what is not written anywhere stands where its table does."""
        where = self._as_written(where)
        for length in range(len(where), 0, -1):
            spot = self.known.get(where[:length])
            if spot is not None:
                return spot
        return SourcePosition(self.main)

    def _as_written(self, where: KeyPath) -> KeyPath:
        for length in range(len(where), 0, -1):
            old = self.renamed.get(where[:length])
            if old is not None:
                return old + where[length:]
        return where

    def fault(self, finding: Finding, data: Any) -> Fault:
        """The finding as a fault, with its file, line and place in words."""
        spot = self.find(finding.where if finding.at is None else finding.at)
        place = (
            finding.shown
            if finding.shown is not None
            else say_place(finding.where, data, self._as_written(finding.where))
        )
        return Fault(spot.file, spot.line, place, clean(finding.rule), clean(finding.mend))

    def in_order(self, faults: Iterable[Fault]) -> tuple[Fault, ...]:
        """Faults by file, then line, each once."""
        rank = {name: number for number, name in enumerate([self.main, *self.files])}
        rank[self.main] = 0
        return tuple(
            sorted(dict.fromkeys(faults), key=lambda fault: (rank.get(fault.file, len(rank)), fault.line or 0))
        )


def say_place(where: KeyPath, data: Any, written: KeyPath | None = None) -> str:
    """A place in the user's words, list items by their names: ``design.operations "sand" · work``.

    ``written``: the same place as it stands in ``data``, where a key there is misspelt, or the whole in another table;
    then it is called by where it stands.
    """
    if written is not None and len(written) != len(where):
        where = written
    said: list[str] = []
    keys: list[str] = []
    here = data
    for step, key in zip(where, written or where, strict=True):
        if isinstance(step, str):
            keys.append(clean(step))
            here = here.get(key) if isinstance(here, dict) else None
            continue
        here = here[step] if isinstance(here, list) and 0 <= step < len(here) else None
        name = _item_name(here)
        said.append(".".join(keys) + (f' "{clean(name, 80)}"' if name else f"[{step}]"))
        keys = []
    if keys:
        said.append(".".join(keys))
    return " · ".join(said)


def _item_name(item: Any) -> str | None:
    if isinstance(item, dict):
        for key in ("name", "design"):
            name = item.get(key)
            if isinstance(name, str) and name.strip() and not name.startswith(UNREAD):
                return name
    return None


@dataclass
class NameSuggester:
    """Finds the nearest known name; gives up after many, so that a huge wrong file stays quick."""

    left: int = _MAX_SUGGESTIONS

    def nearest(self, name: object, known: Iterable[str], cutoff: float = 0.6) -> str | None:
        """The known name most like ``name``, or None."""
        if self.left <= 0 or not isinstance(name, str) or len(name) > _MAX_GUESSED_LETTERS:
            return None
        self.left -= 1
        plain = {item.casefold(): item for item in reversed(list(known)) if not item.startswith(UNREAD)}
        wanted = name.strip().casefold()
        if wanted in plain:
            return plain[wanted]
        close = difflib.get_close_matches(wanted, list(plain), n=1, cutoff=cutoff)
        return plain[close[0]] if close else None


def say_names(names: Iterable[str], most: int = 8) -> str:
    """Names for a message, in quotes, the first few of many."""
    shown = [f'"{clean(name, 60)}"' for name in names if not name.startswith(UNREAD)]
    if len(shown) > most:
        return ", ".join(shown[:most]) + ", …"
    return ", ".join(shown)


__all__ = [
    "UNREAD",
    "Finding",
    "KeyPath",
    "NameSuggester",
    "SourceMap",
    "SourcePosition",
    "clean",
    "say_names",
    "say_place",
    "say_value",
]
