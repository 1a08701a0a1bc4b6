"""When each material may be used: ordered, sent, perhaps late, and rested."""

from __future__ import annotations

import math

import numpy as np

from shopsim.dates import minutes_at
from shopsim.engine.kept_draws import KeptDraws
from shopsim.engine.keyed import LATE, LATE_BY, LEAD, MATERIAL_REST, draw_ones, stable_key
from shopsim.engine.worklist import Worklist
from shopsim.laws import Law
from shopsim.scenario.model import Material
from shopsim.units import MINUTES_PER_DAY, to_tick

#: Where a material's lead is a range and nothing is said of lateness: chance, mean days (own judgement).
DEFAULT_LATE = 0.20
LATE_BY_MEAN_DAYS = 2.0
#: Arrivals that are kept for other plans; 8 bytes each.
MAX_ARRIVALS_KEPT = 100_000
_kept = KeptDraws(MAX_ARRIVALS_KEPT)


#: The most whole days by which material is taken to be late: the chance of more is under 1 in 10 billion.
MAX_LATE_DAYS = 50


def _quantile(law: Law, u: float) -> float:
    return law.quantile_of_one(u) if law.varies else law.numbers[0]


class MaterialLuck:
    """When one material may be used: ordered, sent, perhaps late, and rested."""

    def __init__(self, material: Material, work: Worklist) -> None:
        self.on_shelf = material.on_shelf
        self.late, self.lead, self.rest = material.late, material.lead, material.rest
        self.key = stable_key("material", material.name)
        self._gone_by_day: dict[float, np.ndarray] = {}  # see ``draw_awaited``: the same for all replications
        self.ordered_min = 0.0
        if not material.on_shelf:
            ordered = material.ordered or min(line.orders_close for line in work.lines if line.orders_close)
            self.ordered_min = minutes_at(ordered, work.day0)

    def draw(self, seed: int, replication: int) -> float:
        """Minutes from day 0 in a replication; pure."""
        return float(self.draw_block(seed, np.array([replication], dtype=np.int64))[0])

    def draw_block(self, seed: int, numbers: np.ndarray) -> np.ndarray:
        """``draw`` of several replications, shape (replications,); not to be changed, as it is kept for the next plan."""
        if self.on_shelf:
            return np.zeros(numbers.size)
        key = (self.key, self.late, self.lead, self.rest, self.ordered_min, seed, numbers.tobytes())
        return _kept.get(key, lambda: self._draw_block(seed, numbers))

    def _draw_block(self, seed: int, numbers: np.ndarray) -> np.ndarray:
        late, late_by, lead, rest = (
            draw_ones(seed, numbers, purpose, self.key).tolist() for purpose in (LATE, LATE_BY, LEAD, MATERIAL_REST)
        )
        chance = self._late_chance
        arrivals = np.empty(numbers.size)
        for n in range(numbers.size):
            late_days = math.ceil(-LATE_BY_MEAN_DAYS * math.log1p(-late_by[n])) if late[n] < chance else 0
            taken, rested = (
                law.quantile_of_one(u) if law.varies else law.numbers[0]
                for law, u in ((self.lead, lead[n]), (self.rest, rest[n]))
            )
            arrivals[n] = self._arrival(taken, late_days, rested)
        return arrivals

    def draw_awaited(self, seed: int, numbers: np.ndarray, now_min: float) -> np.ndarray:
        """``draw_block`` given that it has not come by ``now_min``: when it may be used, rest included.

        Each replication keeps its place among those in which it comes later than now. Where even the latest that the file
        thinks possible is past, it comes after as many whole days as late material does (own assumption).
        """
        late, late_by, lead, rest = (
            draw_ones(seed, numbers, purpose, self.key) for purpose in (LATE, LATE_BY, LEAD, MATERIAL_REST)
        )
        passed = now_min - self.ordered_min
        chance = self._late_chance
        days = np.arange(1, MAX_LATE_DAYS + 1)
        of_days = chance * (np.exp(-(days - 1) / LATE_BY_MEAN_DAYS) - np.exp(-days / LATE_BY_MEAN_DAYS))
        if passed not in self._gone_by_day:
            chances = [self._gone(passed - day * MINUTES_PER_DAY) for day in (0, *days.tolist())]
            self._gone_by_day[passed] = np.array(chances)
        gone = self._gone_by_day[passed]
        weight = np.concatenate(([1 - chance], of_days)) * (1 - gone)
        rests = np.array([_quantile(self.rest, u) for u in rest.tolist()])
        if weight.sum() < 1e-12:
            more = np.ceil(-LATE_BY_MEAN_DAYS * np.log1p(-late_by)) * MINUTES_PER_DAY
            return np.array([to_tick(float(minutes)) for minutes in now_min + more + rests])
        is_late = late < weight[1:].sum() / weight.sum()
        n_days = np.zeros(numbers.size, dtype=np.int64)
        if is_late.any():
            share = np.cumsum(weight[1:]) / weight[1:].sum()
            n_days[is_late] = 1 + np.minimum(np.searchsorted(share, late_by[is_late]), MAX_LATE_DAYS - 1)
        u = gone[n_days] + (1 - gone[n_days]) * lead
        taken = np.array([_quantile(self.lead, one) for one in u.tolist()])
        comes = np.maximum(self.ordered_min + taken + n_days * MINUTES_PER_DAY, now_min)
        return np.array([to_tick(float(minutes)) for minutes in comes + rests])

    def draw_rested(self, seed: int, numbers: np.ndarray, came_min: float) -> np.ndarray:
        """When it may be used, given that it came at ``came_min``: after its rest, shape (replications,)."""
        rest = draw_ones(seed, numbers, MATERIAL_REST, self.key)
        return np.array([to_tick(came_min + _quantile(self.rest, u)) for u in rest.tolist()])

    @property
    def _late_chance(self) -> float:
        return self.late if self.late is not None else (DEFAULT_LATE if self.lead.name == "range" else 0.0)

    def _gone(self, passed: float) -> float:
        """The chance of a lead of at most so many minutes."""
        if not self.lead.varies:
            return float(self.lead.numbers[0] <= passed)
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if _quantile(self.lead, middle) <= passed else (low, middle)
        return low

    def likely(self) -> float:
        """When it is there in a run without luck: late only if it is so more often than not; minutes from midnight of day 0."""
        if self.on_shelf:
            return 0.0
        late_days = math.ceil(LATE_BY_MEAN_DAYS * math.log(2)) if (self.late or 0.0) > 0.5 else 0
        return self._arrival(self.lead.likely, late_days, self.rest.likely)

    def _arrival(self, lead: float, late_days: float, rest: float) -> float:
        return max(0.0, to_tick(self.ordered_min + lead + late_days * MINUTES_PER_DAY + rest))
