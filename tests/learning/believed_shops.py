"""Shops drawn in exactly the believed world, and what their makers would log: with formulas of its own, apart from the program's luck.

log t = log likely + b + r + s zeta,   b ~ N(log 1.20, 0.25^2),  r ~ N(0, 0.12^2)
zeta = a z_o + c z_i,  a^2 + c^2 = 1,  s = one factor below likely, another above
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from shopsim.scenario import Scenario, parse_scenario

Z90 = 1.2815515655446004
NOISE = {"hand": 0.25, "machine": 0.12}


@dataclass(frozen=True)
class Work:
    """An operation as stated, minutes."""

    name: str
    low: float
    likely: float
    high: float
    kind: str
    basis: str

    def spreads(self) -> tuple[float, float, float, float]:
        """(below, above, a, c) of the module's formula."""
        widening, least = (1.7, 0.35) if self.basis == "guess" else (1.0, 0.10)
        claimed = math.log(self.high / self.low) / (2 * Z90)
        noise = NOISE[self.kind]
        error = math.sqrt(max(least**2, min(widening * claimed, max(claimed, 1.0)) ** 2 - noise**2))
        total = math.hypot(error, noise)
        below = total * math.log(self.likely / self.low) / (claimed * Z90)
        above = total * math.log(self.high / self.likely) / (claimed * Z90)
        return below, above, error / total, noise / total


@dataclass(frozen=True)
class Shop:
    """A shop whose true bias and errors nobody sees."""

    works: tuple[Work, ...]
    bias: float
    errors: tuple[float, ...]

    def scenario(self, more: str = "") -> Scenario:
        """What its maker has written down."""
        lines = [
            f'  {{ name = "{one.name}", work_kind = "{one.kind}", basis = "{one.basis}", '
            f'work = "{one.low:.5f} / {one.likely:.5f} / {one.high:.5f} min" }},'
            for one in self.works
        ]
        return parse_scenario(
            f'[shop]\nopen = {{ mon-fri = "08:00-17:00" }}\n{more}[design]\nname = "tray"\noperations = [\n'
            + "\n".join(lines)
            + "\n]\n[run]\norders = 4\nbatch = 2\nstart = 2027-01-11\n"
        )

    def minutes(self, rng: np.random.Generator, units: int) -> np.ndarray:
        """What so many pieces of one run take, minutes, shape (operations, units)."""
        pace = 0.12 * rng.standard_normal()
        found = []
        for one, error in zip(self.works, self.errors, strict=True):
            below, above, a, c = one.spreads()
            zeta = a * error + c * rng.standard_normal(units)
            off = zeta * np.where(zeta < 0, below, above)
            found.append(one.likely * np.exp(self.bias + pace + off))
        return np.array(found)


def draw_shop(rng: np.random.Generator, n: int = 8, lopsided: bool = False) -> Shop:
    """A shop of ``n`` operations from 2 minutes to two hours; ``lopsided``: ranges like 55 / 60 / 180."""
    works = []
    for number in range(n):
        likely = float(np.exp(rng.uniform(math.log(2), math.log(120))))
        down, up = (rng.uniform(0.80, 0.95), rng.uniform(1.8, 3.0)) if lopsided else (rng.uniform(0.65, 0.85), rng.uniform(1.2, 2.0))  # fmt: skip
        works.append(
            Work(
                f"step {number + 1}",
                likely * down,
                likely,
                likely * up,
                "hand" if rng.random() < 0.7 else "machine",
                "guess" if rng.random() < 0.8 else "timed",
            )
        )
    bias = math.log(1.20) + 0.25 * rng.standard_normal()
    return Shop(tuple(works), float(bias), tuple(rng.standard_normal(n)))


def write_log(shop: Shop, minutes: np.ndarray, run: str = "spring") -> str:
    """The log of one run as CSV text; a time that is no number was not logged."""
    lines = ["run,operation,piece,minutes"]
    for one, row in zip(shop.works, minutes, strict=True):
        lines += [f"{run},{one.name},{piece},{value:.4f}" for piece, value in enumerate(row, start=1) if value == value]
    return "\n".join(lines) + "\n"


def draw_days(
    rng: np.random.Generator, n: int, interrupted: tuple[float, float, float]
) -> tuple[np.ndarray, np.ndarray]:
    """(share of each day left, whether it is lost) of a shop in the believed world; ``interrupted``: 10, 50 and 90 % points."""
    own, run = 0.75**2 / (0.45**2 + 0.75**2), rng.standard_normal()
    zeta = math.sqrt(1 - own) * run + math.sqrt(own) * rng.standard_normal(n)
    low, middle, high = (math.log(share / (1 - share)) for share in interrupted)
    taken = middle + zeta * np.where(zeta < 0, middle - low, high - middle) / Z90
    return 1 / (1 + np.exp(taken)), rng.random(n) < rng.beta(1.5, 28.5)
