"""The table of what logs teach: what was believed before, and what is believed now."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

import pandas as pd

from shopsim.answers.alternatives import spread_points
from shopsim.answers.hours_per_piece import HOURS
from shopsim.answers.promises import Promise
from shopsim.laws import Z90
from shopsim.scenario.model import Scenario
from shopsim.study.beliefs import believe_bias, believe_days, believe_pace, believe_times
from shopsim.study.results import Study

#: What stands before the name of an operation, where the table is about its typical time.
TYPICAL = "typical time of"

#: The two alternatives of the study behind the answer.
BEFORE, AFTER = "before", "after"


def list_rows(
    scenario: Scenario,
    known: Scenario,
    study: Study,
    windows: tuple[Promise, Promise] | None,
    flags: Sequence[str],
    written: float,
) -> pd.DataFrame:
    """A row each for the window and the hours, for what all share, and for the typical time of every operation.

    ``windows``: of the last order that is forecast, before and after; None where none is.
    """
    rows = [*_window_rows(study, windows, written), *_shared_rows(scenario, known)]
    logged: dict[tuple[str, str], int] = {}
    for cell in known.learned.times:
        for belief in believe_times(known):
            if belief.operation == cell.operation and cell.design in (None, belief.design):
                key = (belief.design, belief.operation)
                logged[key] = logged.get(key, 0) + cell.units
    before = {(belief.design, belief.operation): belief for belief in believe_times(scenario)}
    for belief in believe_times(known):
        key = (belief.design, belief.operation)
        old = before[key]
        remark = "contradicts its guess" if any(flag.startswith(f'"{belief.operation}"') for flag in flags) else ""
        rows.append(
            _row(
                TYPICAL, "min", (old.typical, old.low, old.high), (belief.typical, belief.low, belief.high),
                logged.get(key, 0), belief.operation, belief.design, remark,
            )
        )  # fmt: skip
    return pd.DataFrame(rows)


def _row(
    what: str,
    unit: str,
    before: tuple[float, float, float],
    after: tuple[float, float, float],
    logged: int = 0,
    name: str = "",
    design: str = "",
    remark: str = "",
) -> dict[str, Any]:
    return {
        "what": what, "name": name, "design": design, "unit": unit,
        "before": float(before[0]), "before_low": float(before[1]), "before_high": float(before[2]),
        "after": float(after[0]), "after_low": float(after[1]), "after_high": float(after[2]),
        "logged": logged, "remark": remark,
    }  # fmt: skip


def _window_rows(study: Study, windows: tuple[Promise, Promise] | None, written: float) -> list[dict[str, Any]]:
    expected = []
    for name in (BEFORE, AFTER):  # the mean, as hours are given everywhere, with 10 % and 90 %
        values = study.values(name, HOURS)
        low, _, high = spread_points(values)
        expected.append((float(values.mean()), low, high))
    rows = [
        _row("hours a piece, as written", "h", (written,) * 3, (written,) * 3),
        _row("hours a piece, expected", "h", expected[0], expected[1]),
    ]
    if windows is None:
        return rows
    before, after = windows
    widths = [promise.last - promise.first for promise in windows]
    first, last = window_dates(study, after)
    return [
        _row(
            "last order ships",
            "day",
            (before.expected, before.first, before.last),
            (after.expected, after.first, after.last),
            remark=f"now {first} to {last}",
        ),
        _row("window", "days", (widths[0],) * 3, (widths[1],) * 3),
        *rows,
    ]


def window_dates(study: Study, after: Promise) -> tuple[dt.date, dt.date]:
    """First and last day of the window of the last order, as it is now known."""
    close = study.outcomes[AFTER].queue.close
    return close + dt.timedelta(days=after.first), close + dt.timedelta(days=after.last)


def _shared_rows(scenario: Scenario, known: Scenario) -> list[dict[str, Any]]:
    units = sum(cell.units for cell in known.learned.times)
    rows = [
        _row(
            "all guesses", "times as long", span_ratio(*believe_bias(scenario)), span_ratio(*believe_bias(known)), units
        )
    ]
    before = {run: span_ratio(mean, sd) for run, mean, sd in believe_pace(scenario)}
    fresh = span_ratio(0.0, known.luck.pace_spread)
    for run, mean, sd in believe_pace(known):
        n = sum(cell.units for cell in known.learned.times if cell.run == run)
        rows.append(_row("pace of", "times as long", before.get(run, fresh), span_ratio(mean, sd), n, run))
    if known.learned.days:
        old, new = believe_days(scenario), believe_days(known)
        days = sum(log.days for log in known.learned.days)
        shares = sum(log.shares for log in known.learned.days)
        rows.append(_row("open share", "share", old.open_share, new.open_share, shares))
        rows.append(_row("lost days", "share", old.lost, new.lost, days))
    return rows


def span_ratio(mean: float, sd: float) -> tuple[float, float, float]:
    """A ratio from its logarithm: typical, and the ends of its 80 % interval."""
    return math.exp(mean), math.exp(mean - Z90 * sd), math.exp(mean + Z90 * sd)
