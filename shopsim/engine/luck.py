"""Keyed draws: (seed, replication, what for, which unit) -> number; and the luck of one run made of them.

No draw depends on the order in which things happen, nor on how many others are
drawn. So two alternatives that share seed and replication share their luck, and
adding an operation, a clamp or a batch changes no other draw.

The model of times (log scale) for operation o, unit i, run k:

    log t = log likely + bias + pace_k + spread_o * zeta,   zeta = a z_o + b z_oi,  a^2 + b^2 = 1

with ``z_o`` the error of the estimate, drawn once a replication, and ``z_oi`` the unit's
own noise. The claimed spread of low / likely / high is widened (a guess more than a
timed value) and split between the two; the two-piece form keeps low and high on their
own sides. Values stated by one number or by a named law are taken at their word: they
have neither bias, pace nor estimate error. Structure after Trietsch et al. 2012 (activity
times lognormal and linearly associated through a common factor); sizes of the cautious
set: own judgement, see DEVELOPERS.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import special

from shopsim.engine.worklist import Worklist, stable_key
from shopsim.laws import Z90, Law, fixed, range_quantile
from shopsim.scenario.model import Luck, Material, Operation
from shopsim.units import MINUTES_PER_DAY, minutes_at

# What a draw is for. Numbers are part of the meaning of a seed: never reuse or renumber.
WORK, SETUP, UNCLAMP, REDO_CHANCE, REDO_WORK = 1, 2, 3, 4, 5
ESTIMATE_ERROR, PACE, BIAS = 6, 7, 8
IN_CLAMPS, CURE, WET, CLOCK_RUN = 9, 10, 11, 12
DAY_SHARE, DAY_LEVEL, LOST_DAY, LOST_LEVEL = 13, 14, 15, 16
LEAD, LATE, LATE_BY, MATERIAL_REST = 17, 18, 19, 20
TRANSIT = 21

_GOLDEN = 0x9E3779B97F4A7C15
_MASK = (1 << 64) - 1

#: Share of the squared spread of an interrupted day that the whole run shares, and of a clock time
#: (own assumption, unverified: 0.45^2 / (0.45^2 + 0.75^2), and half).
DAY_SHARED = 0.45**2 / (0.45**2 + 0.75**2)
CLOCK_SHARED = 0.5
#: Where the file says nothing of interruptions and lost days (own judgement: a median open share of
#: 0.90 with logit spread 0.875; Beta(1.5, 28.5) lost days, 5 % on average).
DEFAULT_INTERRUPTED = Law("range", (0.0350, 0.10, 0.2542))
DEFAULT_LOST_BETA = (1.5, 28.5)
#: Where a material's lead is a range and nothing is said of lateness: chance, mean days (own judgement).
DEFAULT_LATE = 0.20
LATE_BY_MEAN_DAYS = 2.0
#: Widening stops at this standard deviation of the logarithm (own assumption).
WIDEST = 1.0


def _mix(x: int) -> int:
    """The splitmix64 finaliser (Steele, Lea & Flood 2014; constants from memory, checked by tests of uniformity)."""
    x = ((x ^ (x >> 30)) * 0xBF58476D1CE4E5B9) & _MASK
    x = ((x ^ (x >> 27)) * 0x94D049BB133111EB) & _MASK
    return x ^ (x >> 31)


def _mix_array(x: np.ndarray) -> np.ndarray:
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return np.asarray(x ^ (x >> np.uint64(31)))


def draw_uniform(seed: int, replication: int, purpose: int, key: np.ndarray) -> np.ndarray:
    """Uniform numbers in (0, 1), one for each element of ``key`` (uint64); the same call gives the same numbers."""
    root = _mix((seed * _GOLDEN + purpose + 1) & _MASK)
    root = _mix((root + _GOLDEN * (replication + 1)) & _MASK)
    hashed = _mix_array(_mix_array(np.uint64(root) + np.uint64(_GOLDEN) * key) + key)
    return np.asarray(((hashed >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53)


def unit_key(step_key: int, unit: int | np.ndarray) -> np.ndarray:
    """The key of a unit of a step (or of a day, a material): 32 bits of what, 32 bits of which."""
    return (np.uint64(step_key) << np.uint64(32)) + np.asarray(unit, dtype=np.uint64) + np.uint64(1)


class DayLuck(Protocol):
    """What the days of one replication bring."""

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """(share of each day left for the shop, float in (0, 1]; whether the day is lost), each of shape (n_days,)."""
        ...


class DrawnDays:
    """Interruptions and lost days, keyed by day number, drawn as far as asked for."""

    def __init__(self, plan: LuckPlan, seed: int, replication: int) -> None:
        self._plan, self._seed, self._replication = plan, seed, replication
        self._drawn: tuple[np.ndarray, np.ndarray] = (np.zeros(0), np.zeros(0, dtype=bool))

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        if self._drawn[0].size < n_days:
            key = unit_key(0, np.arange(n_days))
            interrupted = self._plan.interrupted
            if interrupted is None:
                share = np.ones(n_days)
            else:
                shared = special.ndtri(self._draw(DAY_LEVEL, unit_key(0, np.zeros(1, dtype=np.int64))))
                own = special.ndtri(self._draw(DAY_SHARE, key))
                share = 1.0 - interrupted_share(
                    interrupted, math.sqrt(DAY_SHARED) * shared + math.sqrt(1 - DAY_SHARED) * own
                )
            chance = self._plan.lost_chance(self._draw(LOST_LEVEL, unit_key(0, np.zeros(1, dtype=np.int64))))
            lost = self._draw(LOST_DAY, key) < chance
            self._drawn = (np.round(share * 1048576.0) / 1048576.0, lost)
        return self._drawn[0][:n_days], self._drawn[1][:n_days]

    def _draw(self, purpose: int, key: np.ndarray) -> np.ndarray:
        return draw_uniform(self._seed, self._replication, purpose, key)


class LikelyDays:
    """Days without luck: interrupted at the likely share, none lost."""

    def __init__(self, interrupted: float) -> None:
        self._share = round((1.0 - interrupted) * 1048576.0) / 1048576.0

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        return np.full(n_days, self._share), np.zeros(n_days, dtype=bool)


def interrupted_share(law: Law, z: np.ndarray) -> np.ndarray:
    """Share of a day lost to interruptions at normal scores ``z``: two straight pieces on the logit scale through
    the law's low, likely and high; other laws by their quantile."""
    if law.name != "range":
        return np.clip(law.quantile(special.ndtr(z)), 0.0, 0.98)
    low, likely, high = (min(max(number, 5e-4), 0.98) for number in law.numbers)
    middle = special.logit(likely)
    slope = np.where(z < 0, middle - special.logit(low), special.logit(high) - middle) / Z90
    return np.asarray(special.expit(middle + z * slope))


