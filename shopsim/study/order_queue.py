"""Who gets which piece: the queue of orders, and the day on which each of them ships."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.pieces import ship_days
from shopsim.scenario.batches import LinePieces, build_batches, promised_orders
from shopsim.scenario.model import Line, Scenario
from shopsim.scenario.values import Order, OrderBook
from shopsim.scenario.variants import Chosen, say_options
from shopsim.units import MINUTES_PER_DAY


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
    """The orders of a scenario in the order in which they are served.

    Within a line the first finished piece goes to the first order, of the pieces that have the
    options it asks for; the pieces that are left over are spare. Orders of a file are served by date,
    then in file order. An order for several pieces ships when the last of them does.

    ``close``: the day the run's orders close (the earliest of its lines), from which ship
    days are counted. ``spare``: what is left over. ``n_batches``: batches of the run.
    """

    def __init__(self, scenario: Scenario) -> None:
        lines, designs = scenario.lines, scenario.all_designs
        closes = [line.orders_close for line in lines if line.orders_close is not None]
        self._scenario, self._day0 = scenario, scenario.day0
        self.close: dt.date = min(closes) if closes else self._day0
        self._offset = (self._day0 - self.close).days
        #: (pieces of one line and variant, orders they serve, for each order the last of its pieces among them)
        self._served: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
        batches, cuts = build_batches(
            scenario, lines, {design.name: number for number, design in enumerate(designs)}, self._day0
        )
        self.n_batches = len(batches)
        self._batch_of = {
            piece: batch.number for batch in batches for piece in range(batch.first, batch.first + batch.size)
        }
        orders: list[QueuedOrder] = []
        spare: list[SparePieces] = []
        first = 0
        for line, cut in zip(lines, cuts, strict=True):
            spare += self._add_line(line, cut, first, orders)
            first += cut.made
        self.orders: tuple[QueuedOrder, ...] = tuple(orders)
        self.spare: tuple[SparePieces, ...] = tuple(spare)
        self.since_days = np.array([(order.since - self.close).days for order in self.orders], dtype=np.int64)

    def _add_line(self, line: Line, cut: LinePieces, first: int, orders: list[QueuedOrder]) -> Iterator[SparePieces]:
        """Add the orders of a line, whose first piece is ``first``; its spare pieces come back, those of one option and batch together."""
        run = self._scenario.run
        close = line.orders_close or self._day0
        as_ordered = run.release == "as ordered"
        design = next(design for design in self._scenario.all_designs if design.name == line.design)
        options = {first + n: chosen for n, chosen in enumerate(cut.chosen)}
        in_turn = [0] * cut.made  # the piece at each place in the order received
        for piece, place in enumerate(cut.place):
            in_turn[place] = first + piece
        waiting: dict[
            Chosen, list[tuple[int, int]]
        ] = {}  # for each choice of options the orders in turn, each with its quantity
        at = 0
        told = run.promised
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
            chosen = options[mine[0]]
            queued = QueuedOrder(
                position=position,
                id=str(position) if order is None else order.id,
                design=line.design,
                quantity=quantity,
                since=order.date if order is not None and as_ordered else close,
                destination="" if order is None else order.destination,
                date=None if order is None or to_come else order.date,
                option=say_options(design, chosen) if design.options else order.option if order else "",
                batches=tuple(sorted({self._batch_of[piece] for piece in mine})),
                pieces=tuple(piece + 1 for piece in mine),
                promised=promised,
                to_come=to_come,
            )
            waiting.setdefault(chosen, []).append((position - 1, quantity))
            orders.append(queued)
        for chosen, served in waiting.items():
            pieces = np.array([piece for piece in in_turn if options[piece] == chosen], dtype=np.int64)
            positions = np.array([position for position, _ in served], dtype=np.int64)
            last = np.cumsum([quantity for _, quantity in served], dtype=np.int64) - 1
            self._served.append((pieces, positions, last))
        left: dict[tuple[Chosen, int], int] = {}
        for piece in in_turn[at:]:
            key = (options[piece], self._batch_of[piece])
            left[key] = left.get(key, 0) + 1
        for (chosen, batch), count in sorted(left.items(), key=lambda item: item[0][1]):
            yield SparePieces(line.design, say_options(design, chosen), batch, count)

    def pieces_like(self, place: int) -> tuple[int, ...]:
        """The pieces, from 0, that would do for the order at a place of the queue, counted from 0."""
        return next(tuple(pieces.tolist()) for pieces, positions, _ in self._served if place in positions)

    def count_ready(
        self, place: int, is_made: Callable[[int], bool], shipped: Container[int], taken_out: Container[int]
    ) -> tuple[int, int]:
        """(pieces that would do for the order at a place and are made, how many of these went out with other orders)."""
        served = next(one for one in self._served if place in one[1])
        return self._count_made(served[0], served[1], is_made, shipped, taken_out)

    def find_ready(
        self, is_made: Callable[[int], bool], shipped: Container[int], taken_out: Container[int]
    ) -> list[int]:
        """The places, rising, of orders that have not shipped and for which enough pieces are made."""
        ready: list[int] = []
        for pieces, positions, _ in self._served:
            there, gone = self._count_made(pieces, positions, is_made, shipped, taken_out)
            ready += [
                place
                for place in positions.tolist()
                if place not in shipped and there >= gone + self.orders[place].quantity
            ]
        return sorted(ready)

    def _count_made(
        self,
        pieces: np.ndarray,
        positions: np.ndarray,
        is_made: Callable[[int], bool],
        shipped: Container[int],
        taken_out: Container[int],
    ) -> tuple[int, int]:
        there = sum(piece not in taken_out and is_made(piece) for piece in pieces.tolist())
        return there, sum(self.orders[place].quantity for place in positions.tolist() if place in shipped)

    def is_like(self, piece: int, other: int) -> bool:
        """Whether two pieces would do for the same orders."""
        return any(piece in pieces and other in pieces for pieces, _, _ in self._served)

    def spare_like(self, piece: int) -> int:
        """How many pieces like this one are made beyond what is ordered."""
        return next((pieces.size - int(last[-1]) - 1 for pieces, _, last in self._served if piece in pieces), 0)

    def finish_from(
        self, piece_done: np.ndarray, shipped: Mapping[int, dt.date], taken_out: Sequence[int]
    ) -> np.ndarray:
        """When the last piece of each order of a run under way is done, shape (runs, orders), from ``piece_done`` of shape (runs, pieces).

        ``shipped``: orders that have, by place, with their day: each took as many as it needs of those that were done first, and
        counts from midnight of its day. ``taken_out``: pieces that nobody gets.
        """
        done = piece_done.copy()
        done[:, list(taken_out)] = np.inf
        ready = np.zeros((done.shape[0], len(self.orders)))
        for pieces, positions, _ in self._served:
            gone = sum(self.orders[place].quantity for place in positions.tolist() if place in shipped)
            in_turn = np.sort(done[:, pieces], axis=1)[:, gone:]
            waiting = [place for place in positions.tolist() if place not in shipped]
            last = np.cumsum([self.orders[place].quantity for place in waiting], dtype=np.int64) - 1
            ready[:, waiting] = in_turn[:, last]
        for place, date in shipped.items():
            ready[:, place] = (date - self._day0).days * MINUTES_PER_DAY
        return ready

    def ship_days_from(
        self, piece_done: np.ndarray, shipped: Mapping[int, dt.date], taken_out: Sequence[int], not_before: float
    ) -> np.ndarray:
        """``ship_days`` of a run under way, shape (runs, orders); see ``finish_from``. What has not shipped goes no earlier than at
        ``not_before`` (minutes)."""
        ready = self.finish_from(piece_done, shipped, taken_out)
        days = ship_days(self._scenario, self._day0, np.maximum(ready, not_before)) + self._offset
        for place, date in shipped.items():
            days[:, place] = (date - self.close).days
        return np.asarray(days)

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

        ``piece_done``: minutes from midnight of day 0, shape (pieces,), or (runs, pieces) for (runs, orders) days.
        A day of 0 is the day on which the orders close.
        """
        done = np.empty((*piece_done.shape[:-1], len(self.orders)))
        for pieces, positions, last in self._served:
            done[..., positions] = np.sort(piece_done[..., pieces], axis=-1)[..., last]
        days = ship_days(self._scenario, self._day0, done)
        return days + self._offset
