"""While orders are open: the window for each buyer to come, over the uncertainty of how many there will be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import list_notes, say_next_buyer
from shopsim.answers.order_mix import OrderPlan
from shopsim.answers.promise_policy import (
    USUAL,
    PromisePolicy,
    arrival_columns,
    arrivals_of,
    date_of,
    window_columns,
)
from shopsim.answers.question import Question
from shopsim.columns import find_table
from shopsim.engine.keyed import DEMAND, draw_uniform, unit_key
from shopsim.errors import Cancelled, InputError
from shopsim.laws import Law
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.study.extending import run_known
from shopsim.study.intervals import lower_quantile, most_share, quantile
from shopsim.study.results import Outcome
from shopsim.version import VERSION

NEXT_BUYER = "delivery_window_while_orders_are_open"
#: Key of the further table: the whole book, however many come.
ALL_BUYERS = "all_buyers_together"
#: Replications from which on demand has been drawn often enough to be told (own judgement).
MIN_REPLICATIONS = 200
#: The most numbers of buyers that are shown.
MAX_SHOWN = 200
#: Fine enough for the whole numbers of a law: points at which its quantiles are read.
_POINTS = 100_001


def draw_demand(law: Law, least: int, cap: int | None, seed: int, replications: int) -> np.ndarray:
    """How many orders come in each replication, given that at least ``least`` do: int64, rising, shape (replications,).

    The law is rounded to whole numbers. Replication r takes a point, drawn for DEMAND, in the r-th of equal
    strata of the conditional law: so the numbers rise with r, and all that is drawn for other purposes
    is independent of them (stratified sampling; McKay, Beckman & Conover 1979). More than ``cap`` are not taken.
    InputError if fewer than one in a million would reach ``least``.
    """
    points = (np.arange(_POINTS) + 0.5) / _POINTS
    below = float(np.mean(_whole(law, points) < least))
    if below >= 1.0 - 1e-6:
        raise InputError(
            f"demand says that no more than {int(_whole(law, points)[-1])} orders come, and {least} are there "
            "or asked about · write a higher high, or take demand out"
        )
    jitter = np.array([draw_uniform(seed, r, DEMAND, unit_key(0, np.zeros(1)))[0] for r in range(replications)])
    share = (np.arange(replications) + jitter) / replications
    orders = np.maximum(_whole(law, below + share * (1.0 - below)), least)
    return np.asarray(orders if cap is None else np.minimum(orders, cap))


def _whole(law: Law, u: np.ndarray) -> np.ndarray:
    return np.asarray(np.maximum(np.rint(law.quantile(u)), 0), dtype=np.int64)


class NextBuyer(Question[Answer]):
    """For each buyer, by number: the window over however many orders come, given that at least so many do.

    Demand is the scenario's, given that at least the orders ``so_far`` come; a file of orders counts as
    so far, and is kept as it is; those to come follow its mix or ``mix`` (see ``OrderPlan``). Every replication has a number of
    orders of its own, and is run once, with as many.

    Rows: ``number`` of the buyer, ``order`` (id of a file's), ``chance_comes`` (that so many come), ``runs`` (in which they do),
    ``chance_kept_low`` (the least that the chance of keeping the date may be, exact at 95 %), and the columns of
    ``forecast_delivery`` for the order of that number among the runs in which it comes. The further
    table ``ALL_BUYERS`` has one row: ``so_far``, ``least_orders``, ``likely_orders``, ``most_orders`` (10, 50, 90 % of
    runs), the window over all buyers alike, and ``all_kept``, a date that everybody can be told. Raises
    Cancelled when stopped before the end: the runs come in the order of demand.
    """

    def __init__(
        self, scenario: Scenario, policy: PromisePolicy, cap: int | None, so_far: int | None, mix: str | None = None
    ) -> None:
        assert scenario.run.demand is not None
        self.scenario, self.policy, self.cap, self.law = scenario, policy, cap, scenario.run.demand
        self.plan = OrderPlan(scenario, mix)
        book, taken = self.plan.book, self.plan.taken
        if so_far is None:
            so_far = taken
        elif isinstance(so_far, bool) or not isinstance(so_far, int | np.integer) or so_far < 0:
            raise InputError(f"so_far = {so_far!r} is not a number of orders · write a whole number from 0")
        elif book is not None and so_far != taken:
            raise InputError(f"so_far = {so_far} · the file of orders has {taken} · leave it out")
        if cap is not None and so_far > cap:
            raise InputError(f"so_far = {so_far} is more than the cap of {cap} · raise the cap")
        self.so_far = so_far

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario with as many orders as are likely; each run has a number of its own."""
        return {"likely": self.scenario}

    @property
    def usual(self) -> int:
        """Replications of all numbers of orders together."""
        return USUAL

    @property
    def fewest(self) -> int:
        """Replications that tell the chances, and what each adds to demand."""
        return max(self.policy.fewest, MIN_REPLICATIONS)

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the chances."""
        self.policy.need(replications)

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        plan, policy, cap = self.plan, self.policy, self.cap
        replications, seed = execution.replications, execution.seed
        assert replications is not None
        demand = draw_demand(self.law, max(1, self.so_far), cap, seed, replications)
        outcomes = _run(plan, demand, execution)
        days, arrivals = _gather(outcomes, demand, seed)
        close = outcomes[-1].queue.close
        rows = self._rows(outcomes, days, arrivals, demand)
        whole = {"so_far": self.so_far, **_all_buyers(days, demand, policy, close)}
        yield Answer(
            key=NEXT_BUYER,
            title=find_table(NEXT_BUYER).title,
            rows=pd.DataFrame(rows),
            sentence=say_next_buyer(
                rows, whole, self.so_far, cap, policy.confidence, policy.service_level, arrivals is not None
            ),
            scenario=self.scenario.title,
            scenario_hash=execution.hash_of(self.scenario),
            version=VERSION,
            seed=seed,
            replications=replications,
            notes=self._notes(arrivals is not None, replications, int(demand.max())),
            tables={ALL_BUYERS: pd.DataFrame([whole])},
        )

    def _rows(
        self, outcomes: list[Outcome], days: np.ndarray, arrivals: np.ndarray | None, demand: np.ndarray
    ) -> list[dict[str, Any]]:
        """A row a buyer, as far as enough runs have one."""
        queue, policy = outcomes[-1].queue, self.policy
        rows = []
        for number in range(1, min(days.shape[1], MAX_SHOWN) + 1):
            comes = demand >= number
            if int(comes.sum()) < policy.fewest:
                break
            row: dict[str, Any] = {
                "number": number,
                "order": queue.orders[number - 1].id if number <= self.plan.taken else "",
                "chance_comes": float(comes.mean()),
                "runs": int(comes.sum()),
            }
            row.update(window_columns(policy.promise(days[comes, number - 1]), queue.close))
            missed = row["runs"] - round(row["chance_kept"] * row["runs"])
            row["chance_kept_low"] = 1 - most_share(missed, row["runs"])
            if arrivals is not None:
                own = arrivals[comes, number - 1]
                row.update(arrival_columns(own, policy.promise(own).day, policy, queue.close))
                del row["arrive_all"]
            rows.append(row)
        return rows

    def _notes(self, transit: bool, replications: int, most: int) -> tuple[str, ...]:
        notes: tuple[str, ...] = (
            "Demand is drawn anew in every run, given that the orders so far have come; for buyer number k only runs "
            "count in which k orders come.",
            *self.plan.notes(most),
            *list_notes(transit, replications, self.scenario),
        )
        if self.plan.book is None and self.so_far == 0 and self.scenario.run.orders is not None:
            notes = (
                "The number of orders in the file is taken for a plan: nobody has ordered yet, unless so_far says so.",
                *notes,
            )
        if self.policy.recalibration is not None:
            notes = (self.policy.recalibration.say(self.policy.service_level), *notes)
        return notes


def _run(plan: OrderPlan, demand: np.ndarray, execution: Execution) -> list[Outcome]:
    """The runs, each with as many orders as come in it; those in a row that can be shared as one outcome."""
    numbers, place = np.unique(demand, return_inverse=True)
    names = list(dict.fromkeys(plan.name(int(n)) for n in numbers))
    made = np.array([names.index(plan.name(int(n))) for n in numbers])[place]
    cuts = np.flatnonzero(np.diff(made)) + 1
    scenarios, wanted = {}, {}
    for block in np.split(np.arange(demand.size), cuts):
        orders = int(demand[block[-1]])
        scenarios[f"{orders} orders"] = plan.change(orders)
        wanted[f"{orders} orders"] = block
    outcomes = run_known(scenarios, wanted, execution)
    done = [outcomes[name].only(block) for name, block in wanted.items()]
    if any(outcome.replications.size < wanted[name].size for name, outcome in zip(wanted, done, strict=True)):
        raise Cancelled("stopped before all numbers of orders were run, so nothing can be said yet")
    return done


def _gather(outcomes: list[Outcome], demand: np.ndarray, seed: int) -> tuple[np.ndarray, np.ndarray | None]:
    """Ship days, and days of arrival where there is transit: int64, shape (replications, most orders); 0 beyond those that come."""
    days = np.zeros((demand.size, int(demand.max())), dtype=np.int64)
    arrivals = np.zeros_like(days)
    known = False
    for outcome in outcomes:
        n = outcome.order_days.shape[1]
        days[outcome.replications, :n] = outcome.order_days
        arrived = arrivals_of(outcome, seed, outcome.order_days)
        if arrived is not None:
            known = True
            arrivals[outcome.replications, :n] = arrived
    return days, arrivals if known else None


def _all_buyers(days: np.ndarray, demand: np.ndarray, policy: PromisePolicy, close: dt.date) -> dict[str, Any]:
    """The whole book: how many come, the window over all buyers alike, and a date that all can be told."""
    comes = np.arange(days.shape[1]) < demand[:, None]
    everybody = policy.promise(days[comes])
    last = policy.promise(np.where(comes, days, 0).max(axis=1))
    return {
        "least_orders": int(lower_quantile(demand, 0.1)),
        "likely_orders": int(quantile(demand, 0.5)),
        "most_orders": int(quantile(demand, 0.9)),
        "ship_from_day": everybody.first,
        "ship_from": date_of(close, everybody.first),
        "ship_to_day": everybody.last,
        "ship_to": date_of(close, everybody.last),
        "window_chance": everybody.inside,
        "all_kept_day": last.day,
        "all_kept": date_of(close, last.day),
        "all_kept_chance": last.chance,
    }