@dataclass
class Draws:
    """The luck of one run: everything the floor reads. Lists a task, minutes on the time grid.

    ``work``, ``setup``, ``unclamp`` are hands-on minutes of a task (all its units); ``in_clamps``,
    ``cure``, ``wet`` clock minutes; ``redone`` the units that needed work again. ``material_at``: when
    each material may be used. ``days``: the luck of the days, or None when every open minute counts whole.
    """

    work: list[float]
    setup: list[float]
    unclamp: list[float]
    in_clamps: list[float]
    cure: list[float]
    wet: list[float]
    material_at: list[float]
    days: DayLuck | None
    redone: list[int]


def _ticks(minutes: np.ndarray) -> np.ndarray:
    return np.asarray(np.round(minutes * 1048576.0) / 1048576.0)


#: One value to draw: the task it belongs to, its key, its law, and what learning makes of it.
Cell = tuple[int, int, Law, float]


class _RangeTimes:
    """Hands-on times stated as low / likely / high, vectorised over their cells."""

    def __init__(self, worklist: Worklist, cells: list[Cell]) -> None:
        beliefs = worklist.scenario.luck
        self.task = np.array([task for task, _, _, _ in cells], dtype=np.int64)
        self.key = np.array([key for _, key, _, _ in cells], dtype=np.uint64)
        self.step = np.array([worklist.task_step[task] for task, _, _, _ in cells], dtype=np.int64)
        self.factor = np.array([factor for _, _, _, factor in cells])
        forms: dict[tuple[int, Law], Spread] = {}
        spreads = []
        for step, (_, _, law, _) in zip(self.step.tolist(), cells, strict=True):
            if (step, law) not in forms:
                forms[step, law] = spread_of(worklist.steps[step].operation, law, beliefs)
            spreads.append(forms[step, law])
        self.log_likely = np.array([spread.log_likely for spread in spreads])
        self.below = np.array([spread.below for spread in spreads])
        self.above = np.array([spread.above for spread in spreads])
        self.error = np.array([spread.error for spread in spreads])
        self.noise = np.array([spread.noise for spread in spreads])
        self.nought = np.flatnonzero([law.numbers[1] == 0.0 for _, _, law, _ in cells])
        self.nought_high = np.array([law.numbers[2] for _, _, law, _ in cells])[self.nought]

    def draw(self, seed: int, replication: int, purpose: int, z_step: np.ndarray, shift: float) -> np.ndarray:
        """Minutes of each cell."""
        unit = special.ndtri(draw_uniform(seed, replication, purpose, self.key))
        z = self.error * z_step[self.step] + self.noise * unit
        minutes = np.exp(self.log_likely + shift + z * np.where(z < 0, self.below, self.above))
        if self.nought.size:  # most often nothing at all: a straight line up to the high, and no logarithm
            minutes[self.nought] = math.exp(shift) * self.nought_high * np.maximum(z[self.nought], 0.0) / Z90
        return np.asarray(minutes * self.factor)


