"""How many runs a second both engines make, against the plain SimPy model of the same shop.

    python tests/benchmarks/bench_speed.py [--pairs 12] [--seconds 0.5] [scenario.toml ...]

All draw their own luck and run the examples in turn, SimPy model, compiled floor, plain model, SimPy model ..., so that
a machine that slows down slows all. Runs of the compiled floor are measured as those of a study, so what is measured of
each run is in its time as well. For each example: runs a second, and how many times faster each engine is, with a 95 %
interval from resampling the rounds; a change is one only if the interval leaves out 1. Every block also counts the tasks
that were finished: doing less is not a speed-up.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from plain_model import PlainShop
from timing_blocks import SEED, resample_ratio, time_by_turns

from shopsim.engine.compiling import load_now
from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run as run_engine
from shopsim.scenario import Scenario, load_scenario
from shopsim.study.chunks import run_replications
from shopsim.study.measures import MEASURES
from shopsim.study.plans import PlanStore

EXAMPLES = Path(__file__).parents[2] / "scenarios"


#: Replications that the compiled floor is given at a time.
BLOCK = 64


@dataclass
class Contest:
    """Seconds a run of each round, shape (rounds,) each, and the tasks in a run."""

    engine_s: np.ndarray
    compiled_s: np.ndarray
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


def prepare_compiled(scenario: Scenario) -> Callable[[int], None]:
    """A function that makes ``BLOCK`` runs of a study with the compiled floor and checks that each came to its end."""
    load_now()
    ready = PlanStore().get("now", lambda: (scenario, None))

    def run(block: int) -> None:
        chunk = run_replications(ready, "now", SEED, range(block * BLOCK, (block + 1) * BLOCK))
        assert chunk.rows.shape == (BLOCK, len(MEASURES)), "a run is missing"
        assert np.isfinite(chunk.rows).all(), "a run did not come to its end"

    return run


def prepare_plain(scenario: Scenario, n_tasks: int) -> Callable[[int], None]:
    """A function that makes one run with the plain model and checks that all of it was done."""
    plain = PlainShop(scenario)

    def run(replication: int) -> None:
        plain.run(np.random.default_rng((SEED, replication)))
        assert plain.n_finished == n_tasks, f"the plain model finished {plain.n_finished} tasks of {n_tasks}"

    return run


def run_contest(scenario: Scenario, rounds: int, block_s: float) -> Contest:
    """Blocks of about ``block_s`` seconds by turns."""
    n_tasks = len(PlainShop(scenario).tasks)
    runs = [prepare_engine(scenario, n_tasks), prepare_compiled(scenario), prepare_plain(scenario, n_tasks)]
    engine, compiled, plain = time_by_turns(runs, rounds, block_s).T
    return Contest(engine, compiled / BLOCK, plain, n_tasks)


def main() -> None:
    """Prints one line a scenario."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scenarios", nargs="*", type=Path, default=sorted(EXAMPLES.glob("*.toml")))
    parser.add_argument("--pairs", type=int, default=12, help="rounds, in each of which all have their turn")
    parser.add_argument("--seconds", type=float, default=0.5, help="length of a block")
    options = parser.parse_args()
    print(
        f"{'scenario':<18}{'tasks':>7}{'engine':>16}{'runs /s':>11}{'plain /s':>11}{'times faster':>15}{'95 % interval':>18}"
    )
    for path in options.scenarios:
        contest = run_contest(load_scenario(path), options.pairs, options.seconds)
        for name, seconds in (("SimPy model", contest.engine_s), ("compiled floor", contest.compiled_s)):
            ratio, low, high = resample_ratio(contest.plain_s, seconds)
            speeds = f"{name:>16}{1 / seconds.mean():>11.1f}{1 / contest.plain_s.mean():>11.1f}"
            print(f"{path.stem:<18}{contest.n_tasks:>7}{speeds}{ratio:>15.2f}{f'{low:.2f} to {high:.2f}':>18}")


if __name__ == "__main__":
    main()
