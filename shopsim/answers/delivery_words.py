"""What the table of delivery dates says in plain words, and what must be read beside it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from shopsim.answers.wording import join_words, say_count
from shopsim.say import say_chance, say_level
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


def say_orders(
    rows: list[dict[str, Any]], confidence: float, kept: float, all_if_each: float, joint_share: float, transit: bool
) -> str:
    """Windows of the first and the last order, and what promising each or all means. ``all_if_each``: the chance
    that all are kept if each is promised its own date; ``joint_share``: if all are promised the later dates."""
    first, last = rows[0], max(rows, key=lambda row: int(row["promise_day"]))
    asked, sure = say_level(confidence), say_level(kept)
    if len(rows) == 1:
        text = (
            f"The order ships from {first['ship_from']} to {first['ship_to']} in {say_chance(first['window_chance'])} of "
            f"runs; promise it by {first['promise']}, which is kept in {say_chance(first['chance_kept'])} of runs."
        )
    else:
        text = (
            f"Of {say_count(len(rows), 'order')}, the first ships from {first['ship_from']} to {first['ship_to']} and "
            f"the last from {last['ship_from']} to {last['ship_to']}, each in at least {asked} of runs. "
            f"Promise each its own date (the last by {last['promise']}) and each is kept in at least {sure} of runs, "
            f"all {len(rows)} together in {say_chance(all_if_each)}"
        )
        if all(row["all_kept_day"] <= row["promise_day"] for row in rows):
            text += "."
        else:
            text += (
                f"; for all to be kept in {say_chance(joint_share)}, promise the later dates "
                f"(the last by {max(str(row['all_kept']) for row in rows)})."
            )
    return f"{text} {say_which_date(transit)}"


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
    """The last order's dates for the fewest and for the most orders."""
    parts = []
    for row in rows[:1] if len(rows) == 1 else [rows[0], rows[-1]]:
        which = "it" if row["orders"] == 1 else "the last"
        text = (
            f"With {say_count(row['orders'], 'order')} {which} ships from {row['ship_from']} to {row['ship_to']} "
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


def say_keep(rows: list[dict[str, Any]], keep: dt.date, kept: float, cap: int | None, furthest: int) -> str:
    """At how many orders to close the book, so that all ship by a day."""
    good = [row for row in rows if row["keeps"]]
    sure = say_level(kept)
    if not good:
        fewest = rows[0]
        which = "Not even one order ships" if fewest["orders"] == 1 else "None of these numbers of orders all ship"
        return (
            f"{which} by {keep.isoformat()} in {sure} of runs: with {say_count(fewest['orders'], 'order')} it is "
            f"{say_chance(fewest['keep_chance'])}."
        )
    last = good[-1]
    text = f"To ship every order by {keep.isoformat()} in at least {sure} of runs, close the book at "
    text += f"{say_count(last['orders'], 'order')} (kept in {say_chance(last['keep_chance'])})"
    beyond = next((row for row in rows if row["orders"] > last["orders"]), None)
    if beyond is not None:
        return f"{text}; with {beyond['orders']} it would be {say_chance(beyond['keep_chance'])}."
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
    kept: float,
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
            f"The next buyer would be number {number}, and their order ships from {row['ship_from']} to "
            f"{row['ship_to']} in {say_chance(row['window_chance'])} of the runs in which so many order: promise it by "
            f"{row['promise']}, kept in {say_chance(row['chance_kept'])} of them."
        )
    counts = f"{whole['least_orders']} to {whole['most_orders']}"
    if whole["least_orders"] == whole["most_orders"]:
        counts = f"{whole['least_orders']}"
    parts.append(
        f"With {counts} orders in all (likely {whole['likely_orders']}), buyers taken together see their order ship from "
        f"{whole['ship_from']} to {whole['ship_to']} in at least {say_level(confidence)} of cases; a listing that tells "
        f"everybody {whole['all_kept']} is kept for all in at least {say_level(kept)} of runs."
    )
    return " ".join([*parts, say_which_date(transit)])


def say_which_date(transit: bool) -> str:
    """Whether a date is the day of shipping or of arrival."""
    if transit:
        return "These are the days of shipping; with the time on the way added, arrival has columns of its own."
    return "These are the days of shipping; the time on the way comes on top, and the file says nothing of it."


def list_notes(transit: bool, replications: int) -> tuple[str, ...]:
    """What a stated chance is and how well it is known, how transit is counted, and that a date can bind."""
    within = next(h for h in range(1, 50) if replications_for_chance(h / 100) <= replications or h == 49)
    notes = [
        f"A stated chance is the share of {say_count(replications, 'replication')} at or before that day; "
        f"near 80 % it is known to within {within} in a hundred.",
        "With more replications the date to promise would lie between promise_low and promise_high (95 %), columns that "
        "stand in the table as a file.",
    ]
    if transit:
        notes.append(TRANSIT_COUNTS)
    return (*notes, BINDING)
