"""What the table of delivery dates says in plain words, and what must be read beside it."""

from __future__ import annotations

from typing import Any

from shopsim.answers.wording import say_count, say_share
from shopsim.study.intervals import replications_for_chance

BINDING = (
    "A date you state can bind you. Where none is stated, many places give 30 days from the order (in the US 16 CFR "
    "435, in the EU directive 2011/83 art. 18); an agreed longer date replaces that. This is general information, not "
    "legal advice: ask somebody qualified."
)
TRANSIT_COUNTS = (
    "Transit is counted in business days, Monday to Friday, as carriers quote it, from the day after shipping."
)


def say_orders(
    rows: list[dict[str, Any]], confidence: float, all_if_each: float, joint_share: float, transit: bool
) -> str:
    """Windows of the first and the last order, and what promising each or all means. ``all_if_each``: the chance
    that all are kept if each is promised its own date; ``joint_share``: if all are promised the later dates."""
    first, last = rows[0], max(rows, key=lambda row: int(row["promise_day"]))
    asked = say_share(confidence)
    if len(rows) == 1:
        text = (
            f"The order ships from {first['ship_from']} to {first['ship_to']} in {say_share(first['window_chance'])} of "
            f"runs; promise it by {first['promise']}, which is kept in {say_share(first['chance_kept'])} of runs."
        )
    else:
        text = (
            f"Of {say_count(len(rows), 'order')}, the first ships from {first['ship_from']} to {first['ship_to']} and "
            f"the last from {last['ship_from']} to {last['ship_to']}, each in at least {asked} of runs. "
            f"Promise each its own date (the last by {last['promise']}) and each is kept in at least {asked} of runs, "
            f"all {len(rows)} together in {say_share(all_if_each)}"
        )
        if all(row["all_kept_day"] <= row["promise_day"] for row in rows):
            text += "."
        else:
            text += (
                f"; for all to be kept in {say_share(joint_share)}, promise the later dates "
                f"(the last by {max(str(row['all_kept']) for row in rows)})."
            )
    return f"{text} {say_which_date(transit)}"


def say_counts(rows: list[dict[str, Any]], transit: bool) -> str:
    """The last order's dates for the fewest and for the most orders."""
    parts = [
        f"With {say_count(row['orders'], 'order')} the last ships from {row['ship_from']} to {row['ship_to']} "
        f"({say_share(row['window_chance'])} of runs): promise it by {row['promise']}, kept in "
        f"{say_share(row['chance_kept'])} of runs, or by {row['all_kept']} if all promises are to be kept in "
        f"{say_share(row['all_kept_chance'])}."
        for row in (rows[:1] if len(rows) == 1 else [rows[0], rows[-1]])
    ]
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
        "promise_low and promise_high: with more replications the date to promise would lie between them (95 %).",
    ]
    if transit:
        notes.append(TRANSIT_COUNTS)
    return (*notes, BINDING)
