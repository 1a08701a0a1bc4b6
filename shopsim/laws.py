"""Laws of uncertain values: what a file says about how much a number varies.

A law is a frozen record that can say its likely value and turn uniform numbers
in (0, 1) into values (its quantile function). One uniform number gives one
value, so a draw can be keyed and two alternatives can share their luck.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

#: Standard normal quantile of 0.9: a range's low and high are its 10 % and 90 % points.
Z90 = 1.2815515655446004

#: Below this a low or likely value counts as zero (minutes: a few ten-thousandths of a second).
NOTHING = 1e-6

#: Times the likely value beyond which the high of a range is taken for a slip of the pen.
WIDEST = 1000.0

#: Parameter names of each law that a file may name, in the order they are stored.
LAW_PARAMETERS: dict[str, tuple[str, ...]] = {
    "fixed": ("value",),
    "range": ("low", "likely", "high"),
    "exponential": ("mean",),
    "erlang": ("mean", "shape"),
    "lognormal": ("median", "sigma"),
    "triangular": ("low", "likely", "high"),
    "beta-pert": ("low", "likely", "high"),
    "logged": (),
}


@dataclass(frozen=True)
class Law:
    """An uncertain value, in minutes (or shares, where the field is one).

    ``name`` is a key of LAW_PARAMETERS, or "own" for a user's function;
    ``numbers`` are its parameters in that order (for "logged", the values seen);
    ``function`` maps uniforms of shape (n,) to values of shape (n,) for "own".

    A "range" is a two-piece lognormal with median ``likely``, 10 % point ``low``
    and 90 % point ``high`` (own assumption; a zero low bound is a triangular-like
    straight piece). "triangular" and "beta-pert" take low and high as the ends.
    """

    name: str
    numbers: tuple[float, ...]
    function: Callable[[np.ndarray], np.ndarray] | None = None

    @property
    def varies(self) -> bool:
        """Whether two draws can differ."""
        return self.name != "fixed"

    @property
    def likely(self) -> float:
        """The value used when there is no luck at all: the mode a maker would name, or the middle."""
        a = self.numbers
        if self.name in ("range", "triangular", "beta-pert"):
            return a[1]
        if self.name in ("logged",):
            return float(np.median(np.array(a)))
        return a[0]  # fixed value, mean, median; own: the likely value given

    @property
    def largest(self) -> float:
        """A value it hardly ever passes (the 90 % point), for warnings."""
        return float(self.quantile(np.array([0.9]))[0])

    @property
    def mean(self) -> float:
        """The mean: in closed form, but for a range or a law of the user's own by the midpoints of 4096 strips."""
        a = self.numbers
        if self.name in ("fixed", "exponential", "erlang"):
            return a[0]
        if self.name == "lognormal":
            return a[0] * math.exp(a[1] ** 2 / 2)
        if self.name == "triangular":
            return (a[0] + a[1] + a[2]) / 3
        if self.name == "beta-pert":
            return (a[0] + 4 * a[1] + a[2]) / 6
        if self.name == "logged":
            return float(np.mean(np.array(a)))
        u = (np.arange(4096) + 0.5) / 4096
        return float(self.quantile(u).mean())

    def quantile_of_one(self, u: float) -> float:
        """``quantile`` of a single number, faster; pure. Equal to it but for the last bit."""
        if self.name == "range":
            low, likely, high = self.numbers
            return _range_value(low, likely, high, float(special.ndtri(u)))
        return float(self.quantile(np.array([u]))[0])

    def quantile(self, u: np.ndarray) -> np.ndarray:
        """Values at uniform numbers ``u`` in (0, 1), same shape; pure."""
        a = self.numbers
        u = np.asarray(u, dtype=np.float64)
        if self.name == "fixed":
            return np.full(u.shape, a[0])
        if self.name == "range":
            return range_quantile(a[0], a[1], a[2], special.ndtri(u))
        if self.name == "exponential":
            return np.asarray(-a[0] * np.log1p(-u))
        if self.name == "erlang":
            return np.asarray(special.gammaincinv(a[1], u) * (a[0] / a[1]))
        if self.name == "lognormal":
            return np.asarray(a[0] * np.exp(a[1] * special.ndtri(u)))
        if self.name == "triangular":
            low, likely, high = a
            if high == low:
                return np.full(u.shape, low)
            cut = (likely - low) / (high - low)
            left = low + np.sqrt(u * (high - low) * (likely - low))
            right = high - np.sqrt((1 - u) * (high - low) * (high - likely))
            return np.where(u < cut, left, right)
        if self.name == "beta-pert":
            low, likely, high = a
            if high == low:
                return np.full(u.shape, low)
            alpha = 1 + 4 * (likely - low) / (high - low)
            beta = 1 + 4 * (high - likely) / (high - low)
            return np.asarray(low + (high - low) * special.betaincinv(alpha, beta, u))
        if self.name == "logged":
            values = np.sort(np.array(a))
            return np.asarray(values[np.minimum((u * len(values)).astype(np.int64), len(values) - 1)])
        assert self.function is not None
        return np.asarray(self.function(u), dtype=np.float64)


