"""Moves from one order of lines to another: what a search tries next."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopsim.engine.reordering import PlanLines

#: Half of the moves of single lines go this far at most.
NEAR = 5
#: The most lines that are moved one by one, and that are moved as one stretch.
SINGLE, STRETCH = 3, 8


class Moves:
    """Draws orders near a given one. The same generator in the same state draws the same."""

    def __init__(self, lines: PlanLines) -> None:
        by_work: dict[tuple[str, str | None], list[int]] = {}
        for number, line in enumerate(lines.work):
            by_work.setdefault((line.operation, line.design), []).append(number)
        self._of_work = [np.array(numbers) for numbers in by_work.values() if len(numbers) > 1]
        step_of = np.empty(len(lines.work), dtype=np.int64)
        step_of[lines.line_of_entry] = lines.plan.entry_step
        work = lines.plan.worklist
        #: lines that go into clamps or dry
        self._early = np.array([number for number, step in enumerate(step_of.tolist()) if work.steps[step].early])

    def draw(self, order: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Another order: lines moved one by one or as a stretch, two batches of one operation changed, or what goes into clamps brought forward."""
        n, kind = order.size, rng.random()
        if n < 2:
            return order
        if kind < 0.15 and self._of_work:
            return self._change_batches(order, rng)
        if kind < 0.30 and n > STRETCH:
            return self._move_stretch(order, rng)
        if kind < 0.40 and self._early.size:
            line = int(rng.choice(self._early))
            at = int(np.flatnonzero(order == line)[0])
            return _moved(order.tolist(), at, int(rng.integers(0, at + 1)))
        listed: Sequence[int] = order.tolist()
        moved = np.asarray(listed)
        for _ in range(int(rng.integers(1, SINGLE + 1))):
            at = int(rng.integers(n))
            near = rng.random() < 0.5
            to = int(np.clip(at + rng.integers(-NEAR, NEAR + 1), 0, n - 1)) if near else int(rng.integers(n))
            moved = _moved(moved.tolist(), at, to)
        return moved

    def _change_batches(self, order: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        lines = self._of_work[int(rng.integers(len(self._of_work)))]
        one, other = rng.choice(lines, 2, replace=False)
        changed = order.copy()
        changed[order == one], changed[order == other] = other, one
        return changed

    def _move_stretch(self, order: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        length = int(rng.integers(2, STRETCH + 1))
        first = int(rng.integers(order.size - length + 1))
        rest = np.delete(order, slice(first, first + length))
        return np.insert(rest, int(rng.integers(rest.size + 1)), order[first : first + length])


def _moved(listed: list[int], at: int, to: int) -> np.ndarray:
    listed.insert(to, listed.pop(at))
    return np.array(listed, dtype=np.int64)
