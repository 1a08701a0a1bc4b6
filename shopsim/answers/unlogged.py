"""What to read beside a forecast of a shop that has timed and logged nothing yet."""

from __future__ import annotations

import pandas as pd

from shopsim.engine.learned import can_learn
from shopsim.scenario.model import Scenario
from shopsim.scenario.ways import put_ways
from shopsim.study.beliefs import name_steps, steps_of
from shopsim.study.shared_factors import CALENDAR


def say_unlogged(scenario: Scenario, moves: pd.DataFrame | None = None) -> str:
    """That nothing is timed or logged, what that may do to the dates, and which log mends it first; "" once something is.

    ``moves``: rows of what moves the date, if they are known; else the largest guess and the days are named.
    How often windows held: shops drawn apart from the program, whose guesses were 1.64 times too short,
    whose days were lost three times as often, or whose times had heavier tails about the same median.
    """
    learned = scenario.learned
    timed = any(op.basis == "timed" for design in put_ways(scenario).all_designs for op in design.operations)
    if learned.times or learned.days or timed:
        return ""
    return (
        "Nothing has been timed or logged yet, so that these dates rest on guesses and may be too early: in trials with "
        "shops whose guesses were too short, whose days were lost more often or whose times ran long more often than is "
        "assumed, windows of 80 % held in 72 to 80 % of cases, and as stated once three pieces were timed and forty days "
        f"logged. What mends it first: {_say_first(scenario, moves)}."
    )


def _say_first(scenario: Scenario, moves: pd.DataFrame | None) -> str:
    """Which log to write first."""
    if moves is not None:
        helps = moves[moves["window_then_days"].notna() & (moves["window_then_days"] < moves["window_days"])]
        helps = helps[helps["time_first"].eq(1).fillna(False) | helps["what"].eq(CALENDAR)]
        ways = [
            "log your days" if row["what"] == CALENDAR else f'time "{row["name"]}"'
            for row in helps.sort_values("window_then_days", kind="stable").to_dict("records")
        ]
        if ways:
            return ", then ".join(ways)
    guess = find_largest_guess(scenario)
    return f'time "{guess}", the largest guess, and log your days' if guess else "log your days"


def find_largest_guess(scenario: Scenario) -> str:
    """The operation whose hands-on work, which is a range, comes to the most likely minutes a piece; "" where none is."""
    steps = steps_of(scenario)
    batch = max((int(line.batch) for line in scenario.lines if isinstance(line.batch, int)), default=1)
    minutes: dict[str, float] = {}
    for (_, name), number in name_steps(scenario, steps).items():
        operation = steps[number].operation
        if can_learn(operation) and operation.hands > 0:
            shared = batch if operation.per in ("run", "batch") else 1
            units = 1 if shared > 1 else steps[number].units_a_piece
            minutes[name] = max(minutes.get(name, 0.0), operation.work.likely * units / shared)
    return max(minutes, key=lambda name: minutes[name], default="")
