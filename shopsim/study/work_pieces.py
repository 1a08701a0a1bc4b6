"""How the replications of a study are cut into pieces of work for others to do."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeAlias

from shopsim.study.chunks import PackedScenario

#: One piece of work: an alternative and its replications from first to last - 1.
Piece: TypeAlias = tuple[PackedScenario, int, int]


class Work:
    """What is still to be handed out, by replications first and alternatives second, so that a study cut short is even.

    ``size``: how many replications the next pieces shall have, told how many runs have not been cut yet.
    """

    def __init__(self, packed: Sequence[PackedScenario], numbers: range, size: Callable[[int], int]) -> None:
        self._packed, self._numbers, self._size = packed, numbers, size
        self._cut: list[Piece] = []

    def __bool__(self) -> bool:
        return bool(self._cut or self._numbers)

    @property
    def n_runs(self) -> int:
        """Runs that have not been handed out."""
        return len(self._numbers) * len(self._packed) + sum(last - first for _, first, last in self._cut)

    def take(self) -> Piece:
        """The next piece."""
        if not self._cut:
            size = max(1, self._size(len(self._numbers) * len(self._packed)))
            part, self._numbers = self._numbers[:size], self._numbers[size:]
            self._cut = [(one, part.start, part.stop) for one in reversed(self._packed)]
        return self._cut.pop()

    def put_back(self, pieces: Sequence[Piece]) -> None:
        """Pieces to be handed out once more, before all others."""
        self._cut.extend(pieces)

    def clear(self) -> None:
        """No more is to be done."""
        self._cut, self._numbers = [], range(0)
