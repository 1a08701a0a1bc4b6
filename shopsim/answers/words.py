"""Words to use: a paragraph for the listing, one for each buyer, and late notes, to be pasted as they are.

Dates are rounded outward: to whole weeks for the listing, to whole days for buyers. Every date
says whether it is of shipping or of arrival, and what it counts on is stated beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import BINDING, WHEN_LATE
from shopsim.answers.late_reasons import find_reasons
from shopsim.answers.listing import say_assumption, say_carrier, write_listing
from shopsim.answers.next_buyer import ALL_BUYERS, NEXT_BUYER
from shopsim.answers.wording import join_words
from shopsim.plurals import several
from shopsim.say import say_chance, say_day
from shopsim.scenario.model import Scenario

LISTING, BUYER, LATE = "listing", "buyer", "late note"
#: What stands beside words that state a date.
GENERAL = (BINDING, WHEN_LATE)


def write_words(
    scenario: Scenario,
    answer: Answer,
    *,
    today: dt.date | None = None,
    reason: str | Mapping[str, str] | None = None,
    hours: bool = True,
    what_if: Sequence[str] = (),
) -> pd.DataFrame:
    """Paragraphs to paste: kind ("listing", "buyer", "late note"), order (its id, "" for the listing), text.

    ``answer``: what ``forecast_delivery`` says of this scenario, of whichever of its three kinds.
    Buyers' paragraphs: one for each order that is in, or one for the next buyer while orders are open. An order whose buyer
    was told a date gets that date and no other; one that is forecast to miss it, in half of the runs or more, gets a late
    note instead: what was told, the new date and how sure it is, the reason, the choice to wait or be paid back, and when
    there will be news, a week from ``today`` (without it, "within a week of this message"). ``reason``: one line that is
    true, or one for each order by its id (see ``find_reasons``); default what the forecast says holds the order up.
    ``hours``: whether the hours a week are told. ``what_if``: what was changed from the maker's file, which every paragraph then
    says at its head.
    """
    said: list[tuple[str, str, str]] = [(LISTING, "", write_listing(scenario, answer, hours))]
    rows = [{str(key): value for key, value in row.items()} for row in answer.rows.to_dict("records")]
    if answer.key == NEXT_BUYER:
        so_far = int(answer.tables[ALL_BUYERS]["so_far"].iloc[0])
        following = next((row for row in rows if row["number"] == so_far + 1), None)
        if following is not None:
            said.append((BUYER, "", _write_next(scenario, following, hours)))
    elif "orders" not in answer.rows:
        there = [row for row in rows if not row.get("to_come")]
        late = [row for row in there if row.get("late")]
        said += [(BUYER, str(row["order"]), _write_buyer(scenario, row, hours)) for row in there if not row.get("late")]
        said += [
            (LATE, str(row["order"]), _write_late(row, why, today))
            for row, why in zip(late, find_reasons(scenario, late, reason), strict=True)
        ]
    if what_if:
        mark = f"[What if: {join_words(what_if)}. Your file says otherwise, so do not send this as it is.] "
        said = [(kind, order, mark + text) for kind, order, text in said]
    return pd.DataFrame(said, columns=["kind", "order", "text"]).astype("str")


def _write_buyer(scenario: Scenario, row: Mapping[str, Any], hours: bool) -> str:
    """For one buyer: whole days; the date that was told, where one was."""
    quantity = int(row["quantity"])
    what = _name(str(row["design"]), quantity) + (f" ({row['option']})" if row["option"] else "")
    batches = [part for part in str(row["batch"]).split(", ") if part]
    made = f", made in {'batches' if len(batches) > 1 else 'batch'} {join_words(batches)}"
    if row.get("date"):
        opening = f"Thank you for your order {row['order']} of {say_day(_date(row['date']))}: {what}{made}."
    else:
        opening = f"Thank you for your order, number {row['order']} in the queue: {what}{made}."
    it, them = ("It", "it") if quantity == 1 else ("They", "them")
    if row.get("told"):
        told = f"I told you that {it.lower()} will ship by {say_day(_date(row['told']))}, and that date stands."
        return f"{opening} {told} {say_carrier(scenario)} {say_assumption(scenario, hours=hours)}"
    return f"{opening} {_say_promise(row, them)} {_say_arrival(row, them)} {say_assumption(scenario, hours=hours)}"


def _write_next(scenario: Scenario, row: Mapping[str, Any], hours: bool) -> str:
    """For whoever orders next, while orders are open."""
    return (
        f"If you order now you will be number {row['number']}. {_say_promise(row, 'your order')} "
        f"{_say_arrival(row, 'your order')} {say_assumption(scenario, hours=hours)}"
    )


def _say_promise(row: Mapping[str, Any], them: str) -> str:
    expected, promise = _date(row["expected"]), _date(row["promise"])
    if expected >= promise:
        return f"I will ship {them} by {say_day(promise)}."
    return (
        f"I expect to ship {them} about {say_day(expected)}, and will ship {them} by {say_day(promise)} at the latest."
    )


def _say_arrival(row: Mapping[str, Any], them: str) -> str:
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
        f"{'them' if them == 'them' else 'it'} with you by {say_day(_date(row['arrive_promise']))}."
    )


def _write_late(row: Mapping[str, Any], why: str, today: dt.date | None) -> str:
    """The five parts: what was told, the new date and how sure, the reason, the choice, the next news (common practice)."""
    told, new = _date(row["told"]), _date(row["promise"])
    sure = say_chance(float(row["chance_kept"]))
    news = f"by {say_day(today + dt.timedelta(days=7))}" if today is not None else "within a week of this message"
    what = _name(str(row["design"]), int(row["quantity"]))
    return (
        f"About your order {row['order']} ({what}): when you ordered, I told you that it would ship by {say_day(told)}. "
        f"It will not be ready by then. My new shipping date is {say_day(new)}, and I put the chance of keeping it at "
        f'{sure}. The reason: {why}. You choose: answer "wait" and I will send it by the new date, or answer '
        f'"refund" and I will cancel the order and pay back all that you have paid. You will hear from me again {news}, '
        "whether or not anything has changed. I am sorry."
    )


def _name(design: str, quantity: int) -> str:
    return f"one {design}" if quantity == 1 else f"{quantity} {several(design)}"


def _date(text: str) -> dt.date:
    return dt.date.fromisoformat(text)
