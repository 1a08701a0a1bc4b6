"""Words to use: a paragraph for the listing, one for each buyer, and late notes, to be pasted as they are.

Dates are rounded outward: to whole weeks for the listing, to whole days for buyers. Every date
says whether it is of shipping or of arrival, and what it counts on is stated beside it.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import BINDING, WHEN_LATE
from shopsim.answers.next_buyer import ALL_BUYERS, NEXT_BUYER
from shopsim.answers.wording import join_words, say_count
from shopsim.engine.holdups import MATERIAL
from shopsim.say import say_chance
from shopsim.scenario.batches import own_batches
from shopsim.scenario.model import Scenario
from shopsim.study.once import run_once
from shopsim.study.orders import OrderQueue
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

LISTING, BUYER, LATE = "listing", "buyer", "late note"
#: What stands beside words that state a date.
GENERAL = (BINDING, WHEN_LATE)

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def write_words(
    scenario: Scenario, answer: Answer, *, today: dt.date | None = None, reason: str | None = None
) -> pd.DataFrame:
    """Paragraphs to paste: kind ("listing", "buyer", "late note"), order (its id, "" for the listing), text.

    ``answer``: what ``forecast_delivery`` says of this scenario, of whichever of its three kinds.
    Buyers' paragraphs: one an order, or one for the next buyer while orders are open. A late note is written for
    each order that is forecast to miss, in half of the runs or more, the date its buyer was told:
    what was told, the new date and how sure it is, the reason, the choice to wait or be paid back, and when
    there will be news, a week from ``today`` (without it, "within a week of this message"). ``reason``: one line that is
    true; default what the forecast says holds the order up.
    """
    said: list[tuple[str, str, str]] = []
    rows = [{str(key): value for key, value in row.items()} for row in answer.rows.to_dict("records")]
    if answer.title == NEXT_BUYER:
        whole = {str(key): value for key, value in answer.tables[ALL_BUYERS].to_dict("records")[0].items()}
        close = _close_of(scenario)
        counts = (
            f"at most {scenario.run.cap}" if scenario.run.cap else _span(whole["least_orders"], whole["most_orders"])
        )
        window = (_date(whole["ship_from"]), max(_date(whole["ship_to"]), _date(whole["all_kept"])))
        said.append((LISTING, "", _write_listing(scenario, close, window, f"{counts} orders")))
        following = next((row for row in rows if row["number"] == whole["so_far"] + 1), None)
        if following is not None:
            said.append((BUYER, "", _write_next(scenario, following)))
    elif "orders" in answer.rows:
        first, last = rows[0], rows[-1]
        window = (min(_date(row["ship_from"]) for row in rows), max(_date(row["all_kept"]) for row in rows))
        counts = _span(first["orders"], last["orders"])
        noun = "order" if last["orders"] == 1 else "orders"
        said.append((LISTING, "", _write_listing(scenario, _close_of(scenario), window, f"{counts} {noun}")))
    else:
        window = (min(_date(row["ship_from"]) for row in rows), max(_date(row["all_kept"]) for row in rows))
        pieces = say_count(len(rows), "order")
        said.append((LISTING, "", _write_listing(scenario, _close_of(scenario), window, pieces)))
        named = bool(rows[0].get("date"))
        said += [(BUYER, str(row["order"]), _write_buyer(scenario, row, named)) for row in rows]
        late = [row for row in rows if row.get("late")]
        why = [reason.strip().rstrip(".")] * len(late) if reason else _find_reasons(scenario, late)
        said += [
            (LATE, str(row["order"]), _write_late(row, cause, today)) for row, cause in zip(late, why, strict=True)
        ]
    return pd.DataFrame(said, columns=["kind", "order", "text"]).astype("str")


def _write_listing(scenario: Scenario, close: dt.date, window: tuple[dt.date, dt.date], counted: str) -> str:
    """For all buyers: whole weeks, Monday to Sunday, rounded outward."""
    first, last = window
    monday, sunday = first - dt.timedelta(days=first.weekday()), last + dt.timedelta(days=6 - last.weekday())
    weeks = max(0, (monday - close).days // 7), max(1, math.ceil((sunday - close).days / 7))
    names = [f"{_several(design.name)}" for design in scenario.all_designs if _is_made(scenario, design.name)]
    subject = join_words(names)
    if (sunday - monday).days == 6:
        when = f"in the week of {_say_day(monday, weekday=True)}"
    else:
        when = f"between {_say_day(monday, weekday=True)} and {_say_day(sunday, weekday=True)}"
    after = f"{weeks[1]} week{'s' if weeks[1] != 1 else ''}"
    after = f"within {after}" if weeks[0] == 0 else f"{weeks[0]} to {after}" if weeks[0] != weeks[1] else after
    closing = (
        f"Orders close on {_say_day(close)}."
        if scenario.run.release == "when orders close"
        else f"The first orders are counted from {_say_day(close)}."
    )
    return (
        f"{subject[:1].upper()}{subject[1:]} are made to order. {closing} Your order ships {when}, {after} after "
        f"{'orders close' if scenario.run.release == 'when orders close' else 'that day'}. {_say_carrier(scenario)} "
        f"{_say_assumption(scenario, counted)}"
    )


def _write_buyer(scenario: Scenario, row: Mapping[str, Any], named: bool) -> str:
    """For one buyer: whole days."""
    quantity = int(row["quantity"])
    what = _name(str(row["design"]), quantity) + (f" ({row['option']})" if row["option"] else "")
    batches = [part for part in str(row["batch"]).split(", ") if part]
    made = f", made in {'batches' if len(batches) > 1 else 'batch'} {join_words(batches)}"
    if named:
        opening = f"Thank you for your order {row['order']} of {_say_day(_date(row['date']))}: {what}{made}."
    else:
        opening = f"Thank you for your order, number {row['order']} in the queue: {what}{made}."
    them = "it" if quantity == 1 else "them"
    return f"{opening} {_say_promise(row, them)} {_say_arrival(scenario, row, them)} {_say_assumption(scenario)}"


def _write_next(scenario: Scenario, row: Mapping[str, Any]) -> str:
    """For whoever orders next, while orders are open."""
    return (
        f"If you order now you will be number {row['number']}. {_say_promise(row, 'your order')} "
        f"{_say_arrival(scenario, row, 'your order')} {_say_assumption(scenario)}"
    )


def _say_promise(row: Mapping[str, Any], them: str) -> str:
    expected, promise = _date(row["expected"]), _date(row["promise"])
    if expected >= promise:
        return f"I will ship {them} by {_say_day(promise)}."
    return f"I expect to ship {them} about {_say_day(expected)}, and will ship {them} by {_say_day(promise)} at the latest."


def _say_arrival(scenario: Scenario, row: Mapping[str, Any], them: str) -> str:
    whole = "They" if them == "them" else "It"
    if "arrive_promise" not in row:
        return (
            f"That is the day {'they leave' if them == 'them' else 'it leaves'} the workshop; the time on the way "
            "comes on top."
        )
    if row["arrive_promise"] == row["promise"]:
        return f"{whole} can be with you on the day of shipping."
    return (
        f"That is the day {'they leave' if them == 'them' else 'it leaves'} the workshop; counting the carrier, expect "
        f"{'them' if them == 'them' else 'it'} with you by {_say_day(_date(row['arrive_promise']))}."
    )


def _write_late(row: Mapping[str, Any], why: str, today: dt.date | None) -> str:
    """The five parts: what was told, the new date and how sure, the reason, the choice, the next news (common practice)."""
    told, new = _date(row["told"]), _date(row["promise"])
    sure = say_chance(float(row["chance_kept"]))
    news = f"by {_say_day(today + dt.timedelta(days=7))}" if today is not None else "within a week of this message"
    what = _name(str(row["design"]), int(row["quantity"]))
    return (
        f"About your order {row['order']} ({what}): when you ordered, I told you that it would ship by {_say_day(told)}. "
        f"It will not be ready by then. My new shipping date is {_say_day(new)}, and I put the chance of keeping it at "
        f'{sure}. The reason: {why}. You choose: answer "wait" and I will send it by the new date, or answer '
        f'"refund" and I will cancel the order and pay back all that you have paid. You will hear from me again {news}, '
        "whether or not anything has changed. I am sorry."
    )


def _find_reasons(scenario: Scenario, late: Sequence[Mapping[str, Any]]) -> list[str]:
    """What holds each late order up when all goes at its likely time: material that is waited for, or the work itself."""
    if not late:
        return []
    run = run_once(scenario, likely=True)
    queue = {order.position: order for order in OrderQueue(run.plan.worklist).orders}
    waits = run.holdups
    waits = waits[waits["part"] == MATERIAL]
    reasons = []
    for row in late:
        pieces = queue[int(row["position"])].pieces
        lost = waits[waits["piece"].isin(pieces)].groupby("detail")["minutes"].sum()
        if len(lost) and float(lost.max()) / len(pieces) >= MINUTES_PER_DAY:
            reasons.append(f"I have to wait for the {lost.idxmax()}, and cannot go on without")
        elif int(row["position"]) == 1:
            reasons.append("the work on your order takes longer than I had counted on")
        else:
            reasons.append("the work before yours in the queue, and on your order, takes longer than I had counted on")
    return reasons


def _say_assumption(scenario: Scenario, counted: str = "") -> str:
    """What the dates count on: hours a week, batch size, and for the listing how many orders."""
    parts = [f"on {counted}"] if counted else []
    sizes = sorted(set(own_batches(scenario)))
    by = (
        " of one option each"
        if scenario.run.batches_by == "option" and any(d.options for d in scenario.all_designs)
        else ""
    )
    if sizes == [1]:
        parts.append("on pieces made one at a time")
    else:
        parts.append(f"on batches of {join_words([str(size) for size in sizes])}{by}")
    parts.append(_say_hours(scenario))
    return f"This counts {join_words(parts)}."


def _say_hours(scenario: Scenario) -> str:
    week = scenario.shop.open
    if week == "always":
        return "on the workshop running around the clock"
    hours = sum(end - start for day in week for start, end in day) / MINUTES_PER_HOUR
    shown = f"{hours:.0f}" if abs(hours - round(hours)) < 0.05 else f"{hours:.1f}"
    return f"on {shown} hour{'' if shown == '1' else 's'} a week in the workshop"


def _say_carrier(scenario: Scenario) -> str:
    """That the dates are of shipping, and how many business days the carrier then takes, rounded outward."""
    transit = scenario.shipping.transit
    if not transit:
        return "That is when it leaves the workshop; the time on the way comes on top."
    ends = [law.quantile(np.array([0.1, 0.9])) / MINUTES_PER_DAY for _, law in transit]
    low = min(math.floor(round(float(end[0]), 9)) for end in ends)
    high = max(math.ceil(round(float(end[1]), 9)) for end in ends)
    if high == 0:
        return "That is when it leaves the workshop, and when you can fetch it."
    shown = f"{high}" if low == high else f"{low} to {high}"
    return (
        f"That is when it leaves the workshop; the carrier then takes about {shown} business "
        f"day{'' if shown == '1' else 's'}."
    )


def _close_of(scenario: Scenario) -> dt.date:
    closes = [line.orders_close for line in scenario.lines if line.orders_close is not None]
    return min(closes) if closes else scenario.day0


def _is_made(scenario: Scenario, design: str) -> bool:
    return any(line.design == design for line in scenario.lines)


def _span(least: int, most: int) -> str:
    return f"{most}" if least == most else f"{least} to {most}"


def _name(design: str, quantity: int) -> str:
    return f"one {design}" if quantity == 1 else f"{quantity} {_several(design)}"


def _several(name: str) -> str:
    """An English name of several: ``trays``, ``boxes``, ``benches``."""
    if name.endswith(("s", "x", "z", "ch", "sh")):
        return f"{name}es"
    if name.endswith("y") and not name.endswith(("ay", "ey", "oy", "uy")):
        return f"{name[:-1]}ies"
    return f"{name}s"


def _date(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


def _say_day(day: dt.date, *, weekday: bool = False) -> str:
    """``8 January 2027``, with ``Friday`` before it if asked for; the same in every locale."""
    said = f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
    return f"{_DAYS[day.weekday()]} {said}" if weekday else said