@dataclass(frozen=True)
class Spread:
    """How a low / likely / high varies.

    ``below``, ``above``: standard deviations of the logarithm on either side of the
    likely value; ``error``, ``noise``: the weights a and b of the module's formula.
    """

    log_likely: float
    below: float
    above: float
    error: float
    noise: float


def spread_of(operation: Operation, law: Law, beliefs: Luck) -> Spread:
    """The spread of an operation's range: the claimed one widened, and split into estimate error and unit noise.

    A widened spread never passes WIDEST unless the claim itself does (own assumption: a
    range that wide says already that little is known).
    """
    guess = operation.basis == "guess"
    noise = beliefs.hand_spread if operation.work_kind == "hand" else beliefs.machine_spread
    widening = beliefs.guess_widening if guess else beliefs.timed_widening
    least = beliefs.guess_spread if guess else beliefs.timed_spread
    likely = law.numbers[1] or 1.0
    low = min(max(law.numbers[0], likely / 20), likely)
    high = max(law.numbers[2], likely)
    claimed = math.log(high / low) / (2 * Z90)
    error = math.sqrt(max(least**2, min(widening * claimed, max(claimed, WIDEST)) ** 2 - noise**2))
    total = math.hypot(error, noise)
    if total == 0.0:
        return Spread(math.log(likely), 0.0, 0.0, 0.0, 0.0)
    below = above = total
    if claimed > 0.0:
        below = total * math.log(likely / low) / (claimed * Z90)
        above = total * math.log(high / likely) / (claimed * Z90)
    return Spread(math.log(likely), below, above, error / total, noise / total)


class _LawTimes:
    """Cells whose law is named: the law's own quantile, with nothing shared."""

    def __init__(self, cells: list[Cell]) -> None:
        self.task = np.array([task for task, _, _, _ in cells], dtype=np.int64)
        self.key = np.array([key for _, key, _, _ in cells], dtype=np.uint64)
        self.factor = np.array([factor for _, _, _, factor in cells])
        places: dict[Law, list[int]] = {}
        for place, (_, _, law, _) in enumerate(cells):
            places.setdefault(law, []).append(place)
        self.laws = [(law, np.array(which)) for law, which in places.items()]

    def draw(self, seed: int, replication: int, purpose: int) -> np.ndarray:
        """Minutes of each cell."""
        u = draw_uniform(seed, replication, purpose, self.key)
        drawn = np.empty(self.key.size)
        for law, which in self.laws:
            drawn[which] = law.quantile(u[which])
        return drawn * self.factor


