"""Cash day by day over runs: deposits, purchases, balances, and what goes out as time passes; whole cents."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from shopsim.scenario.model import Scenario
from shopsim.study.material_needs import list_needs, to_cents
from shopsim.study.measures import MEASURES
from shopsim.study.results import Outcome
from shopsim.study.run_money import OVERHEAD, PAY, TOOLS, RunMoney, list_payments

#: Kinds of flow, in the order of a table.
DEPOSITS, BALANCES, PURCHASES, OTHER = "deposits", "balances", "purchases", "other"


@dataclass(frozen=True)
class Cash:
    """``first``: the first day; ``flows``: cents of each kind by day, int64, shape (runs, days), out is less than nothing;
    ``in_hand``: cents at the outset."""

    first: dt.date
    flows: dict[str, np.ndarray]
    in_hand: int

    @property
    def balance(self) -> np.ndarray:
        """Cents in hand at the end of each day, shape (runs, days)."""
        return np.asarray(self.in_hand + sum(self.flows.values()).cumsum(axis=1))  # type: ignore[union-attr]

    def day(self, number: int) -> dt.date:
        """The date of a day."""
        return self.first + dt.timedelta(days=number)


def follow_cash(scenario: Scenario, outcome: Outcome, money: RunMoney) -> Cash:
    """The cash of every run; pure.

    A deposit is paid on the day of its order, or when orders close where the file gives none; a balance, and the carrier, on the
    day of shipping; fees with each payment; materials on the day they are ordered, and what is in stock or on the shelf not at
    all; ways of making it on the first day; overhead and pay run evenly from the first day until the last piece is done.
    """
    queue = outcome.queue
    payments = list_payments(scenario)
    runs = outcome.order_days.shape[0]
    purchases = _list_purchases(scenario, queue.close)
    came = [order.date or order.since for order in queue.orders]
    start = scenario.day0
    first = min([*came, *(day for day, _ in purchases), start, queue.close])
    ship = outcome.order_days + (queue.close - first).days
    lasts = np.ceil(outcome.measured[:, MEASURES.index("makespan_days")]).astype(np.int64) + (start - first).days
    n_days = int(max(ship.max(), lasts.max())) + 1
    flows = {kind: np.zeros((runs, n_days), dtype=np.int64) for kind in (DEPOSITS, BALANCES, PURCHASES, OTHER)}
    rows = np.arange(runs)
    for order, (day, payment) in enumerate(zip(came, payments, strict=True)):
        flows[DEPOSITS][:, (day - first).days] += payment.deposit
        flows[OTHER][:, (day - first).days] -= payment.deposit_fee
        np.add.at(flows[BALANCES], (rows, ship[:, order]), payment.balance)
        np.add.at(flows[OTHER], (rows, ship[:, order]), -payment.balance_fee - payment.carrier)
    for day, cents in purchases:
        flows[PURCHASES][:, (day - first).days] -= cents
    begin = (start - first).days
    flows[OTHER][:, begin] -= money.costs[TOOLS]
    passing = money.costs[OVERHEAD] + money.costs[PAY]
    days = np.arange(n_days)
    share = np.clip((days[None, :] + 1 - begin) / np.maximum(1, lasts - begin)[:, None], 0, 1)
    spent = np.rint(passing[:, None] * share).astype(np.int64)
    flows[OTHER] -= np.diff(spent, axis=1, prepend=0)
    return Cash(first, flows, to_cents(scenario.money.in_hand))


def _list_purchases(scenario: Scenario, close: dt.date) -> list[tuple[dt.date, int]]:
    return [
        (need.material.ordered or close, need.cost_cents)
        for need in list_needs(scenario, 0.5)
        if need.cost_cents and not need.material.on_shelf
    ]
