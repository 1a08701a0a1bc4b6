"""What the table of more clamps says in plain words: the verdict first, and never against the table."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS, read_interval
from shopsim.answers.growth import ALL_KINDS, SET_MARK
from shopsim.answers.levers import say_lever
from shopsim.answers.wording import join_words, say_confidence, say_count, say_gain, say_last
from shopsim.plurals import say_more, several
from shopsim.say import say_number, say_range
from shopsim.study.intervals import Interval

Row = Mapping[str, Any]
#: The verdicts: some number pays, none does, or it cannot be told yet.
PAY, NOT, UNSURE = "More clamps pay", "More clamps do not pay", "Whether more clamps pay cannot be told yet"


def run_rows(rows: Sequence[Row]) -> list[Row]:
    """The rows that could be run."""
    return [row for row in rows if not math.isnan(row["average_saved_days"])]


def find_verdict(rows: Sequence[Row]) -> str:
    """What the rows of clamps say together: PAY, NOT or UNSURE."""
    if any(row["pays"] for row in rows):
        return PAY
    return UNSURE if any(row["may_pay"] for row in rows) else NOT


def say_asked(row: Mapping[Any, Any]) -> str:
    """What the clamps that a maker thinks of would save."""
    price = "" if math.isnan(row["cost"]) else f", for {say_number(row['cost'])},"
    average, last = read_interval(row, "average_saved_days"), read_interval(row, "last_saved_days")
    return (
        f"With {row['what']}{price} the average order ships {_say_change(average)}, the last one {_say_change(last)} "
        f"({say_confidence(CONFIDENCE)} ranges)."
    )


def say_clamps_more(added: Mapping[str, int]) -> str:
    """``12 more bar clamps and 2 more band clamps``."""
    return " and ".join(f"{count} more {name}{'s' if count != 1 else ''}" for name, count in added.items())


def _say_change(saved: Interval) -> str:
    """``1.2 days sooner (0.9 to 1.5)``, or later; with a warning where it may be nothing."""
    if saved.low == saved.high == 0:
        return "on the same day"
    sign, word = (1, "sooner") if saved.value >= 0 else (-1, "later")
    low, high = sorted((sign * saved.low, sign * saved.high))
    maybe = ", which may be nothing" if low <= 0 <= high else ""
    return f"{say_number(abs(saved.value), 1)} days {word}{maybe} ({say_number(low, 1)} to {say_number(high, 1)})"


def say_free_change(row: Mapping[Any, Any], verdict: str) -> str:
    """The verdict on clamps, and what surely helps without buying anything."""
    joint = "what costs nothing comes first" if verdict == PAY else "what costs nothing helps"
    return f"{verdict}, but {joint}: {say_lever(row)}."


def say_clamps(
    rows: Sequence[Row], under: str, unused: Sequence[str], replications: int, verdict_said: bool
) -> list[str]:
    """Which clamps pay, how far and at what price; or that none do; or that it cannot be told yet, and by how little.

    ``under``: what costs nothing and comes first, in words, where that helps; ``verdict_said``: it stands in a sentence before.
    """
    said = [f"No operation uses the {join_words(unused, 'or the')}."] if unused else []
    run = run_rows(rows)
    if not run:
        return said if rows else ["More clamps will not help: no operation waits for any.", *said]
    verdict = find_verdict(run)
    if verdict == PAY:
        told = _say_paying(run)
        told[0] = f"With that, {told[0]}" if under else told[0]
    elif verdict == NOT:
        told = [_say_not(run) if verdict_said else f"{NOT}: {_say_not(run)}"]
    else:
        lead = "" if verdict_said else f"{UNSURE} at {say_count(replications, 'replication')}: "
        told = [lead + _say_unsure(run)]
    return [*(text[0].upper() + text[1:] for text in told), *said]


def _say_paying(rows: Sequence[Row]) -> list[str]:
    """The cheapest step that pays, then what others buy, then how far the recommended kind goes on paying."""
    first = list_first_paying(rows)
    best, *others = first
    money = best["cost"]
    lead = f"{say_added(best['added'], best['kind'])} {'pays' if best['added'] == 1 else 'pay'}"
    average = read_interval(best, "average_saved_days")
    text = f"{lead}: {'' if math.isnan(money) else f'for {say_number(money)} '}the average order ships {say_gain(average)} sooner"
    if not math.isnan(best["cost_a_day"]):
        text += f" ({say_number(best['cost_a_day'])} for each day saved)"
    said = [f"{text}, {say_last(read_interval(best, 'last_saved_days'))}.", *_say_beyond(best, rows)]
    for row in others:
        average, last = read_interval(row, "average_saved_days"), read_interval(row, "last_saved_days")
        said.append(
            f"{say_added(row['added'], row['kind'])}{_say_price(row)} would by themselves save {say_gain(average)}, "
            f"{say_last(last)}."
        )
    return said


def list_first_paying(rows: Sequence[Row]) -> list[Row]:
    """Of each kind the first step that pays, the cheapest first; several kinds together only if they beat each alone."""
    firsts: dict[str, Row] = {}
    for row in rows:
        if row["pays"]:
            firsts.setdefault(row["kind"], row)
    shown = [row for row in firsts.values() if not _is_set(row)]
    for row in (row for row in firsts.values() if _is_set(row)):  # the smaller sets first, all kinds last
        if row["average_saved_days_low"] > max((one["average_saved_days_high"] for one in shown), default=0.0):
            shown.append(row)
    return sorted(shown or list(firsts.values())[:1], key=_cost)


def _cost(row: Row) -> tuple[float, float]:
    return (row["days_to_pay"], row["added"]) if math.isnan(row["cost"]) else (row["cost"], row["added"])


def _say_beyond(best: Row, rows: Sequence[Row]) -> list[str]:
    """The dearer steps of a kind: what each that pays adds to the one before, and whether still more may pay."""
    after = [row for row in rows if row["kind"] == best["kind"] and row["step"] > best["step"]]
    paying = [row for row in after if row["pays"]]
    said = []
    if paying:
        parts = [
            f"{row['added']} instead of {row['beyond']}{_say_price(row)} save another "
            f"{say_gain(read_interval(row, 'gain_days'))}"
            for row in paying
        ]
        said.append(f"Steps beyond: {join_words(parts)}.")
    left = [row for row in after if not paying or row["step"] > paying[-1]["step"]]
    if not left:
        said.append("More than were tried may pay as well.")
    elif any(row["may_pay"] for row in left):
        said.append("Whether still more pays cannot be told yet.")
    else:
        said.append("Still more does not pay.")
    return said


def _say_not(rows: Sequence[Row]) -> str:
    """That clamps do not pay, with what the best of them saves, its range, and what it would have to save."""
    seen = [row for row in rows if not row["average_saved_days_unseen"] and row["average_saved_days_high"] > 0]
    if not seen:
        later = any(row["average_saved_days"] < 0 for row in rows)
        return f"{'nothing' if later else 'not a single day'} is saved by any number that was tried, in any run."
    best = max(seen, key=lambda row: (round(row["average_saved_days"], 9), -_cost(row)[0]))
    saved = read_interval(best, "average_saved_days")
    what = f"the best of those tried, {say_added(best['added'], best['kind'])}{_say_price(best)},"
    if saved.value < 0:
        return f"even with {what} the average order ships {say_gain(saved)} later."
    verb = "saves" if best["added"] == 1 else "save"
    return f"{what} {verb} {say_gain(saved)} and would have to save {say_number(best['days_to_pay'], 1)}."


def _say_unsure(rows: Sequence[Row]) -> str:
    """That it cannot be told, with the step that comes nearest to paying, its range, and what it would have to save."""
    open_ = [row for row in rows if row["may_pay"]]
    best = max(open_, key=lambda row: (round(row["gain_days"] - row["gain_to_pay_days"], 9), -_cost(row)[0]))
    saved = read_interval(best, "average_saved_days")
    sure = ", which is sure," if round(saved.low, 1) > 0 else ""  # said aloud, "sure" and "0.0" do not go together
    what = f"{say_added(best['added'], best['kind'])}{_say_price(best)}"
    return (
        f"{what} {'saves' if best['added'] == 1 else 'save'} {_say_signed(saved)}{sure} and would "
        f"have to save {say_number(best['days_to_pay'], 1)}."
    )


def _say_signed(saved: Interval) -> str:
    """Days saved, a minus where they are lost: ``0.6 days (-0.1 to 1.3)``."""
    number, bracket, ends = say_range(saved.value, saved.low, saved.high).partition(" ")
    return f"{number} days{bracket}{ends}"


def say_worse(rows: Sequence[Row]) -> list[str]:
    """The number of clamps that surely ends later than fewer by the most, if there is one."""
    worse = [row for row in rows if row["is_worse"]]
    if not worse:
        return []
    row = min(worse, key=lambda row: row["step_saved_days"])
    step = read_interval(row, "step_saved_days")
    return [
        f"With {say_added(row['added'], row['kind'])} the average order ships {say_gain(step)} later than with the step "
        "before: as run, and no mistake. More can upset what comes first."
    ]


def _is_set(row: Row) -> bool:
    return row["kind"] == ALL_KINDS or SET_MARK in row["kind"]


def _say_price(row: Row) -> str:
    return "" if math.isnan(row["cost"]) else f" ({say_number(row['cost'])})"


def say_added(n: int, kind: str) -> str:
    """``4 more bar clamps``; ``5 more clamps of every kind``; ``5 more clamps (bar clamp and band clamp together)``."""
    if kind == ALL_KINDS:
        return f"{n} more clamps of every kind"
    kinds = kind.split(SET_MARK)
    return f"{n} more clamps ({join_words(kinds)} together)" if len(kinds) > 1 else say_kind(n, kind)


def say_kind(n: int, name: str) -> str:
    """``1 more band clamp``, ``4 more bar clamps``."""
    return f"{n} more {name if n == 1 else several(name)}"


def say_others(others: Sequence[Row], clamps: Sequence[Row]) -> list[str]:
    """What one more of something else would save, where that is more than clamps do; whether hands are the limit."""
    ran, run = run_rows(others), run_rows(clamps)
    verdict = find_verdict(run)
    sure = [row for row in ran if row["average_saved_days_low"] > 0 and row["average_saved_days"] >= MATTERS_DAYS]
    if not sure:
        if not ran or verdict != NOT:
            return []
        what = "hands, stations or racks" if any(row["thing"] != "worker" for row in ran) else "hands"
        if any(row["average_saved_days_high"] >= MATTERS_DAYS and not row["average_saved_days_unseen"] for row in ran):
            return [f"Whether one more of its {what} would help cannot be told yet."]
        return [f"Nor would one more of its {what}: what takes long is hours, drying and material."]
    best = max(sure, key=lambda row: row["average_saved_days"])
    if best["average_saved_days"] <= max((row["average_saved_days"] for row in run), default=0.0):
        return []
    name = say_more(best["thing"], best["kind"], best["added"])
    lead = "Something else would help: "
    if verdict == PAY:
        lead = "Something else would save more: "
    elif best["thing"] == "worker":
        lead = "Hands are the limit: "
    saved, last = read_interval(best, "average_saved_days"), read_interval(best, "last_saved_days")
    return [f"{lead}{name} would ship the average order {say_gain(saved)} sooner, {say_last(last)}."]
