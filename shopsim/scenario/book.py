"""Orders that buyers have placed, as a CSV file beside the scenario lists them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True)
class Order:
    """One order of a book: who gets how many, and since when.

    ``id``: the buyer's or the maker's reference. ``date``: day it came in.
    ``quantity``: pieces. ``minute``: time of day, where the file gives one. ``destination``, ``option``: plain text,
    may be empty; several options are joined by " + ". ``promised``: the day the buyer was told it ships by, if any.
    """

    id: str
    date: dt.date
    quantity: int = 1
    destination: str = ""
    option: str = ""
    minute: float = 0.0  # time of day it came in, minutes after midnight
    promised: dt.date | None = None


@dataclass(frozen=True)
class OrderBook:
    """A CSV file of orders: ``path`` as the scenario states it, and its rows in file order.

    ``taken``: how many of them, in the order received, are in; the rest are counted on. None: all are in.
    """

    path: str
    orders: tuple[Order, ...] = ()
    taken: int | None = None
