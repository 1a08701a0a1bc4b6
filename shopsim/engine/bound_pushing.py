"""What follows a moment at the earliest: a task pushed on through real opening hours, and when the first so many pieces can be made."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shopsim.engine.bound_turns import OFF, end_of_stays, end_of_turns, kinds_of_needs, least_asked

if TYPE_CHECKING:
    from shopsim.engine.bound_tasks import BoundTasks


def least_of_kind(tasks: BoundTasks) -> np.ndarray:
    """For each task the shortest work of its kind (operation and units), as which of them comes last is not known."""
    key = tasks.plan.task_step * 100_000 + tasks.plan.task_units
    kinds, place = np.unique(key, return_inverse=True)
    least = np.full(kinds.size, np.inf)
    np.minimum.at(least, place, tasks.work_min)
    return np.asarray(least[place])


def one_of_each(tasks: BoundTasks, some: np.ndarray) -> list[int]:
    """One task of each kind that differs in what follows: by batch, variant and units."""
    work = tasks.work
    found: dict[tuple[tuple[int, ...], int, int], int] = {}
    for task in some.tolist():
        piece = work.task_piece[task]
        cell = (work.piece_cell[piece],) if piece >= 0 else work.task_cells[task]
        found.setdefault((cell, int(tasks.plan.task_step[task]), int(tasks.plan.task_units[task])), task)
    return list(found.values())


def push(tasks: BoundTasks, task: int, ended: float, least: np.ndarray) -> dict[int, float]:
    """When a task and all that comes after it are done at the earliest, if its hands-on work ends at a moment; by task."""
    _, done = tasks.hold(task, max(ended, 0.0))
    pushed: dict[int, float] = {}
    found, todo = {task: done}, {task: done}
    while todo:
        now, done = todo.popitem()
        for group in tasks.groups_of[now]:
            if done <= pushed.get(group, -1.0):
                continue
            pushed[group] = done
            for later in tasks.listeners[group]:
                _, later_done = tasks.finish(later, done, float(least[later]))
                if later_done > found.get(later, -1.0):
                    found[later] = todo[later] = later_done
    return found


class FirstMade:
    """When the first so many of the pieces of some batches can be made, by hands and by clamps: a bound for the next batch's opening.

    Cut and tail for any so many pieces. Of those made first, the one at which an operation is ended last has by then seen all
    that comes before it in each of them done by hand, and then goes on alone. Which pieces those are is not known, so they
    are those with the least work, and it is whichever of all of them goes on soonest. Their glue-ups take turns in the clamps of
    a reach and more, and the last of these goes on likewise.
    """

    def __init__(self, tasks: BoundTasks) -> None:
        self._tasks, plan = tasks, tasks.plan
        self._least = least_of_kind(tasks)
        n_steps = plan.step_hands.size
        #: hands-on minutes of a piece down to the end of each operation, nan where it has none; unclamping of what is before it
        self._until_min = np.full((plan.piece_batch.size, n_steps), np.nan)
        self._ends: dict[int, list[int]] = {}
        for task, pieces in enumerate(plan.task_ends_pieces.lists()):
            for piece in pieces:
                self._ends.setdefault(piece, []).append(task)
        self._task_at: dict[tuple[int, int], int] = {}
        own: dict[int, list[int]] = {}
        for task, piece in enumerate(tasks.work.task_piece):
            if piece >= 0 and tasks.work.steps[int(plan.task_step[task])].of_design:
                own.setdefault(piece, []).append(task)
        self._own = own
        for piece, members in own.items():
            self._count(piece, members)

    def _count(self, piece: int, members: list[int]) -> None:
        tasks = self._tasks
        of_step: dict[int, list[int]] = {}
        for task in members:
            of_step.setdefault(int(tasks.plan.task_step[task]), []).append(task)
        for step, ended in of_step.items():
            if len(ended) > 1 or not tasks.hands[ended[0]]:
                continue
            last = ended[0]
            before = [task for task in members if tasks.ancestors[last] >> task & 1]
            hands_on = sum(float(tasks.hands[task] * tasks.work_min[task]) for task in before)
            off = sum(float(tasks.unclamp_min[task]) for task in before if task != last)
            self._until_min[piece, step] = hands_on + off
            self._task_at[piece, step] = last

    def find(self, earlier: np.ndarray, n: int, begin: float) -> float:
        """The moment before which no ``n`` of the pieces ``earlier`` are all made, if nothing is done before ``begin``."""
        return max(self._by_hands(earlier, n, begin), self._by_clamps(earlier, n))

    def _by_hands(self, earlier: np.ndarray, n: int, begin: float) -> float:
        tasks, best = self._tasks, 0.0
        capacity = tasks.capacity_of(tasks.everybody)
        for step in np.flatnonzero(~np.isnan(self._until_min[earlier]).any(axis=0)).tolist():
            ended = capacity.after(begin, float(np.sort(self._until_min[earlier, step])[:n].sum()))
            last = np.array([self._task_at[int(piece), step] for piece in earlier])
            best = max(best, self._made_after(last, ended))
        return best

    def _by_clamps(self, earlier: np.ndarray, n: int) -> float:
        tasks, plan, best = self._tasks, self._tasks.plan, 0.0
        for kinds in kinds_of_needs(plan):
            asked = [least_asked(plan, step, set(kinds)) for step in range(plan.step_hands.size)]
            count = np.array(asked)[plan.task_step]
            of_pieces = [[task for task in self._own.get(int(piece), []) if count[task] > 0] for piece in earlier]
            some = np.array([task for members in of_pieces for task in members], dtype=np.int64)
            if not some.size or not tasks.hands[some].all():
                continue
            at_once = int(plan.clamp_count[list(kinds)].sum()) // int(count[some].min())
            fewest = sum(sorted(len(members) for members in of_pieces)[:n])
            if at_once < 1 or fewest == 0:
                continue
            stays = (tasks.work_min + tasks.in_clamps_min).tolist()
            least = sum(sorted(sum(stays[task] for task in members) for members in of_pieces)[:n])
            ended = end_of_turns(tasks, some, -(-fewest // at_once), OFF)
            best = max(best, self._made_after(some, max(ended, end_of_stays(tasks, some, least, at_once))))
        return best

    def _made_after(self, some: np.ndarray, ended: float) -> float:
        """When the piece of whichever of these tasks is made soonest, if the hands-on work of that task ends at a moment."""
        tasks, soonest = self._tasks, np.inf
        for task in one_of_each(tasks, some):
            done = push(tasks, task, ended, self._least)
            of_piece = self._ends.get(tasks.work.task_piece[task], [])
            soonest = min(soonest, max((done.get(end, 0.0) for end in of_piece), default=0.0))
        return float(soonest)
