"""Hours of people for a piece: as the file says them, as they are expected, and why the two differ."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopsim.answers.alternatives import spread_points
from shopsim.answers.wording import join_words
from shopsim.say import say_number
from shopsim.scenario.model import Scenario
from shopsim.scenario.ways import put_ways
from shopsim.study.measures import MEASURES
from shopsim.study.once import RunResult, run_once
from shopsim.study.results import Study
from shopsim.study.runner import run_study
from shopsim.units import MINUTES_PER_HOUR

#: The measure of hours a piece.
HOURS = "hands_on_h_a_piece"
assert HOURS in MEASURES
#: Tasks of all runs together up to which hours are expected from MAX_RUNS runs, and the fewest runs.
MAX_TASKS_TOGETHER, MAX_RUNS, MIN_RUNS = 40_000, 100, 20


def written_hours(likely: RunResult) -> float:
    """Hours a piece as they are written: likely values, set-ups and clamps taken off, over the pieces made, spares too."""
    work, record = likely.plan.worklist, likely.record
    hands = [work.steps[step].operation.hands for step in work.task_step]
    minutes = float(((record.setup_min + record.work_min) * hands).sum()) + sum(likely.draws.unclamp)
    return minutes / MINUTES_PER_HOUR / work.n_pieces


def find_reasons(scenario: Scenario) -> list[str]:
    """Why the hours that are expected differ from those that are written, as far as it is true of this scenario."""
    steps = [operation for design in put_ways(scenario).all_designs for operation in design.operations]
    ranges = [operation for operation in steps if operation.work.name == "range"]
    reasons = []
    if any(operation.basis == "guess" for operation in ranges) and scenario.luck.bias > 1:
        reasons.append("guesses tend to be short")
    if any(low * high > likely**2 for low, likely, high in (operation.work.numbers for operation in ranges)):
        reasons.append("ranges that lean to the long side lift the mean above the likely value")
    if any(operation.redo is not None for operation in steps):
        reasons.append("some work is done again")
    if scenario.learned.times:
        reasons.append("your logs say how long work really takes you")
    return reasons


def say_hours(written: float, values: np.ndarray, reasons: Sequence[str]) -> str:
    """The three numbers and why they differ; ``values``: hours a piece of each replication, shape (n,)."""
    low, _, high = spread_points(values)
    mean = float(np.mean(values))
    text = (
        f"Hours a piece: {say_number(written, 1)} as you wrote them (likely values and set-ups), {say_number(mean, 1)} as we expect them (the "
        f"mean of {values.size:,} runs; 10 % are below {say_number(low, 1)}, 10 % above {say_number(high, 1)})."
    )
    if say_number(written, 1) == say_number(mean, 1) or not reasons:
        return text
    return f"{text} They differ because {join_words(reasons)}."


def say_study_hours(scenario: Scenario, study: Study, name: str) -> str:
    """``say_hours`` of an alternative of a study."""
    likely = run_once(scenario, seed=study.seed, likely=True)
    return say_hours(written_hours(likely), study.values(name, HOURS), find_reasons(scenario))


def say_expected_hours(scenario: Scenario, likely: RunResult, seed: int) -> str:
    """``say_hours`` of a scenario run for it, between MIN_RUNS and MAX_RUNS times; costs a second or two.

    A run of more tasks than MAX_TASKS_TOGETHER / MIN_RUNS is not run here, and that is said.
    """
    n_tasks = likely.plan.worklist.n_tasks
    if n_tasks * MIN_RUNS > MAX_TASKS_TOGETHER:
        return (
            f"Hours a piece: {say_number(written_hours(likely), 1)} as you wrote them (likely values and set-ups). What is expected "
            "of them is told with batch sizes: this run is too large to be run many times here."
        )
    runs = min(MAX_RUNS, max(MIN_RUNS, MAX_TASKS_TOGETHER // n_tasks))
    study = run_study({"now": scenario}, replications=runs, seed=seed)
    return say_hours(written_hours(likely), study.values("now", HOURS), find_reasons(scenario))
