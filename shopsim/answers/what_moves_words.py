"""What moves the date in plain words, and what must be read beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from shopsim.answers.wording import join_words, say_count, say_days
from shopsim.say import say_level, say_share
from shopsim.study.shared_factors import BIAS, CALENDAR, CURING, ESTIMATE, MATERIAL, PACE, Factor, Fit

#: Gains below this share of the variance are not worth naming (own judgement).
MIN_GAIN = 0.005
#: Kinds of luck in plain words, where they have no name.
_PLAIN = {
    BIAS: "how far all your guesses are out together",
    CALENDAR: "interruptions and lost days",
    PACE: "your pace in this run",
    CURING: "how fast things cure",
}


def say_what_moves(
    rows: pd.DataFrame,
    fit: Fit,
    window: int,
    confidence: float,
    *,
    first: tuple[Factor, ...],
    both: float | None,
    logged: float | None,
    stopped: bool,
    units: int,
    days: int,
) -> str:
    """What the date depends on, and what to measure first.

    ``window``: today's width, days. ``both``: the width to expect after timing ``first``, ``logged``: after logging days;
    None where that does not narrow it. ``stopped``: before either was run.
    """
    if fit.total <= 0.0:
        return (
            "Nothing that the whole run shares moves the day on which the last order ships: "
            "what varies does so from unit to unit, and timing one thing would not narrow the window."
        )
    tops = [
        f"{say_factor(row)} ({say_share(float(row['share']))}{'' if number else ' of its variance'})"
        for number, row in enumerate(rows.head(3).to_dict("records"))
        if row["share"] >= MIN_GAIN
    ]
    text = f"The day on which the last order ships depends most on {join_words(tops)}. "
    asked = say_level(confidence)
    names = join_words([f'"{factor.name}"' for factor in first])
    if window == 0:
        return f"{text}But it is one and the same day in the {asked} window: there is nothing to narrow."
    if stopped:  # before it was run how far anything would narrow the window
        return (text + (f"Time {names} first." if first else "")).strip()
    from_now = f"would narrow the {asked} window of the last order from {say_count(window, 'day')} to"
    logging = "" if logged is None else f"{days} days logged {from_now} {_say_about(logged)}."
    if both is None:
        if logging:
            return f"{text}Log your days first: {logging}"
        return f"{text}Neither timing nor logging days would narrow the window by a day that these runs can tell.{_say_shelf(rows)}"
    which = "this" if len(first) == 1 else f"these {_say_number(len(first))}"
    if logged is not None and logged < both:
        return f"{text}Log your days first: {logging} Then time {names}."
    timing = f"Time {which} first: {names}; {units} units of each {from_now} {_say_about(both)}."
    return f"{text}{timing} {logging}".strip()


def _say_about(width: float) -> str:
    """A width to follow "from 5 days to"."""
    return f"about {round(width)}" if round(width) else say_days(width)


def _say_shelf(rows: pd.DataFrame) -> str:
    top = rows.iloc[0]
    return f' Have "{top["name"]}" on the shelf before you begin.' if top["what"] == MATERIAL else ""


def list_notes(
    fit: Fit, gain: Mapping[Factor, float], error: float | None, n_logs: int, units: int, days: int, stopped: bool
) -> tuple[str, ...]:
    """What shares are and what the rest is, how logs are imagined and how well the windows are known. ``error``: the largest, days."""
    notes = [
        f"Shares are of the variance of the last ship day; all these things together explain {say_share(min(1.0, fit.total))}. The rest is "
        "left by single units, by the interplay of these things, and by days being lumps.",
        f"Timing is reckoned as {units} units of an operation in one run, logging as {days} days.",
    ]
    if error is not None:
        notes[1] += (
            f" What such a log will say is not known: the window then is the average over {n_logs} logs drawn from what is "
            f"believed now, each learned from and run again, and known to within {say_count(math.ceil(2 * error), 'day')}. "
            "Yours may come out narrower or wider."
        )
    own = {found.factor: found.share for found in fit.shares}
    if any(own[factor] < gained / 2 for factor, gained in gain.items()):
        notes.append(
            "A time that is logged tells not only of its own guess but of all of them together; so an operation whose "
            "own guess is sure may tell most."
        )
    if stopped:
        notes.insert(0, "Stopped before it was run how far a log would narrow the window.")
    return tuple(notes)


def _say_number(n: int) -> str:
    return {2: "two", 3: "three"}.get(n, str(n))


def say_factor(row: Mapping[Any, Any]) -> str:
    """What moves the date, as a part of a sentence."""
    if row["what"] == ESTIMATE:
        return f'the guess for "{row["name"]}"'
    if row["what"] == MATERIAL:
        return f'when "{row["name"]}" comes'
    return _PLAIN[str(row["what"])]
