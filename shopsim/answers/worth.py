"""What is left: the cost of a piece, what is left for an hour worked, orders needed to break even, and cash by week."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, NOW, put_interval, run_alternatives, spread_points
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.cash_by_week import CASH, tabulate_cash
from shopsim.answers.growth import Improvement, build_alternatives
from shopsim.answers.levers import BATCH, list_levers
from shopsim.answers.one_more import list_more
from shopsim.answers.order_mix import OrderPlan
from shopsim.answers.question import Question, ask
from shopsim.answers.worth_words import list_worth_notes, say_worth
from shopsim.columns import UNSEEN, estimate_keys
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.limits import MAX_TYPED_COUNTS
from shopsim.say import say_plain
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.intervals import Interval, paired_difference
from shopsim.study.order_queue import OrderQueue
from shopsim.study.results import Study
from shopsim.study.run_cash import follow_cash
from shopsim.study.run_money import COSTS, RunMoney, find_paid_share, price_runs

#: Key of the answer, and of its further tables.
WORTH = "what_is_left"
COST, CHANGES = "cost_of_a_piece", "what_would_change_it"
USUAL = 400
#: Numbers of orders that are tried where none are named, and how far they go beyond those of the file.
MOST_COUNTS, REACH = 16, 2
#: What the price is tried at beside today's, as shares of it.
PRICES = (Decimal("0.90"), Decimal("1.10"))
_HUNDRED = 100.0


@dataclass(frozen=True)
class Changed:
    """Something that is tried: ``what`` in words, the ``thing`` it is, the money of its runs, and the price of it in cents."""

    what: str
    thing: str
    money: RunMoney
    price: int | None = 0


class Worth(Question[Answer]):
    """What is left of the run; see ``find_worth``. InputError where a design has no price, or ``orders`` are no numbers of them."""

    def __init__(self, scenario: Scenario, orders: Sequence[int] | None = None) -> None:
        made = {line.design for line in scenario.lines}
        bare = [design.name for design in scenario.all_designs if design.price is None and design.name in made]
        if bare:
            raise InputError(
                f'the file does not say what a piece of "{bare[0]}" is sold for · add price = 480 to its design, for instance'
            )
        self.scenario = scenario
        self.plan = OrderPlan(scenario) if len(scenario.lines) == 1 else None
        if orders is not None and self.plan is None:
            raise InputError(
                "the run has several lines, so a number of orders does not say of which design · leave it out"
            )
        self.now = len(OrderQueue(scenario).orders)
        self.asked = orders is not None
        self.counts = self._read_counts(orders)
        work = build_worklist(scenario)
        self.changes = [lever for lever in list_levers(scenario) if lever.thing == BATCH]
        self.changes += [more for more in list_more(scenario, work) if more.thing in ("clamps", "hours")]
        self._built, self.why_not = build_alternatives(scenario, self.changes)

    def _read_counts(self, orders: Sequence[int] | None) -> list[int]:
        if self.plan is None:
            return []
        if orders is not None:
            if len(set(orders)) > MAX_TYPED_COUNTS or any(isinstance(n, bool) or n < 1 for n in orders):
                raise InputError(f"orders are not numbers of orders · write up to {MAX_TYPED_COUNTS}, like 12,16,18")
            return sorted({*orders, self.now})
        step = max(1, math.ceil(REACH * self.now / MOST_COUNTS))
        near = {self.now + n for n in (-1, 0, 1)}
        return sorted(n for n in {*range(step, REACH * self.now + 1, step), *near} if n >= 1)

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today, each number of orders, other batch sizes, more clamps and longer hours."""
        counted = {} if self.plan is None else self.plan.alternatives(self.counts)
        return {NOW: self.scenario, **counted, **self._built}

    @property
    def usual(self) -> int:
        """Replications of each."""
        return USUAL

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        alternatives = self.alternatives
        meter = Meter(execution.on_progress, (execution.replications or USUAL) * len(alternatives))
        study = run_alternatives(alternatives, meter.stage(execution))
        paid = find_paid_share(self.scenario, execution)
        counts = self.counts
        between = self._between(study, counts, paid) if study.complete and not self.asked else []
        if between:
            assert self.plan is not None
            counts = sorted({*counts, *between})
            study = run_alternatives({**alternatives, **self.plan.alternatives(counts)}, meter.stage(execution))
        meter.finish()
        yield self.answer(study, paid, counts)

    def _between(self, study: Study, counts: Sequence[int], paid: float) -> list[int]:
        """Numbers of orders between the last that was tried and does not pay and the next, which does; to tell where it turns."""
        wage = self.scenario.money.wage
        found: list[int] = []
        for an_hour in (0.0, *(() if wage is None else (float(wage) * _HUNDRED,))):
            before = 0
            for count, money in self._count_money(study, counts, paid):
                if (money.left - an_hour * money.own_h).mean() >= 0:
                    found += range(before + 1, count) if before in (0, *counts) else ()
                    before = -1
                    continue
                before = count
        return sorted({n for n in found if n not in counts})[:MAX_TYPED_COUNTS]

    def _count_money(self, study: Study, counts: Sequence[int], paid: float) -> list[tuple[int, RunMoney]]:
        by_count: list[tuple[int, RunMoney]] = []
        for count in counts:
            assert self.plan is not None
            outcome = study.outcomes[NOW if count == self.now else self.plan.name(count)]
            scenario = self.scenario if count == self.now else self.plan.change(count)
            by_count.append((count, price_runs(scenario, outcome, paid)))
        return by_count

    def answer(self, study: Study, paid: float, counts: Sequence[int]) -> Answer:
        """Table, further tables and sentence."""
        now = price_runs(self.scenario, study.outcomes[NOW], paid)
        by_count = self._count_money(study, counts, paid)
        if self.plan is None:
            by_count = [(now.orders, now)]
        rows = pd.DataFrame([self._row(count, money) for count, money in by_count])
        changes = self._tabulate_changes(study, now, paid)
        cash = tabulate_cash(follow_cash(self.scenario, study.outcomes[NOW], now))
        tables = {COST: self._costs(now), CHANGES: changes, CASH: cash.weeks}
        sentence = say_worth(now, rows, changes, cash, self.scenario, self.plan is not None)
        notes = list_worth_notes(self.scenario, study.replications, paid, len(changes))
        return build_answer(study, NOW, WORTH, rows, sentence, notes, tables)

    def _row(self, count: int, money: RunMoney) -> dict[str, Any]:
        left, hour = money.left / _HUNDRED, money.left_an_hour / _HUNDRED
        wage = self.scenario.money.wage
        row: dict[str, Any] = {
            "orders": count,
            "is_now": count == self.now,
            "pieces_made": money.pieces,
            "spare": money.pieces - money.ordered,
            "revenue": money.revenue / _HUNDRED,
            "cost_of_all": sum(money.mean_cost(kind) for kind in COSTS) / _HUNDRED,
            "left": (money.revenue - sum(money.mean_cost(kind) for kind in COSTS)) / _HUNDRED,
            **dict(zip(("left_p10", "left_p50", "left_p90"), spread_points(left), strict=True)),
            "own_hours": float(money.own_h.mean()),
            "left_an_hour": float(hour.mean()),
            **dict(zip(("left_an_hour_p10", "left_an_hour_p50", "left_an_hour_p90"), spread_points(hour), strict=True)),
            "spare_cost": money.spare_cents / _HUNDRED,
            "breaks_even": bool(left.mean() >= 0),
        }
        if wage is not None:
            row["wage_chance"] = float((hour >= float(wage)).mean())
            row["pays_wage"] = bool((left - float(wage) * money.own_h).mean() >= 0)
        return row

    def _costs(self, money: RunMoney) -> pd.DataFrame:
        """What a piece costs by kind: of all that are made, and for each that is ordered; hours at the assumed wage stand apart."""
        rows = []
        for kind in COSTS:
            cents = money.mean_cost(kind)
            if cents:
                rows.append(_cost_row(kind, cents, money))
        rows.append(_cost_row("all of it", sum(money.mean_cost(kind) for kind in COSTS), money))
        wage = self.scenario.money.wage
        if wage is not None:
            rows.append(
                _cost_row("own hours at the wage assumed", round(float(wage) * 100 * float(money.own_h.mean())), money)
            )
        return pd.DataFrame(rows)

    def _tabulate_changes(self, study: Study, now: RunMoney, paid: float) -> pd.DataFrame:
        tried = [self._changed(one, study, paid) for one in self.changes if one.label in study.outcomes]
        for share in PRICES:
            priced = _at_price(self.scenario, share)
            tried.append(
                Changed(_say_price(share), "price", price_runs(priced, study.outcomes[NOW], paid))
            )  # fmt: skip
        comparisons = max(1, len(tried))
        rows = []
        for one in tried:
            row: dict[str, Any] = {"what": one.what, "thing": one.thing}
            row["price"] = math.nan if one.price is None else one.price / _HUNDRED
            after = one.money.left - (one.price or 0)
            for name, values, base in (
                ("left_more", after / _HUNDRED, now.left / _HUNDRED),
                ("left_an_hour_more", after / one.money.own_h / _HUNDRED, now.left_an_hour / _HUNDRED),
            ):
                put_interval(row, name, _difference(values, base, comparisons))
            row["is_sure"] = row["left_more_low"] > 0 or row["left_more_high"] < 0
            rows.append(row)
        columns = [
            "what",
            "thing",
            "price",
            *estimate_keys("left_more"),
            *estimate_keys("left_an_hour_more"),
            "is_sure",
        ]
        kinds = dict.fromkeys(columns, "float64") | {"what": "str", "thing": "str", "is_sure": "bool"}
        kinds |= {f"{name}{UNSEEN}": "bool" for name in ("left_more", "left_an_hour_more")}
        return pd.DataFrame(rows, columns=columns).astype(kinds)

    def _changed(self, one: Improvement, study: Study, paid: float) -> Changed:
        money = price_runs(self._built[one.label], study.outcomes[one.label], paid)
        price: int | None = 0
        if one.thing == "clamps":
            price = None if one.price is None else round(one.price * 100)
        return Changed(one.what, one.thing, money, price)


