"""What the table of delivery dates says in plain words, and what must be read beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shopsim.answers.unlogged import say_unlogged
from shopsim.answers.wording import join_words, say_count, say_window
from shopsim.say import say_chance, say_level
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import replications_for_chance

BINDING = (
    "A date you state can bind you. Where none is stated, many places give 30 days from the order (in the US 16 CFR "
    "435, in the EU directive 2011/83 art. 18); an agreed longer date replaces that. This is general information, not "
    "legal advice: ask somebody qualified."
)
#: What is usual when a date is missed; in the paper shown beside words to use.
WHEN_LATE = (
    "What is usual when a date will be missed: tell the buyer as soon as you know, and before the date; give the new "
    "date and how sure it is, or say that you do not know it; offer to cancel with the whole price back at no cost. In "
    "the US (16 CFR 435) silence counts as consent only for a first delay of up to 30 days to a definite date; for a "
    "longer, a second or an indefinite one the buyer has to agree, or is paid back unasked within 7 working days. In the "
    "EU the buyer sets a reasonable extra time and may then end the contract, at once if the date was essential. Words "
    'like "most of the time" are read as a promise all the same. Other places have other rules: check local law. '
    "General information, not legal advice."
)
TRANSIT_COUNTS = (
    "Transit is counted in business days, Monday to Friday, as carriers quote it, from the day after shipping."
)

#: Fewer runs than tell a chance near 80 % to within so much are called few.
FEW_WITHIN = 0.04


#: Key of the answer about the orders of a run.
WINDOWS = "delivery_window"
#: Replications from which on dates that are to be kept together are kept as often as stated, to within half of one in a
#: hundred. The dates are found in the runs that are then counted, so that too many are counted as kept: kept less stated
#: was -0.019 at 99, -0.004 at 400 and -0.002 at 1,537.
ENOUGH_TOGETHER = 400
FEW_TOGETHER = (
    f"Dates that are to be kept all together hold a little less often than is stated when they are found from few runs: about 2 in "
    f"a hundred fewer at 99 replications, under half of one in a hundred from {ENOUGH_TOGETHER} on."
)

#: Key of the further table of ``forecast_delivery``: what promising each or all comes to.
TOGETHER = "all_orders_together"
#: Its two rows: what each order is promised.
EACH_OWN, TO_KEEP_ALL = "its own date", "the date to keep all"


def find_ends(rows: Sequence[Mapping[str, Any]]) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """(the first order to ship, the last): whose window opens first, and whose window closes last.

    Of several, the first is the one whose window closes first, then the first in the queue; the last the one with the latest
    date to promise, then whose window opens last, then the last in the queue.
    """
    first = min(rows, key=lambda row: (row["ship_from_day"], row["ship_to_day"], row["promise_day"]))
    last = max(
        reversed(rows), key=lambda row: (row["ship_to_day"], row["promise_day"], row["ship_from_day"])
    )  # of equals the first that is met
    return first, last


def say_at_least(asked: float, chances: Iterable[float]) -> str:
    """The least of chances as ``at least 90 %``: as it was asked, or, where a recalibrated date holds less often, as it is."""
    least = min(chances)
    return f"at least {say_level(asked) if least >= asked - 1e-9 else say_chance(least)}"


def list_together(rows: Sequence[Mapping[str, Any]], all_if_each: float, joint_share: float) -> list[dict[str, Any]]:
    """Rows of the further table: ``promised``, the ``last`` date, ``each_chance`` (the least of any order) and ``all_chance``."""
    return [
        {
            "promised": EACH_OWN, "last": max(row["promise"] for row in rows),
            "each_chance": min(row["chance_kept"] for row in rows), "all_chance": all_if_each,
        },
        {
            "promised": TO_KEEP_ALL, "last": max(row["all_kept"] for row in rows),
            "each_chance": min(row["chance_kept_then"] for row in rows), "all_chance": joint_share,
        },
    ]  # fmt: skip


def say_orders(
    rows: Sequence[Mapping[str, Any]],
    together: Sequence[Mapping[str, Any]],
    confidence: float,
    service_level: float,
    transit: bool,
) -> str:
    """Windows of the first and the last order to ship, and what promising each or all means. ``together``: see ``list_together``."""
    holds = say_at_least(confidence, (row["window_chance"] for row in rows))
    if len(rows) == 1:
        row = rows[0]
        text = (
            f"The order ships {say_window(row['ship_from'], row['ship_to'])} in {holds} of "
            f"runs; promise it by {row['promise']}, which is kept in {say_chance(row['chance_kept'])} of runs."
        )
        return f"{text} {say_which_date(transit)}"
    first, last = find_ends(rows)
    own, later = together
    text = (
        f"Of {say_count(len(rows), 'order')}, {_name_end('first', first, rows[0])} ships "
        f"{say_window(first['ship_from'], first['ship_to'])} and {_name_end('last', last, rows[-1])} "
        f"{say_window(last['ship_from'], last['ship_to'])}, each "
        f"in {holds} of runs. Promise each its own date (the latest is {own['last']}) and each is kept in "
        f"{say_at_least(service_level, [own['each_chance']])} of runs, all {len(rows)} together in {say_chance(own['all_chance'])}"
    )
    if all(row["all_kept_day"] <= row["promise_day"] for row in rows):
        text += "."
    else:
        text += (
            f"; for all to be kept in {say_chance(later['all_chance'])}, promise the dates that keep all "
            f"(the latest is {later['last']})."
        )
    return f"{text} {say_which_date(transit)}"


def _name_end(word: str, row: Mapping[str, Any], expected: Mapping[str, Any]) -> str:
    """``the first``; with its id where it is not the one that the queue would make one expect."""
    return f"the {word}" if row is expected else f"the {word} to ship (order {row['order']})"


def say_spare(pieces: int) -> str:
    """How many pieces are left over; "" for none."""
    if not pieces:
        return ""
    return f"{say_count(pieces, 'piece')} more {'is' if pieces == 1 else 'are'} made and spare."


def say_late(rows: list[dict[str, Any]]) -> str:
    """Which orders are forecast to miss the date their buyers were told; "" where nobody was told one."""
    if not rows or "told" not in rows[0]:
        return ""
    late = [str(row["order"]) for row in rows if row["late"]]
    if not late:
        return "No order is forecast to miss the shipping date its buyer was told."
    if len(late) == 1:
        return f"Order {late[0]} is forecast to miss the shipping date its buyer was told: tell them now."
    return f"Orders {join_words(late)} are forecast to miss the shipping dates their buyers were told: tell them now."


def say_counts(rows: list[dict[str, Any]], transit: bool) -> str:
    """The dates of the last order to ship, for the fewest and for the most orders."""
    parts = []
    for row in rows[:1] if len(rows) == 1 else [rows[0], rows[-1]]:
        which = "it" if row["orders"] == 1 else "the last"
        options = f" ({row['options']})" if row.get("options") else ""
        text = (
            f"With {say_count(row['orders'], 'order')}{options} {which} ships {say_window(row['ship_from'], row['ship_to'])} "
            f"({say_chance(row['window_chance'])} of runs): promise it by {row['promise']}, kept in "
            f"{say_chance(row['chance_kept'])} of runs"
        )
        if row["orders"] > 1:
            text += f", or by {row['all_kept']} if all promises are to be kept in {say_chance(row['all_kept_chance'])}"
        if transit:
            text += f"; it arrives by {row['arrive_promise']} in {say_chance(row['arrive_chance'])}"
        parts.append(f"{text}.")
    if transit:
        return " ".join([*parts, "But where arrival is said, these are the days of shipping."])
    return " ".join([*parts, say_which_date(transit)])


def say_keep(rows: list[dict[str, Any]], ship_by: dt.date, service_level: float, cap: int | None, furthest: int) -> str:
    """At how many orders to close the book, so that all ship by a day."""
    good = [row for row in rows if row["keeps"]]
    sure = say_level(service_level)
    if not good:
        fewest = rows[0]
        which = "Not even one order ships" if fewest["orders"] == 1 else "None of these numbers of orders all ship"
        return (
            f"{which} by {ship_by.isoformat()} in {sure} of runs: with {say_count(fewest['orders'], 'order')} it is "
            f"{say_chance(fewest['ship_by_chance'])}."
        )
    last = good[-1]
    text = f"To ship every order by {ship_by.isoformat()} in at least {sure} of runs, close the book at "
    text += f"{say_count(last['orders'], 'order')} (kept in {say_chance(last['ship_by_chance'])})"
    beyond = next((row for row in rows if row["orders"] > last["orders"]), None)
    if beyond is not None:
        return f"{text}; with {beyond['orders']} it would be {say_chance(beyond['ship_by_chance'])}."
    if cap is not None and last["orders"] == cap:
        return f"{text}, which is the cap: the date leaves room for it."
    if last["orders"] >= furthest:
        return f"{text}; more were not looked at."
    return f"{text}, the most asked about; more may still be kept."


def say_next_buyer(
    rows: list[dict[str, Any]],
    whole: dict[str, Any],
    so_far: int,
    cap: int | None,
    confidence: float,
    service_level: float,
    transit: bool,
) -> str:
    """The window of the buyer who orders next, and one date for everybody, over the uncertainty of demand."""
    number = so_far + 1
    row = next((row for row in rows if row["number"] == number), None)
    parts = []
    if cap is not None and number > cap:
        parts.append(f"The cap of {say_count(cap, 'order')} is reached: nobody else can order.")
    elif row is None:
        parts.append(f"So few runs have {say_count(number, 'order')} that nothing can be said of the next buyer.")
    else:
        parts.append(
            f"The next buyer would be number {number}, and their order ships "
            f"{say_window(row['ship_from'], row['ship_to'])} in {say_chance(row['window_chance'])} of the runs in which so many order: promise it by "
            f"{row['promise']}, kept in {say_chance(row['chance_kept'])} of them{_say_few(row)}."
        )
    counts = f"{whole['least_orders']} to {whole['most_orders']}"
    if whole["least_orders"] == whole["most_orders"]:
        counts = f"{whole['least_orders']}"
    holds = say_at_least(confidence, [whole["window_chance"]])
    parts.append(
        f"With {counts} orders in all (likely {whole['likely_orders']}), buyers taken together see their order ship from "
        f"{whole['ship_from']} to {whole['ship_to']} in {holds} of cases; a listing that tells "
        f"everybody {whole['all_kept']} is kept for all in {say_chance(whole['all_kept_chance'])} of runs."
    )
    return " ".join([*parts, say_which_date(transit)])


def _say_few(row: dict[str, Any]) -> str:
    """How little a few runs can tell of a chance: the least it may be, exact at 95 %; "" for many runs."""
    runs = int(row["runs"])
    if runs >= replications_for_chance(FEW_WITHIN):
        return ""
    return f" ({say_count(runs, 'run')}: by so few it may be as low as {say_chance(float(row['chance_kept_low']))})"


def say_which_date(transit: bool) -> str:
    """Whether a date is the day of shipping or of arrival."""
    if transit:
        return "These are the days of shipping; with the time on the way added, arrival has columns of its own."
    return "These are the days of shipping; the time on the way comes on top, and the file says nothing of it."


def list_notes(transit: bool, replications: int, scenario: Scenario, several: bool = True) -> tuple[str, ...]:
    """What a stated chance is and how well it is known, how transit is counted, and that a date can bind.

    ``scenario``: of which nothing may have been timed or logged. ``several``: whether dates are promised together.
    """
    within = next(h for h in range(1, 50) if replications_for_chance(h / 100) <= replications or h == 49)
    notes = [
        f"A stated chance is the share of {say_count(replications, 'replication')} at or before that day; "
        f"near 80 % it is known to within {within} in a hundred.",
        "How far the date to promise could still move with more replications (95 %) stands in the table as a file; a side "
        "is empty where so few cannot tell.",
    ]
    if several and replications < ENOUGH_TOGETHER:
        notes.append(FEW_TOGETHER)
    if transit:
        notes.append(TRANSIT_COUNTS)
    unlogged = say_unlogged(scenario)
    return (*((unlogged,) if unlogged else ()), *notes, BINDING)
