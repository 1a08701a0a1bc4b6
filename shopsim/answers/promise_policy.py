"""By which policy dates are stated, and the columns in which they stand."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from shopsim.answers.promises import Promise, find_joint_days, find_promise
from shopsim.answers.transit import arrival_days
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import quantile_rank
from shopsim.study.recalibration import Recalibration, find_recalibration
from shopsim.study.results import Outcome, Study

#: How sure a window is, and with what chance a promised date is kept, where nothing is said
#: (the window: own judgement; 85 to 95 % for a promise is common practice, no source).
WINDOW, KEPT = 0.8, 0.9
#: Replications that tell a chance of 80 % to within 2 in a hundred.
USUAL = 1537


@dataclass(frozen=True)
class PromisePolicy:
    """``confidence``: of windows. ``service_level``: chance with which promised dates are to be kept. In 0..1.

    ``recalibration``: what became of earlier promises, where enough of them are known.
    """

    confidence: float = WINDOW
    service_level: float = KEPT
    recalibration: Recalibration | None = None

    @classmethod
    def of(cls, scenario: Scenario, confidence: float, service_level: float) -> PromisePolicy:
        """A checked policy; InputError for what is no chance."""
        for name, value in (("confidence", confidence), ("service_level", service_level)):
            if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1:
                raise InputError(f"{name} = {value!r} is not between 0 and 1 · write 0.8 for 80 %")
        return cls(float(confidence), float(service_level), find_recalibration(scenario.learned))

    def need(self, replications: int) -> None:
        """InputError if so many replications cannot tell so much."""
        quantile_rank(replications, (1 + self.confidence) / 2)
        quantile_rank(replications, self.service_level)

    @property
    def fewest(self) -> int:
        """Replications from which on so much can be told."""
        chances = ((1 + self.confidence) / 2, self.service_level)
        return max(2, *(math.ceil(round(chance / (1 - chance), 9)) for chance in chances))

    def need_study(self, study: Study) -> None:
        """Cancelled if a study was stopped too soon for this policy."""
        check_chance(study, (1 + self.confidence) / 2, "a window")
        check_chance(study, self.service_level, "a promise")

    def promise(self, days: np.ndarray) -> Promise:
        """Window and promise for the days of one order, int64, shape (replications,)."""
        return find_promise(days, self.confidence, self.service_level, self.recalibration)

    def joint(self, days: np.ndarray) -> tuple[np.ndarray, float]:
        """Dates that are all kept together, from days of shape (replications, orders)."""
        return find_joint_days(days, self.service_level, self.recalibration)


def check_chance(study: Study, chance: float, what: str) -> None:
    """InputError if a study's replications cannot tell such a chance; Cancelled if that is because it was stopped."""
    try:
        quantile_rank(study.replications, chance)
    except InputError as error:
        if study.complete:
            raise
        raise Cancelled(f"stopped after {study.replications} replications, too few for {what}") from error


def date_of(close: dt.date, day: int | np.integer) -> str:
    """The date so many days after the orders close, ISO 8601."""
    return (close + dt.timedelta(days=int(day))).isoformat()


def window_columns(promise: Promise, close: dt.date) -> dict[str, Any]:
    """The day a buyer can expect, the window, the promise, each as day and date."""
    return {
        "expected_day": promise.expected,
        "expected": date_of(close, promise.expected),
        "ship_from_day": promise.first,
        "ship_from": date_of(close, promise.first),
        "ship_to_day": promise.last,
        "ship_to": date_of(close, promise.last),
        "window_chance": promise.inside,
        "promise_day": promise.day,
        "promise": date_of(close, promise.day),
        "chance_kept": promise.chance,
        "promise_low": "" if promise.day_low is None else date_of(close, promise.day_low),
        "promise_high": "" if promise.day_high is None else date_of(close, promise.day_high),
    }


def arrival_columns(days: np.ndarray, joint: int, policy: PromisePolicy, close: dt.date) -> dict[str, Any]:
    """The columns about arrival: window, promise and chance of the days on which an order reaches its buyer."""
    promise = policy.promise(days)
    return {
        "arrive_from": date_of(close, promise.first),
        "arrive_to": date_of(close, promise.last),
        "arrive_promise_day": promise.day,
        "arrive_promise": date_of(close, promise.day),
        "arrive_chance": promise.chance,
        "arrive_all": date_of(close, joint),
    }


def arrivals_of(outcome: Outcome, seed: int, days: np.ndarray) -> np.ndarray | None:
    """The days on which the orders of an outcome reach their buyers, or None without transit."""
    queue = outcome.queue
    return arrival_days(outcome.scenario, queue.orders, days, queue.close, seed, outcome.replications)


def check_orders(count: Any) -> int:
    """A number of orders; InputError for anything else."""
    if isinstance(count, bool) or not isinstance(count, int | np.integer) or not 1 <= count <= 10_000:
        raise InputError(f"{count!r} is not a number of orders · write whole numbers from 1 to 10000")
    return int(count)
