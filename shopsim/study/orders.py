"""Who gets which piece: the queue of orders, and the day on which each of them ships."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shopsim.engine.pieces import ship_days
from shopsim.engine.worklist import Worklist
from shopsim.scenario.batches import promised_orders
from shopsim.scenario.values import Order, OrderBook
from shopsim.scenario.variants import say_options


@dataclass(frozen=True)
class QueuedOrder:
    """One order of a run.

    ``position``: its place in the queue, from 1, line after line. ``id``: the buyer's or
    the maker's reference; the position where the file gives only a number of orders.
    ``design``; ``quantity``: pieces. ``since``: the day its lead time counts from: its own
    date where batches are made as ordered, else the day its line's orders close.
    ``destination``: as in the file of orders, may be empty. ``date``: the day it came in, None for
    a number of orders. ``option``: the names of its options. ``batches``: numbers of the batches
    its pieces are cut into, ``pieces``: their numbers (it may get others of its kind that are done first). ``promised``: the day its buyer was told, None where nothing was said.
    ``to_come``: it is counted on and has not come, so that its ``date`` is None.
    """

    position: int
    id: str
    design: str
    quantity: int
    since: dt.date
    destination: str = ""
    date: dt.date | None = None
    option: str = ""
    batches: tuple[int, ...] = ()
    pieces: tuple[int, ...] = ()
    promised: dt.date | None = None
    to_come: bool = False


@dataclass(frozen=True)
class SparePieces:
    """Pieces of one line, option and batch that are made beyond what is ordered."""

    design: str
    option: str
    batch: int
    quantity: int


class OrderQueue:
    """The orders of a worklist in the order in which they are served.

    Within a line the first finished piece goes to the first order, of the pieces that have the
    options it asks for; the pieces that are left over are spare. Orders of a file are served by date,
    then in file order. An order for several pieces ships when the last of them does.

    ``close``: the day the run's orders close (the earliest of its lines), from which ship
    days are counted. ``spare``: what is left over.
    """

    def __init__(self, work: Worklist) -> None:
        closes = [line.orders_close for line in work.lines if line.orders_close is not None]
        self.close: dt.date = min(closes) if closes else work.day0
        self._work = work
        self._offset = (work.day0 - self.close).days
        #: (pieces of one line and variant, orders they serve, for each order the last of its pieces among them)
        self._served: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        orders: list[QueuedOrder] = []
        spare: list[SparePieces] = []
        for number in range(len(work.lines)):
            spare += self._add_line(number, orders)
        self.orders: tuple[QueuedOrder, ...] = tuple(orders)
        self.spare: tuple[SparePieces, ...] = tuple(spare)
        self.since_days = np.array([(order.since - self.close).days for order in self.orders], dtype=np.int64)

    def _add_line(self, number: int, orders: list[QueuedOrder]) -> Iterator[SparePieces]:
        """Add the orders of a line; its spare pieces come back, those of one option and batch together."""
        work = self._work
        line, cut, first = work.lines[number], work.line_cuts[number], work.line_first[number]
        close = line.orders_close or work.day0
        as_ordered = work.scenario.run.release == "as ordered"
        design = next(design for design in work.scenario.all_designs if design.name == line.design)
        in_turn = [0] * cut.made  # the piece at each place in the order received
        for piece, place in enumerate(cut.place):
            in_turn[place] = first + piece
        waiting: dict[int, list[tuple[int, int]]] = {}  # for each variant the orders in turn, each with its quantity
        at = 0
        told = work.scenario.run.promised
        book: list[tuple[Order | None, dt.date | None]] = (
            [*promised_orders(line.orders, told)]
            if isinstance(line.orders, OrderBook)
            else [(None, told)] * int(line.orders)
        )
        taken = line.orders.taken if isinstance(line.orders, OrderBook) else None
        for in_line, (order, promised) in enumerate(book):
            to_come = taken is not None and in_line >= taken
            quantity = 1 if order is None else order.quantity
            mine = in_turn[at : at + quantity]
            at += quantity
            position = len(orders) + 1
            variant = work.piece_variant[mine[0]]
            queued = QueuedOrder(
                position=position,
                id=str(position) if order is None else order.id,
                design=line.design,
                quantity=quantity,
                since=order.date if order is not None and as_ordered else close,
                destination="" if order is None else order.destination,
                date=None if order is None or to_come else order.date,
                option=say_options(design, work.variants[variant].chosen)
                if design.options
                else order.option
                if order
                else "",
                batches=tuple(sorted({work.batches[work.piece_batch[piece]].number for piece in mine})),
                pieces=tuple(piece + 1 for piece in mine),
                promised=promised,
                to_come=to_come,
            )
            waiting.setdefault(variant, []).append((position - 1, quantity))
            orders.append(queued)
        for variant, served in waiting.items():
            pieces = np.array([piece for piece in in_turn if work.piece_variant[piece] == variant], dtype=np.int64)
            positions = np.array([position for position, _ in served], dtype=np.int64)
            last = np.cumsum([quantity for _, quantity in served], dtype=np.int64) - 1
            self._served.append((pieces, positions, last))
        left: dict[tuple[int, int], int] = {}
        for piece in in_turn[at:]:
            key = (work.piece_variant[piece], work.batches[work.piece_batch[piece]].number)
            left[key] = left.get(key, 0) + 1
        for (variant, batch), count in sorted(left.items(), key=lambda item: item[0][1]):
            yield SparePieces(line.design, say_options(design, work.variants[variant].chosen), batch, count)

    def piece_since(self, piece_done: np.ndarray) -> np.ndarray:
        """The day from which the lead time of each piece counts: that of the order it goes to, for a spare one of the last.

        ``piece_done``: minutes from midnight of day 0, shape (pieces,). In whole days after
        ``close`` (int64, same shape).
        """
        since = np.zeros(piece_done.size, dtype=np.int64)
        for pieces, positions, last in self._served:
            in_turn = pieces[np.argsort(piece_done[pieces], kind="stable")]
            served_by = np.searchsorted(last, np.arange(in_turn.size)).clip(max=last.size - 1)
            since[in_turn] = self.since_days[positions[served_by]]
        return since

    def ship_days(self, piece_done: np.ndarray) -> np.ndarray:
        """The day each order ships, in whole days after ``close`` (int64, shape (orders,)).

        ``piece_done``: minutes from midnight of day 0, shape (pieces,). A day of 0 is the
        day on which the orders close.
        """
        days = np.empty(len(self.orders), dtype=np.int64)
        for pieces, positions, last in self._served:
            days[positions] = ship_days(self._work, np.sort(piece_done[pieces])[last])
        return days + self._offset
