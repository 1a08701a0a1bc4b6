"""What is said of ways of making it: what each does to the run, and from how many pieces on it pays."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, read_interval
from shopsim.answers.wording import say_confidence, say_count, say_gain, say_hours_gain, say_last
from shopsim.plurals import say_number_of
from shopsim.say import say_number
from shopsim.study.intervals import Interval


def say_ways(rows: pd.DataFrame, pays: pd.DataFrame, made: int, replications: int) -> str:
    """The sentence: each row but today's, then what pays. Every number stands in the tables."""
    found = {str(row["what"]): row for row in pays.to_dict("records")}
    parts = []
    for row in rows.to_dict("records"):
        if row["is_now"]:
            continue
        if row["remark"]:
            parts.append(f"{_say_way(row)} cannot be made in this shop.")
            continue
        parts.append(_say_row(row))
        if row["ways"] in found:
            parts.append(_say_pays(row, found[row["ways"]], made))
    ends = (
        f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from {say_count(replications, 'replication')} on the "
        "same luck."
    )
    return " ".join([*parts, ends])


def _say_way(row: Mapping[Any, Any]) -> str:
    name = str(row["ways"])
    return f'Without "{name.removeprefix("without ")}" it' if name.startswith("without ") else f'"{name}"'


def _say_row(row: Mapping[Any, Any]) -> str:
    """What it does to hours and ship days, against today."""
    name = str(row["ways"])
    lead = f'Without "{name.removeprefix("without ")}"' if name.startswith("without ") else f'With "{name}"'
    cost = float(row["cost"])
    price = f" ({say_number(cost)} in your own money)" if cost > 0 else ""
    hours = read_interval(row, "hands_on_saved_h")
    average, last = read_interval(row, "average_saved_days"), read_interval(row, "last_saved_days")
    if hours.unseen or hours.low == hours.high == 0:
        work = "takes as many hours in every run"
    elif hours.low > 0:
        work = f"takes {say_hours_gain(hours)} less"
    elif hours.high < 0:
        work = f"takes {say_hours_gain(hours)} more"
    else:
        work = "takes about as many hours: whether more or fewer cannot be told"
    if average.unseen or average.low == average.high == 0:
        days = "the average order ships on the same day"
    elif average.low > 0:
        days = f"the average order ships {say_gain(average)} sooner"
    elif average.high < 0:
        days = f"the average order ships {say_gain(average)} later"
        return f"{lead}{price} a piece {work}; {days}, {_say_last_too(last)}."
    else:
        return f"{lead}{price} a piece {work}; that the average order ships sooner or later cannot be told."
    return f"{lead}{price} a piece {work}; {days}, {say_last(last)}."


def _say_last_too(saved: Interval) -> str:
    """What it does to the last order, where it ships the average one later."""
    if saved.low > 0:
        return f"but the last one {say_gain(saved)} sooner"
    return f"and the last one {say_gain(saved)} later" if saved.high < 0 else say_last(saved)


def _say_pays(row: Mapping[Any, Any], found: Mapping[Any, Any], made: int) -> str:
    """From how many pieces on it pays in hours of work."""
    start, low, high = (float(found[key]) for key in ("pays_from", "pays_from_low", "pays_from_high"))
    tried = int(found["pieces_tried"])
    it = "Having it" if str(row["ways"]).startswith("without ") else "It"
    if math.isnan(start):
        sure = "" if math.isnan(low) else ", though that is not sure"
        return f"{it} takes more hours of work than it saves with up to {say_number_of(tried, 'piece')}, the most tried{sure}."
    least = f"{say_number(low)}" if not math.isnan(low) else ""
    most = f"{say_number(high)}" if not math.isnan(high) else ""
    if most and least and least != most:
        spread = f" ({least} to {most})"
    elif not most:
        spread = f" ({least} or more: up to {say_number(tried)} were tried)"
    else:
        spread = ""
    return f"{it} pays in hours of work from {say_number_of(int(start), 'piece')} on{spread}; this run makes {say_number(made)}."
