"""The queue: tasks that are ready and wait to be started, in the order in which they go first.

Its entries stand for tasks that need the same things, such as one operation in one batch, so that the dispatcher
looks at tens of entries and not at thousands of tasks. Within an entry, tasks go by piece and unit.
"""

from __future__ import annotations

from bisect import insort
from heapq import heappop, heappush
from typing import Any

from shopsim.engine.floor.layout import Layout
from shopsim.engine.plan import SimulationPlan


class Queue:
    """Entries with ready tasks. ``entries``: their numbers, first what goes first; ``n_handless``: those that need nobody."""

    __slots__ = ("_operations", "_rank", "_ranks", "_task_entry", "_tasks", "entries", "n_handless")

    def __init__(self, plan: SimulationPlan, layout: Layout) -> None:
        self._task_entry = layout.task_entry
        self._operations = layout.entry_operation
        self._rank = plan.rank
        self._ranks: dict[int, Any] = {}
        self._tasks: list[list[int]] = [[] for _ in layout.entry_operation]
        self.entries: list[int] = []
        self.n_handless = 0

    def add(self, task: int, now: float) -> None:
        """A task is ready."""
        entry = self._task_entry[task]
        tasks = self._tasks[entry]
        if not tasks:
            if self._rank is None:  # entries are numbered in the order in which they go first
                insort(self.entries, entry)
            else:  # under a rule of the user's own every task has an entry, and the rule is asked now
                self._ranks[entry] = (self._rank(task, now), task)
                insort(self.entries, entry, key=self._ranks.__getitem__)
            if not self._operations[entry].hands:
                self.n_handless += 1
        heappush(tasks, task)

    def take(self, place: int) -> int:
        """The first task of the entry at this place of ``entries``, which waits no longer."""
        entry = self.entries[place]
        tasks = self._tasks[entry]
        task = heappop(tasks)
        if not tasks:
            del self.entries[place]
            if not self._operations[entry].hands:
                self.n_handless -= 1
        return task
