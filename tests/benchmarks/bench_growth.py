"""How the time of a run grows with the number of pieces: seconds a task from 20 to 2,000 pieces.

    python tests/benchmarks/bench_growth.py [--rounds 10] [--seconds 0.4] [--pieces 20 60 200 600 2000] [--compiled]

The stools of the examples, in batches of 5, in a shop that is open all week so that 2,000 of them are
done within some years. Every number of pieces has its turn in every round. A task should take no
longer for being one of many: its time is told as a ratio to that of the smallest run, with a 95 %
interval from resampling the rounds. Every run counts its tasks: pieces times tasks a piece,
and those of a batch and of the run.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from timing_blocks import SEED, resample_ratio, time_by_turns

from shopsim.engine.compiling import load_now
from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run as run_engine
from shopsim.scenario import Scenario, change_scenario, load_scenario
from shopsim.study.chunks import run_replications
from shopsim.study.measures import MEASURES
from shopsim.study.plans import PlanStore

STOOLS = Path(__file__).parents[2] / "scenarios" / "counter-stools.toml"
PIECES = (20, 60, 200, 600, 2000)
#: Replications that the compiled floor is given at a time.
BLOCK = 16
#: Tasks of a stool and of a batch of five stools, and of the whole run, standing before packing included.
TASKS_A_PIECE, TASKS_A_BATCH, TASKS_A_RUN = 41, 1, 1


@dataclass
class Growth:
    """Processor seconds a run, shape (rounds, sizes); runs made and tasks finished, by number of pieces."""

    pieces: tuple[int, ...]
    seconds: np.ndarray
    tasks: dict[int, int]
    runs: dict[int, int]

    def task_seconds(self) -> np.ndarray:
        """Seconds a task, shape (rounds, sizes)."""
        return self.seconds / np.array([self.tasks[n] for n in self.pieces])


def make_stools(pieces: int) -> Scenario:
    """So many stools in batches of 5, in a shop that is open for 60 hours a week."""
    changes = {"run.orders": pieces, "run.round_up_to": 1, "run.batch": 5}
    changes["shop.open"] = {"mon-sat": "08:00-12:00, 13:00-19:00"}
    return change_scenario(load_scenario(STOOLS), changes)


def measure_growth(sizes: Sequence[int], rounds: int, block_s: float, compiled: bool = False) -> Growth:
    """Times the runs of every number of pieces by turns; ``compiled``: blocks of runs of the compiled floor, luck and measures included."""
    growth = Growth(tuple(sizes), np.zeros(0), {}, dict.fromkeys(sizes, 0))
    runs = [(_prepare_compiled if compiled else _prepare)(growth, pieces) for pieces in sizes]
    growth.seconds = time_by_turns(runs, rounds, block_s)
    if compiled:
        growth.seconds /= BLOCK
    return growth


def _prepare(growth: Growth, pieces: int) -> Callable[[int], None]:
    plan = build_plan(make_stools(pieces))
    wanted = growth.tasks[pieces] = count_tasks(pieces)

    def run(replication: int) -> None:
        record = run_engine(plan, draw_luck(plan.luck, SEED, replication))
        finished = int(np.isfinite(record.done).sum())
        assert finished == wanted, f"{finished} tasks were finished of {wanted}"
        growth.runs[pieces] += 1

    return run


def _prepare_compiled(growth: Growth, pieces: int) -> Callable[[int], None]:
    load_now()
    scenario = make_stools(pieces)
    ready = PlanStore().get("now", lambda: (scenario, None))
    wanted = growth.tasks[pieces] = count_tasks(pieces)
    assert ready.plan.worklist.n_tasks == wanted, "not the tasks that are counted"

    def run(block: int) -> None:
        chunk = run_replications(ready, "now", SEED, range(block * BLOCK, (block + 1) * BLOCK))
        assert np.isfinite(chunk.rows).all(), "a run did not come to its end"
        assert chunk.rows.shape == (BLOCK, len(MEASURES)), "a run is missing"
        growth.runs[pieces] += BLOCK

    return run


def count_tasks(pieces: int) -> int:
    """The tasks of a run of so many stools, from the file as one reads it."""
    return pieces * TASKS_A_PIECE + pieces // 5 * TASKS_A_BATCH + TASKS_A_RUN


def main() -> None:
    """Prints one line a number of pieces."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pieces", nargs="+", type=int, default=list(PIECES), help="multiples of 5")
    parser.add_argument("--rounds", type=int, default=10, help="blocks of each, by turns")
    parser.add_argument("--seconds", type=float, default=0.4, help="length of a block")
    parser.add_argument("--compiled", action="store_true", help="the compiled floor instead of the SimPy model")
    options = parser.parse_args()
    growth = measure_growth(options.pieces, options.rounds, options.seconds, options.compiled)
    a_task = growth.task_seconds()
    print(
        f"{'pieces':>7}{'tasks':>9}{'runs':>7}{'runs /s':>10}{'us a task':>11}{'to the first':>14}{'95 % interval':>18}"
    )
    for place, pieces in enumerate(growth.pieces):
        ratio, low, high = resample_ratio(a_task[:, place], a_task[:, 0])
        speeds = f"{1 / growth.seconds[:, place].mean():>10.2f}{a_task[:, place].mean() * 1e6:>11.2f}"
        tasks = f"{growth.tasks[pieces]:>9,}{growth.runs[pieces]:>7}"
        print(f"{pieces:>7,}{tasks}{speeds}{ratio:>14.2f}{f'{low:.2f} to {high:.2f}':>18}", flush=True)


if __name__ == "__main__":
    main()
