"""What a second process is worth: the same study in this process, and in two.

    python tests/benchmarks/bench_processes.py [--rounds 8] [--replications 400] [scenario.toml ...]

The study is run by turns in this process, in two processes that are there already, and in two that are
started for it (as a command does). Time is that of the clock on the wall, as whoever waits sees it, so
other work on the machine counts: each ratio is taken within a round, and its 95 % interval from
resampling the rounds. All have to come to the same numbers, bit for bit, and each counts its runs.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from timing_blocks import SEED, resample_ratio, time_by_turns

from shopsim.engine.worklist import build_worklist
from shopsim.scenario import Scenario, load_scenario
from shopsim.study import Study, run_study
from shopsim.study.process_pool import open_workers

EXAMPLES = Path(__file__).parents[2] / "scenarios"


@dataclass
class Shared:
    """Wall seconds of a study, shape (rounds, 3): in one process, in two that are there, in two started for it."""

    seconds: np.ndarray
    studies: list[int]
    runs: int
    tasks: int


def measure_processes(scenario: Scenario, replications: int, rounds: int) -> Shared:
    """One study by turns in all three ways; AssertionError if one of them does less, or another thing."""
    tasks = build_worklist(scenario).n_tasks
    shared = Shared(np.zeros(0), [0, 0, 0], replications, tasks * replications)
    usual = run_study({"now": scenario}, replications=replications, seed=SEED)
    with open_workers(2) as pool:
        ways = [
            _prepare(shared, scenario, usual, place, jobs, executor)
            for place, (jobs, executor) in enumerate(((1, None), (2, pool), (2, None)))
        ]
        shared.seconds = time_by_turns(ways, rounds, 0.0, time.perf_counter)
    return shared


def _prepare(
    shared: Shared, scenario: Scenario, usual: Study, place: int, jobs: int, executor: Executor | None
) -> Callable[[int], None]:
    def run(_: int) -> None:
        study = run_study({"now": scenario}, replications=shared.runs, seed=SEED, jobs=jobs, executor=executor)
        assert study.complete
        mine, theirs = study.outcomes["now"], usual.outcomes["now"]
        assert mine.measured.shape[0] == shared.runs
        assert np.array_equal(mine.measured, theirs.measured), "another number of processes came to other numbers"
        assert np.array_equal(mine.order_days, theirs.order_days)
        shared.studies[place] += 1

    return run


def main() -> None:
    """Prints one line an example."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scenarios", nargs="*", type=Path, default=sorted(EXAMPLES.glob("*.toml")))
    parser.add_argument("--rounds", type=int, default=8)
    parser.add_argument("--replications", type=int, default=400)
    options = parser.parse_args()
    print(f"{'scenario':<18}{'tasks in all':>13}{'one, s':>9}{'two':>8}{'times faster':>22}{'started for it':>24}")
    for path in options.scenarios:
        shared = measure_processes(load_scenario(path), options.replications, options.rounds)
        one, ready, started = shared.seconds.T
        said = []
        for two in (ready, started):
            ratio, low, high = resample_ratio(one, two)
            said.append(f"{ratio:.2f} ({low:.2f} to {high:.2f})")
        print(f"{path.stem:<18}{shared.tasks:>13,}{one.mean():>9.2f}{ready.mean():>8.2f}{said[0]:>22}{said[1]:>24}")


if __name__ == "__main__":
    main()
