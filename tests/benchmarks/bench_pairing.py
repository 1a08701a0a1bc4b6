"""What sharing luck is worth: how many times more runs a comparison would need if each side had luck of its own.

    python tests/benchmarks/bench_pairing.py [--replications 400] [--measure average_ship_day] [--example NAME]

For each pair of alternatives of the examples, (Var A + Var B) / Var(A - B) on the same luck, with a 95 % interval
from resampling the replications. To see what a closer sharing could bring, the luck of single units (times of
work, set-up and taking clamps off) is also drawn anew, with all that a whole run shares left as it is:

- "units apart": the ratio if each side had such luck of its own: what sharing it brings;
- "at most": what no sharing of it, however keyed, can pass. The variance of the difference that is left when this
  luck is averaged out is a matter of bias, pace, estimates, cures, days and material, which both sides share
  already: the difference itself is larger in a slow run than in a quick one.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from timing_blocks import SEED

from shopsim.engine.luck import Draws, draw_luck, draw_scores
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.run import run
from shopsim.scenario import Scenario, change_scenario, load_scenario
from shopsim.study import hash_scenario
from shopsim.study.measures import MEASURES, Measurer

EXAMPLES = Path(__file__).parents[2] / "scenarios"
#: Added to the seed for luck of units that is not shared.
OTHER = 1
#: The fewest times that a comparison has to gain, by what is compared.
GOALS = {"batch": 20, "clamps": 30}


@dataclass(frozen=True)
class Pair:
    """Two alternatives of an example. ``goal``: "batch" or "clamps" where the goal is asked of it, else ""."""

    example: str
    name: str
    one: Mapping[str, object]
    other: Mapping[str, object]
    goal: str = ""


def _batches(example: str, one: int, other: int, goal: str = "") -> Pair:
    return Pair(example, f"batch {one} - {other}", {"run.batch": one}, {"run.batch": other}, goal)


def _clamps(example: str, name: str, **counts: int) -> Pair:
    changes = {f'shop.clamps."{kind.replace("_", " ")}".count': count for kind, count in counts.items()}
    return Pair(example, name, {}, changes, "clamps")


STOOLS, TRAYS, CABINETS = "counter-stools", "serving-trays", "wall-cabinets"
PAIRS = (
    _batches(STOOLS, 5, 10, "batch"),
    _batches(STOOLS, 10, 20, "batch"),
    _batches(STOOLS, 5, 20),
    _clamps(STOOLS, "bar clamps 10 - 14", bar_clamp=14),
    _clamps(STOOLS, "bar clamps 10 - 18", bar_clamp=18),
    _clamps(STOOLS, "bar clamps 10 - 6", bar_clamp=6),
    _clamps(STOOLS, "one more base", bar_clamp=14, band_clamp=3),
    _batches(CABINETS, 3, 4),
    _batches(CABINETS, 4, 6),
    _batches(CABINETS, 6, 12),
    _batches(CABINETS, 4, 12),
    _clamps(CABINETS, "long clamps 8 - 12", long_clamp=12),
    _clamps(CABINETS, "long clamps 8 - 14", long_clamp=14),
    _clamps(CABINETS, "short clamps 8 - 12", short_clamp=12),
    _batches(TRAYS, 2, 4),
    _batches(TRAYS, 4, 8),
    _batches(TRAYS, 2, 8),
)


@dataclass(frozen=True)
class Worth:
    """What was measured of one pair: the ratio with its interval, with luck of units apart, and the most there can be."""

    ratio: float
    low: float
    high: float
    apart: float
    most: float
    runs: int


class Runs:
    """One measure of many runs of a scenario, made when first asked for: on its own luck, and with units drawn anew."""

    def __init__(self, measure: str, replications: int) -> None:
        self.place, self.replications = MEASURES.index(measure), replications
        self._kept: dict[str, np.ndarray] = {}

    def values(self, scenario: Scenario) -> np.ndarray:
        """Shape (2, replications): as everybody has it, and with units drawn anew."""
        key = hash_scenario(scenario)
        if key not in self._kept:
            plan = build_plan(scenario)
            measurer, n_tasks = Measurer(plan), plan.worklist.n_tasks
            found = np.zeros((2, self.replications))
            for replication in range(self.replications):
                for row, draws in enumerate(_draw_both(plan, replication)):
                    record = run(plan, draws)
                    assert int(np.isfinite(record.done).sum()) == n_tasks
                    found[row, replication] = measurer.measure(draws, record).rows[0, self.place]
            self._kept[key] = found
        return self._kept[key]


def _draw_both(plan: SimulationPlan, replication: int) -> tuple[Draws, Draws]:
    own = draw_luck(plan.luck, SEED, replication)
    anew = draw_luck(plan.luck, SEED + OTHER, replication, draw_scores(plan.luck, SEED, replication))
    return own, replace(own, work=anew.work, setup=anew.setup, unclamp=anew.unclamp, redone=anew.redone)


def measure_worth(pair: Pair, runs: Runs) -> Worth:
    """Runs a pair and tells what sharing luck is worth for it; all infinite where no run differs."""
    scenario = load_scenario(EXAMPLES / f"{pair.example}.toml")
    (one, one_anew), (other, other_anew) = (
        runs.values(change_scenario(scenario, changes)) for changes in (pair.one, pair.other)
    )
    difference = one - other
    total = one.var(ddof=1) + other.var(ddof=1)
    if not difference.var() > 0:
        return Worth(np.inf, np.inf, np.inf, np.inf, np.inf, 4 * one.size)
    apart = ((one - other_anew).var(ddof=1) + (one_anew - other).var(ddof=1)) / 2
    # two runs that share everything but the luck of units: their covariance is what the rest accounts for
    shared = float(np.cov(difference, one_anew - other_anew)[0, 1])
    picks = np.random.default_rng(SEED).integers(0, one.size, (2000, one.size))
    ratios = (one[picks].var(axis=1) + other[picks].var(axis=1)) / difference[picks].var(axis=1)
    low, high = np.quantile(ratios, [0.025, 0.975])
    most = float(total / shared) if shared > 0 else np.inf
    return Worth(
        float(total / difference.var(ddof=1)), float(low), float(high), float(total / apart), most, 4 * one.size
    )


def main() -> int:
    """Prints one line a pair; ends with 1 if a pair with a goal stays under it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--replications", type=int, default=400)
    parser.add_argument("--measure", choices=MEASURES, default="average_ship_day")
    parser.add_argument("--example", choices=(STOOLS, TRAYS, CABINETS), help="this one alone")
    options = parser.parse_args()
    runs = Runs(options.measure, options.replications)
    pairs = [pair for pair in PAIRS if options.example in (None, pair.example)]
    print(f"{'example':<16}{'pair':<28}{'ratio':>7}{'95 % interval':>16}{'units apart':>13}{'at most':>9}{'goal':>6}")
    missed = 0
    for pair in pairs:
        found = measure_worth(pair, runs)
        goal = GOALS.get(pair.goal, 0)
        missed += found.ratio < goal
        interval = f"{found.low:.0f} to {found.high:.0f}"
        numbers = f"{found.ratio:>7.1f}{interval:>16}{found.apart:>13.1f}{found.most:>9.0f}"
        print(f"{pair.example:<16}{pair.name:<28}{numbers}{goal or '':>6}", flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
