"""When each material may be used: ordered, sent, perhaps late, and rested."""

from __future__ import annotations

import math

import numpy as np

from shopsim.dates import minutes_at
from shopsim.engine.kept_draws import KeptDraws
from shopsim.engine.keyed import LATE, LATE_BY, LEAD, MATERIAL_REST, draw_ones, stable_key
from shopsim.engine.worklist import Worklist
from shopsim.scenario.model import Material
from shopsim.units import MINUTES_PER_DAY, to_tick

#: Where a material's lead is a range and nothing is said of lateness: chance, mean days (own judgement).
DEFAULT_LATE = 0.20
LATE_BY_MEAN_DAYS = 2.0
#: Arrivals that are kept for other plans; 8 bytes each.
MAX_ARRIVALS_KEPT = 100_000
_kept = KeptDraws(MAX_ARRIVALS_KEPT)


class MaterialLuck:
    """When one material may be used: ordered, sent, perhaps late, and rested."""

    def __init__(self, material: Material, work: Worklist) -> None:
        self.on_shelf = material.on_shelf
        self.late, self.lead, self.rest = material.late, material.lead, material.rest
        self.key = stable_key("material", material.name)
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
        chance = self.late if self.late is not None else (DEFAULT_LATE if self.lead.name == "range" else 0.0)
        arrivals = np.empty(numbers.size)
        for n in range(numbers.size):
            late_days = math.ceil(-LATE_BY_MEAN_DAYS * math.log1p(-late_by[n])) if late[n] < chance else 0
            taken, rested = (
                law.quantile_of_one(u) if law.varies else law.numbers[0]
                for law, u in ((self.lead, lead[n]), (self.rest, rest[n]))
            )
            arrivals[n] = self._arrival(taken, late_days, rested)
        return arrivals

    def likely(self) -> float:
        """When it is there in a run without luck: late only if it is so more often than not; minutes from midnight of day 0."""
        if self.on_shelf:
            return 0.0
        late_days = math.ceil(LATE_BY_MEAN_DAYS * math.log(2)) if (self.late or 0.0) > 0.5 else 0
        return self._arrival(self.lead.likely, late_days, self.rest.likely)

    def _arrival(self, lead: float, late_days: float, rest: float) -> float:
        return max(0.0, to_tick(self.ordered_min + lead + late_days * MINUTES_PER_DAY + rest))
