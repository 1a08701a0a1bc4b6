"""How many runs a second the engine makes, against the plain SimPy model of the same shop.

    python tests/benchmarks/bench_speed.py [--pairs 12] [--seconds 0.5] [scenario.toml ...]

Both draw their own luck and run the examples in turn, engine, plain, engine, plain ..., so that a
machine that slows down slows both. For each example: runs a second of both, and how many times faster
the engine is, with a 95 % interval from resampling the pairs; a change is one only if the interval
leaves out 1. Every block also counts the tasks that were finished: doing less is not a speed-up.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from blocks import SEED, resample_ratio, time_block
from plain_model import PlainShop

from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run as run_engine
from shopsim.scenario import Scenario, load_scenario

EXAMPLES = Path(__file__).parents[2] / "scenarios"


@dataclass
class Contest:
    """Seconds a run of each block, shape (pairs,) each, and the tasks in a run."""

    engine_s: np.ndarray
    plain_s: np.ndarray
    n_tasks: int


def prepare_engine(scenario: Scenario, n_tasks: int) -> Callable[[int], None]:
    """A function that makes one run with the engine and checks that all of it was done.

    The engine also counts as a task each piece's standing before it may be packed.
    """
    plan = build_plan(scenario)
    stands = scenario.shipping.packing is not None and scenario.shipping.before_packing > 0
    wanted = n_tasks + (plan.worklist.n_pieces if stands else 0)

    def run(replication: int) -> None:
        record = run_engine(plan, draw_luck(plan.luck, SEED, replication))
        finished = int(np.isfinite(record.done).sum())
        assert finished == wanted, f"the engine finished {finished} tasks of {wanted}"

    return run


def prepare_plain(scenario: Scenario, n_tasks: int) -> Callable[[int], None]:
    """A function that makes one run with the plain model and checks that all of it was done."""
    plain = PlainShop(scenario)

    def run(replication: int) -> None:
        plain.run(np.random.default_rng((SEED, replication)))
        assert plain.n_finished == n_tasks, f"the plain model finished {plain.n_finished} tasks of {n_tasks}"

    return run


def run_contest(scenario: Scenario, n_pairs: int, block_s: float) -> Contest:
    """Blocks of about ``block_s`` seconds by turns, each pair on the same replication numbers."""
    n_tasks = len(PlainShop(scenario).tasks)
    runs = [prepare_engine(scenario, n_tasks), prepare_plain(scenario, n_tasks)]
    sizes = [max(1, round(block_s / time_block(run, 0, 5))) for run in runs]
    seconds = np.array(
        [
            [time_block(run, pair * max(sizes), size) for run, size in zip(runs, sizes, strict=True)]
            for pair in range(n_pairs)
        ]
    )
    return Contest(seconds[:, 0], seconds[:, 1], n_tasks)


def main() -> None:
    """Prints one line a scenario."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scenarios", nargs="*", type=Path, default=sorted(EXAMPLES.glob("*.toml")))
    parser.add_argument("--pairs", type=int, default=12, help="blocks of each, by turns")
    parser.add_argument("--seconds", type=float, default=0.5, help="length of a block")
    options = parser.parse_args()
    print(f"{'scenario':<18}{'tasks':>7}{'engine /s':>12}{'plain /s':>11}{'times faster':>15}{'95 % interval':>18}")
    for path in options.scenarios:
        contest = run_contest(load_scenario(path), options.pairs, options.seconds)
        ratio, low, high = resample_ratio(contest.plain_s, contest.engine_s)
        speeds = f"{1 / contest.engine_s.mean():>12.1f}{1 / contest.plain_s.mean():>11.1f}"
        print(f"{path.stem:<18}{contest.n_tasks:>7}{speeds}{ratio:>15.2f}{f'{low:.2f} to {high:.2f}':>18}")


if __name__ == "__main__":
    main()
