"""The table of more clamps: one row for each number of clamps, and other thing that was tried."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from shopsim.answers.alternatives import compare, pair_values, paired_mean, put_interval
from shopsim.answers.break_even import BreakEven
from shopsim.answers.growth import Improvement
from shopsim.answers.levers import JUDGED
from shopsim.scenario.model import Shop
from shopsim.study.intervals import Interval
from shopsim.study.results import Study

#: A step counts as worse when it is later by more than so many standard errors.
WORSE_SE = 3.0
#: Columns of the table.
COLUMNS = (
    "thing", "kind", "under", "owned", "added", "step",
    "average_ship_day", "average_saved_days", "average_saved_days_low", "average_saved_days_high",
    "average_saved_days_unseen",
    "last_ship_day", "last_saved_days", "last_saved_days_low", "last_saved_days_high", "last_saved_days_unseen",
    "best_so_far_days", "step_saved_days", "step_saved_days_low", "step_saved_days_high", "step_saved_days_unseen",
    "gain_a_clamp_days",
    "cost", "cost_a_day", "days_to_pay",
    "beyond", "gain_days", "gain_days_low", "gain_days_high", "gain_days_unseen", "gain_to_pay_days",
    "pays", "may_pay", "may_be_best", "is_worse", "replications", "remark",
)  # fmt: skip

Row = dict[str, Any]


def blank_row(thing: str, kind: str, under: str) -> Row:
    """A row with nothing in it yet."""
    row: Row = dict.fromkeys(COLUMNS, math.nan)
    row.update(thing=thing, kind=kind, under=under, added=0, owned=0, step=0, replications=0)
    for name in ("average_saved_days", "last_saved_days", "step_saved_days", "gain_days"):
        row[f"{name}_unseen"] = False
    row.update(beyond=0, pays=False, may_pay=False, may_be_best=False, is_worse=False, remark="")
    return row


def fill_row(study: Study, row: Row, name: str, base: str, comparisons: int) -> Interval:
    """Put the ship days of an alternative into a row, and the days saved against ``base``; gives those of the average."""
    row["replications"] = study.outcomes[name].replications.size
    saved = Interval(math.nan, math.nan, math.nan, math.nan)
    for measure, short in (("last_ship_day", "last"), (JUDGED, "average")):
        saved = compare(study, base, name, measure, comparisons)
        row[measure] = paired_mean(study, base, measure) - saved.value
        put_interval(row, f"{short}_saved_days", saved)
    return saved


def growth_row(
    study: Study, growth: Improvement, shop: Shop, under: str, base: str, suffix: str, comparisons: int, why_not: str
) -> Row:
    """The row of something more, against ``base``; ``under``: what costs nothing and comes first, "" as the shop is; ``why_not``: the reason where it cannot be run."""
    row = blank_row(growth.thing, growth.kind, under)
    row["added"], row["step"], row["owned"] = growth.added, growth.step, count_owned(growth, shop)
    row["cost"] = growth.price if growth.price is not None else math.nan
    if why_not:
        row["remark"] = f"cannot be run: {why_not}"
        return row
    saved = fill_row(study, row, growth.label + suffix, base, comparisons)
    shown = round(saved.value, 1)  # as it is printed, so that price, days and price a day agree
    if growth.price is not None and saved.low > 0 and shown > 0:
        row["cost_a_day"] = growth.price / shown
    return row


def count_owned(growth: Improvement, shop: Shop) -> int:
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
    grown: Sequence[Improvement],
    shop: Shop,
    worth: BreakEven,
    *,
    under: str,
    base: str,
    suffix: str,
    survivors: Collection[str],
    why_not: Mapping[str, str],
) -> list[Row]:
    """One row for each step of each kind: savings as run, the best so far, and where the next step stops paying.

    Savings are as they were run. The best so far never falls, as clamps may stay on the wall. A step is judged against
    the last one that pays, or today's clamps: it pays if even the low end of what it saves beyond that is what it has to
    save beyond that; it may pay if only the high end is, and some run shows a saving at all. ``survivors``: alternatives
    that may be the best.
    """
    rows = []
    for kind in dict.fromkeys(growth.kind for growth in grown):
        before, best, added = base, 0.0, 0
        paid, paid_name = blank_row("clamps", kind, under), base
        paid["days_to_pay"] = 0.0
        for growth in (growth for growth in grown if growth.kind == kind):
            reason = why_not.get(growth.label, "")
            row = growth_row(study, growth, shop, under, base, suffix, len(grown), reason)
            rows.append(row)
            row["days_to_pay"] = worth.days_to_pay(growth.added, growth.price)
            row["best_so_far_days"], row["gain_a_clamp_days"] = best, 0.0
            if reason:
                continue
            name = growth.label + suffix
            put_interval(row, "step_saved_days", compare(study, before, name, JUDGED, len(grown)))
            row["best_so_far_days"] = max(best, row["average_saved_days"])
            row["gain_a_clamp_days"] = (row["best_so_far_days"] - best) / (growth.added - added)
            row["may_be_best"] = name in survivors
            if is_surely_later(study, name, before):
                row["remark"] = "later than with fewer: more clamps can upset the order of work"
                row["is_worse"] = True
            judge_step(row, paid, compare(study, paid_name, name, JUDGED, len(grown)))
            if row["pays"]:
                paid, paid_name = row, name
            before, best, added = name, row["best_so_far_days"], growth.added
    return rows


def judge_step(row: Row, paid: Row, gain: Interval) -> None:
    """Whether a step pays, or may: ``gain`` is what it saves beyond ``paid``, the last step that does (none: nothing added)."""
    needed = row["days_to_pay"] - paid["days_to_pay"]
    put_interval(row, "gain_days", gain)
    row["beyond"], row["gain_to_pay_days"] = paid["added"], needed
    row["pays"] = gain.low > 0 and gain.low >= needed - 1e-9
    row["may_pay"] = not row["pays"] and not gain.unseen and gain.high > 0 and gain.high >= needed - 1e-9


def is_unseen(row: Row) -> bool:
    """Whether no run showed a difference of the average or the last order, though another might."""
    return any(row[f"{name}_unseen"] and row[f"{name}_low"] < 0 for name in ("average_saved_days", "last_saved_days"))


def is_surely_later(study: Study, name: str, before: str) -> bool:
    """Whether the average ship day is later than before by more than WORSE_SE standard errors, on the same luck."""
    values, earlier = pair_values(study, name, before, JUDGED)
    lost = values - earlier
    if lost.size < 2:
        return False
    error = float(lost.std(ddof=1)) / math.sqrt(lost.size)
    return float(lost.mean()) > max(WORSE_SE * error, 1e-9)