class _ClockTimes:
    """Clock times stated as ranges: half of their squared spread is shared by the whole run (warmth, damp)."""

    def __init__(self, cells: list[Cell]) -> None:
        self.task = np.array([task for task, _, _, _ in cells], dtype=np.int64)
        self.key = np.array([key for _, key, _, _ in cells], dtype=np.uint64)
        places: dict[tuple[float, ...], list[int]] = {}
        for place, (_, _, law, _) in enumerate(cells):
            places.setdefault(law.numbers, []).append(place)
        self.laws = [(numbers, np.array(which)) for numbers, which in places.items()]

    def draw(self, seed: int, replication: int, purpose: int, z_clock: float) -> np.ndarray:
        """Minutes of each cell."""
        unit = special.ndtri(draw_uniform(seed, replication, purpose, self.key))
        z = math.sqrt(CLOCK_SHARED) * z_clock + math.sqrt(1 - CLOCK_SHARED) * unit
        drawn = np.empty(self.key.size)
        for (low, likely, high), which in self.laws:
            drawn[which] = range_quantile(low, likely, high, z[which])
        return drawn


def _law_for(operation: Operation, purpose: int) -> Law | None:
    return {
        WORK: operation.work, SETUP: operation.setup, UNCLAMP: operation.unclamp,
        IN_CLAMPS: operation.in_clamps, CURE: operation.cure, WET: operation.wet,
    }[purpose]  # fmt: skip


class _Field:
    """One kind of time for all tasks: what never varies, the ranges, and the named laws."""

    def __init__(self, worklist: Worklist, purpose: int) -> None:
        self.purpose = purpose
        self.n = worklist.n_tasks
        self.still = np.zeros(self.n)
        self.likely = np.zeros(self.n)
        ranges: list[Cell] = []
        named: list[Cell] = []
        for task, n in enumerate(worklist.task_step):
            step = worklist.steps[n]
            law = _law_for(step.operation, purpose)
            if law is None:
                continue
            first = worklist.task_key_unit[task]
            for unit in range(first, first + (worklist.task_units[task] if purpose == WORK else 1)):
                factor = learning_factor(step.operation.learning, unit + 1) if purpose == WORK else 1.0
                self.likely[task] += law.likely * factor
                if not law.varies:
                    self.still[task] += law.numbers[0] * factor
                else:
                    cell = (task, int(unit_key(step.key, unit)), law, factor)
                    (ranges if law.name == "range" else named).append(cell)
        hands_on = purpose in (WORK, SETUP, UNCLAMP)
        self.ranges = _RangeTimes(worklist, ranges) if hands_on and ranges else None
        self.clock = _ClockTimes(ranges) if not hands_on and ranges else None
        self.named = _LawTimes(named) if named else None

    def draw(self, seed: int, replication: int, z_step: np.ndarray, shift: float, z_clock: float) -> np.ndarray:
        """Minutes a task, not yet on the time grid."""
        values = self.still
        if self.ranges is not None:
            minutes = self.ranges.draw(seed, replication, self.purpose, z_step, shift)
            values = values + np.bincount(self.ranges.task, weights=minutes, minlength=self.n)
        if self.clock is not None:
            minutes = self.clock.draw(seed, replication, self.purpose, z_clock)
            values = values + np.bincount(self.clock.task, weights=minutes, minlength=self.n)
        if self.named is not None:
            minutes = self.named.draw(seed, replication, self.purpose)
            values = values + np.bincount(self.named.task, weights=minutes, minlength=self.n)
        return values


