"""What is said of the days in plain words: which plan they are of, how much better it is, how far from the bound."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE
from shopsim.answers.wording import say_confidence, say_count, say_gain, say_hours_gain
from shopsim.dates import moment
from shopsim.engine.lower_bound import LowerBound
from shopsim.priority import AS_PLANNED
from shopsim.say import say_number, say_plain, say_share
from shopsim.study.intervals import Interval
from shopsim.study.once import RunResult

if TYPE_CHECKING:
    from shopsim.answers.plan_of_days import Searched

_WISHES = {"average": "the average order", "last": "the last order", "idle": "hours with idle hands"}


def say_days_found(
    told: Mapping[str, Mapping[Any, Any]], chosen: str, rule: str, wish: str, gain: Interval | None, run: RunResult,
    replications: int, looking: bool = False,
) -> str:  # fmt: skip
    """One sentence or two. ``told``: rows of the plans compared, by name; ``gain``: of the plan found against the best named rule;
    ``looking``: the search is still to come."""
    row = told[chosen]
    last = moment(float(run.record.done.max()), run.plan.worklist.day0)
    gap = row["above_bound_share"]
    near = (
        "as early as any order of work can"
        if gap < 5e-4
        else f"{say_share(gap)} later than a proven bound that no order of work can beat"
    )
    end = f"at likely times its last piece is done on {last:%a %d %b %Y}, {near}"
    if looking:
        best = "leaves hands idle least" if wish == "idle" else f"ships {_WISHES[wish]} soonest"
        return (
            f'A better plan is being searched; so far, of the rules that there are, "{rule}" {best}, on the mean of '
            f"{say_count(replications, 'run')}. These are its days: {end}."
        )
    if gain is None:
        return f'The days as the file stands, under "{chosen}": {end}.'
    how_sure = (
        f"over {say_count(replications, 'run')} of luck that the search has not seen, {say_confidence(CONFIDENCE)} sure"
    )
    if chosen not in (rule,):
        return f"{_say_better(wish, gain, rule)}, {how_sure}; {end}."
    return (
        f'The search found no plan that is surely better than "{rule}" ({_say_open(wish, gain)}, {how_sure}), '
        f'so these are the days under "{rule}": {end}.'
    )


def _say_better(wish: str, gain: Interval, rule: str) -> str:
    what = "the plan in the file" if rule == AS_PLANNED else "the best named rule"
    if wish == "idle":
        return f'The plan found leaves hands idle {say_hours_gain(gain)} less than "{rule}", {what}'
    return f'The plan found ships {_WISHES[wish]} {say_gain(gain)} sooner than "{rule}", {what}'


def _say_open(wish: str, gain: Interval) -> str:
    unit = "h" if wish == "idle" else "days"
    said = " to ".join(say_number(value, 1) for value in (gain.low, gain.high))
    return f"its best saves {say_number(gain.value, 1)} {unit}, {said}, of {_WISHES[wish]}"


def say_notes(
    open_times: pd.DataFrame, searched: Searched, seconds: float, bound: LowerBound, rounds: pd.DataFrame
) -> tuple[str, ...]:
    """What to read beside the days."""
    notes = [
        "The days are those of one run at likely times: a plan to work by, not a date to state; for that see: shopsim delivery."
    ]
    if searched.stopped == "the time limit":
        notes.append(
            f"The search was stopped by its time limit of {say_plain(seconds)} s after {searched.n_tried:,} plans, before all it was to look "
            "at: a longer limit goes on, and the same seed need not find the same plan."
        )
    elif searched.stopped:
        notes.append(f"You stopped the search after {searched.n_tried:,} plans: the best so far was compared.")
    elif searched.plan is not None:
        notes.append(f"{searched.n_tried:,} plans were looked at; the same seed finds the same plan.")
    for row in open_times[open_times["is_likely"]].to_dict("records"):
        notes.append(
            f'"{row["operation"]}" is likely to pass the working time of its glue: {say_number(row["work_min"])} min of work at '
            f"likely times against {say_number(row['open_time_min'])} min, and too long in {say_share(row['too_long_share'])} of "
            f"runs. What mends it: {row['mend']}."
        )
    if rounds["waited"].any():
        n = int(rounds["waited"].sum())
        notes.append(
            f"{say_count(n, 'round')} of glue-ups {'waits' if n == 1 else 'wait'} for clamps to come off; shopsim clamps says what more of them would save."
        )
    notes.append(f"The bound is that of {bound.reason}.")
    return tuple(notes)
