"""Other numbers of orders: those that are in as they are, and those to come in the mix of the book or in one that is stated."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from shopsim.answers.wording import join_words, say_count
from shopsim.errors import InputError
from shopsim.limits import MAX_PIECES
from shopsim.scenario.batches import is_planned, orders_in_turn, rule_of_other_batches
from shopsim.scenario.files import change_scenario
from shopsim.scenario.model import Design, Line, Scenario, pieces_made
from shopsim.scenario.places import say_names
from shopsim.scenario.values import Order, OrderBook
from shopsim.scenario.variants import UnknownOption, fold_name, read_options, say_options
from shopsim.units import MINUTES_PER_DAY

#: What a piece without options is called, in a mix and in words.
PLAIN = "plain"
#: Stands for the file of a book that holds only orders to come.
_NO_FILE = "orders-to-come.csv"
_ENTRY = re.compile(r"\s*([0-9]{1,6})(?:\s+of\s+([0-9]{1,6}))?(?:\s+(\S.*?))?\s*", re.IGNORECASE)


@dataclass(frozen=True)
class OrderKind:
    """Orders of one kind in a mix: ``count`` of them, each for ``quantity`` pieces with the options named in ``option``."""

    count: int
    quantity: int
    option: str


def parse_mix(text: str, design: Design) -> tuple[OrderKind, ...]:
    """A mix as it is typed: ``6 walnut, 4 plain``; ``3 of 2 walnut`` are three orders for two pieces each.

    Options are those of the design, several joined by ``+``; "plain" or nothing is a piece without options. InputError for
    anything else.
    """
    kinds = []
    for part in re.split(r"[,;]", text):
        entry = _ENTRY.fullmatch(part)
        if entry is None or not int(entry[1]):
            raise InputError(
                f'mix · "{part.strip()}" says no number of orders · write it like "6 walnut, 4 {PLAIN}"; '
                'orders for several pieces like "3 of 2 walnut"'
            )
        quantity = int(entry[2] or 1)
        if not 1 <= quantity <= MAX_PIECES:
            raise InputError(f"mix · {quantity} pieces cannot be ordered · write a whole number from 1 to {MAX_PIECES}")
        kinds.append(OrderKind(int(entry[1]), quantity, _read_option(design, entry[3] or "")))
    return tuple(kinds)


def _read_option(design: Design, text: str) -> str:
    """The names of options as the design has them; "" for none."""
    known = {fold_name(option.name) for option in design.options}
    if not text.strip() or (fold_name(text) == PLAIN and PLAIN not in known):
        return ""
    if not design.options:
        raise InputError(f'mix · the {design.name} has no options, and "{text}" is none · leave it out of the mix')
    try:
        return say_options(design, read_options(design, text))
    except UnknownOption as error:
        names = [*(option.name for option in design.options), PLAIN]
        raise InputError(
            f'mix · the {design.name} has no option "{error.name}" · options are {say_names(names)}'
        ) from None


def mix_of_book(book: OrderBook, design: Design) -> tuple[OrderKind, ...]:
    """The kinds of order that a book holds, as often as it does, in the order in which they first came."""
    counts: dict[tuple[int, str], int] = {}
    for order in orders_in_turn(book):
        kind = (order.quantity, say_options(design, read_options(design, order.option)))
        counts[kind] = counts.get(kind, 0) + 1
    return tuple(OrderKind(count, *kind) for kind, count in counts.items())


def follow_mix(kinds: Iterable[OrderKind], n: int) -> list[OrderKind]:
    """``n`` orders that follow a mix as closely as whole orders can: each is of the kind that is furthest behind its share.

    After as many orders as the mix counts, there are exactly as many of each kind as it says. The first of more
    orders are those of fewer. No luck is drawn: of equally far behind, the kind that comes first in the mix.
    """
    mix = list(kinds)
    whole = sum(kind.count for kind in mix)
    given = [0] * len(mix)
    orders = []
    for number in range(1, n + 1):
        behind = [kind.count * number - done * whole for kind, done in zip(mix, given, strict=True)]
        place = behind.index(max(behind))
        given[place] += 1
        orders.append(mix[place])
    return orders


def only_line(scenario: Scenario) -> Line:
    """The one line of a run; InputError where it has several."""
    lines = scenario.lines
    if len(lines) > 1:
        raise InputError(
            f"the run has {len(lines)} lines, so a number of orders does not say of which design "
            "· leave the number out, or set the orders of each line in the file"
        )
    return lines[0]


class OrderPlan:
    """What other numbers of orders make of a scenario with one line.

    Orders of a file that are in stay as they are, the first of them for a number below theirs. Those to come follow ``mix``
    (see ``parse_mix``), or without it the mix of the file; where the file states only a number, they are for
    one piece each, without options. InputError for several lines, or for a mix that cannot be read.
    """

    def __init__(self, scenario: Scenario, mix: str | None = None) -> None:
        self.scenario, self.line = scenario, only_line(scenario)
        self.design = next(design for design in scenario.all_designs if design.name == self.line.design)
        self.book = self.line.orders if isinstance(self.line.orders, OrderBook) else None
        self.stated = mix is not None
        self.kinds: tuple[OrderKind, ...] = ()
        if mix is not None:
            self.kinds = parse_mix(mix, self.design)
        elif self.book is not None:
            self.kinds = mix_of_book(self.book, self.design)

    @property
    def taken(self) -> int:
        """How many orders are in."""
        return 0 if self.book is None else len(self.book.orders)

    @property
    def apart(self) -> bool:
        """Whether every number of orders needs runs of its own, though as many pieces are made: spare pieces and dates may differ."""
        return bool(self.design.options) or self.scenario.run.release == "as ordered"

    @property
    def one_each(self) -> bool:
        """Whether every order is for one piece, so that orders are counted like pieces."""
        return all(kind.quantity == 1 for kind in self.kinds) and (
            self.book is None or all(order.quantity == 1 for order in self.book.orders)
        )

    def orders(self, count: int) -> int | OrderBook:
        """So many orders, as a scenario states them."""
        if not self.kinds:
            return count
        inside = orders_in_turn(self.book)[:count] if self.book is not None else []
        coming = follow_mix(self.kinds, max(0, count - self.taken))
        days = self._days_to_come(len(coming))
        more = [
            Order(f"number {n}", day, kind.quantity, option=kind.option, minute=MINUTES_PER_DAY - 1)
            for n, (kind, day) in enumerate(zip(coming, days, strict=True), start=len(inside) + 1)
        ]
        if self.book is not None and count == self.taken:
            return self.book
        return OrderBook(_NO_FILE if self.book is None else self.book.path, (*inside, *more), len(inside))

    def _days_to_come(self, n: int) -> list[dt.date]:
        """The days on which orders to come are taken to come: spread evenly until the book closes, else at its pace so far."""
        close = closing_day(self.scenario, self.line)
        if self.book is None:
            assert self.line.orders_close is not None
            return [self.line.orders_close] * n
        dates = sorted(order.date for order in self.book.orders)
        last = dates[-1]
        if close is not None:
            return [last + dt.timedelta(days=max(0, (close - last).days) * k // n) for k in range(1, n + 1)]
        pace = (last - dates[0]).days / (len(dates) - 1) if len(dates) > 1 else 0.0
        return [last + dt.timedelta(days=int(pace * k)) for k in range(1, n + 1)]

    def changes(self, count: int) -> dict[str, Any]:
        """What to change in the scenario, by places, for so many orders; {} where they are its own.

        Orders without days of their own cannot be made as ordered: their batches wait for the close.
        """
        orders, run = self.orders(count), self.scenario.run
        changes: dict[str, Any] = {"run.lines[0].orders" if run.lines else "run.orders": orders}
        if run.release == "as ordered" and self.book is None:
            changes["run.release"] = "when orders close"
            if self.line.batch is None:
                changes["run.batch"] = 1
        if self.line.orders == orders and len(changes) == 1:
            return {}
        if run.cap is not None and count > run.cap:
            changes["run.cap"] = None
        if is_planned(self.scenario):
            changes["run.priority"] = rule_of_other_batches(self.scenario)
        return changes

    def change(self, count: int) -> Scenario:
        """The scenario with so many orders. ScenarioError where it could not finish."""
        changes = self.changes(count)
        return change_scenario(self.scenario, changes) if changes else self.scenario

    def alternatives(self, counts: Iterable[int]) -> dict[str, Scenario]:
        """The scenarios to be run for several numbers of orders, by their names; of those that share runs, the one of the most."""
        most = {self.name(count): count for count in sorted(counts)}
        return {name: self.change(count) for name, count in most.items()}

    def pieces(self, count: int) -> int:
        """Pieces that so many orders ask for."""
        orders = self.orders(count)
        return orders if isinstance(orders, int) else sum(order.quantity for order in orders.orders)

    def made(self, count: int) -> int:
        """Pieces that are made for so many orders, spares included."""
        return pieces_made(self.pieces(count), self.line.round_up_to or 1)

    def name(self, count: int) -> str:
        """What the runs of so many orders are called; numbers of orders that share them have the same name."""
        return f"{count} orders" if self.apart else f"{self.made(count)} pieces"

    def say(self, count: int) -> str:
        """The options of so many orders, ``8 walnut, 5 plain``; "" for a design without options."""
        if not self.design.options:
            return ""
        orders = self.orders(count)
        if isinstance(orders, int):
            return f"{orders} {PLAIN}"
        counts: dict[str, int] = {}
        for order in orders.orders:
            option = say_options(self.design, read_options(self.design, order.option)) or PLAIN
            counts[option] = counts.get(option, 0) + 1
        return ", ".join(f"{n} {option}" for option, n in counts.items())

    def notes(self, most: int) -> tuple[str, ...]:
        """What orders are counted on, for up to ``most`` of them."""
        if most < self.taken:
            return (f"Fewer orders than the {self.taken} of the file are the first of them, in the order received.",)
        if self.kinds and most > self.taken:
            whose = "the mix that is stated" if self.stated else "the mix of the orders that are in"
            kept = (
                f"The {say_count(self.taken, 'order')} of the file keep their quantities and options; those"
                if self.taken > 1
                else "The order of the file keeps its quantity and options; those"
                if self.taken
                else "The orders"
            )
            return (
                f"{kept} to come follow {whose}, {say_kinds(self.kinds)}, as evenly as whole orders can. That they may "
                "come in another mix is not in the windows.",
            )
        if not self.kinds and self.design.options:
            return (say_plain(self.design),)
        return ()


def say_kinds(kinds: Iterable[OrderKind]) -> str:
    """A mix in words: ``3 for 2 walnut pieces each and 6 plain``."""
    parts = []
    for kind in kinds:
        option = kind.option or PLAIN
        each = f" for {kind.quantity} {option} pieces{' each' if kind.count > 1 else ''}"
        parts.append(f"{kind.count}{each if kind.quantity > 1 else f' {option}'}")
    return join_words(parts)


def say_plain(design: Design) -> str:
    """That a number of orders of a design with options counts on pieces without any."""
    names = [option.name for option in design.options]
    return (
        f"A number says nothing of options: every {design.name} is counted as plain, without {join_words(names, 'or')}. "
        f'State a mix, like "6 {names[0]}, 4 {PLAIN}", or name a file of orders.'
    )


def closing_day(scenario: Scenario, line: Line) -> dt.date | None:
    """The day on which the orders of a line close, where the file states one."""
    own = next((each.orders_close for each in scenario.run.lines if each.design == line.design), None)
    return own or scenario.run.orders_close
