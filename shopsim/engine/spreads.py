"""How far a time varies: what of it an estimate shares, and what every unit has of its own."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopsim.engine.learned import LearnedStep, believed_range, split_spread
from shopsim.laws import Z90, Law
from shopsim.scenario.model import Luck, Operation

#: Share of the squared spread of a clock time that the whole run shares (own assumption, unverified).
CLOCK_SHARED = 0.5


@dataclass(frozen=True)
class Spread:
    """How a low / likely / high varies.

    ``below``, ``above``: standard deviations of the logarithm on either side of the
    likely value; ``error``, ``noise``: the weights a and b of the formula in task_times.py.
    """

    log_likely: float
    below: float
    above: float
    error: float
    noise: float


def spread_of(operation: Operation, law: Law, beliefs: Luck) -> Spread:
    """The spread of an operation's range: the claimed one widened, and split into estimate error and unit noise."""
    error, noise = split_spread(operation, law, beliefs)
    low, likely, high = believed_range(law)
    claimed = math.log(high / low) / (2 * Z90)
    total = math.hypot(error, noise)
    if total == 0.0:
        return Spread(math.log(likely), 0.0, 0.0, 0.0, 0.0)
    below = above = total
    if claimed > 0.0:
        below = total * math.log(likely / low) / (claimed * Z90)
        above = total * math.log(high / likely) / (claimed * Z90)
    return Spread(math.log(likely), below, above, error / total, noise / total)


def learned_spread(law: Law, step: LearnedStep, noise_factor: float) -> Spread:
    """The symmetric form of an operation whose times were logged: the shared score stands for its learned error."""
    return Spread(math.log(law.numbers[1]) + step.centre, 1.0, 1.0, step.error, noise_factor * step.noise)


def clock_spread(law: Law) -> Spread:
    """The spread of a clock time, of which a run shares CLOCK_SHARED."""
    low, likely, high = law.numbers if law.numbers[0] > 0.0 else (1.0, 1.0, 1.0)
    return Spread(
        log_likely=math.log(likely),
        below=math.log(likely / low) / Z90,
        above=math.log(high / likely) / Z90,
        error=math.sqrt(CLOCK_SHARED),
        noise=math.sqrt(1 - CLOCK_SHARED),
    )
