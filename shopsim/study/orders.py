"""Who gets which piece: the queue of orders, and the day on which each of them ships."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from shopsim.engine.pieces import ship_days
from shopsim.engine.worklist import Worklist
from shopsim.scenario.values import OrderBook


@dataclass(frozen=True)
class QueuedOrder:
    """One order of a run.

    ``position``: its place in the queue, from 1, line after line. ``id``: the buyer's or
    the maker's reference; the position where the file gives only a number of orders.
    ``design``; ``quantity``: pieces. ``since``: the day its lead time counts from: its own
    date where batches are made as ordered, else the day its line's orders close.
    ``destination``: as in the file of orders, may be empty.
    """

    position: int
    id: str
    design: str
    quantity: int
    since: dt.date
    destination: str = ""


class OrderQueue:
    """The orders of a worklist in the order in which they are served.

    Within a line the first finished piece goes to the first order, and so on; the pieces
    that are left over are spare. Orders of a file are served by date, then in file order.
    An order for several pieces ships when the last of them does.

    ``close``: the day the run's orders close (the earliest of its lines), from which ship
    days are counted.
    """

    def __init__(self, work: Worklist) -> None:
        closes = [line.orders_close for line in work.lines if line.orders_close is not None]
        self.close: dt.date = min(closes) if closes else work.day0
        self.orders: tuple[QueuedOrder, ...] = tuple(_queue(work))
        self._work = work
        self._offset = (work.day0 - self.close).days
        self._lines: list[tuple[int, int, int, np.ndarray]] = []
        position = 0
        for number, line in enumerate(work.lines):
            first, made = work.line_first[number], work.line_pieces[number]
            n = len(line.orders.orders) if isinstance(line.orders, OrderBook) else int(line.orders)
            quantities = [order.quantity for order in self.orders[position : position + n]]
            self._lines.append((first, made, position, np.cumsum(quantities, dtype=np.int64) - 1))
            position += n
        self.since_days = np.array([(order.since - self.close).days for order in self.orders], dtype=np.int64)

    def ship_days(self, piece_done: np.ndarray) -> np.ndarray:
        """The day each order ships, in whole days after ``close`` (int64, shape (orders,)).

        ``piece_done``: minutes from midnight of day 0, shape (pieces,). A day of 0 is the
        day on which the orders close.
        """
        days = np.empty(len(self.orders), dtype=np.int64)
        for first, made, position, last in self._lines:
            served = np.sort(piece_done[first : first + made])[last]
            days[position : position + last.size] = ship_days(self._work, served)
        return days + self._offset


def _queue(work: Worklist) -> list[QueuedOrder]:
    as_ordered = work.scenario.run.release == "as ordered"
    queue: list[QueuedOrder] = []
    for line in work.lines:
        close = line.orders_close or work.day0
        if isinstance(line.orders, OrderBook):
            for order in sorted(line.orders.orders, key=lambda order: (order.date, order.minute)):
                since = order.date if as_ordered else close
                queue.append(
                    QueuedOrder(len(queue) + 1, order.id, line.design, order.quantity, since, order.destination)
                )
        else:
            for _ in range(int(line.orders)):
                queue.append(QueuedOrder(len(queue) + 1, str(len(queue) + 1), line.design, 1, close))
    return queue