class _Redo:
    """Units that may need work again: each with its chance, and what it then takes."""

    def __init__(self, worklist: Worklist) -> None:
        cells: list[tuple[Cell, float]] = []
        for task, n in enumerate(worklist.task_step):
            step = worklist.steps[n]
            redo = step.operation.redo
            if redo is None or redo.chance == 0.0:
                continue
            first = worklist.task_key_unit[task]
            cells += [
                ((task, int(unit_key(step.key, unit)), redo.work, 1.0), redo.chance)
                for unit in range(first, first + worklist.task_units[task])
            ]
        # ranges first, so that the minutes of both kinds can be laid end to end
        cells.sort(key=lambda cell: cell[0][2].name != "range")
        self.task = np.array([cell[0] for cell, _ in cells], dtype=np.int64)
        self.key = np.array([cell[1] for cell, _ in cells], dtype=np.uint64)
        self.chance = np.array([chance for _, chance in cells])
        self.ranges = _RangeTimes(worklist, [cell for cell, _ in cells if cell[2].name == "range"])
        self.named = _LawTimes([cell for cell, _ in cells if cell[2].name != "range"])

    def draw(self, seed: int, replication: int, z_step: np.ndarray, shift: float) -> tuple[np.ndarray, np.ndarray]:
        """(tasks, minutes) of the units that need it."""
        again = draw_uniform(seed, replication, REDO_CHANCE, self.key) < self.chance
        if not again.any():
            return self.task[:0], np.zeros(0)
        minutes = np.concatenate(
            (
                self.ranges.draw(seed, replication, REDO_WORK, z_step, shift),
                self.named.draw(seed, replication, REDO_WORK),
            )
        )
        return self.task[again], minutes[again]


def learning_factor(rate: float, unit: int) -> float:
    """Time of unit ``unit`` (from 1) over that of the first: unit^(log2 rate) (Crawford's unit curve)."""
    return 1.0 if rate == 1.0 or unit == 1 else float(unit) ** math.log2(rate)


class LuckPlan:
    """All that can be worked out about a worklist's luck before a seed is known; build once, draw often."""

    def __init__(self, worklist: Worklist) -> None:
        shop = worklist.scenario.shop
        self.worklist = worklist
        self.fields = {purpose: _Field(worklist, purpose) for purpose in (WORK, SETUP, UNCLAMP, IN_CLAMPS, CURE, WET)}
        self.redo = _Redo(worklist)
        self.step_key = np.array([step.key for step in worklist.steps], dtype=np.uint64)
        bounded = shop.open != "always"
        self.interrupted = shop.interrupted or (DEFAULT_INTERRUPTED if bounded else None)
        self.likely_interrupted = shop.interrupted.likely if shop.interrupted is not None else 0.0
        self.lost = shop.lost_days
        self.lost_by_default = self.lost is None and bounded
        uninterrupted = self.interrupted is None or self.interrupted == fixed(0.0)
        none_lost = not self.lost_by_default and (self.lost is None or self.lost == fixed(0.0))
        self.whole_days = uninterrupted and none_lost

    def lost_chance(self, u: np.ndarray) -> float:
        """The chance of a lost day in this replication, at a uniform number."""
        if self.lost is not None:
            return float(self.lost.quantile(u)[0])
        if self.lost_by_default:
            return float(special.betaincinv(*DEFAULT_LOST_BETA, u)[0])
        return 0.0


