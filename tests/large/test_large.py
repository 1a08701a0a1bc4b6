"""The largest file that a maker may ever write runs, and work and memory grow no faster than the number of tasks.

Work is counted in calls of functions, not in seconds, so that a busy machine does not matter; what a task
takes in time is measured by ``tests/benchmarks/bench_growth.py``.
"""

from __future__ import annotations

import cProfile
import pstats
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from shopsim import parse_scenario
from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run

from .large_files import OPERATIONS, PIECES, write_large

TOP = Path(__file__).resolve().parents[2]
#: How much more a task may cost in a run of twenty times as many.
ALLOWED = 1.25

MEMORY = """
import sys
import numpy as np
from shopsim import load_scenario
from shopsim.engine.run import run
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.luck import draw_luck
plan = build_plan(load_scenario(sys.argv[1]))
record = run(plan, draw_luck(plan.luck, 1, 0))
# the most this program has held; getrusage would count what the test had before it started this
most_kb = next(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(int(np.isfinite(record.done).sum()), float(record.done.max()) / 1440, most_kb)
"""


def run_apart(path: Path) -> tuple[int, float, float]:
    """(tasks done, days, MB at most) of one run of a file in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", MEMORY, str(path)], capture_output=True, text=True, check=False, cwd=TOP
    )
    assert (done.returncode, done.stderr) == (0, "")
    tasks, days, most_kb = done.stdout.split()
    return int(tasks), float(days), int(most_kb) / 1024


@pytest.mark.slow
def test_two_thousand_pieces_of_two_hundred_operations_run_for_ten_years_in_bounded_memory(tmp_path: Path) -> None:
    held = []
    for pieces in (100, 500, PIECES):
        path = tmp_path / f"{pieces}.toml"
        path.write_text(write_large(pieces), encoding="utf-8")
        tasks, days, most_mb = run_apart(path)
        assert tasks == pieces * OPERATIONS
        held.append((tasks, most_mb))
    assert days > 9 * 365
    assert most_mb < 1024
    (few, few_mb), (some, some_mb), (many, many_mb) = held
    assert (many_mb - some_mb) / (many - some) < (some_mb - few_mb) / (some - few) * ALLOWED


def count_calls(pieces: int) -> float:
    """Calls of functions a task, to make a plan and run it once."""
    scenario = parse_scenario(write_large(pieces, operations=40))
    profile = cProfile.Profile()
    profile.enable()
    plan = build_plan(scenario)
    record = run(plan, draw_luck(plan.luck, 1, 0))
    profile.disable()
    assert int(np.isfinite(record.done).sum()) == pieces * 40
    return float(pstats.Stats(profile).total_calls) / (pieces * 40)  # type: ignore[attr-defined]


@pytest.mark.slow
def test_a_task_costs_no_more_calls_in_a_large_run_than_in_a_small_one() -> None:
    assert count_calls(1_000) < count_calls(50) * ALLOWED
