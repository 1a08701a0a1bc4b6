"""What is doubtful in a log, and single rows that are far from the others of their operation."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from shopsim.engine.learned import believed_range
from shopsim.engine.lopsided import Lopsided
from shopsim.scenario.logs import TimeRow
from shopsim.scenario.model import LoggedTimes, Operation
from shopsim.units import MINUTES_PER_HOUR

#: Chances under which a run, an operation, a row and a slip are questioned, as doubts.py says. Own choice: together a little
#: under one in a hundred.
RUN, CELL, ROW, SLIP = 0.002, 0.003, 0.001, 0.002

#: Rows of one operation vary more than believed outside the believed world, and a pause is no slip: their spread
#: is taken so many times as wide, and never narrower than that of handwork.
ROW_WIDENING, ROW_NOISE = 1.6, 0.25

LOG_HOUR = math.log(MINUTES_PER_HOUR)


@dataclass(frozen=True)
class Doubt:
    """Something in a log that is far from what is believed. ``line``: its row, where it is about one. ``place``,
    ``found``, ``slip``: what it is about, how far out it is, and what to look at first."""

    log: str
    line: int | None
    place: str
    found: str
    slip: str

    def __str__(self) -> str:
        where = self.log if self.line is None else f"{self.log}:{self.line}"
        return " · ".join(part for part in (where, self.place, self.found, self.slip) if part)


@dataclass(frozen=True)
class Seen:
    """An operation in one run of the log. ``mean``: of log(actual / likely); ``law``: what is believed of that mean;
    ``at``: its place in what was learned before, 0 if it is new there."""

    cell: LoggedTimes
    operation: Operation
    rows: tuple[TimeRow, ...]
    mean: float
    law: Lopsided
    noise: float
    at: int

    @property
    def sd(self) -> float:
        """Standard deviation of what is believed of the mean."""
        return math.sqrt(self.law.variance)

    @property
    def name(self) -> str:
        """Its name in quotes."""
        return f'"{self.operation.name}"'

    def shifted(self, by: float) -> Seen:
        """With its mean moved by so much."""
        return replace(self, mean=self.mean + by)


def doubt_rows(one: Seen, rows: int, log: str) -> Iterator[Doubt]:
    """Rows far from the others of their operation."""
    if len(one.rows) < 2:
        return
    logs = np.log([row.minutes / row.units for row in one.rows])
    middle = float(np.median(logs))
    stretch = 1.0
    low, likely, high = believed_range(one.operation.work)
    if low < likely < high:  # a lopsided range varies more to its longer side from unit to unit, too
        whole = math.log(high / low) / 2
        stretch = max(1.0, math.log(high / likely) / whole, math.log(likely / low) / whole)
    limit = -float(special.ndtri(ROW / (2 * rows))) * ROW_WIDENING * max(one.noise, ROW_NOISE) * stretch
    for row, value in zip(one.rows, logs, strict=True):
        by = float(value) - middle
        if abs(by) <= limit:
            continue
        slip = "a pause on the clock, or a slip of the pen? Put the time right, or leave the row out"
        if abs(abs(by) - LOG_HOUR) < limit:
            slip = "is it in hours?" if by < 0 else "is it in seconds?"
            slip += " Write its unit behind the number"
        yield Doubt(
            log,
            row.line,
            one.name,
            f"{say_few(row.minutes / row.units)} min, where the others of it take about {say_few(math.exp(middle))} min",
            slip,
        )


def say_few(minutes: float) -> str:
    """Minutes to three digits."""
    return f"{minutes:.3g}" if minutes < 1000 else f"{minutes:.0f}"