def _difference(values: np.ndarray, base: np.ndarray, comparisons: int) -> Interval:
    """A paired difference; exactly what it is where every run has the same."""
    differences = values - base
    if np.ptp(differences) < 1e-9:
        exact = float(differences.mean())
        return Interval(exact, exact, exact, CONFIDENCE)
    return paired_difference(values, base, CONFIDENCE, comparisons)


def _at_price(scenario: Scenario, share: Decimal) -> Scenario:
    """The scenario at another price of every design; options add what they add. Nothing of it is run again."""

    def priced(design: Any) -> Any:
        price = None if design.price is None else (design.price * share).quantize(Decimal("0.01"))
        return design.model_copy(update={"price": price})

    return scenario.model_copy(
        update={
            "design": None if scenario.design is None else priced(scenario.design),
            "designs": tuple(priced(design) for design in scenario.designs),
        }
    )


def _say_price(share: Decimal) -> str:
    percent = abs(share - 1) * 100
    return f"a price {say_plain(float(percent))} % {'lower' if share < 1 else 'higher'}"


def _cost_row(kind: str, cents: int, money: RunMoney) -> Mapping[str, Any]:
    return {
        "kind": kind,
        "cost": cents / _HUNDRED,
        "cost_a_piece": round(cents / money.pieces) / _HUNDRED,
        "cost_a_piece_ordered": round(cents / money.ordered) / _HUNDRED,
    }


