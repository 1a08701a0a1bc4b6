"""The forecast from now in words: how the run stands, what is to be read beside it, and the notes to buyers whose date is at risk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from shopsim.answers.logged_run import LoggedRun, say_moment
from shopsim.answers.wording import join_words, say_count, say_window
from shopsim.dates import day_number
from shopsim.plurals import several
from shopsim.say import say_chance, say_day, say_level
from shopsim.study.going_on import GoingOn

#: Lost days from which on they are the reason that a buyer is given (own judgement).
LOST_DAYS = 3
#: Orders at risk that the sentence names one by one.
MAX_NAMED = 3
#: Under this share of the replications that half-done work leaves in the count, it is said how few they are.
FEW_LEFT = 0.5


def say_from_now(
    going: GoingOn, rows: Sequence[Mapping[str, Any]], stands: pd.DataFrame, following: pd.DataFrame, confidence: float
) -> str:
    """How the run stands, which promises are at risk, when the last order ships, and what is next on the bench."""
    counts = dict(zip(stands["what"], stands["count"], strict=True))
    moment = say_moment(going.plan.worklist, going.now)
    parts = [
        f"At {moment}, {counts['orders shipped']} of {say_count(counts['orders'], 'order')} have shipped and "
        f"{counts['pieces done']} of {say_count(counts['pieces'], 'piece')} are done."
    ]
    open_ = [row for row in rows if row["stands"] != "shipped"]
    weak = [row for row in open_ if row["stands"] in ("late", "at risk")]
    if weak:
        named = [
            f"order {row['order']}, due {row['due']}, in {say_chance(row['chance_now'])} of runs ({say_chance(row['chance_then'])} at the outset)"
            for row in weak[:MAX_NAMED]
        ]
        rest = f", and {len(weak) - MAX_NAMED} more" if len(weak) > MAX_NAMED else ""
        are = "promise is" if len(weak) == 1 else "promises are"
        parts.append(f"{len(weak)} {are} late or at risk of being so; kept are {join_words(named)}{rest}.")
    elif open_:
        parts.append("No promise is at risk.")
    if open_:
        latest = max(open_, key=lambda row: row["ship_to"])
        parts.append(
            f"The last order to ship goes out {say_window(latest['ship_from'], latest['ship_to'])}, in at least {say_level(confidence)} of runs."
        )
    if len(following):
        row = following.to_dict("records")[0]
        pieces = f", pieces {row['pieces']}" if row["pieces"] else ""
        parts.append(
            f"Next on the bench: {row['do']} {row['operation']}, batch {row['batch']}{pieces}, on {row['day']} at {row['begin_at']}."
        )
    return " ".join(parts)


def list_from_now_notes(run: LoggedRun, going: GoingOn, effective: float, replications: int) -> tuple[str, ...]:
    """What is to be read beside it."""
    notes = []
    if run.state.is_empty:
        notes.append("Nothing is logged by then, so this is the forecast of before.")
    else:
        notes.append(
            "What has happened is fixed; what remains is drawn from what this run's own minutes and days have taught. Chances are of "
            "shipping by the day due: the day that the buyer was told, else the one that the forecast at the outset would promise."
        )
    if effective < FEW_LEFT * replications:
        notes.append(
            f"Half-done work has taken so long that {replications:,} replications are worth {int(effective):,}: if it is done, log it; "
            "if it lies, log it as paused."
        )
    for name in going.list_awaited():
        notes.append(
            f"{name} should be here by now and is not logged as come, so it is waited for: if it is here, log it."
        )
    if going.queue.orders and not run.state.shipped and not run.state.is_empty:
        notes.append("No order is logged as shipped: what is done is taken to go with the next pick-up.")
    return (*notes, *run.remarks, *going.start.remarks)


def write_notes(run: LoggedRun, going: GoingOn, rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """A note to the buyer of each order that is late or at risk: ``order``, ``stands``, ``text``.

    Late: what was told, the new date and how sure it is, the reason, the choice, the next news. At risk: that it may be late, by
    which day it then ships, and when there will be news. The reason is one that is true of the run. Where the day due was
    never told to anybody there is no note.
    """
    today = run.scenario.day0 + dt.timedelta(days=day_number(run.state.now_min))
    news = say_day(today + dt.timedelta(days=7))
    told = []
    for row in rows:
        if row["stands"] not in ("late", "at risk") or not row["is_told"]:
            continue
        what = f"one {row['design']}" if row["quantity"] == 1 else f"{row['quantity']} {several(str(row['design']))}"
        due, new = dt.date.fromisoformat(row["due"]), dt.date.fromisoformat(row["promise"])
        begin = f"About your order {row['order']} ({what}): I told you that it would ship by {say_day(due)}."
        why = _find_reason(run, going, int(row["position"]) - 1)
        if row["stands"] == "late":
            text = (
                f"{begin} It will not be ready by then. My new shipping date is {say_day(new)}, and I put the chance of keeping it at "
                f'{say_chance(row["chance_kept"])}. The reason: {why}. You choose: answer "wait" and I will send it by the new date, or '
                f'answer "refund" and I will cancel the order and pay back all that you have paid. You will hear from me again by {news}, '
                "whether or not anything has changed. I am sorry."
            )
        else:
            text = (
                f"{begin} I may not make that day: I put the chance at {say_chance(row['chance_now'])}. By {say_day(max(due, new))} I expect to "
                f"have shipped it at the latest. The reason: {why}. You need do nothing; you will hear from me again by {news}, and at "
                "once if the date is lost."
            )
        told.append({"order": str(row["order"]), "stands": str(row["stands"]), "text": text})
    return pd.DataFrame(told, columns=["order", "stands", "text"]).astype("str")


def _find_reason(run: LoggedRun, going: GoingOn, place: int) -> str:
    """One reason that is true: material that has not come, something spoiled, lost days, or the work itself."""
    awaited = going.list_awaited()
    if awaited:
        return f"the {awaited[0]} has not come when it was to"
    if run.state.made_again:
        return "something was spoiled in the making and has to be made again"
    if len(run.state.lost) >= LOST_DAYS:
        return f"I lost {len(run.state.lost)} days in the workshop"
    if place:
        return "the work before yours in the queue, and on your order, takes longer than I had counted on"
    return "the work on your order takes longer than I had counted on"
