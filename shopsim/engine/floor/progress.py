"""Progress of the run: which batches are open, what is done, and what that makes ready."""

from __future__ import annotations

import math

import numpy as np

from shopsim.engine.floor.layout import Layout
from shopsim.engine.floor.logbook import Logbook
from shopsim.engine.floor.queue import Queue
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord


class Progress:
    """Opens batches as room and dates allow, and takes note of every task that is done.

    A *group* is a set of tasks that others wait for together; when the last of them is done, its listeners
    are let go. A task is ready when all groups it listens to are complete. A piece is under way from the
    opening of its batch until all tasks of its design are done.
    """

    __slots__ = (
        "_group_left", "_layout", "_logbook", "_n_opened", "_n_under_way", "_piece_waits", "_queue", "_room",
        "_task_waits", "n_done",
    )  # fmt: skip

    def __init__(self, plan: SimulationPlan, layout: Layout, queue: Queue, logbook: Logbook) -> None:
        self._layout, self._queue, self._logbook = layout, queue, logbook
        self._group_left = layout.group_size.copy()
        self._task_waits = layout.task_waits.copy()
        self._piece_waits = layout.piece_waits.copy()
        self._room = plan.room
        self._n_opened = self._n_under_way = 0
        self.n_done = 0

    def open_batches(self, now: float) -> None:
        """The next batches open, in their order, as long as their day has come and they fit into the room.

        A batch that is larger than the room opens when nothing else is under way.
        """
        layout = self._layout
        while self._n_opened < len(layout.batch_size):
            batch = self._n_opened
            size, first = layout.batch_size[batch], layout.batch_first[batch]
            if layout.batch_opens_min[batch] > now:
                return
            if self._n_under_way and self._n_under_way + size > self._room:
                return
            self._n_opened += 1
            # what is done once a run may be all that a piece needs, and be done already
            self._n_under_way += sum(map(bool, self._piece_waits[first : first + size]))
            self._logbook.batch_opened[batch] = now
            self._complete_one_of(layout.batch_gate[batch], now)

    def note_done(self, task: int, now: float) -> None:
        """A task is done: those who waited only for it are ready, and there may be room for more pieces."""
        self.n_done += 1
        self._logbook.done[task] = now
        layout = self._layout
        for group in layout.task_groups[task]:
            self._complete_one_of(group, now)
        if layout.task_ends_pieces[task]:
            for piece in layout.task_ends_pieces[task]:
                self._piece_waits[piece] -= 1
                if not self._piece_waits[piece] and layout.piece_batch[piece] < self._n_opened:
                    self._n_under_way -= 1
            self.open_batches(now)

    def restore(self, record: RunRecord, begun: set[int], now: float) -> None:
        """What has happened in a run that is under way; what is ready and has not begun waits in the queue."""
        layout = self._layout
        complete = [layout.batch_gate[batch] for batch in np.flatnonzero(~np.isnan(record.batch_opened)).tolist()]
        self._n_opened = len(complete)
        for task in np.flatnonzero(~np.isnan(record.done)).tolist():
            self.n_done += 1
            complete += layout.task_groups[task]
            for piece in layout.task_ends_pieces[task]:
                self._piece_waits[piece] -= 1
        opened = [piece for piece, batch in enumerate(layout.piece_batch) if batch < self._n_opened]
        self._n_under_way = sum(self._piece_waits[piece] > 0 for piece in opened)
        for group in complete:
            self._group_left[group] -= 1
            if not self._group_left[group]:
                for task in layout.group_listeners[group]:
                    self._task_waits[task] -= 1
                    if not self._task_waits[task] and task not in begun:
                        if math.isnan(self._logbook.ready[task]):
                            self._logbook.ready[task] = now
                        self._queue.add(task, self._logbook.ready[task])
        for task in begun:  # a maker may have gone ahead of batch-mates: what has begun never waits in the queue again
            self._task_waits[task] = len(self._group_left) + 1

    def _complete_one_of(self, group: int, now: float) -> None:
        left = self._group_left[group] - 1
        self._group_left[group] = left
        if left:
            return
        waits, ready, queue = self._task_waits, self._logbook.ready, self._queue
        for task in self._layout.group_listeners[group]:
            waits[task] -= 1
            if not waits[task]:
                ready[task] = now
                queue.add(task, now)
