"""True shops: what really happens in a shop of which only guesses are known, drawn apart from the program's own luck.

A true shop has its own bias, errors of estimate, calendar and material, which no forecast
ever sees; what may be seen of it is what a maker could log. It is drawn with a common
random generator and formulas written out again here, not with the program's keyed luck,
so that forecast and truth share nothing but the beliefs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.luck import Draws, likely_luck
from shopsim.engine.pieces import piece_done
from shopsim.engine.plan import build_plan
from shopsim.engine.record import RunRecord
from shopsim.engine.run import run
from shopsim.scenario import Scenario, parse_scenario
from shopsim.study.order_queue import OrderQueue

Z90 = 1.2815515655446004
#: The layers of luck that can be left out.
LAYERS = ("unit noise", "estimate errors", "bias", "pace", "days", "material")

SHOP = """\
title = "Trays and stools, drawn"
[shop]
open = {{ mon-sun = "18:00-20:00" }}
[[shop.stations]]
name = "bench"
[[shop.clamps]]
name = "band clamp"
count = 4
[design]
name = "serving tray"
[[design.operations]]
name = "mill boards"
work = "{0}"
work_kind = "machine"
setup = "10 min"
[[design.operations]]
name = "cut mitres"
work = "{1}"
work_kind = "machine"
setup = "8 min"
[[design.operations]]
name = "shape handles"
work = "{2}"
[[design.operations]]
name = "glue up"
station = "bench"
work = "{3}"
clamps = [{{ kind = "band clamp", count = 1 }}]
in_clamps = "45 / 60 / 90 min"
cure = "12 h"
[[design.operations]]
name = "fit bottom"
work = "{4}"
[[design.operations]]
name = "sand"
work = "{5}"
dusty = true
[[design.operations]]
name = "first coat"
work = "{6}"
wet = "1 h"
cure = "10 / 14 / 24 h"
[[design.operations]]
name = "second coat"
work = "{7}"
wet = "1 h"
cure = "10 / 14 / 24 h"
[[materials]]
name = "boards"
needed_by = ["mill boards"]
lead = "2 / 3 / 5 d"
[run]
orders = {orders}
batch = {batch}
start = 2027-01-11
"""
LIKELY = (25.0, 30.0, 40.0, 15.0, 35.0, 45.0, 10.0, 9.0)


def draw_scenario(rng: np.random.Generator) -> Scenario:
    """A small shop as a maker might state it: every likely time and how far it is claimed to vary differ."""
    ranges = []
    for likely in LIKELY:
        middle = likely * math.exp(0.3 * rng.standard_normal())
        low, high = middle * rng.uniform(0.65, 0.85), middle * rng.uniform(1.3, 2.0)
        ranges.append(f"{low:.2f} / {middle:.2f} / {high:.2f} min")
    text = SHOP.format(*ranges, orders=int(rng.integers(6, 10)), batch=int(rng.integers(2, 4)))
    return parse_scenario(text)


@dataclass(frozen=True)
class World:
    """How true shops are drawn. ``own``: from the program's stated beliefs; else deliberately otherwise."""

    own: bool = True


@dataclass(frozen=True)
class TrueShop:
    """What does not change in a shop from run to run: log bias, score of each estimate, chance of a lost day, day level."""

    world: World
    bias: float
    errors: np.ndarray
    lost: float
    level: float


def draw_shop(world: World, rng: np.random.Generator, n_steps: int, without: Sequence[str] = ()) -> TrueShop:
    """A true shop. Without "bias" likely times are right on the whole; "bias spread" leaves out only its uncertainty."""
    if world.own:
        bias = math.log(1.20) + (0.0 if "bias spread" in without else 0.25 * rng.standard_normal())
        errors = rng.standard_normal(n_steps)
        lost, level = rng.beta(1.5, 28.5), rng.standard_normal()
    else:
        bias, errors, lost, level = math.log(1.30), rng.standard_t(4, n_steps), 0.05, 0.0
    if "bias" in without:
        bias = 0.0
    if "estimate errors" in without:
        errors = np.zeros(n_steps)
    return TrueShop(world, float(bias), errors, float(lost), float(level))


class Facts:
    """A scenario's tasks laid out for drawing: one element a unit of work, one a clock time."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.plan = build_plan(scenario)
        work = self.plan.worklist
        self.n_steps, self.n_tasks = len(work.steps), work.n_tasks
        self.step = np.array(work.task_step)
        operations = [step.operation for step in work.steps]
        ranges = np.array([operation.work.numbers for operation in operations])
        self.low, self.likely, self.high = (np.log(ranges[:, n]) for n in range(3))
        self.noise = np.array([0.25 if operation.work_kind == "hand" else 0.12 for operation in operations])
        claimed = (self.high - self.low) / (2 * Z90)
        self.error = np.sqrt(np.maximum(0.35**2, (1.7 * claimed) ** 2 - self.noise**2))
        total = np.hypot(self.error, self.noise)
        self.below = total * (self.likely - self.low) / (claimed * Z90)
        self.above = total * (self.high - self.likely) / (claimed * Z90)
        self.total = total
        self.setup = [operations[n].setup.numbers[0] for n in work.task_step]
        self.clamped = np.array([operation.in_clamps is not None for operation in operations])[self.step]
        self.drying = np.array([operation.cure is not None and operation.cure.varies for operation in operations])
        self.operations = operations
        self.queue = OrderQueue(work.scenario)

    def likely_days(self) -> list[int]:
        """The day each order ships with every time at its likely value and nothing going wrong."""
        found = self.queue.ship_days(piece_done(self.plan.worklist, run(self.plan, likely_luck(self.plan.luck))))
        return [int(day) for day in found]

    def work_min(self, shop: TrueShop, steps: np.ndarray, pace: float, z: np.ndarray) -> np.ndarray:
        """Minutes of one unit of each of ``steps`` in a run of a pace; ``z``: each unit's own score."""
        if shop.world.own:
            zeta = (self.error[steps] * shop.errors[steps] + self.noise[steps] * z) / self.total[steps]
            off = zeta * np.where(zeta < 0, self.below[steps], self.above[steps])
        else:
            off = 0.35 * shop.errors[steps] + 0.35 * z
        return np.asarray(np.exp(self.likely[steps] + shop.bias + pace + off))


