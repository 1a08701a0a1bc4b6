"""What is said of what it would take."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from shopsim.answers.wording import join_words, say_count
from shopsim.say import say_chance, say_level, say_number
from shopsim.study.reaching import ABOUT, REACHES

#: Sets that are told in the sentence; all stand in the table.
MAX_TOLD = 3


def say_reach(
    rows: pd.DataFrame, searched: pd.DataFrame, by: dt.date, chance: float, order: str | None, already: bool
) -> str:
    """The sentence; every number of it stands in the tables."""
    today, *others = rows.to_dict("records")
    whose = "all orders are out" if order is None else f'order "{order}" is out'
    asked = f"{whose} by {by:%Y-%m-%d} with a chance of {say_level(chance)}"
    if already:
        days = int(searched["room_days"].iloc[0])
        room = f"with room of {say_count(days, 'day')}" if days else "with no day to spare"
        return (
            f"Already reached, {room}: as things stand {whose} by {by:%Y-%m-%d} in {say_chance(today['reach_chance'])} of "
            f"runs, and the day with a chance of {say_level(chance)} is {today['reached_by']}."
        )
    as_is = f"as things stand the chance is {say_chance(today['reach_chance'])}"
    reached = [row for row in others if row["stands"] == REACHES]
    about = [row for row in others if row["stands"] == ABOUT]
    parts = []
    if reached:
        parts.append(f"That {asked} takes {_say_sets(reached)}; {as_is}.")
        if len(reached) > MAX_TOLD:
            parts.append(f"{say_count(int(searched['sets_reach'].iloc[0]), 'set')} in all reach it.")
    elif about:
        parts.append(f"That {asked} is surely reached by nothing that was tried; {as_is}.")
    else:
        parts.append(f"That {asked} is not reached by anything tried; {as_is}.")
    if about and not reached:
        parts.append(f"About there, so that it cannot be told: {_say_sets(about)}.")
    elif today["stands"] == ABOUT:
        parts.append("Whether it is reached already cannot be told.")
    if not reached and not about and others:
        (nearest,) = others
        parts.append(
            f"Nearest is {nearest['what']}: {say_chance(nearest['reach_chance'])}, and {nearest['reached_by']} is the day that then has a "
            f"chance of {say_level(chance)}."
        )
    return " ".join(parts)


def _say_sets(rows: Sequence[Mapping[Any, Any]]) -> str:
    return "; or ".join(_say_set(row) for row in rows[:MAX_TOLD])


def _say_set(row: Mapping[Any, Any]) -> str:
    cost = float(row["cost"])
    price = f", for {say_number(cost)} in your own money" if cost > 0 else ""
    return f"{row['what']} ({say_chance(row['reach_chance'])}{price})"


def say_left_out(searched: pd.DataFrame, locked: Sequence[str]) -> list[str]:
    """How many sets were run and left out, and why."""
    row = {str(key): int(value) for key, value in searched.iloc[0].items() if not math.isnan(value)}
    if "room_days" in row:
        return ["Nothing was searched, as it is reached already."]
    parts = [f"{say_count(row['sets_run'], 'set')} of {say_count(row['levers_tried'], 'lever')} were run"]
    for key, words in (
        ("left_by_bound", "left out as surely too late"),
        ("fell_short", "fell short on fresh luck"),
        ("left_as_held", "not needed, as less of it reaches"),
        ("left_by_limit", "not run, as there were too many"),
        ("impossible", "cannot be done"),
    ):
        if row[key]:
            parts.append(f"{row[key]:,} {words}")
    notes = [
        "; ".join(parts) + ".",
        "Chances are of fresh luck that the search has not seen; a set that is told does without none of its parts, as far as was tried. "
        "Cheapest first: what costs nothing, fewer orders, hours, things to buy, people.",
    ]
    if locked:
        notes.append(f"Left alone as you asked: {join_words(list(dict.fromkeys(locked)))}.")
    return notes
