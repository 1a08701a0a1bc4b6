"""Time in the carrier's hands, drawn apart from the making."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from shopsim.engine.keyed import TRANSIT, draw_uniform, stable_key, unit_key
from shopsim.laws import Law
from shopsim.scenario.model import Scenario
from shopsim.study.order_queue import QueuedOrder
from shopsim.units import MINUTES_PER_DAY


def law_for(scenario: Scenario, destination: str) -> Law | None:
    """The transit law of a destination; of one that the file does not name, the slowest, to be safe."""
    transit = scenario.shipping.transit
    if not transit:
        return None
    named = dict(transit)
    if destination in named:
        return named[destination]
    if "" in named:
        return named[""]
    return max(named.values(), key=lambda law: law.largest)


def arrival_days(
    scenario: Scenario,
    orders: Sequence[QueuedOrder],
    order_days: np.ndarray,
    close: dt.date,
    seed: int,
    replications: np.ndarray,
) -> np.ndarray | None:
    """The day each order reaches its buyer, int64, shape (replications, orders), days from ``close``.

    None if the file says nothing of transit. Transit is in business days (Monday to Friday),
    as carriers quote it, rounded up to whole ones and counted from the day after shipping
    (common practice); drawn for each order, keyed by its place in the queue.
    """
    laws = [law_for(scenario, order.destination) for order in orders]
    if any(law is None for law in laws):
        return None
    key = unit_key(stable_key("transit"), np.arange(len(orders)))
    uniform = np.array([draw_uniform(seed, int(replication), TRANSIT, key) for replication in replications])
    uniform = uniform.reshape(len(replications), len(orders))
    transit = np.empty(order_days.shape, dtype=np.int64)
    for column, law in enumerate(laws):
        assert law is not None
        minutes = law.quantile(uniform[:, column])
        transit[:, column] = np.ceil(np.round(minutes / MINUTES_PER_DAY, 9)).astype(np.int64)
    origin = np.datetime64(close, "D")
    shipped = origin + order_days.astype("timedelta64[D]")
    arrived = np.busday_offset(shipped, transit, roll="backward")
    return np.asarray((np.maximum(arrived, shipped) - origin).astype(np.int64))
