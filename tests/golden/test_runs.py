"""Our own numbers, pinned: a shop with one of everything goes on giving the runs that it has given so far.

Nothing outside the program says that these numbers are right; the other tests do that. These say that a seed still
means what it meant, so that a change of luck or of a rule is never made without anybody noticing. Where one is meant,
``python tests/golden/test_runs.py`` writes them anew, and the commit says why.
"""

from __future__ import annotations

import sys
from functools import cache
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from shopsim import RunResult, Scenario, load_scenario, run_once
from shopsim.engine import keyed
from shopsim.scenario.day_logs import read_days
from shopsim.scenario.logs import read_times
from shopsim.study.beliefs import list_loggable
from shopsim.study.taking_in import take_days, take_times

pytestmark = pytest.mark.usefixtures("each_floor")

HERE = Path(__file__).parent
#: Each run as (after the logs, likely values, replication).
RUNS = {
    "likely": (False, True, 0),
    "first": (False, False, 0),
    "second": (False, False, 1),
    "late material": (False, False, 2),
    "after the logs": (True, False, 0),
}
MINUTES = ("ready", "start", "end", "clamps_off", "done", "setup_min", "work_min")
#: Minutes may differ by this: the last digits of logarithms are not the same on every machine.
SLACK_MIN = 0.01
#: The key of a step, and two draws.
STEP_KEY = 2317899604
DRAWN = [0.7720912175632668, 0.9993233561411414]


@pytest.fixture(autouse=True, scope="module")
def _own_runs(each_floor: str) -> None:
    """Each engine makes its own."""
    make_run.cache_clear()


@cache
def make_run(name: str) -> RunResult:
    """One of the runs; each obeys the laws of a record."""
    logged, likely, replication = RUNS[name]
    scenario = load_scenario(HERE / "shop.toml")
    if logged:
        scenario = take_logs(scenario)
    run = run_once(scenario, seed=1, replication=replication, likely=likely)
    assert run.check() == []
    return run


def take_logs(scenario: Scenario) -> Scenario:
    """The scenario with what the two logs beside it tell."""
    times, faults = read_times((HERE / "times.csv").read_text(), "times.csv", list_loggable(scenario))
    assert faults == []
    scenario = scenario.model_copy(update={"learned": take_times(scenario, times, "times.csv").learned})
    days, faults = read_days((HERE / "days.csv").read_text(), "days.csv", scenario.shop)
    assert faults == []
    return scenario.model_copy(update={"learned": take_days(scenario, days, "days.csv").learned})


def list_tasks(name: str) -> pd.DataFrame:
    """Its tasks: times in minutes from midnight of the first day, and who did them where with which clamps."""
    run = make_run(name)
    table = run.tasks[["operation", "batch", "piece", "unit", "worker", "station", "clamps", "redone_units"]].copy()
    table["begun"] = run.record.begun
    for column in MINUTES:
        table[column] = np.round(getattr(run.record, column), 3)
    return table.assign(run=name)


def list_parts(name: str) -> pd.DataFrame:
    """The minutes of each piece by part and detail, and the day on which it ships."""
    run = make_run(name)
    parts = run.holdups.groupby(["piece", "part", "detail"], as_index=False)["minutes"].sum().round(3)
    ships = run.pieces.set_index("piece")["ships"].dt.strftime("%Y-%m-%d")
    return parts.assign(ships=parts["piece"].map(ships), run=name)


def compare(found: pd.DataFrame, file: str, name: str) -> None:
    """The table found against what the file beside this one has pinned for a run, both read as text."""
    pinned = pd.read_csv(HERE / file).query("run == @name").reset_index(drop=True)
    again = pd.read_csv(StringIO(found.to_csv(index=False)))
    pd.testing.assert_frame_equal(again, pinned, check_exact=False, rtol=0, atol=SLACK_MIN, check_dtype=False)


@pytest.mark.parametrize("name", RUNS)
def test_every_task_is_done_when_and_by_whom_it_has_been_so_far(name: str) -> None:
    compare(list_tasks(name), "tasks.csv", name)


@pytest.mark.parametrize("name", RUNS)
def test_every_piece_ships_and_spends_its_time_as_it_has_so_far(name: str) -> None:
    compare(list_parts(name), "parts.csv", name)


def test_what_a_draw_is_for_keeps_its_number() -> None:
    # Numbers are part of the meaning of a seed: a new purpose gets the next one, and none is ever used again.
    numbers = {
        "WORK": 1, "SETUP": 2, "UNCLAMP": 3, "REDO_CHANCE": 4, "REDO_WORK": 5, "ESTIMATE_ERROR": 6, "PACE": 7, "BIAS": 8,
        "IN_CLAMPS": 9, "CURE": 10, "WET": 11, "CLOCK_RUN": 12, "DAY_SHARE": 13, "DAY_LEVEL": 14, "LOST_DAY": 15,
        "LOST_LEVEL": 16, "LEAD": 17, "LATE": 18, "LATE_BY": 19, "MATERIAL_REST": 20, "TRANSIT": 21, "DEMAND": 22,
        "EVEN_SHIFT": 23,
    }  # fmt: skip
    assert {name: getattr(keyed, name) for name in numbers} == numbers


def test_a_keyed_draw_is_the_number_that_it_has_been_so_far() -> None:
    step = keyed.stable_key("tray", "saw")
    found = [keyed.draw_one(1, 0, keyed.WORK), keyed.draw_one(2**62, 999, keyed.BIAS, step, 7)]
    assert (step, found) == (STEP_KEY, pytest.approx(DRAWN, rel=1e-15))


if __name__ == "__main__":
    pd.concat([list_tasks(name) for name in RUNS]).to_csv(HERE / "tasks.csv", index=False)
    pd.concat([list_parts(name) for name in RUNS]).to_csv(HERE / "parts.csv", index=False)
    sys.stdout.write(f"written: tasks.csv and parts.csv in {HERE}\n")