def draw_luck(plan: LuckPlan, seed: int, replication: int) -> Draws:
    """The luck of one replication; pure. About a microsecond a task."""
    work = plan.worklist
    beliefs = work.scenario.luck
    one = unit_key(0, np.zeros(1, dtype=np.int64))

    def normal(purpose: int, key: np.ndarray) -> np.ndarray:
        return np.asarray(special.ndtri(draw_uniform(seed, replication, purpose, key)))

    z_step = normal(ESTIMATE_ERROR, plan.step_key)
    shift = (
        math.log(beliefs.bias)
        + beliefs.bias_spread * float(normal(BIAS, one)[0])
        + beliefs.pace_spread * float(normal(PACE, one)[0])
    )
    z_clock = float(normal(CLOCK_RUN, one)[0])
    drawn = {purpose: field.draw(seed, replication, z_step, shift, z_clock) for purpose, field in plan.fields.items()}
    redone = np.zeros(work.n_tasks, dtype=np.int64)
    if plan.redo.key.size:
        tasks, minutes = plan.redo.draw(seed, replication, z_step, shift)
        drawn[WORK] = drawn[WORK] + np.bincount(tasks, weights=minutes, minlength=work.n_tasks)
        redone += np.bincount(tasks, minlength=work.n_tasks)
    lists = {purpose: _ticks(values).tolist() for purpose, values in drawn.items()}
    return Draws(
        work=lists[WORK],
        setup=lists[SETUP],
        unclamp=lists[UNCLAMP],
        in_clamps=lists[IN_CLAMPS],
        cure=lists[CURE],
        wet=lists[WET],
        material_at=[_material_at(material, work, seed, replication) for material in work.scenario.materials],
        days=None if plan.whole_days else DrawnDays(plan, seed, replication),
        redone=redone.tolist(),
    )


def likely_luck(plan: LuckPlan) -> Draws:
    """No luck at all: every value at its likely figure, no day lost; redone or late only what is so more often than not."""
    work = plan.worklist
    redo = [step.operation.redo for step in work.steps]
    extra = np.array([found.work.likely if found is not None and found.chance > 0.5 else 0.0 for found in redo])
    again = np.array([found is not None and found.chance > 0.5 for found in redo], dtype=bool)
    step, units = np.asarray(work.task_step), np.asarray(work.task_units)
    likely = {purpose: _ticks(field.likely).tolist() for purpose, field in plan.fields.items()}
    likely[WORK] = _ticks(plan.fields[WORK].likely + units * extra[step]).tolist()
    return Draws(
        work=likely[WORK],
        setup=likely[SETUP],
        unclamp=likely[UNCLAMP],
        in_clamps=likely[IN_CLAMPS],
        cure=likely[CURE],
        wet=likely[WET],
        material_at=[_likely_material_at(material, work) for material in work.scenario.materials],
        days=LikelyDays(plan.likely_interrupted) if plan.likely_interrupted > 0 else None,
        redone=(units * again[step]).tolist(),
    )


def _likely_material_at(material: Material, work: Worklist) -> float:
    if material.on_shelf:
        return 0.0
    late_days = math.ceil(LATE_BY_MEAN_DAYS * math.log(2)) if (material.late or 0.0) > 0.5 else 0
    return _arrival(material, work, material.lead.likely, late_days, material.rest.likely)


def _arrival(material: Material, work: Worklist, lead: float, late_days: float, rest: float) -> float:
    ordered = material.ordered or min(line.orders_close for line in work.lines if line.orders_close)
    at = minutes_at(ordered, work.day0) + lead + late_days * MINUTES_PER_DAY + rest
    return max(0.0, float(_ticks(np.array([at]))[0]))


def _material_at(material: Material, work: Worklist, seed: int, replication: int) -> float:
    if material.on_shelf:
        return 0.0
    key = unit_key(stable_key("material", material.name), np.zeros(1, dtype=np.int64))

    def uniform(purpose: int) -> np.ndarray:
        return draw_uniform(seed, replication, purpose, key)

    chance = material.late if material.late is not None else (DEFAULT_LATE if material.lead.name == "range" else 0.0)
    late_days = 0.0
    if float(uniform(LATE)[0]) < chance:
        late_days = math.ceil(-LATE_BY_MEAN_DAYS * math.log1p(-float(uniform(LATE_BY)[0])))
    lead = float(material.lead.quantile(uniform(LEAD))[0])
    return _arrival(material, work, lead, late_days, float(material.rest.quantile(uniform(MATERIAL_REST))[0]))
