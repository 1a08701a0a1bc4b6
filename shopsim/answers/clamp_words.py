"""What the table of more clamps says in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS
from shopsim.answers.growth import ALL_KINDS, SET_MARK
from shopsim.answers.wording import join_words, say_count, say_days, say_gain
from shopsim.study.intervals import Interval

Row = Mapping[str, Any]
#: Numbers of clamps that are named when they cannot be told apart.
MOST_NAMED = 4


@dataclass(frozen=True)
class Told:
    """Which numbers of clamps may be the best once each has to pay: names of alternatives, the best by mean first.

    ``base``: today's clamps under the order in question; ``suffix``: what that order adds to a name;
    ``replications``: of those that stayed; ``settled``: a search ended with one.
    """

    kept: tuple[str, ...]
    base: str
    suffix: str
    replications: int
    settled: bool


def _saved(row: Row) -> Interval:
    return Interval(
        row["average_saved_days"], row["average_saved_days_low"], row["average_saved_days_high"], CONFIDENCE
    )


def say_free_change(row: Row, today: str) -> str:
    """What a priority rule that is surely better saves for nothing."""
    later = ""
    if row["last_saved_days_high"] < 0:
        later = f", though the last one {say_days(row['last_saved_days'])} later"
    return (
        f'First, for nothing: working in the order "{row["kind"]}" instead of "{today}" ships the average order '
        f"{say_gain(_saved(row))} sooner{later}."
    )


def say_no_free_change(today: str) -> str:
    """That other priority rules were tried, and none is surely better."""
    return f'No other built-in priority rule is surely better than "{today}".'


def say_clamps(rows: Sequence[Row], order: str | None, unused: Sequence[str], told: Told | None = None) -> list[str]:
    """Which clamps pay, how far, and at what price; or that they will not help; or that it cannot be told yet."""
    said = []
    if unused:
        said.append(f"No operation uses the {join_words(unused, 'or the')}.")
    run = [row for row in rows if not math.isnan(row["average_saved_days"])]
    if not run:
        return [*said, "More clamps will not help: no operation waits for any."] if not rows else said
    worth = _worth(run)
    if worth:
        lead = f'In the order "{order}", ' if order else ""
        parts = [_say_worth(row, rows) for row in worth]
        text = "; ".join(parts) + "."
        said.append(lead + text if lead else text[0].upper() + text[1:])
        return said
    if surely_useless(run):
        said.append(
            _say_useless(
                max(run, key=lambda row: (not row["average_saved_days_unseen"], row["average_saved_days_high"]))
            )
        )
        return said
    if told is not None and told.settled and told.kept == (told.base,):
        return [*said, "More clamps do not pay for themselves."]
    said.append("Whether more clamps help cannot be told yet: the savings seen are no larger than chance.")
    return said


def say_choice(told: Told, rows: Sequence[Row], searched: bool, matters_days: float) -> list[str]:
    """Which number of clamps is the best once each has to pay, or which cannot be told apart."""
    run = [row for row in rows if not math.isnan(row["average_saved_days"])]
    if not run or (surely_useless(run) and not searched):
        return []
    kept = sorted((row for row in run if row["may_be_best"]), key=lambda row: row["days_to_pay"])
    said = (["the clamps you have"] if told.base in told.kept else []) + [
        say_added(row["added"], row["kind"]) for row in kept
    ]
    if len(said) == 1:
        if not searched:
            return []
        verb = "are" if said[0] == "the clamps you have" or (kept and kept[0]["added"] > 1) else "is"
        return [
            f"Once each clamp has to pay, {said[0]} {verb} the best of all numbers tried, or within {matters_days:g} "
            "day of it."
        ]
    shown = said if len(said) <= MOST_NAMED else [*said[: MOST_NAMED - 1], f"{len(said) - MOST_NAMED + 1} others"]
    return [
        f"Once each clamp has to pay, {join_words(shown)} cannot be told apart at "
        f"{say_count(told.replications, 'replication')}; the first named cost the least."
    ]


def say_worse(rows: Sequence[Row]) -> list[str]:
    """The number of clamps that surely ends later than fewer by the most, if there is one."""
    worse = [row for row in rows if row["is_worse"]]
    if not worse:
        return []
    row = min(worse, key=lambda row: row["step_saved_days"])
    step = Interval(row["step_saved_days"], row["step_saved_days_low"], row["step_saved_days_high"], CONFIDENCE)
    return [
        f"With {say_added(row['added'], row['kind'])} the average order ships {say_gain(step)} later than with the step before: as run, and "
        "no mistake. More can upset the order of work."
    ]


def _say_useless(row: Row) -> str:
    """That clamps do not help, with the most that the most favourable row may save."""
    bound = row["average_saved_days_high"]
    if row["average_saved_days_unseen"] or bound <= 1e-9:
        return "More clamps will not help: not a single day is saved by any number that was tried, in any run."
    what = (
        f"{row['added']} more of all kinds together"
        if row["kind"] == ALL_KINDS
        else say_added(row["added"], row["kind"])
    )
    if bound < 1:
        most = "less than a tenth of a day" if bound < 0.1 else f"at most {math.ceil(bound * 10) / 10:g} of a day"
        return f"More clamps will not help: even {what} would save {most} on the average order."
    most = say_count(math.ceil(bound), "day")
    return f"More clamps do not pay: even {what} would save at most {most} on the average order."


def _worth(rows: Sequence[Row]) -> list[Row]:
    """For each kind the last step that pays, if its saving is sure; several together only if that beats each alone."""
    found = []
    for kind in dict.fromkeys(row["kind"] for row in rows):
        paying = [row for row in rows if row["kind"] == kind and row["pays"]]
        if paying:
            best = max(paying, key=lambda row: row["average_saved_days"])
            if best["average_saved_days_low"] > 0:
                found.append(best)
    shown = sorted((row for row in found if not _is_set(row)), key=lambda row: -row["average_saved_days"])
    for row in (row for row in found if _is_set(row)):  # the smaller sets first, all kinds last
        if row["average_saved_days_low"] > max((one["average_saved_days_high"] for one in shown), default=0.0):
            shown.append(row)
    return shown


def _is_set(row: Row) -> bool:
    return row["kind"] == ALL_KINDS or SET_MARK in row["kind"]


def _say_worth(row: Row, rows: Sequence[Row]) -> str:
    what = say_added(row["added"], row["kind"])
    if row["kind"] == ALL_KINDS:
        what += ","
    verb = "ships" if row["added"] == 1 else "ship"
    text = f"{what} {verb} the average order {say_gain(_saved(row))} sooner"
    if not math.isnan(row["price_a_day_saved"]):
        text += f" for {row['price']:,.0f}, or {row['price_a_day_saved']:,.0f} for each day saved"
    after = [one for one in rows if one["kind"] == row["kind"] and one["step"] > row["step"]]
    if after:
        text += ", and beyond that more no longer pay" if not any(one["pays"] for one in after) else ""
    else:
        text += ", and more than were tried may pay as well"
    return text


def say_added(n: int, kind: str) -> str:
    """``4 more bar clamps``; ``5 more clamps, of every kind``; ``5 more clamps, bar clamp and band clamp together``."""
    if kind == ALL_KINDS:
        return f"{n} more clamps, of every kind"
    kinds = kind.split(SET_MARK)
    return f"{n} more clamps, {join_words(kinds)} together" if len(kinds) > 1 else say_kind(n, kind)


def say_kind(n: int, name: str) -> str:
    """``1 more band clamp``, ``4 more bar clamps``."""
    return f"{n} more {name if n == 1 or name.endswith('s') else name + 's'}"


def surely_useless(rows: Sequence[Row]) -> bool:
    """Whether even the favourable ends of the intervals do not pay."""
    return all(row["average_saved_days_unseen"] or row["average_saved_days_high"] < row["days_to_pay"] for row in rows)


def say_others(others: Sequence[Row], clamps: Sequence[Row]) -> list[str]:
    """What one more of something else would save, where that is more than clamps do; whether hands are the limit."""
    sure = [
        row for row in others
        if row["average_saved_days_low"] > 0 and row["average_saved_days"] >= MATTERS_DAYS
    ]  # fmt: skip
    run = [row for row in clamps if not math.isnan(row["average_saved_days"])]
    most_by_clamps = max((row["average_saved_days"] for row in run), default=0.0)
    if not sure:
        if not _worth(run) and (not run or surely_useless(run)) and others:
            what = "hands, stations or racks" if any(row["thing"] != "worker" for row in others) else "hands"
            return [f"Nor would one more of its {what}: what takes long is hours, drying and material."]
        return []
    best = max(sure, key=lambda row: row["average_saved_days"])
    if best["average_saved_days"] <= most_by_clamps:
        return []
    name = f"one more person like the {best['kind']}" if best["thing"] == "worker" else _say_more(best)
    if _worth(run):
        lead = "Something else would save more: "
    else:
        lead = "Hands are the limit: " if best["thing"] == "worker" else "Something else would help: "
    return [f"{lead}{name} would ship the average order {say_gain(_saved(best))} sooner."]


def _say_more(row: Row) -> str:
    if row["thing"] == "rack":
        spots = "spot" if row["added"] == 1 else "spots"
        return f"{row['added']} more {spots} on the {row['kind']}"
    return f"one more {row['kind']}"
