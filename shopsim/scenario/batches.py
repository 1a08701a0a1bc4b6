"""The batches of a run: which pieces move together, when each batch may open, and how many pieces there is room for."""

from __future__ import annotations

import datetime as dt
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from shopsim.dates import minutes_at
from shopsim.priority import AS_PLANNED, PRIORITY_RULES, RULES
from shopsim.scenario.model import Design, Line, Scenario, pieces_made
from shopsim.scenario.values import Order, OrderBook
from shopsim.scenario.variants import PLAIN, Chosen, read_options
from shopsim.units import MINUTES_PER_DAY


@dataclass(frozen=True)
class Batch:
    """The pieces that move together. ``number`` counts from 1 in the order of opening;
    ``opens_at``: earliest minute; ``due_at``: the minute at which the earliest day ends by which a buyer of its pieces
    was told that it ships, inf where nobody was told a day; pieces ``first`` .. ``first + size - 1`` (from 0, over the
    whole run)."""

    number: int
    line: int
    design: int
    first: int
    size: int
    opens_at: float
    due_at: float


@dataclass(frozen=True)
class LinePieces:
    """The pieces of a line in the order in which their batches are cut.

    ``ordered``: how many buyers get; the rest are spare. ``place``: for each piece its place in the
    order received, from 0, spares last. ``chosen``: for each piece the options it has.
    """

    ordered: int
    place: tuple[int, ...]
    chosen: tuple[Chosen, ...]

    @property
    def made(self) -> int:
        """Pieces that are made, spares included."""
        return len(self.place)


def orders_in_turn(book: OrderBook) -> list[Order]:
    """The orders of a book in the order received: by date and time of day, then as the file has them."""
    return sorted(book.orders, key=lambda order: (order.date, order.minute))


def build_batches(
    scenario: Scenario, lines: Sequence[Line], design_number: Mapping[str, int], day0: dt.date
) -> tuple[tuple[Batch, ...], list[LinePieces]]:
    """Batches in the order in which they may open; and the pieces of each line."""
    as_ordered = scenario.run.release == "as ordered"
    designs = scenario.all_designs
    loose: list[tuple[float, int, int, int, int, float]] = []
    pieces: list[LinePieces] = []
    first_piece = 0
    for number, line in enumerate(lines):
        design = design_number[line.design]
        turn = _pieces_in_turn(line, designs[design], scenario.run.promised, day0)
        came, chosen = turn.came, turn.chosen
        made = len(chosen)
        size = line.batch or (1 if as_ordered else made)
        assert line.start is not None
        start = minutes_at(line.start, day0)
        groups = [list(range(made))]
        if scenario.run.batches_by == "option":
            groups = [[n for n in range(made) if chosen[n] == one] for one in dict.fromkeys(chosen)]
        place: list[int] = []
        for group in groups:
            for first in range(0, len(group), size):
                cut = group[first : first + size]
                opens = max(start, *(came[n] for n in cut)) if as_ordered and came else start
                due = min(turn.due[n] for n in cut)
                loose.append((opens, number, first_piece + len(place), len(cut), design, due))
                place += cut
        pieces.append(LinePieces(turn.ordered, tuple(place), tuple(chosen[n] for n in place)))
        first_piece += made
    loose.sort()
    return (
        tuple(
            Batch(number=n + 1, line=line, design=design, first=first, size=size, opens_at=opens, due_at=due)
            for n, (opens, line, first, size, design, due) in enumerate(loose)
        ),
        pieces,
    )


class _Turn(NamedTuple):
    """The pieces of a line in the order received.

    For each: the minute at which its order ``came``, where orders have dates; its options (``chosen``); and the
    minute by which it is ``due``, or inf. ``ordered``: how many are for buyers; the others are spare.
    """

    came: list[float]
    chosen: list[Chosen]
    due: list[float]
    ordered: int


