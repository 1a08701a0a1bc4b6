"""Rows of different length, laid end to end in plain arrays, as engines read them."""

from __future__ import annotations

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
