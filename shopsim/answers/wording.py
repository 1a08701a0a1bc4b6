"""How numbers are said in a sentence: whole days, rounded to what their interval supports."""

from __future__ import annotations

from collections.abc import Sequence

from shopsim.say import say_level
from shopsim.study.intervals import Interval
from shopsim.units import MINUTES_PER_HOUR


def say_count(n: int, word: str, plural: str | None = None) -> str:
    """``1 piece``, ``2 pieces``, ``1,537 replications``."""
    return f"{n:,} {word if n == 1 else plural or word + 's'}"


def say_days(days: float) -> str:
    """A length in whole days: ``1 day``, ``12 days``; ``less than a day`` where it rounds to none."""
    whole = round(abs(days))
    return say_count(whole, "day") if whole else "less than a day"


def say_gain(saved: Interval) -> str:
    """Days saved with their interval, as finely as it supports: ``about 3 days (2 to 4)``."""
    low, high = sorted((abs(saved.low), abs(saved.high)))
    width = saved.half_width
    places = 0 if width >= 0.5 or abs(saved.value) >= 10 else 1
    shown = f"{abs(saved.value):.{places}f}"
    if float(shown) == 0:
        return "less than a tenth of a day" if places else "less than a day"
    word = "day" if float(shown) == 1 else "days"
    if width < 0.05:
        return f"about {float(shown):g} {word}"
    return f"about {float(shown):g} {word} ({low:.{places}f} to {high:.{places}f})"


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
        shown = f"{minutes:.0f} {'minute' if round(minutes) == 1 else 'minutes'}"
        if exact:
            return f"about {shown}"
        return f"about {shown} ({low * MINUTES_PER_HOUR:.0f} to {high * MINUTES_PER_HOUR:.0f})"
    if exact:
        return f"about {abs(saved.value):.1f} hours"
    return f"about {abs(saved.value):.1f} hours ({low:.1f} to {high:.1f})"
