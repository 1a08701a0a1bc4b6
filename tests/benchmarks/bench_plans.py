"""How near the search for a plan comes to the proven bound: the last finish at likely times of ten shops of ours.

    python tests/benchmarks/bench_plans.py [--seeds 10] [--seconds 10] [--shops stools-120 cabinets-600 ...]

The shops are those of ``plan_shops.py``. For each: tasks, the bound and which one it is, the best named rule, and for every
seed how far above the bound the plan found ends, and how many orders were looked at. The gap is that of search and bound
together. Every search has to have looked at some orders, so that looking at less is no gain; a plan that ends before the
bound, or after the best named rule, is an error.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from plan_shops import SHOPS, PlanShop, build_plan_shop

from shopsim.engine import compiling
from shopsim.engine.lower_bound import LowerBound, find_lower_bound
from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run
from shopsim.scenario.batches import rules_to_compare
from shopsim.study.plan_search import search_order, with_plan, with_rule

#: Orders that a search looks at at least.
LEAST_TRIED = 20


@dataclass
class Gaps:
    """Of one shop: ``ends_min`` of the plans found and ``tried`` orders, a value a seed; ``stopped``: how many met the time limit."""

    shop: PlanShop
    n_tasks: int
    bound: LowerBound
    best_rule_min: float
    ends_min: np.ndarray
    tried: np.ndarray
    seconds: np.ndarray
    stopped: int

    @property
    def shares(self) -> np.ndarray:
        """How far above the bound each plan ends."""
        return np.asarray(self.ends_min / self.bound.minutes - 1)


def end_min(scenario: object) -> float:
    """When the last piece is done at likely times."""
    plan = build_plan(scenario)  # type: ignore[arg-type]
    return float(run(plan, likely_luck(plan.luck)).done.max())


def measure_gaps(shop: PlanShop, seeds: Sequence[int], seconds: float) -> Gaps:
    """Searches a shop with every seed."""
    scenario = build_plan_shop(shop)
    rules = {rule: end_min(with_rule(scenario, rule)) for rule in rules_to_compare(scenario)}
    plan = build_plan(scenario)
    bound = find_lower_bound(plan, max(rules.values()))
    ends, tried, took, stopped = [], [], [], 0
    for seed in seeds:
        began = time.perf_counter()
        found = search_order(scenario, "last", seed=seed, seconds=seconds, likely=True)
        took.append(time.perf_counter() - began)
        ends.append(end_min(with_plan(scenario, found.plan)))
        tried.append(found.n_tried)
        stopped += found.stopped != ""
    gaps = Gaps(
        shop,
        int(plan.task_step.size),
        bound,
        min(rules.values()),
        np.array(ends),
        np.array(tried),
        np.array(took),
        stopped,
    )
    assert (gaps.ends_min >= bound.minutes).all(), f"{shop.name}: a plan ends before the bound"
    assert (gaps.tried >= LEAST_TRIED).all(), f"{shop.name}: too few orders were looked at"
    return gaps


def say(gaps: Gaps) -> str:
    """A line of the table."""
    shares = np.sort(gaps.shares)
    within = [int((gaps.shares <= share + 1e-9).sum()) for share in (0.001, 0.01, 0.05)]
    return (
        f"| {gaps.shop.name} | {gaps.n_tasks} | {gaps.bound.minutes / 1440:.2f} ({gaps.bound.reason}) | "
        f"{100 * (gaps.best_rule_min / gaps.bound.minutes - 1):.1f} % | {100 * shares[0]:.1f} / {100 * np.median(shares):.1f} / "
        f"{100 * shares[-1]:.1f} % | {within[0]}, {within[1]}, {within[2]} of {shares.size} | {int(np.median(gaps.tried)):,} | "
        f"{np.median(gaps.seconds):.1f}{f', {gaps.stopped} stopped' if gaps.stopped else ''} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--shops", nargs="*", default=[shop.name for shop in SHOPS])
    asked = parser.parse_args()
    compiling.load_now()
    print(
        "| shop | tasks | bound, days | best rule above it | plan above it: best / middle / worst seed | within 0.1, 1, 5 % | orders | s |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for shop in SHOPS:
        if shop.name in asked.shops:
            print(say(measure_gaps(shop, range(1, asked.seeds + 1), asked.seconds)), flush=True)


if __name__ == "__main__":
    main()
