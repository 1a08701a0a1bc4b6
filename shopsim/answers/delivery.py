"""When each order ships: the window, the date to promise, and the chance that it is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.delivery_words import TOGETHER, WINDOWS, list_notes, list_together, say_late, say_orders, say_spare
from shopsim.answers.next_buyer import NextBuyer
from shopsim.answers.order_counts import OrderCounts
from shopsim.answers.order_mix import OrderPlan, say_plain
from shopsim.answers.promise_policy import (
    KEPT,
    WINDOW,
    PromisePolicy,
    arrival_columns,
    arrivals_of,
    check_orders,
    date_of,
    window_columns,
)
from shopsim.answers.promise_question import PromiseQuestion
from shopsim.answers.promise_sheet import SHEET, build_sheet
from shopsim.answers.question import Question, ask
from shopsim.errors import InputError
from shopsim.scenario.model import Scenario
from shopsim.scenario.values import OrderBook
from shopsim.study.execution import Execution, RunOptions
from shopsim.study.results import Study


def forecast_delivery(
    scenario: Scenario,
    orders: int | Iterable[int] | None = None,
    confidence: float = WINDOW,
    *,
    service_level: float = KEPT,
    ship_by: dt.date | None = None,
    cap: int | None = None,
    so_far: int | None = None,
    mix: str | None = None,
    **options: Unpack[RunOptions],
) -> Answer:
    """When each order ships, what to promise, and with what chance it is kept; before orders close, that for what may come.

    ``orders``: None for the orders of the scenario, a number for so many instead; several
    numbers (a range, a list) for one row a number. Where the scenario states ``demand`` and neither
    ``orders`` nor ``ship_by`` is given, the answer is the window for each buyer over that uncertainty, of whom
    ``so_far`` have ordered (default: those of a file of orders, else none). ``ship_by``: a date; how many
    orders may be taken so that all ship by it. ``cap``: most orders taken, default the scenario's. Orders of a file that are
    in keep their quantity and options, and those to come follow its mix, or ``mix``: "6 walnut, 4 plain" (see ``OrderPlan``).
    ``confidence``: of the windows; ``service_level``: the chance with which a promised date is to be kept; both in 0..1.
    ``replications``: default 1,537, which tell a chance of 80 % to within 2 in a hundred, and fewer for many
    numbers of orders. Further ``options``: see ``RunOptions``.

    Rows for the orders of a run, in the order in which they are served: ``position``, ``order``,
    ``design``, ``quantity``, ``date``, ``destination``, ``option``, ``batch`` (numbers of the batches its pieces are cut
    into); ``expected_day`` and ``expected``, by which half of the runs have shipped it; ``ship_from_day`` and
    ``ship_from`` to ``ship_to_day`` and ``ship_to``, the window at the confidence asked, and
    ``window_chance``; ``promise_day`` and ``promise``, the date that is kept with the chance ``service_level``,
    ``chance_kept`` (share of replications at or before that day), ``promise_low`` to ``promise_high`` (the
    date is known no better than that, 95 %; empty on a side that so few replications do not bound); ``lead_days`` to
    the promise, from the day ``since``; ``all_kept_day`` and ``all_kept``: dates
    that are all kept together with the chance ``service_level``, and ``chance_kept_then`` of each. Where a buyer was
    told a date also ``told``, ``told_chance`` (share of replications at or before it), ``late``: it is passed in
    half of them or more, and the date to promise is later. Where orders are counted on that have not come, ``to_come``. Where the file has transit also ``arrive_from``, ``arrive_to``, ``arrive_promise``,
    ``arrive_chance``, ``arrive_all``. Days count from the day orders close; dates are ISO 8601 texts. The
    further table ``SHEET`` is for printing, spare pieces included.

    Rows for numbers of orders: see ``OrderCounts``; for buyers to come: see ``NextBuyer``.

    Raises InputError for bad arguments (also when the replications are too few for the
    chances), ScenarioError for a number of orders that cannot be made, Cancelled if stopped
    too soon to say anything.
    """
    question = delivery_question(
        scenario, orders, confidence, service_level=service_level, ship_by=ship_by, cap=cap, so_far=so_far, mix=mix
    )  # fmt: skip
    return ask(question, Execution.of(options))


def delivery_question(
    scenario: Scenario,
    orders: int | Iterable[int] | None = None,
    confidence: float = WINDOW,
    *,
    service_level: float = KEPT,
    ship_by: dt.date | None = None,
    cap: int | None = None,
    so_far: int | None = None,
    mix: str | None = None,
) -> Question[Answer]:
    """The question of ``forecast_delivery``: about the orders of the run, about numbers of orders, or about the next buyer."""
    policy = PromisePolicy.of(scenario, confidence, service_level)
    own_cap = cap
    cap = _check_cap(scenario, cap)
    if orders is None and ship_by is None and scenario.run.demand is not None:
        return NextBuyer(scenario, policy, cap, so_far, mix)
    if so_far is not None:
        raise InputError(
            "so_far is of use only where the scenario states demand · leave it out, or add run.demand"
            if scenario.run.demand is None
            else "so_far is of use only for the next buyer · leave it out, or leave out orders and keep"
        )
    if orders is None and ship_by is None:
        for name, value in (("cap", own_cap), ("mix", mix)):
            if value is not None:
                raise InputError(
                    f"{name} is of use only for other numbers of orders · leave it out, or ask for orders or keep"
                )
    if ship_by is not None or (orders is not None and not isinstance(orders, int | np.integer)):
        counts = _check_counts(orders)
        if mix is not None and ship_by is None and counts is not None:
            _need_to_come(scenario, mix, counts[-1])
        return OrderCounts(scenario, policy, counts, ship_by, cap, mix)
    if orders is None:
        return OrdersOfRun(scenario, policy)
    count = check_orders(orders)
    if cap is not None and count > cap:
        raise InputError(f"{count} orders are more than the cap of {cap} · ask for fewer, or raise the cap")
    if mix is not None:
        _need_to_come(scenario, mix, count)
    plan = OrderPlan(scenario, mix)
    return OrdersOfRun(plan.change(count), policy, plan.notes(count))


def run_question(scenario: Scenario, confidence: float = WINDOW, service_level: float = KEPT) -> Question[Answer]:
    """The question about the orders of the run as it stands, also where the scenario states demand."""
    return OrdersOfRun(scenario, PromisePolicy.of(scenario, confidence, service_level))


class OrdersOfRun(PromiseQuestion):
    """When each order of a scenario ships; see ``forecast_delivery``. ``notes``: what the orders that are counted on are."""

    def __init__(self, scenario: Scenario, policy: PromisePolicy, notes: tuple[str, ...] = ()) -> None:
        super().__init__(scenario, policy)
        self.notes = notes

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        study = run_alternatives(self.alternatives, execution)
        answer = answer_delivery(study, self.policy.confidence, service_level=self.policy.service_level)
        yield replace(answer, notes=tuple(dict.fromkeys((*self.notes, *answer.notes))))


def _need_to_come(scenario: Scenario, mix: str, most: int) -> None:
    """InputError where a mix is stated and no order is to come that could follow it."""
    taken = OrderPlan(scenario, mix).taken
    if most <= taken:
        raise InputError(
            f"mix · {taken} orders are in already, so that of {most} none is to come · leave the mix out, or ask for more"
        )


def answer_delivery(study: Study, confidence: float = WINDOW, name: str = NOW, service_level: float = KEPT) -> Answer:
    """The answer for the orders of one alternative of a study that was run already."""
    outcome = study.outcomes[name]
    policy = PromisePolicy.of(outcome.scenario, confidence, service_level)
    policy.need_study(study)
    queue, days = outcome.queue, outcome.order_days
    joint, joint_share = policy.joint(days)
    arrivals = arrivals_of(outcome, study.seed, days)
    arrive_joint = None if arrivals is None else policy.joint(arrivals)[0]
    promises = [policy.promise(days[:, n]) for n in range(days.shape[1])]
    each = np.array([promise.day for promise in promises])
    all_if_each = float(np.mean((days <= each).all(axis=1)))
    told = any(order.promised for order in queue.orders)
    counted_on = any(order.to_come for order in queue.orders)
    rows = []
    for n, order in enumerate(queue.orders):
        row: dict[str, Any] = {
            "position": order.position, "order": order.id, "design": order.design, "quantity": order.quantity,
            "date": order.date.isoformat() if order.date else "", "destination": order.destination,
            "option": order.option, "batch": ", ".join(str(batch) for batch in order.batches),
        }  # fmt: skip
        row.update(window_columns(promises[n], queue.close))
        row["lead_days"] = promises[n].day - int(queue.since_days[n])
        row["since"] = order.since.isoformat()
        row["all_kept_day"], row["all_kept"] = int(joint[n]), date_of(queue.close, joint[n])
        row["chance_kept_then"] = float(np.mean(days[:, n] <= joint[n]))
        if counted_on:
            row["to_come"] = order.to_come
        if told:
            row.update(_told_columns(order.promised, days[:, n], queue.close, promises[n].day))
        if arrivals is not None and arrive_joint is not None:
            row.update(arrival_columns(arrivals[:, n], int(arrive_joint[n]), policy, queue.close))
        rows.append(row)
    together = list_together(rows, all_if_each, joint_share)
    parts = [
        say_orders(rows, together, policy.confidence, policy.service_level, arrivals is not None),
        say_spare(sum(spare.quantity for spare in queue.spare)),
        say_late(rows),
    ]
    plain = [
        say_plain(design)
        for design in outcome.scenario.all_designs
        for line in outcome.scenario.lines
        if line.design == design.name and design.options and not isinstance(line.orders, OrderBook)
    ]
    notes = (
        *dict.fromkeys(plain),
        *list_notes(arrivals is not None, study.replications, outcome.scenario, len(rows) > 1),
    )
    if policy.recalibration is not None:
        notes = (policy.recalibration.say(policy.service_level), *notes)
    table = pd.DataFrame(rows)
    return build_answer(
        study, name, WINDOWS, table, " ".join(part for part in parts if part), notes,
        {TOGETHER: pd.DataFrame(together), SHEET: build_sheet(table, queue.spare)},
    )  # fmt: skip


def _told_columns(told: dt.date | None, days: np.ndarray, close: dt.date, promise_day: int) -> dict[str, Any]:
    """What the buyer was told, and how that stands; late only where the date to promise now is a later one."""
    if told is None:
        return {"told": "", "told_chance": float("nan"), "late": False}
    told_day = (told - close).days
    chance = float(np.mean(days <= told_day))
    return {"told": told.isoformat(), "told_chance": chance, "late": chance < 0.5 and promise_day > told_day}


def _check_cap(scenario: Scenario, cap: int | None) -> int | None:
    if cap is None:
        return scenario.run.cap
    cap = check_orders(cap)
    own = scenario.lines[0].orders
    taken = len(own.orders) if isinstance(own, OrderBook) else 0
    if taken > cap:
        raise InputError(
            f"{taken} orders are in the file, more than the cap of {cap} · raise the cap, or take orders out"
        )
    return cap


def _check_counts(orders: Any) -> list[int] | None:
    if orders is None:
        return None
    if isinstance(orders, int | np.integer) and not isinstance(orders, bool):
        return [check_orders(orders)]
    if not isinstance(orders, Iterable):
        raise InputError(f"{orders!r} is not a number of orders · write a whole number, or a list of them")
    counts = sorted({check_orders(count) for count in orders})
    if not counts:
        raise InputError("no number of orders is given · name at least one, like 12")
    return counts
