"""What can be chosen from when something is logged: orders that can ship, material that has not come, days, pieces that have begun."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from shopsim.scenario.day_logs import open_minutes
from shopsim.study.going_on import GoingOn
from shopsim.study.named_tasks import NamedTasks
from shopsim.study.order_queue import QueuedOrder


def split_ready(going: GoingOn, tasks: Sequence[int]) -> tuple[list[int], list[int]]:
    """Tasks apart: those of which all work by hand that they come after is done, and those that have to wait for some."""
    work, ended = going.plan.worklist, going.state.ended_min
    names = NamedTasks(work, going.queue, "")

    def waits(task: int) -> bool:
        return any(
            math.isnan(ended[before]) and (work.steps[work.task_step[before]].operation.hands > 0 or waits(before))
            for before in names.prior(task)
        )

    waiting = {task for task in tasks if waits(task)}
    return [task for task in tasks if task not in waiting], [task for task in tasks if task in waiting]


def find_ready_orders(going: GoingOn) -> list[QueuedOrder]:
    """Orders that have not shipped and for which enough pieces are done, in the order of the queue."""
    work, state, queue = going.plan.worklist, going.state, going.queue
    open_pieces = {
        piece
        for task in range(work.n_tasks)
        if math.isnan(state.ended_min[task]) and work.steps[work.task_step[task]].operation.hands
        for piece in range(work.n_pieces)
        if work.covers(task, piece)
    }
    ready = []
    for place, order in enumerate(queue.orders):
        if place not in state.shipped:
            there, gone = queue.count_ready(
                place, lambda piece: piece not in open_pieces, state.shipped, state.taken_out
            )
            if there >= gone + order.quantity:
                ready.append(order)
    return ready


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
