"""What the rows of the log of a run do to it, one after the other in the order in which they happened."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from shopsim.engine.worklist import Worklist
from shopsim.scenario.happenings import BEGUN, CAME, CLAMPS_OFF, DONE, PAUSED, SHIPPED, SPOILED, Happening
from shopsim.scenario.shipped_logs import ShippedRow
from shopsim.study.named_tasks import NamedTasks
from shopsim.study.order_queue import OrderQueue
from shopsim.study.work_in_hand import WorkInHand
from shopsim.study.worked_hours import WorkedHours


class LogEvents(WorkInHand):
    """Takes rows in, in order; see ``RunState`` for what comes of them."""

    def __init__(self, work: Worklist, queue: OrderQueue, names: NamedTasks, hours: WorkedHours) -> None:
        super().__init__(work, names, hours)
        self.queue = queue
        self.taken_out: list[int] = []
        self.made_again = 0
        self.shipped: dict[int, dt.date] = {}
        self.came: dict[int, float] = {}
        self.orders: list[ShippedRow] = []
        self.keeps_off = False

    def take(self, row: Happening, moment: float) -> None:
        """One row, which happened no earlier than those before it."""
        self.names.check_things(row)
        if row.what == SHIPPED:
            self._ship(row, moment)
        elif row.what == CAME:
            self._come(row, moment)
        elif row.what == SPOILED:
            self._spoil(row, moment)
        elif row.what in (BEGUN, PAUSED, DONE, CLAMPS_OFF):
            crew, tasks = self.names.crew(row), self.names.tasks(row)
            if crew is None or not tasks:
                return
            {BEGUN: self._begin, PAUSED: self._pause, DONE: self._end, CLAMPS_OFF: self._take_off}[row.what](
                row, moment, tasks, crew
            )

    # ---- clamps, spoiled, shipped, here
    def _take_off(self, row: Happening, moment: float, tasks: list[int], crew: int) -> None:
        work = self.work
        if not any(work.steps[work.task_step[task]].clamps for task in tasks):
            self.names.fault(row, f'"{row.operation}"', "takes no clamps", "look at the operation")
            return
        on = [task for task in tasks if not math.isnan(self.ended[task]) and math.isnan(self.off[task])]
        wrong = [] if row.pieces is None else [task for task in tasks if task not in on]
        if wrong or not on:
            said = self._say((wrong or tasks)[0])
            rule = (
                f"{said} has no clamps on"
                if math.isnan(self.ended[(wrong or tasks)[0]])
                else f"the clamps of {said} are off"
            )
            self.names.fault(row, f'"{row.operation}"', rule, "log it as done first, or take this row back")
            return
        self.keeps_off = True
        for task in on:
            self.off[task] = moment

    def _spoil(self, row: Happening, moment: float) -> None:
        names = self.names
        before = len(names.faults)
        if row.operation and names.tasks(row) is None:
            return
        part, batch = names.part_of(row), names.batch(row)
        pieces = names.pieces(row, batch)
        if len(names.faults) > before or part is None:
            return
        if pieces is None:
            at = {self.work.task_piece[task] for task in (names.tasks(row) or ()) if task in self.in_hand} - {-1}
            if len(at) != 1:
                names.fault(row, "pieces", "is blank, and it cannot be told which piece it was", "name the piece")
                return
            pieces = [at.pop()]
        for piece in pieces:
            tasks = names.part_tasks(row, piece, part) if part else names.own_tasks(piece)
            if not any(not math.isnan(self.begun[task]) for task in tasks):
                what = f'"{part}" of piece {piece + 1}' if part else f"piece {piece + 1}"
                names.fault(row, "pieces", f"nothing of {what} has been begun", "look at the piece, or the part")
                continue
            built = [
                task
                for task in (names.own_tasks(piece) if part else ())
                if task not in tasks and not math.isnan(self.begun[task]) and set(names.prior(task)) & set(tasks)
            ]
            if built:
                rule = f'"{part}" of piece {piece + 1} is built in already, by {self._say(built[0])}'
                names.fault(row, "part", rule, "log the whole piece as spoiled, without a part")
                continue
            self._make_again(piece, tasks, moment, whole=not part)

    def _make_again(self, piece: int, tasks: Sequence[int], moment: float, whole: bool) -> None:
        """A piece gives way to a spare one, if one is left; otherwise, like a part, it is made again from its beginning."""
        for task in tasks:
            group = self.in_hand.pop(task, None)
            if group is not None:
                self._stop(group, moment)
                group.tasks = [other for other in group.tasks if other != task]
        if whole and self._is_spare_left(piece):
            self.taken_out.append(piece)
            for task in tasks:
                if math.isnan(self.ended[task]):
                    self.begun[task] = self.begun[task] if not math.isnan(self.begun[task]) else moment
                    self.ended[task] = moment
                self.off[task] = self.passed[task] = moment
            return
        self.made_again += 1
        for column in (self.begun, self.ended, self.off, self.passed):
            column[list(tasks)] = math.nan

    def _is_spare_left(self, piece: int) -> bool:
        return self.queue.spare_like(piece) > sum(self.queue.is_like(piece, other) for other in self.taken_out)

    def _ship(self, row: Happening, moment: float) -> None:
        place = self.names.order(row)
        if place is None:
            return
        if place in self.shipped:
            self.names.fault(row, "order", f'order "{row.order}" shipped on {self.shipped[place]}', "take one row back")
            return
        there, gone = self.queue.count_ready(place, self._is_made, self.shipped, self.taken_out)
        if there < gone + self.queue.orders[place].quantity:
            rule = f"needs {self.queue.orders[place].quantity} and only {there} that would do are done, of which {gone} shipped"
            self.names.fault(row, "order", rule, "log first what is done, packing too, or take this row back")
            return
        self.shipped[place] = row.date
        self.orders.append(ShippedRow(row.line, self.queue.orders[place].id, row.date, ""))

    def _is_made(self, piece: int) -> bool:
        """Whether all that hands do to a piece is done."""
        return all(
            not math.isnan(self.ended[task]) or self._goes_by_itself(task) for task in self.names.all_tasks(piece)
        )

    def _come(self, row: Happening, moment: float) -> None:
        number = self.names.material(row)
        if number is None:
            return
        if number in self.came:
            self.names.fault(row, "material", f'"{row.material}" came before', "take one of the two rows back")
        self.came.setdefault(number, moment)
