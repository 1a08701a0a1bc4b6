"""What the table of hold-ups says in plain words: what saves most, and where the days of a piece go."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS
from shopsim.answers.one_more import HANDS
from shopsim.answers.wording import join_words, say_count, say_days, say_gain
from shopsim.engine.task_holdups import (
    CLAMPS,
    CLOSED,
    CURING,
    HANDS_ON,
    IN_CLAMPS,
    MATERIAL,
    MATES,
    NO_FIT,
    PLANNED,
    RACK,
    STATION,
    WET,
    WORKER,
)
from shopsim.say import say_number
from shopsim.scenario.model import Scenario
from shopsim.study.accounts import Accounts
from shopsim.study.intervals import Interval


def say_savings(rows: Sequence[Mapping[str, Any]], scenario: Scenario, replications: int, other: str) -> list[str]:
    """What saves most, whether hands or clamps are the limit, and what surely makes it later; ``other``: "else " after what
    costs nothing."""
    count = say_count(replications, "replication")
    sure = [row for row in rows if row["is_sure"] and row["average_saved_days"] >= MATTERS_DAYS]
    said = []
    piece = scenario.lines[0].design if len(scenario.lines) == 1 else "piece"
    if sure:
        best = sure[0]
        cost = "" if math.isnan(best["cost"]) else f" for {say_number(best['cost'])}"
        said.append(
            f"Of all {other}that was tried, {best['what']} saves most: the average {piece} ships {_say_saved(best)} "
            f"sooner{cost}."
        )
        if len(sure) > 1:
            after = [f"{row['what']} ({_say_saved(row)})" for row in sure[1:4]]
            said.append(f"Next {'is' if len(after) == 1 else 'are'} {join_words(after)}.")
    elif any(row["average_saved_days_high"] >= MATTERS_DAYS and not row["average_saved_days_unseen"] for row in rows):
        said.append(
            f"Nothing {other}that was tried surely saves a quarter of a day; it cannot be told apart yet at {count}."
        )
    else:
        said.append(f"Nothing {other}that was tried by itself saves a quarter of a day, from {count}.")
    clamps = [row for row in rows if row["thing"] == "clamps" and not math.isnan(row["average_saved_days"])]
    helped = any(row in sure for row in clamps)
    if sure and sure[0]["thing"] in HANDS and clamps and not helped:
        most = max(
            clamps, key=lambda row: -math.inf if row["average_saved_days_unseen"] else row["average_saved_days_high"]
        )
        none = most["average_saved_days_unseen"] or most["average_saved_days_high"] <= 1e-9
        if none or most["average_saved_days_high"] < sure[0]["average_saved_days_low"]:
            if most["average_saved_days_high"] <= 1e-9:
                bound = "would save nothing at all"
            elif none:
                bound = "saves nothing in any run"
            else:
                bound = f"would save at most {_say_bound(most['average_saved_days_high'])}"
            said.append(f"Your hands are the limit, not your clamps: {most['what']} {bound}.")
    later = [row for row in rows if row["average_saved_days_high"] < 0 and -row["average_saved_days"] >= MATTERS_DAYS]
    said += [
        f"With {row['what']} the average {piece} ships {_say_saved(row)} later: as run, and no mistake, for more can "
        "upset the order of work."
        for row in later
    ]
    return said


def _say_saved(row: Mapping[str, Any]) -> str:
    return say_gain(
        Interval(row["average_saved_days"], row["average_saved_days_low"], row["average_saved_days_high"], CONFIDENCE)
    )


def _say_bound(days: float) -> str:
    return f"{say_number(days, 1)} days" if days >= 0.05 else "less than 0.1 days"


def say_time(accounts: Accounts) -> str:
    """Where the days of an average piece went, the largest parts first."""
    parts = accounts.piece.groupby("part", sort=False)["days"].sum().sort_values(ascending=False)
    shown = [f"{_PARTS.get(str(part), f'{part} takes')} {_say_part(days)}" for part, days in parts.head(4).items()]
    text = f"Of the {say_days(float(parts.sum()))} that a piece takes once its batch is open, {join_words(shown)}"
    rest = float(parts.iloc[4:].sum())
    return f"{text}, the rest {_say_part(rest)}." if rest > 0 else f"{text}."


def _say_part(days: float) -> str:
    return say_number(days, 1) if days >= 0.05 else "less than 0.1"


#: How parts of elapsed time are said; hold-ups of other kinds as they are called.
_PARTS = {
    CLOSED: "the shop is closed for", CURING: "glue and finish cure for", HANDS_ON: "hands are on it for",
    IN_CLAMPS: "it stands in clamps for", WORKER: "it waits for hands for", MATERIAL: "it waits for material for",
    MATES: "it waits for its batch-mates for", CLAMPS: "it waits for clamps for", RACK: "it waits for the rack for",
    STATION: "it waits for a machine or bench for", WET: "it waits for clean air for",
    NO_FIT: "it waits for a stretch that is long enough for", PLANNED: "the plan holds it back for",
}  # fmt: skip