def find_worth(scenario: Scenario, *, orders: Sequence[int] | None = None, **options: Unpack[RunOptions]) -> Answer:
    """What the run leaves in money, over luck, and what would change it. InputError where a design has no price.

    ``orders``: numbers of orders to try beside those of the file, default some sixteen up to twice as many. ``options``: see
    ``RunOptions``; 400 replications are usual.

    Rows, one for each number of orders: ``orders``, ``is_now``, ``pieces_made``, ``spare``, ``revenue`` of what is ordered,
    ``cost_of_all`` (mean), ``left`` (mean) with its points of 10, 50 and 90 %, ``own_hours`` (mean, of those who are not paid),
    ``left_an_hour`` (mean over runs of what is left for each of these hours) with its points, ``spare_cost`` (wood and goods in
    the spares), ``breaks_even`` (nothing is paid for hours); with a wage assumed ``wage_chance`` (share of runs that leave it for
    each hour) and ``pays_wage`` (in the mean). Money is in the currency of the file; ``left`` and costs are rounded to its cents.

    Further tables: ``COST`` by kind, ``CHANGES`` (batch sizes, clamps less their price, an hour a week, the price; paired, all
    intervals of a column together at 95 %) and ``CASH`` by week. Spares count as sold for nothing.
    """
    return ask(Worth(scenario, orders), Execution.of(options))


__all__ = ["CASH", "CHANGES", "COST", "WORTH", "Worth", "find_worth"]
