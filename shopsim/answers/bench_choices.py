"""What can be chosen from when something is logged: orders that can ship, material that has not come, days, pieces that have begun."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable

import numpy as np

from shopsim.scenario.day_logs import open_minutes
from shopsim.study.going_on import GoingOn
from shopsim.study.named_tasks import NamedTasks
from shopsim.study.order_queue import QueuedOrder


def find_waiting(going: GoingOn, tasks: Iterable[int]) -> set[int]:
    """Those of the tasks that come after work by hand which is not done, so that they cannot be begun yet."""
    work, ended = going.plan.worklist, going.state.ended_min
    names = NamedTasks(work, going.queue, "")

    def waits(task: int) -> bool:
        return any(
            math.isnan(ended[before]) and (work.steps[work.task_step[before]].operation.hands > 0 or waits(before))
            for before in names.prior(task)
        )

    return {task for task in tasks if waits(task)}


def find_ready_orders(going: GoingOn) -> list[QueuedOrder]:
    """Orders that have not shipped and for which enough pieces are done, in the order of the queue."""
    work, state, queue = going.plan.worklist, going.state, going.queue
    open_pieces: set[int] = set()
    open_cells: set[int] = set()
    for task in np.flatnonzero(np.isnan(state.ended_min)).tolist():
        if work.steps[work.task_step[task]].operation.hands:
            if work.task_piece[task] >= 0:
                open_pieces.add(work.task_piece[task])
            else:
                open_cells.update(work.task_cells[task])

    def is_made(piece: int) -> bool:
        return piece not in open_pieces and work.piece_cell[piece] not in open_cells

    return [queue.orders[place] for place in queue.find_ready(is_made, state.shipped, state.taken_out)]


def list_materials_to_come(going: GoingOn) -> list[str]:
    """Names of materials that are not logged as come."""
    materials = going.plan.worklist.scenario.materials
    return [material.name for number, material in enumerate(materials) if number not in going.state.came_min]


def list_days(going: GoingOn, today: dt.date, most: int) -> list[dt.date]:
    """The last ``most`` days up to today on which the shop is open, none before the run begins or that was lost; the latest first."""
    work = going.plan.worklist
    lost = {work.day0 + dt.timedelta(days=day) for day in going.state.lost}
    days: list[dt.date] = []
    date = today
    while date >= work.day0 and len(days) < most:
        if open_minutes(work.scenario.shop, date) and date not in lost:
            days.append(date)
        date -= dt.timedelta(days=1)
    return days


def list_begun_pieces(going: GoingOn, batch: int) -> list[int]:
    """Pieces of a batch, both counted from 0, of which something of their own has begun and that did not give way to a spare one."""
    work, state = going.plan.worklist, going.state
    begun = {
        work.task_piece[task]
        for task in range(work.n_tasks)
        if work.task_piece[task] >= 0 and work.task_batch[task] == batch and not math.isnan(state.begun_min[task])
    }
    return sorted(begun - set(state.taken_out))
