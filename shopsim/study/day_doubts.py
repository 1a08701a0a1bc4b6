"""Logged days far from what is believed, found before they are taken in, each with the slip it looks like.

What is held against its own prior predictive is the number of lost days (beta-binomial) and the mean logit of the
open shares, as lopsided as the runs draw it. Each is questioned where its chance is under FAR.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from shopsim.engine.days import DAY_SHARED, day_beliefs
from shopsim.engine.learned_days import SHARE_EDGE, LearnedDays, learn_days, logit_share, prior_days
from shopsim.engine.lopsided import Lopsided
from shopsim.laws import Z90
from shopsim.scenario.day_logs import DayRow
from shopsim.scenario.model import LoggedDays, Scenario
from shopsim.study.doubts import FITS
from shopsim.study.row_doubts import Doubt

#: The chance, in the believed world, of what is questioned, of lost days and of shares each (own choice).
FAR = 0.003


@dataclass(frozen=True)
class _Calendar:
    """What is believed before the log: of lost days, (A, B) of a beta law; of the mean logit of n open shares, its law."""

    days: LearnedDays
    below: float
    above: float
    middle: float

    def mean_logit(self, n: int) -> Lopsided:
        if self.below == self.above == 0.0:
            sd = math.hypot(self.days.level_sd, self.days.day_sd / math.sqrt(n))
            return Lopsided(self.middle, 0.0, 0.0, sd)
        share = math.sqrt(DAY_SHARED + (1 - DAY_SHARED) / n)
        return Lopsided(self.middle, share * self.below, share * self.above, 0.0)


def doubt_days(scenario: Scenario, rows: Sequence[DayRow], log: str) -> list[Doubt]:
    """What in a log of days is far from what the scenario believes; empty where nothing is.

    What was learned of the same days before is left out of account, as this log is to take its place.
    """
    dates = [row.date for row in rows]
    known = [days for days in scenario.learned.days if not _meets(days, dates)]
    beliefs = _believe(scenario, known)
    doubts = []
    lost, n = sum(row.lost for row in rows), len(rows)
    if lost and _chance_of_lost(beliefs.days.lost, lost, n) < FAR:
        few = "are these only the bad days? Log every open day, good ones too"
        usual = beliefs.days.lost_chance(0.5)
        found = f"{lost} of {n} days are lost, where about {usual * 100:.0f} % are believed"
        doubts.append(Doubt(log, None, "lost", found, few))
    logits = [logit_share(row.share) for row in rows if row.share is not None]
    if logits:
        law, seen = beliefs.mean_logit(len(logits)), float(np.mean(logits))
        if law.tail(seen) < FAR:
            low, high = sorted(float(special.expit(law.quantile(share))) for share in (0.1, 0.9))
            found = (
                f"about {special.expit(seen) * 100:.0f} % of the open hours were left on the logged days, where "
                f"{low * 100:.0f} to {high * 100:.0f} % are believed"
            )
            doubts.append(Doubt(log, None, "open_share", found, _name_slip(law, seen)))
    return doubts


def _name_slip(law: Lopsided, seen: float) -> str:
    if law.tail(-seen) >= FITS:
        if seen < law.middle:
            return "are these the shares that were lost? Call that column interrupted, or write what was left"
        return "are these the shares that were left? Call that column open_share, or write what was lost"
    if seen < law.middle:
        return "are these only the bad days? Log every open day, good ones too"
    return "are interruptions left out? Log what they took"


def _meets(days: LoggedDays, dates: Sequence[dt.date]) -> bool:
    if days.first is None or days.last is None:
        return False
    return days.first <= max(dates) and min(dates) <= days.last


def _believe(scenario: Scenario, known: Sequence[LoggedDays]) -> _Calendar:
    learned = learn_days(known, scenario.shop)
    if learned is not None:
        return _Calendar(learned, 0.0, 0.0, learned.level)
    prior = prior_days(scenario.shop)
    law = day_beliefs(scenario.shop).interrupted
    if law is None or law.name != "range" or law.numbers[0] == law.numbers[2]:
        return _Calendar(prior, 0.0, 0.0, prior.level)
    # what is left leans to the side on which less is interrupted: the logit turned round
    low, likely, high = (float(special.logit(min(max(share, SHARE_EDGE / 40), 0.98))) for share in law.numbers)
    return _Calendar(prior, (high - likely) / Z90, (likely - low) / Z90, -likely)


def _chance_of_lost(beta: tuple[float, float], lost: int, days: int) -> float:
    """The chance of at least so many lost days: a beta law of the chance of one, then independent days."""
    a, b = beta
    if a <= 0.0:
        return 0.0
    k = np.arange(lost, days + 1)
    ways = special.gammaln(days + 1) - special.gammaln(k + 1) - special.gammaln(days - k + 1)
    return float(np.exp(ways + special.betaln(k + a, days - k + b) - special.betaln(a, b)).sum())
