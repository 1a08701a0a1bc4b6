"""Rows of different length, laid end to end in plain arrays, as engines read them."""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np


@dataclass(frozen=True, eq=False)
class Ragged:
    """Row n is ``members[first[n] : first[n + 1]]``; both arrays hold whole numbers (int64)."""

    first: np.ndarray
    members: np.ndarray

    @classmethod
    def of(cls, rows: Iterable[Sequence[int]]) -> Ragged:
        """From rows of whole numbers."""
        listed = list(rows)
        first = np.zeros(len(listed) + 1, dtype=np.int64)
        np.cumsum([len(row) for row in listed], out=first[1:])
        return cls(first, np.array([member for row in listed for member in row], dtype=np.int64))

    def __len__(self) -> int:
        return self.first.size - 1

    def row(self, n: int) -> np.ndarray:
        """One row."""
        return self.members[self.first[n] : self.first[n + 1]]

    def lists(self) -> list[list[int]]:
        """All rows, as lists."""
        members, first = self.members.tolist(), self.first.tolist()
        return [members[start:stop] for start, stop in pairwise(first)]

    def turned(self, n_members: int) -> Ragged:
        """Row k: the rows in which number k is, rising; for numbers below ``n_members``."""
        first = np.zeros(n_members + 1, dtype=np.int64)
        np.cumsum(np.bincount(self.members, minlength=n_members), out=first[1:])
        row = np.repeat(np.arange(len(self)), np.diff(self.first))
        return Ragged(first, row[np.argsort(self.members, kind="stable")])


class RaggedRows:
    """Rows that come one after the other, kept end to end from the first on."""

    def __init__(self) -> None:
        self._first, self._members = array("q", [0]), array("q")

    def add(self, row: Iterable[int]) -> None:
        """One more row."""
        self._members.extend(row)
        self._first.append(len(self._members))

    def add_to_last(self, more: Iterable[int]) -> None:
        """More in the last row."""
        self._members.extend(more)
        self._first[-1] = len(self._members)

    def done(self) -> Ragged:
        """All rows."""
        return Ragged(np.array(self._first, dtype=np.int64), np.array(self._members, dtype=np.int64))
