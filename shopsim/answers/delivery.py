"""When each order ships: the window, the date to promise, and the chance that it is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from concurrent.futures import Executor
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.delivery_words import list_notes, say_counts, say_orders
from shopsim.answers.promises import Promise, find_joint_days, find_promise
from shopsim.answers.transit import arrival_days
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.files import change_scenario
from shopsim.scenario.model import Scenario, pieces_made
from shopsim.study.intervals import quantile_rank
from shopsim.study.results import Outcome, Study
from shopsim.study.runner import OnProgress, ShouldStop


def forecast_delivery(
    scenario: Scenario,
    orders: int | Iterable[int] | None = None,
    confidence: float = 0.8,
    replications: int = 1537,
    seed: int = 1,
    jobs: int = 1,
    *,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
    study: Study | None = None,
) -> Answer:
    """When each order ships, what to promise, and with what chance it is kept; or that for each number of orders.

    ``orders``: None for the orders of the scenario, a number for so many instead; several
    numbers (a range, a list) for one row a number, before orders close. ``confidence``: the
    chance asked for, in 0..1. ``replications``: 1,537 tell a chance of 80 % to within 2 in a
    hundred. ``study``: a study that holds the scenario as it stands, used where it fits.

    Rows for the orders of a run, in the order in which they are served: ``position``, ``order``,
    ``design``, ``quantity``; ``ship_from_day`` and ``ship_from`` to ``ship_to_day`` and ``ship_to``, the
    window at the confidence asked, and ``window_chance``; ``promise_day`` and ``promise``, the date that is
    kept with the confidence asked, ``chance_kept`` (share of replications at or before that day),
    ``promise_low`` to ``promise_high`` (the date is known no better than that); ``lead_days`` to the
    promise; ``all_kept_day`` and ``all_kept``: dates that are all kept together with the confidence
    asked, and ``chance_kept_then`` of each. Where the file has transit also ``arrive_from``,
    ``arrive_to``, ``arrive_promise``, ``arrive_chance``, ``arrive_all``. Days count from the day orders
    close; dates are ISO 8601 texts.

    Rows for numbers of orders: ``orders``, ``pieces``, ``spare``, and the same columns for the last order,
    with ``all_chance_each``: the chance that all are kept if each is promised its own date.

    Raises InputError for bad arguments (also when the replications are too few for the
    confidence), ScenarioError for a number of orders that cannot be made, Cancelled if stopped
    too soon to say anything.
    """
    _check_confidence(confidence)
    options: dict[str, Any] = {
        "replications": replications, "seed": seed, "jobs": jobs, "executor": executor,
        "on_progress": on_progress, "should_stop": should_stop, "study": study,
    }  # fmt: skip
    quantile_rank(replications, (1 + confidence) / 2)
    if orders is None:
        done = run_alternatives({NOW: scenario}, **options)
        return answer_delivery(done, confidence)
    if isinstance(orders, int | np.integer):
        changed = change_orders(scenario, _check_orders(orders))
        return answer_delivery(run_alternatives({NOW: changed}, **options), confidence)
    if not isinstance(orders, Iterable):
        raise InputError(f"{orders!r} is not a number of orders · write a whole number, or a list of them")
    counts = sorted({_check_orders(count) for count in orders})
    if not counts:
        raise InputError("no number of orders is given · name at least one, like 12")
    step = _only_line(scenario).round_up_to or 1
    largest = {pieces_made(count, step): count for count in counts}
    runs = {f"{made} pieces": change_orders(scenario, count) for made, count in largest.items()}
    done = run_alternatives(runs, **options)
    _check_enough(done, confidence)
    return _answer_counts(done, counts, step, confidence)


def answer_delivery(study: Study, confidence: float = 0.8, name: str = NOW) -> Answer:
    """The answer for the orders of one alternative of a study that was run already."""
    _check_enough(study, confidence)
    outcome = study.outcomes[name]
    queue, days = outcome.queue, outcome.order_days
    joint, joint_share = find_joint_days(days, confidence)
    arrivals = _arrivals(outcome, study.seed, days)
    arrive_joint = None if arrivals is None else find_joint_days(arrivals, confidence)[0]
    promises = [find_promise(days[:, n], confidence) for n in range(days.shape[1])]
    each = np.array([promise.day for promise in promises])
    all_if_each = float(np.mean((days <= each).all(axis=1)))
    rows = []
    for n, order in enumerate(queue.orders):
        row: dict[str, Any] = {
            "position": order.position, "order": order.id, "design": order.design, "quantity": order.quantity,
        }  # fmt: skip
        row.update(_window_columns(promises[n], queue.close))
        row["lead_days"] = promises[n].day - int(queue.since_days[n])
        row["all_kept_day"], row["all_kept"] = int(joint[n]), _date(queue.close, joint[n])
        row["chance_kept_then"] = float(np.mean(days[:, n] <= joint[n]))
        if arrivals is not None and arrive_joint is not None:
            row.update(_arrival_columns(arrivals[:, n], int(arrive_joint[n]), confidence, queue.close))
        rows.append(row)
    sentence = say_orders(rows, confidence, all_if_each, joint_share, arrivals is not None)
    return build_answer(
        study,
        name,
        "Delivery window",
        pd.DataFrame(rows),
        sentence,
        list_notes(arrivals is not None, study.replications),
    )


def _answer_counts(study: Study, counts: list[int], step: int, confidence: float) -> Answer:
    rows = []
    for count in counts:
        outcome = study.outcomes[f"{pieces_made(count, step)} pieces"]
        close, days = outcome.queue.close, outcome.order_days[:, :count]
        promises = [find_promise(days[:, n], confidence) for n in range(count)]
        joint, joint_share = find_joint_days(days, confidence)
        made = pieces_made(count, step)
        row: dict[str, Any] = {"orders": count, "pieces": made, "spare": made - count}
        row.update(_window_columns(promises[-1], close))
        each = np.array([promise.day for promise in promises])
        row["all_chance_each"] = float(np.mean((days <= each).all(axis=1)))
        row["all_kept_day"], row["all_kept"] = int(joint[-1]), _date(close, joint[-1])
        row["all_kept_chance"] = joint_share
        arrivals = _arrivals(outcome, study.seed, outcome.order_days)
        if arrivals is not None:
            arrivals = arrivals[:, :count]
            arrive_joint = find_joint_days(arrivals, confidence)[0]
            row.update(_arrival_columns(arrivals[:, -1], int(arrive_joint[-1]), confidence, close))
        rows.append(row)
    transit = "arrive_promise" in rows[0]
    sentence = say_counts(rows, transit)
    return build_answer(
        study, study.names[0], "Delivery window by number of orders", pd.DataFrame(rows), sentence,
        list_notes(transit, study.replications),
    )  # fmt: skip


def change_orders(scenario: Scenario, count: int) -> Scenario:
    """The scenario with so many orders; a file of orders gives way to the number, and batches wait for the close."""
    line = _only_line(scenario)
    place = "run.lines[0].orders" if scenario.run.lines else "run.orders"
    changes: dict[str, Any] = {place: count}
    if scenario.run.release == "as ordered":
        changes["run.release"] = "when orders close"
        if line.batch is None:
            changes["run.batch"] = 1
    if line.orders == count and len(changes) == 1:
        return scenario
    return change_scenario(scenario, changes)


def _only_line(scenario: Scenario) -> Any:
    lines = scenario.lines
    if len(lines) > 1:
        raise InputError(
            f"the run has {len(lines)} lines, so a number of orders does not say of which design "
            "· leave the number out, or set the orders of each line in the file"
        )
    return lines[0]


def _check_orders(count: Any) -> int:
    if isinstance(count, bool) or not isinstance(count, int | np.integer) or not 1 <= count <= 10_000:
        raise InputError(f"{count!r} is not a number of orders · write whole numbers from 1 to 10000")
    return int(count)


def _check_confidence(confidence: float) -> None:
    if isinstance(confidence, bool) or not isinstance(confidence, int | float) or not 0 < confidence < 1:
        raise InputError(f"confidence = {confidence!r} is not between 0 and 1 · write 0.8 for 80 %")


def _check_enough(study: Study, confidence: float) -> None:
    try:
        quantile_rank(study.replications, (1 + confidence) / 2)
    except InputError as error:
        if study.complete:
            raise
        raise Cancelled(f"stopped after {study.replications} replications, too few for a promise") from error


def _arrivals(outcome: Outcome, seed: int, days: np.ndarray) -> np.ndarray | None:
    queue = outcome.queue
    return arrival_days(outcome.scenario, queue.orders, days, queue.close, seed, outcome.replications)


def _date(close: dt.date, day: int | np.integer) -> str:
    return (close + dt.timedelta(days=int(day))).isoformat()


def _window_columns(promise: Promise, close: dt.date) -> dict[str, Any]:
    return {
        "ship_from_day": promise.first,
        "ship_from": _date(close, promise.first),
        "ship_to_day": promise.last,
        "ship_to": _date(close, promise.last),
        "window_chance": promise.inside,
        "promise_day": promise.day,
        "promise": _date(close, promise.day),
        "chance_kept": promise.chance,
        "promise_low": _date(close, promise.day_low),
        "promise_high": _date(close, promise.day_high),
    }


def _arrival_columns(days: np.ndarray, joint: int, confidence: float, close: dt.date) -> dict[str, Any]:
    promise = find_promise(days, confidence)
    return {
        "arrive_from": _date(close, promise.first),
        "arrive_to": _date(close, promise.last),
        "arrive_promise_day": promise.day,
        "arrive_promise": _date(close, promise.day),
        "arrive_chance": promise.chance,
        "arrive_all": _date(close, joint),
    }