def _range_value(low: float, likely: float, high: float, z: float) -> float:
    """``range_quantile`` of one score."""
    if likely < NOTHING:
        return high * z / Z90 if z > 0 else 0.0
    if z >= 0:
        return likely * math.exp(z * (math.log(high / likely) / Z90))
    return max(0.0, likely * (1 + z / Z90)) if low < NOTHING else likely * math.exp(z * (math.log(likely / low) / Z90))


def fixed(value: float) -> Law:
    """A value that does not vary."""
    return Law("fixed", (float(value),))


def own_law(function: Callable[[np.ndarray], np.ndarray], likely: float) -> Law:
    """A law of the user's own: ``function`` turns uniforms in (0, 1) into minutes, same shape.

    Give a function defined at the top of a module when the study runs in several
    processes; it must be pure. ``likely`` is used when there is no luck.
    """
    return Law("own", (float(likely),), function)


def range_quantile(low: float, likely: float, high: float, z: np.ndarray) -> np.ndarray:
    """Two-piece lognormal: median ``likely``, 10 % point ``low``, 90 % point ``high``, at normal scores ``z``."""
    if likely < NOTHING:
        return np.asarray(np.where(z > 0, high * z / Z90, 0.0))
    if low < NOTHING:
        below = np.maximum(0.0, likely * (1 + z / Z90))
    else:
        below = likely * np.exp(np.minimum(z, 0.0) * (math.log(likely / low) / Z90))
    above = likely * np.exp(np.maximum(z, 0.0) * (math.log(high / likely) / Z90))
    return np.asarray(np.where(z < 0, below, above))


def law_problem(name: str, numbers: tuple[float, ...]) -> tuple[str, str] | None:
    """What is wrong with a law's numbers, as (rule, mend), or None."""
    if name in ("range", "triangular", "beta-pert"):
        low, likely, high = numbers
        if not low <= likely <= high:
            return (
                "low, likely and high are not in rising order",
                "write the low first, then the likely, then the high",
            )
    if name == "range" and numbers[1] >= NOTHING and numbers[2] > WIDEST * numbers[1]:
        return (f"the high is more than {WIDEST:,.0f} times the likely", "check the numbers and their unit")
    if name == "erlang" and (numbers[1] < 1 or numbers[1] > 1000 or numbers[1] != int(numbers[1])):
        return ("the shape of an Erlang law is not a whole number from 1 to 1000", "write shape = 2, for instance")
    if name == "lognormal" and not 0 <= numbers[1] <= 5:
        return ("the sigma of a lognormal law is not between 0 and 5", "write sigma = 0.3, for instance")
    if name == "logged" and not numbers:
        return ("no logged values are given", "give at least one, or write low / likely / high")
    return None


def law_name(text: Any) -> str:
    """The stored name of a law as a user may spell it."""
    return str(text).strip().lower().replace("_", "-").replace(" ", "-").replace("betapert", "beta-pert")
