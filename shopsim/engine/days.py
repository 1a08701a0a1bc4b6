"""What the days bring: interruptions and lost days, keyed by day number."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import special

from shopsim.engine.kept_draws import KeptDraws
from shopsim.engine.keyed import DAY_LEVEL, DAY_SHARE, LOST_DAY, LOST_LEVEL, draw_block, draw_one, unit_key
from shopsim.engine.learned_days import LearnedDays
from shopsim.laws import Z90, Law, fixed
from shopsim.scenario.model import Shop
from shopsim.units import TICKS_PER_MIN, to_tick

#: Of a day that is not lost, at least so much is left for the shop.
MIN_LEFT = 0.02
#: Share of the squared spread of an interrupted day that the whole run shares (own judgement).
DAY_SHARED = 0.45**2 / (0.45**2 + 0.75**2)
#: Where the file says nothing of interruptions and lost days (own judgement: a median open share of
#: 0.90 with logit spread 0.875; Beta(1.5, 28.5) lost days, 5 % on average).
DEFAULT_INTERRUPTED = Law("range", (0.0350, 0.10, 0.2542))
DEFAULT_LOST_BETA = (1.5, 28.5)
#: Shares of days that are kept for other plans; 8 bytes each.
MAX_SHARES_KEPT = 2_000_000
_kept = KeptDraws(MAX_SHARES_KEPT)
#: The most that a stated chance of lost days can come to in one run of luck: one open day in fifty is left.
MAX_LOST = 0.98


class DayLuck(Protocol):
    """What the days of one replication bring."""

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """(share of each day left for the shop, float in (0, 1]; whether the day is lost), each of shape (n_days,)."""
        ...


@dataclass(frozen=True)
class DayBeliefs:
    """What a shop's file says of its days, with the cautious defaults where it says nothing.

    A shop that is always open has neither interruptions nor lost days unless its file
    states them. ``whole``: no day can lose anything.
    """

    interrupted: Law | None
    lost: Law | None
    lost_by_default: bool
    likely_interrupted: float
    learned: LearnedDays | None = None

    @property
    def whole(self) -> bool:
        """Whether every open minute counts whole, whatever the luck."""
        if self.learned is not None:
            return False
        uninterrupted = self.interrupted is None or self.interrupted == fixed(0.0)
        return uninterrupted and not self.lost_by_default and (self.lost is None or self.lost == fixed(0.0))

    def lost_chance(self, u: float) -> float:
        """The chance of a lost day in one replication, at a uniform number."""
        if self.learned is not None:
            return self.learned.lost_chance(u)
        if self.lost is not None:
            return min(MAX_LOST, float(self.lost.quantile(np.array([u]))[0]))
        if self.lost_by_default:
            return float(special.betaincinv(*DEFAULT_LOST_BETA, u))
        return 0.0


def day_beliefs(shop: Shop, learned: LearnedDays | None = None) -> DayBeliefs:
    """The beliefs that go with a shop; what was learned from logged days takes the place of what the file says."""
    bounded = shop.open != "always"
    return DayBeliefs(
        interrupted=shop.interrupted or (DEFAULT_INTERRUPTED if bounded else None),
        lost=shop.lost_days,
        lost_by_default=shop.lost_days is None and bounded,
        likely_interrupted=shop.interrupted.likely if shop.interrupted is not None else 0.0,
        learned=learned,
    )


class DrawnDays:
    """Interruptions and lost days, keyed by day number, drawn as far as asked for."""

    def __init__(self, beliefs: DayBeliefs, seed: int, replication: int) -> None:
        self.beliefs, self.seed, self.replication = beliefs, seed, replication
        self._drawn: tuple[np.ndarray, np.ndarray] = (np.zeros(0), np.zeros(0, dtype=bool))

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        if self._drawn[0].size < n_days:
            share, lost = draw_days(self.beliefs, self.seed, np.array([self.replication], dtype=np.int64), n_days)
            self._drawn = (share[0], lost[0])
        return self._drawn[0][:n_days], self._drawn[1][:n_days]


def draw_days(beliefs: DayBeliefs, seed: int, numbers: np.ndarray, n_days: int) -> tuple[np.ndarray, np.ndarray]:
    """Shares left and lost days of the first ``n_days`` days in several replications, shape (replications, days); pure."""
    key = unit_key(0, np.arange(n_days))
    interrupted, learned = beliefs.interrupted, beliefs.learned
    share = np.ones((numbers.size, n_days))
    if learned is not None or interrupted is not None:
        level = np.array([float(special.ndtri(draw_one(seed, number, DAY_LEVEL))) for number in numbers.tolist()])
        own = special.ndtri(draw_block(seed, numbers, DAY_SHARE, key))
        if learned is not None:
            of_run = (learned.level - learned.level_sd * level)[:, None]
            share = np.maximum(special.expit(of_run - learned.day_sd * own), MIN_LEFT)
        elif interrupted is not None:
            z = math.sqrt(DAY_SHARED) * level[:, None] + math.sqrt(1 - DAY_SHARED) * own
            share = 1.0 - interrupted_share(interrupted, z.ravel()).reshape(z.shape)
    chance = np.array([beliefs.lost_chance(draw_one(seed, number, LOST_LEVEL)) for number in numbers.tolist()])
    lost = draw_block(seed, numbers, LOST_DAY, key) < chance[:, None]
    return np.round(share * TICKS_PER_MIN) / TICKS_PER_MIN, lost


def draw_open_shares(beliefs: DayBeliefs, seed: int, numbers: np.ndarray, n_days: int) -> np.ndarray:
    """What ``draw_days`` leaves of each day for the shop, 0 for a lost one; not to be changed, as it is kept for the next plan."""

    def draw() -> np.ndarray:
        share, lost = draw_days(beliefs, seed, numbers, n_days)
        share[lost] = 0.0
        return share

    return _kept.get((beliefs, seed, numbers.tobytes(), n_days), draw)


def days_level(beliefs: DayBeliefs, seed: int, replication: int) -> tuple[float, float]:
    """(normal score of the level of interruptions, chance of a lost day) of a replication: what all its days share."""
    score = float(special.ndtri(draw_one(seed, replication, DAY_LEVEL)))
    return score, beliefs.lost_chance(draw_one(seed, replication, LOST_LEVEL))


class LikelyDays:
    """Days without luck: interrupted at the likely share, none lost."""

    def __init__(self, interrupted: float) -> None:
        self._share = to_tick(1.0 - interrupted)

    def days(self, n_days: int) -> tuple[np.ndarray, np.ndarray]:
        """Shares left and lost days of the first ``n_days`` days."""
        return np.full(n_days, self._share), np.zeros(n_days, dtype=bool)


def interrupted_share(law: Law, z: np.ndarray) -> np.ndarray:
    """Share of a day lost to interruptions at normal scores ``z``: two straight pieces on the logit scale through
    the law's low, likely and high; other laws by their quantile."""
    if law.name != "range":
        return np.asarray(np.clip(law.quantile(special.ndtr(z)), 0.0, 0.98))
    low, likely, high = (min(max(number, 5e-4), 0.98) for number in law.numbers)
    middle = special.logit(likely)
    slope = np.where(z < 0, middle - special.logit(low), special.logit(high) - middle) / Z90
    return np.asarray(special.expit(middle + z * slope))
