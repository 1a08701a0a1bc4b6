"""The clamp rack: how many clamps of each kind hang there. A longer clamp stands in for a shorter one."""

from __future__ import annotations

from shopsim.engine.floor.layout import FloorOperation, Layout

#: Clamps that are taken together: (kind, how many).
Taken = tuple[tuple[int, int], ...]


class ClampRack:
    """All clamps that are not in use. ``in_use``: what each task has taken, which the record keeps."""

    __slots__ = ("_free", "in_use")

    def __init__(self, layout: Layout) -> None:
        self._free = list(layout.clamp_count)
        self.in_use: dict[int, Taken] = {}

    def find(self, operation: FloorOperation) -> Taken | None:
        """The clamps an operation would take, the smallest that serve first; None if they are not all there."""
        needs = operation.needs
        if len(needs) == 1 and len(needs[0][0]) == 1:
            (kind,), count = needs[0]
            return ((kind, count),) if self._free[kind] >= count else None
        left = self._free.copy()
        taken = []
        for kinds, count in needs:
            for kind in kinds:
                some = min(left[kind], count)
                if some > 0:
                    left[kind] -= some
                    count -= some
                    taken.append((kind, some))
            if count:
                return None
        return tuple(taken)

    def take(self, task: int, clamps: Taken) -> None:
        """They are put on a task."""
        self.in_use[task] = clamps
        for kind, count in clamps:
            self._free[kind] -= count

    def give_back(self, task: int) -> None:
        """They come off the task, and hang in the rack again."""
        for kind, count in self.in_use.get(task, ()):
            self._free[kind] += count
