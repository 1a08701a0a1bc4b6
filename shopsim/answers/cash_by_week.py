"""Cash by week over luck, its lowest point and the day of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import spread_points
from shopsim.study.run_cash import Cash

#: Key of the table.
CASH = "cash_by_week"
_HUNDRED = 100.0


@dataclass(frozen=True)
class CashTable:
    """``weeks``: the table. ``lowest``: cents of the lowest point, at 10, 50 and 90 % over runs; ``lowest_day``: the day on which
    cash is lowest in the mean, with ``mean_lowest`` cents; ``end``: mean cents at the end."""

    weeks: pd.DataFrame
    lowest: tuple[int, int, int]
    lowest_day: dt.date
    mean_lowest: int
    end: int


def tabulate_cash(cash: Cash) -> CashTable:
    """A row a week, from Monday on: mean ``deposits``, ``balances``, ``purchases`` and ``other`` of the week, and what is in hand
    at its end (``in_hand`` the mean, with points of 10, 50 and 90 %; ``lowest`` the mean on its lowest day)."""
    balance = cash.balance
    first_monday = cash.first - dt.timedelta(days=cash.first.weekday())
    offset = (cash.first - first_monday).days
    n_days = balance.shape[1]
    mean = balance.mean(axis=0)
    rows: list[dict[str, Any]] = []
    for week in range((offset + n_days - 1) // 7 + 1):
        since, until = max(0, 7 * week - offset), min(n_days, 7 * (week + 1) - offset)
        row: dict[str, Any] = {"week_of": (first_monday + dt.timedelta(days=7 * week)).isoformat()}
        for kind, flows in cash.flows.items():
            row[kind] = round(float(flows[:, since:until].sum(axis=1).mean())) / _HUNDRED
        at_end = balance[:, until - 1]
        row["cash"] = round(float(at_end.mean())) / _HUNDRED
        points = spread_points(at_end / _HUNDRED)
        row |= dict(zip(("cash_p10", "cash_p50", "cash_p90"), points, strict=True))
        row["cash_lowest"] = round(float(mean[since:until].min())) / _HUNDRED
        rows.append(row)
    lowest = spread_points(balance.min(axis=1).astype(np.float64))
    day = int(mean.argmin())
    return CashTable(
        pd.DataFrame(rows),
        (round(lowest[0]), round(lowest[1]), round(lowest[2])),
        cash.day(day),
        round(float(mean[day])),
        round(float(mean[-1])),
    )
