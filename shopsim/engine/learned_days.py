"""What logged days teach of interruptions and lost days: worked out exactly, on the logit scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import special

from shopsim.laws import Z90
from shopsim.scenario.model import LoggedDays, Shop

#: Days of evidence that a stated or assumed chance of lost days is worth (own judgement).
LOST_WORTH_DAYS = 30.0
DEFAULT_LOST = 0.05
#: Where the file does not say how the open share of a day varies: standard deviations on the logit
#: scale of its level and of a day about it (own judgement), and the median share left.
LEVEL_SPREAD, DAY_SPREAD, DEFAULT_OPEN = 0.45, 0.75, 0.90

#: Open shares nearer to nothing or all than this are taken to be no nearer: nobody notices less.
SHARE_EDGE = 0.02


@dataclass(frozen=True)
class LearnedDays:
    """The posterior of the calendar.

    ``lost``: (A, B) of the Beta law of the chance that an open day is lost. ``level``, ``level_sd``:
    normal law of the logit of the typical open share; ``day_sd``: sd of a day's logit about it.
    """

    lost: tuple[float, float]
    level: float
    level_sd: float
    day_sd: float

    def lost_chance(self, u: float) -> float:
        """The chance of a lost day at a uniform number."""
        a, b = self.lost
        return float(special.betaincinv(a, b, u)) if a > 0.0 else 0.0


def learn_days(logged: Sequence[LoggedDays], shop: Shop) -> LearnedDays | None:
    """The posterior that follows from logged days; None where none are.

    A stated chance of lost days counts as LOST_WORTH_DAYS days of evidence; a stated
    "interrupted" as the law of the level, its squared spread split between level and day. What is
    stated as one number gets the spread assumed where nothing is stated, since the log may tell
    otherwise.
    """
    if not logged:
        return None
    prior = prior_days(shop)
    days, lost = sum(log.days for log in logged), sum(log.lost for log in logged)
    shares = sum(log.shares for log in logged)
    total = sum(log.shares * log.mean_logit for log in logged)
    precision = 1.0 / prior.level_sd**2 + shares / prior.day_sd**2
    return LearnedDays(
        lost=(prior.lost[0] + lost, prior.lost[1] + days - lost),
        level=(prior.level / prior.level_sd**2 + total / prior.day_sd**2) / precision,
        level_sd=math.sqrt(1.0 / precision),
        day_sd=prior.day_sd,
    )


def prior_days(shop: Shop) -> LearnedDays:
    """What is believed of the calendar before any log, in the same form."""
    chance = DEFAULT_LOST if shop.lost_days is None else shop.lost_days.mean
    chance = min(max(chance, 0.0), 0.99)
    level, level_sd, day_sd = float(special.logit(DEFAULT_OPEN)), LEVEL_SPREAD, DAY_SPREAD
    law = shop.interrupted
    if law is not None:
        level = -float(special.logit(min(max(law.likely, SHARE_EDGE), 1 - SHARE_EDGE)))
        if law.name == "range":
            low, high = (min(max(share, 5e-4), 0.98) for share in (law.numbers[0], law.numbers[2]))
            total = float(special.logit(high) - special.logit(low)) / (2 * Z90)
            if total > 0.0:
                whole = math.hypot(LEVEL_SPREAD, DAY_SPREAD)
                level_sd, day_sd = total * LEVEL_SPREAD / whole, total * DAY_SPREAD / whole
    return LearnedDays((chance * LOST_WORTH_DAYS, (1 - chance) * LOST_WORTH_DAYS), level, level_sd, day_sd)


def logit_share(share: float) -> float:
    """The logit of an open share, kept SHARE_EDGE away from nothing and all."""
    return float(special.logit(min(max(share, SHARE_EDGE), 1 - SHARE_EDGE)))
