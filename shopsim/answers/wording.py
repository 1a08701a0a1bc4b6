"""How numbers are said in a sentence: whole days, rounded to what their interval supports."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.plurals import say_number_of
from shopsim.say import IN_NO_RUN, say_level, say_number, say_plain, say_range
from shopsim.study.intervals import Interval, most_share
from shopsim.units import MINUTES_PER_HOUR


def say_count(n: int, word: str, plural: str | None = None) -> str:
    """``1 piece``, ``2 pieces``, ``1,537 replications``."""
    return say_number_of(n, word) if plural is None else f"{n:,} {word if n == 1 else plural}"


def say_days(days: float) -> str:
    """A length in whole days: ``1 day``, ``12 days``; ``less than a day`` where it rounds to none."""
    whole = round(abs(days))
    return say_count(whole, "day") if whole else "less than a day"


def say_window(first: object, last: object) -> str:
    """When something ships: ``from 2027-04-16 to 2027-06-18``, or ``on 2027-04-16`` where both are one day."""
    return f"on {first}" if first == last else f"from {first} to {last}"


def say_gain(saved: Interval) -> str:
    """Days saved or lost with their interval, the same numbers as in a table: ``3.4 days (2.6 to 4.1)``."""
    sign = 1.0 if saved.value >= 0 else -1.0
    low, high = sorted((sign * saved.low, sign * saved.high))
    number, bracket, ends = say_range(abs(saved.value), low, high, saved.unseen).partition(" ")
    return f"{number} {'day' if number == '1' else 'days'}{bracket}{ends}"


def say_last(saved: Interval) -> str:
    """What a change does to the last order, to follow what it does to the average one; the sign of ``saved``: sooner."""
    if saved.unseen or saved.low == saved.high == 0:
        return "and the last one on the same day"
    if saved.low > 0:
        return f"and the last one {say_gain(saved)} sooner"
    if saved.high < 0:
        return f"but the last one {say_gain(saved)} later"
    return (
        "and of the last one it cannot be told: "
        f"{say_range(saved.value, saved.low, saved.high)} days sooner, where a minus means later"
    )


def say_tolerance(matters: float, hours: bool = False) -> str:
    """The smallest difference that mattered to a search: ``0.25 days``, ``7 days``; of hours, ``3 minutes``."""
    if hours:
        return say_count(math.ceil(round(matters * MINUTES_PER_HOUR, 6)), "minute")
    return f"{say_plain(matters)} {'day' if matters == 1 else 'days'}"


def note_unseen(replications: int, comparisons: int, confidence: float) -> str:
    """What "in every run" leaves open."""
    most = most_share(0, replications, 1 - (1 - confidence) / comparisons)
    return (
        f'"{IN_NO_RUN}": nothing changed in any of {say_count(replications, "replication")}, so that it does in at most '
        f"{say_plain(math.ceil(most * 1000) / 10)} % of runs ({say_confidence(confidence)}); what that may come to in days stands "
        "in the table as a file."
    )


def join_words(words: Sequence[str], last: str = "and") -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def say_confidence(confidence: float) -> str:
    """``95 %``."""
    return say_level(confidence)


def say_hours_gain(saved: Interval) -> str:
    """Hours with their interval, in minutes where they are few: ``about 12 minutes (9 to 15)``."""
    low, high = sorted((abs(saved.low), abs(saved.high)))
    exact = saved.half_width * MINUTES_PER_HOUR < 0.5
    if abs(saved.value) < 1.95:
        minutes = MINUTES_PER_HOUR * abs(saved.value)
        if round(minutes) == 0:
            return "less than a minute"
        shown = f"{say_number(minutes)} {'minute' if round(minutes) == 1 else 'minutes'}"
        if exact:
            return f"about {shown}"
        return f"about {shown} ({say_number(low * MINUTES_PER_HOUR)} to {say_number(high * MINUTES_PER_HOUR)})"
    if exact:
        return f"about {say_number(abs(saved.value), 1)} hours"
    return f"about {say_number(abs(saved.value), 1)} hours ({say_number(low, 1)} to {say_number(high, 1)})"