class TrueDays:
    """The days of one run of a true shop, as far as they will be asked for."""

    def __init__(self, share: np.ndarray, lost: np.ndarray) -> None:
        self.share, self.lost = share, lost

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """(share left, lost) of the first days."""
        return self.share[:n_days], self.lost[:n_days]


def draw_days(
    shop: TrueShop, rng: np.random.Generator, n_days: int, without: Sequence[str] = ()
) -> tuple[np.ndarray, np.ndarray]:
    """(share of each day left for the shop, whether it is lost)."""
    if "days" in without:
        return np.ones(n_days), np.zeros(n_days, dtype=bool)
    z = rng.standard_normal(n_days)
    if shop.world.own:
        # median 0.90, 10 % and 90 % points of the interruptions 3.50 and 25.42 %, half-way split on the logit scale
        level = math.sqrt(0.45**2 / (0.45**2 + 0.75**2)) * shop.level
        zeta = level + math.sqrt(0.75**2 / (0.45**2 + 0.75**2)) * z
        middle, low, high = (math.log(p / (1 - p)) for p in (0.10, 0.0350, 0.2542))
        taken = middle + zeta * np.where(zeta < 0, middle - low, high - middle) / Z90
        share = 1 - 1 / (1 + np.exp(-taken))
    else:
        share = np.maximum(rng.beta(14, 2.5, n_days), 0.02)
    return share, rng.random(n_days) < shop.lost


def live_through(
    facts: Facts, shop: TrueShop, rng: np.random.Generator, without: Sequence[str] = ()
) -> tuple[Draws, RunRecord]:
    """One run of a true shop: its luck, and what happened."""
    n = facts.n_tasks
    pace = 0.0 if "pace" in without else 0.12 * rng.standard_normal()
    z = np.zeros(n) if "unit noise" in without else rng.standard_normal(n)
    work = facts.work_min(shop, facts.step, pace, z)
    warmth = math.sqrt(0.5) * rng.standard_normal()
    clock = warmth + math.sqrt(0.5) * rng.standard_normal((2, n))
    in_clamps = 60 * np.exp(clock[0] * np.where(clock[0] < 0, math.log(60 / 45), math.log(90 / 60)) / Z90)
    cure = 14 * 60 * np.exp(clock[1] * np.where(clock[1] < 0, math.log(14 / 10), math.log(24 / 14)) / Z90)
    drying = facts.drying[facts.step]
    late = 0 if "material" in without or rng.random() >= 0.2 else math.ceil(rng.exponential(2.0))
    side = rng.standard_normal()
    lead = 3 * 1440 * math.exp(side * (math.log(3 / 2) if side < 0 else math.log(5 / 3)) / Z90)
    share, lost = draw_days(shop, rng, 4000, without)

    def grid(minutes: np.ndarray) -> list[float]:
        return (np.round(minutes * 1048576.0) / 1048576.0).tolist()  # type: ignore[no-any-return]

    draws = Draws(
        work=grid(work),
        setup=facts.setup,
        unclamp=[0.0] * n,
        in_clamps=grid(np.where(facts.clamped, in_clamps, 0.0)),
        cure=grid(np.where(drying, cure, np.where(facts.clamped, 12 * 60.0, 0.0))),
        wet=[60.0 if wet else 0.0 for wet in drying],
        material_at=grid(np.array([lead + late * 1440.0])),
        days=TrueDays(np.round(share * 1048576.0) / 1048576.0, lost),
        redone=[0] * n,
    )
    return draws, run(facts.plan, draws)


def live_once(facts: Facts, shop: TrueShop, rng: np.random.Generator, without: Sequence[str] = ()) -> np.ndarray:
    """One run of a true shop: the day each order ships, int64, shape (orders,)."""
    _, record = live_through(facts, shop, rng, without)
    return facts.queue.ship_days(piece_done(facts.plan.worklist, record))


def log_times(facts: Facts, shop: TrueShop, rng: np.random.Generator, pieces: int, run: str) -> str:
    """The log of one past run of so many pieces, as CSV text."""
    pace = 0.12 * rng.standard_normal()
    lines = ["run,operation,piece,minutes"]
    for step, operation in enumerate(facts.operations):
        minutes = facts.work_min(shop, np.full(pieces, step), pace, rng.standard_normal(pieces))
        lines += [f"{run},{operation.name},{piece + 1},{value:.3f}" for piece, value in enumerate(minutes)]
    return "\n".join(lines) + "\n"


def log_days(shop: TrueShop, rng: np.random.Generator, n_days: int) -> str:
    """The log of so many past days, as CSV text."""
    share, lost = draw_days(shop, rng, n_days)
    lines = ["date,open share,lost"]
    first = np.datetime64("2026-10-01")
    for day in range(n_days):
        lines.append(f"{first + day},{'' if lost[day] else f'{share[day] * 100:.2f} %'},{'yes' if lost[day] else 'no'}")
    return "\n".join(lines) + "\n"
