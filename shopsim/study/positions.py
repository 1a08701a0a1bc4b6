"""How long each order waits, by its place in the queue, for every alternative of a study."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from shopsim.study.results import Study

#: Columns of the table and what they hold.
POSITION_COLUMNS = {
    "batch": "str", "position": "int64", "order": "str", "lead_days": "float64", "lead_days_p10": "float64",
    "lead_days_p50": "float64", "lead_days_p90": "float64",
}  # fmt: skip


def measure_positions(study: Study, labels: Mapping[str, str]) -> pd.DataFrame:
    """Lead time of every order under every alternative named in ``labels``: columns of POSITION_COLUMNS.

    ``labels``: name of an alternative -> what it is called in the column ``batch``; rows follow their
    order, then the queue's. ``lead_days``: mean over replications of the days from when an order
    began to wait to the day it ships; ``_p10``, ``_p50``, ``_p90`` its order statistics at ranks of n + 1
    replications, rounded outward, and the outermost ones where n is too small. Empty without labels.
    """
    tables = []
    for name, label in labels.items():
        outcome = study.outcomes[name]
        orders = outcome.queue.orders
        leads = np.sort(outcome.order_days - outcome.queue.since_days, axis=0)
        n = len(leads)
        low = max(1, math.floor(round((n + 1) * 0.1, 9)))
        middle, high = (min(n, math.ceil(round((n + 1) * share, 9))) for share in (0.5, 0.9))
        tables.append(
            pd.DataFrame(
                {
                    "batch": [label] * len(orders),
                    "position": [order.position for order in orders],
                    "order": [order.id for order in orders],
                    "lead_days": leads.mean(axis=0),
                    "lead_days_p10": leads[low - 1],
                    "lead_days_p50": leads[middle - 1],
                    "lead_days_p90": leads[high - 1],
                }
            )
        )
    if not tables:
        return pd.DataFrame(columns=list(POSITION_COLUMNS)).astype(POSITION_COLUMNS)
    return pd.concat(tables, ignore_index=True).astype(POSITION_COLUMNS)
