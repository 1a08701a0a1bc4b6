"""Before orders close: what each number of orders would mean for the dates, and how many keep a given one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.delivery_words import list_notes, say_counts, say_keep
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
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.study.results import Outcome, Study

#: Keys: the answer, and its further table.
BY_COUNT, BY_PLACE = "delivery_window_by_number_of_orders", "by_place_in_the_queue"
#: Runs of all numbers of orders together, where nothing is said; and the fewest of each.
TOGETHER, MIN_REPLICATIONS = 8_000, 400
#: The most orders that a search for the last number that keeps a date looks at.
FURTHEST = 1_000
#: Numbers of orders that are shown on each side of the one found.
AROUND = 2


class OrderCounts(Question[Answer]):
    """One row for each number of orders; with ``ship_by``, also how many orders may be taken so that all ship by that day.

    ``counts``: rising; None (only with ``ship_by``) looks for the number, and shows those about it. Numbers of
    orders above ``cap`` are left out. Which orders they are: see ``OrderPlan``. Runs in which as many pieces are made are
    shared, but for designs with options and pieces made as ordered.

    Rows: ``orders``, ``options`` (how many of each, for a design that has some), ``pieces`` that are made, ``spare``; for the
    last order to ship its ``expected_day`` and ``expected`` (the likely last ship date), window, ``promise`` and
    ``chance_kept`` as in ``forecast_delivery``; ``all_chance_each``: the chance that all are kept if each is promised its own
    such date. ``all_kept_day``, ``all_kept``: the latest date if all are to be kept together with the
    chance asked, ``all_kept_chance``. With ``ship_by`` also ``ship_by_chance``: that all ship by that day, and ``keeps``: whether that is
    enough. With transit also the arrival of the last order to ship. The further table ``BY_PLACE`` has the window of
    each order, by its place, for the largest number.
    """

    def __init__(
        self,
        scenario: Scenario,
        policy: PromisePolicy,
        counts: Sequence[int] | None,
        ship_by: dt.date | None = None,
        cap: int | None = None,
        mix: str | None = None,
    ) -> None:
        self.scenario, self.policy, self.ship_by, self.cap = scenario, policy, ship_by, cap
        self.plan = OrderPlan(scenario, mix)
        self.counts = None if counts is None else [count for count in counts if cap is None or count <= cap]
        if self.counts is not None and not self.counts:
            raise InputError(f"no number of orders is left under the cap of {cap} · ask for fewer, or raise the cap")

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The numbers of pieces that are made; those of a search come on the way."""
        return {} if self.counts is None else self.plan.alternatives(self.counts)

    @property
    def usual(self) -> int:
        """Replications of each number of pieces: fewer where there are many."""
        if self.counts is None:
            return USUAL
        made = len({self.plan.name(count) for count in self.counts})
        return max(MIN_REPLICATIONS, min(USUAL, TOGETHER // made))

    @property
    def fewest(self) -> int:
        """Replications that tell the chances."""
        return self.policy.fewest

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the chances."""
        self.policy.need(replications)

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        plan, policy, ship_by, cap = self.plan, self.policy, self.ship_by, self.cap
        table = _Counts(plan, policy, execution)
        counts = self.counts
        if counts is None:
            assert ship_by is not None
            counts = table.search(ship_by, cap or FURTHEST)
        else:
            table.run(counts)
        rows = [table.row(count, ship_by) for count in counts]
        transit = "arrive_promise" in rows[0]
        parts = [say_counts(rows, transit)]
        if ship_by is not None:
            parts.insert(0, say_keep(rows, ship_by, policy.service_level, cap, FURTHEST))
        notes = (*plan.notes(counts[-1]), *list_notes(transit, table.study.replications, plan.scenario))
        if cap is not None:
            notes = (f"No more than {cap} orders are taken.", *notes)
        if policy.recalibration is not None:
            notes = (policy.recalibration.say(policy.service_level), *notes)
        yield build_answer(
            table.study,
            table.study.names[0],
            BY_COUNT,
            pd.DataFrame(rows),
            " ".join(parts),
            notes,
            {BY_PLACE: pd.DataFrame(table.places(counts[-1]))},
        )


class _Counts:
    """The runs of several numbers of orders, those that can be shared run once."""

    def __init__(self, plan: OrderPlan, policy: PromisePolicy, execution: Execution) -> None:
        self.plan, self.policy, self.execution = plan, policy, execution
        self._alternatives: dict[str, Scenario] = {}
        self._study: Study | None = None

    @property
    def study(self) -> Study:
        assert self._study is not None
        return self._study

    def run(self, counts: Iterable[int]) -> None:
        """Run what is not there yet. Cancelled if stopped too soon to say anything."""
        self._alternatives |= self.plan.alternatives(
            count for count in counts if self.plan.name(count) not in self._alternatives
        )
        study = run_alternatives(self._alternatives, self.execution)
        self.policy.need_study(study)
        self._study = study

    def outcome(self, count: int) -> Outcome:
        """The runs of so many orders."""
        return self.study.outcomes[self.plan.name(count)]

    def days(self, count: int) -> np.ndarray:
        """Ship days of so many orders, int64, shape (replications, orders)."""
        return self.outcome(count).order_days[:, :count]

    def chance(self, count: int, ship_by: dt.date) -> float:
        """The chance that so many orders all ship by a day."""
        return float(np.mean(self.days(count).max(axis=1) <= (ship_by - self.outcome(count).queue.close).days))

    def search(self, ship_by: dt.date, most: int) -> list[int]:
        """Numbers of orders about the last one with which all ship by a day surely enough.

        Doubles the orders until they are too many, then halves the gap; so it takes for granted that
        more orders are not sooner, as they hardly ever are.
        """
        step = (self.plan.line.round_up_to or 1) if self.plan.one_each and not self.plan.apart else 1
        good, bad = 0, -(-most // step) + 1  # in steps of orders that are made as one
        tried = 1
        while bad - good > 1:
            count = min(tried * step, most)
            self.run([count])
            first = max(1, (tried - 1) * step + 1)
            if self.chance(first, ship_by) >= self.policy.service_level:
                good = tried
            else:
                bad = tried
            if not self.study.complete:
                raise Cancelled("stopped before the number of orders was found")
            tried = min(2 * good, bad - 1) if bad > -(-most // step) and good else (good + bad) // 2
            tried = max(tried, good + 1)
        top = min(max(good, 1) * step, most)
        bottom = max(1, (max(good, 1) - 1) * step + 1)
        self.run(range(bottom, top + 1))
        enough = [count for count in range(bottom, top + 1) if self.chance(count, ship_by) >= self.policy.service_level]
        last = max(enough, default=0)
        shown = list(range(max(1, last - AROUND), min(last + AROUND, most) + 1))
        self.run(shown)
        return shown

    def row(self, count: int, ship_by: dt.date | None) -> dict[str, Any]:
        """One number of orders."""
        plan, policy, outcome, days = self.plan, self.policy, self.outcome(count), self.days(count)
        close, made = outcome.queue.close, plan.made(count)
        joint, joint_share = policy.joint(days)
        row: dict[str, Any] = {"orders": count}
        if plan.design.options:
            row["options"] = plan.say(count)
        row |= {"pieces": made, "spare": made - plan.pieces(count)}
        row.update(window_columns(policy.promise(days.max(axis=1)), close))
        each = np.array([policy.promise(days[:, n]).day for n in range(count)])
        row["all_chance_each"] = float(np.mean((days <= each).all(axis=1)))
        row["all_kept_day"], row["all_kept"] = int(joint.max()), date_of(close, joint.max())
        row["all_kept_chance"] = joint_share
        if ship_by is not None:
            row["ship_by_chance"] = self.chance(count, ship_by)
            row["keeps"] = row["ship_by_chance"] >= policy.service_level
        arrivals = arrivals_of(outcome, self.study.seed, outcome.order_days)
        if arrivals is not None:
            arrivals = arrivals[:, :count]
            last = count - 1 - days[:, ::-1].argmax(axis=1)  # of several that ship last, the last in the queue
            own = arrivals[np.arange(len(last)), last]
            row.update(arrival_columns(own, int(policy.joint(arrivals)[0].max()), policy, close))
        return row

    def places(self, count: int) -> list[dict[str, Any]]:
        """For so many orders the window of each, by its place in the queue."""
        outcome, days = self.outcome(count), self.days(count)
        queue, joint = outcome.queue, self.policy.joint(days)[0]
        rows = []
        for n, order in enumerate(queue.orders[:count]):
            promise = self.policy.promise(days[:, n])
            rows.append(
                {
                    "position": order.position, "design": order.design, "quantity": order.quantity,
                    "option": order.option, "ship_from": date_of(queue.close, promise.first),
                    "ship_to": date_of(queue.close, promise.last), "promise": date_of(queue.close, promise.day),
                    "chance_kept": promise.chance, "all_kept": date_of(queue.close, joint[n]),
                    "since": order.since.isoformat(),
                }
            )  # fmt: skip
        return rows
