"""The table of more clamps: one row for each priority rule, number of clamps, and other thing that was tried."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from shopsim.answers.alternatives import compare, pair_values, put_interval
from shopsim.answers.growth import Growth
from shopsim.answers.worth import Worth
from shopsim.scenario.model import Shop
from shopsim.study.intervals import Interval
from shopsim.study.results import Study

#: A step counts as worse when it is later by more than so many standard errors.
WORSE_SE = 3.0
#: The measure on which clamps are judged: every buyer's day counts the same.
JUDGED = "average_ship_day"
#: Columns of the table.
COLUMNS = (
    "thing", "kind", "priority", "owned", "added", "step",
    "average_ship_day", "average_saved_days", "average_saved_days_low", "average_saved_days_high",
    "average_saved_days_unseen",
    "last_ship_day", "last_saved_days", "last_saved_days_low", "last_saved_days_high", "last_saved_days_unseen",
    "best_so_far_days", "step_saved_days", "step_saved_days_low", "step_saved_days_high", "step_saved_days_unseen",
    "gain_a_clamp_days",
    "price", "price_a_day_saved", "days_to_pay", "pays", "may_be_best", "is_worse", "replications", "remark",
)  # fmt: skip

Row = dict[str, Any]


def blank_row(thing: str, kind: str, order: str) -> Row:
    """A row with nothing in it yet."""
    row: Row = dict.fromkeys(COLUMNS, math.nan)
    row.update(thing=thing, kind=kind, priority=order, added=0, owned=0, step=0, replications=0)
    row.update(
        average_saved_days_unseen=False,
        last_saved_days_unseen=False,
        pays=False,
        may_be_best=False,
        is_worse=False,
        remark="",
    )
    return row


def fill_row(study: Study, row: Row, name: str, base: str, comparisons: int) -> Interval:
    """Put the ship days of an alternative into a row, and the days saved against ``base``; gives those of the average."""
    row["replications"] = study.outcomes[name].replications.size
    saved = Interval(math.nan, math.nan, math.nan, math.nan)
    for measure, short in (("last_ship_day", "last"), (JUDGED, "average")):
        row[measure] = float(study.values(name, measure).mean())
        saved = compare(study, base, name, measure, comparisons)
        put_interval(row, f"{short}_saved_days", saved)
    return saved


def order_row(study: Study, order: str, name: str, base: str, comparisons: int) -> Row:
    """The row of a priority rule, which costs nothing."""
    row = blank_row("priority rule", order, order)
    fill_row(study, row, name, base, comparisons)
    row["price"] = 0.0
    return row


def growth_row(
    study: Study, growth: Growth, shop: Shop, order: str, base: str, suffix: str, comparisons: int, why_not: str
) -> Row:
    """The row of something more, under a priority rule against ``base``; ``why_not``: the reason where it cannot be run."""
    row = blank_row(growth.thing, growth.kind, order)
    row["added"], row["step"], row["owned"] = growth.added, growth.step, count_owned(growth, shop)
    row["price"] = growth.price if growth.price is not None else math.nan
    if why_not:
        row["remark"] = f"cannot be run: {why_not}"
        return row
    saved = fill_row(study, row, growth.label + suffix, base, comparisons)
    if growth.price is not None and saved.low > 0:
        row["price_a_day_saved"] = growth.price / saved.value
    return row


def count_owned(growth: Growth, shop: Shop) -> int:
    """How many of it the shop has today, of all its kinds together."""
    if growth.thing == "clamps":
        return sum(kind.count for kind in shop.clamps if kind.name in growth.parts)
    if growth.thing == "station":
        return next(station.count for station in shop.stations if station.name == growth.kind)
    if growth.thing == "rack":
        return next(rack.spots for rack in shop.racks if rack.name == growth.kind)
    return len(shop.workers)


def build_curve(
    study: Study,
    grown: Sequence[Growth],
    shop: Shop,
    worth: Worth,
    *,
    order: str,
    base: str,
    suffix: str,
    kept: Collection[str],
    why_not: Mapping[str, str],
) -> list[Row]:
    """One row for each step of each kind: savings as run, the best so far, and where the next step stops paying.

    Savings are as they were run. The best so far never falls, as clamps may stay on the wall. A step pays
    if it saves what it has to since the last one that did. ``kept``: alternatives that may be the best.
    """
    rows = []
    for kind in dict.fromkeys(growth.kind for growth in grown):
        before, best, added = base, 0.0, 0
        mine: list[Row] = []
        paid = (0.0, 0.0)  # what the last step that pays saves, and what it had to
        paying = -1
        for growth in (growth for growth in grown if growth.kind == kind):
            reason = why_not.get(growth.label, "")
            row = growth_row(study, growth, shop, order, base, suffix, len(grown), reason)
            mine.append(row)
            row["days_to_pay"] = worth.days_to_pay(growth.added, growth.price)
            row["best_so_far_days"], row["gain_a_clamp_days"] = best, 0.0
            if reason:
                continue
            name = growth.label + suffix
            put_interval(row, "step_saved_days", compare(study, before, name, JUDGED, len(grown)))
            row["best_so_far_days"] = max(best, row["average_saved_days"])
            row["gain_a_clamp_days"] = (row["best_so_far_days"] - best) / (growth.added - added)
            row["may_be_best"] = name in kept
            if is_surely_later(study, name, before):
                row["remark"] = "later than with fewer: more clamps can upset the order of work"
                row["is_worse"] = True
            if row["best_so_far_days"] - paid[0] >= row["days_to_pay"] - paid[1]:
                paid, paying = (row["best_so_far_days"], row["days_to_pay"]), len(mine) - 1
            before, best, added = name, row["best_so_far_days"], growth.added
        for n, row in enumerate(mine):
            row["pays"] = n <= paying
        rows += mine
    return rows


def is_surely_later(study: Study, name: str, before: str) -> bool:
    """Whether the average ship day is later than before by more than WORSE_SE standard errors, on the same luck."""
    values, earlier = pair_values(study, name, before, JUDGED)
    lost = values - earlier
    if lost.size < 2:
        return False
    error = float(lost.std(ddof=1)) / math.sqrt(lost.size)
    return float(lost.mean()) > max(WORSE_SE * error, 1e-9)