def _pieces_in_turn(line: Line, design: Design, promised: dt.date | None, day0: dt.date) -> _Turn:
    """``promised``: the day that buyers were told where their order says no other.

    Spare pieces come last, with the last order, and have the options that are ordered most; nobody was promised them.
    """
    came: list[float] = []
    chosen: list[Chosen] = []
    due: list[float] = []
    if isinstance(line.orders, OrderBook):
        for order, day in promised_orders(line.orders, promised):
            came += [minutes_at(order.date, day0) + order.minute] * order.quantity
            chosen += [read_options(design, order.option)] * order.quantity
            due += [_end_of(day, day0)] * order.quantity
        ordered = len(came)
    else:
        ordered = int(line.orders)
        chosen = [PLAIN] * ordered
        due = [_end_of(promised, day0)] * ordered
    spare = pieces_made(ordered, line.round_up_to or 1) - ordered
    if spare:
        counts = Counter(chosen)
        chosen += [max(counts, key=counts.__getitem__)] * spare  # of equally many the one first ordered
        came += came[-1:] * spare
        due += [math.inf] * spare
    return _Turn(came, chosen, due, ordered)


def _end_of(day: dt.date | None, day0: dt.date) -> float:
    return math.inf if day is None else minutes_at(day, day0) + MINUTES_PER_DAY


def promised_orders(book: OrderBook, promised: dt.date | None) -> list[tuple[Order, dt.date | None]]:
    """The orders of a book in the order received, each with the day its buyer was told that it ships by, if any.

    ``promised``: the day that holds where an order says no other; not for one that has not come yet.
    """
    taken = len(book.orders) if book.taken is None else book.taken
    return [
        (order, order.promised or (promised if n < taken else None)) for n, order in enumerate(orders_in_turn(book))
    ]


def promised_days(scenario: Scenario) -> set[dt.date | None]:
    """The different days that buyers were told that their orders ship by; None among them where one was told none."""
    promised = scenario.run.promised
    days: set[dt.date | None] = set()
    for line in scenario.lines:
        if isinstance(line.orders, OrderBook):
            days |= {day for _, day in promised_orders(line.orders, promised)}
        else:
            days.add(promised)
    return days


def rules_to_compare(scenario: Scenario) -> tuple[str, ...]:
    """The priority rules that may differ here; what goes by promised days only where these differ, or a file asks for it."""
    differ = len(promised_days(scenario)) > 1
    own = scenario.run.priority
    rules = (name for name, rule in RULES.items() if differ or not rule.by_promise or name == own)
    return (own, *rules) if own == AS_PLANNED else tuple(rules)


def is_planned(scenario: Scenario) -> bool:
    """Whether a plan of one's own says what comes first."""
    return scenario.run.priority == AS_PLANNED


def rule_of_other_batches(scenario: Scenario) -> str:
    """The priority rule of an alternative with other batches: the file's, or the usual one in place of a plan, which is for its own batches."""
    return PRIORITY_RULES[0] if is_planned(scenario) else scenario.run.priority


def own_batches(scenario: Scenario) -> tuple[int, ...]:
    """Pieces in a batch of each line, as the scenario stands."""
    made = pieces_of_lines(scenario)
    as_ordered = scenario.run.release == "as ordered"
    return tuple(min(line.batch or (1 if as_ordered else n), n) for line, n in zip(scenario.lines, made, strict=True))


def batch_changes(scenario: Scenario, size: int) -> dict[str, Any]:
    """What to change, by places, for batches of ``size`` on every line; the shop stays as large as it is (``find_room``).

    A plan of one's own is for its own batches, so the usual rule takes its place.
    """
    places = [f"run.lines[{n}].batch" for n in range(len(scenario.run.lines))] or ["run.batch"]
    changes = {"run.pieces_open": find_room(scenario), **dict.fromkeys(places, size)}
    return {**changes, "run.priority": rule_of_other_batches(scenario)} if is_planned(scenario) else changes


def pieces_of_lines(scenario: Scenario) -> tuple[int, ...]:
    """Pieces made on each line, spares included."""
    return tuple(
        pieces_made(n, line.round_up_to or 1)
        for line, n in zip(scenario.lines, ordered_of_lines(scenario), strict=True)
    )


def ordered_of_lines(scenario: Scenario) -> tuple[int, ...]:
    """Pieces ordered on each line."""
    return tuple(
        sum(order.quantity for order in line.orders.orders) if isinstance(line.orders, OrderBook) else int(line.orders)
        for line in scenario.lines
    )


def find_room(scenario: Scenario) -> int | None:
    """How many pieces may be under way at once; None where there is no limit.

    A piece counts from the opening of its batch until all operations of its design are done. Where the
    file is silent: twice its largest batch, however batches are cut, and no limit where pieces are made as ordered.
    """
    run = scenario.run
    if run.pieces_open is not None or run.release == "as ordered":
        return run.pieces_open
    return 2 * max(own_batches(scenario))
