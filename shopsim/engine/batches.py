"""The batches of a run: which pieces move together, and when each batch may open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from shopsim.scenario.model import Line, Scenario, pieces_made
from shopsim.scenario.values import OrderBook
from shopsim.units import minutes_at


@dataclass(frozen=True)
class Batch:
    """The pieces that move together. ``number`` counts from 1 in the order of opening;
    ``opens_at``: earliest minute; pieces ``first`` .. ``first + size - 1`` (from 0, over the whole run)."""

    number: int
    line: int
    design: int
    first: int
    size: int
    opens_at: float


def build_batches(
    scenario: Scenario, lines: Sequence[Line], design_number: dict[str, int], day0: dt.date
) -> tuple[tuple[Batch, ...], list[tuple[int, int]]]:
    """Batches in the order in which they may open; and for each line (pieces ordered, pieces made)."""
    as_ordered = scenario.run.release == "as ordered"
    loose: list[tuple[float, int, int, int, int]] = []
    counts: list[tuple[int, int]] = []
    first_piece = 0
    for number, line in enumerate(lines):
        book = line.orders if isinstance(line.orders, OrderBook) else None
        came: list[float] = []
        if book is not None:
            for order in book.orders:
                came += [minutes_at(order.date, day0) + order.minute] * order.quantity
            came = sorted(came) if as_ordered else came
        ordered = len(came) if book is not None else int(line.orders)  # type: ignore[arg-type]
        made = pieces_made(ordered, line.round_up_to or 1)
        counts.append((ordered, made))
        size = line.batch or (1 if as_ordered else made)
        assert line.start is not None
        start = minutes_at(line.start, day0)
        for first in range(0, made, size):
            in_batch = min(size, made - first)
            opens = start
            if as_ordered and came:
                opens = max(start, came[min(first + in_batch, ordered) - 1])
            loose.append((opens, number, first_piece + first, in_batch, design_number[line.design]))
        first_piece += made
    loose.sort()
    return (
        tuple(
            Batch(number=n + 1, line=line, design=design, first=first, size=size, opens_at=opens)
            for n, (opens, line, first, size, design) in enumerate(loose)
        ),
        counts,
    )
