"""Whether the list of what it would take is that of every set run many times: ``python tests/benchmarks/bench_reach.py 20``.

Small shops at random, with luck; every set of up to three of their levers is run 20,000 times on other luck, and the sets that
reach the chance, none contained in another, are worked out from that. Sets whose chance lies within 2 points of the asked one
are left aside. Prints how many lists agree, and for each that does not, what is missing or too much.
"""

from __future__ import annotations

import datetime as dt
import itertools
import sys
from typing import Any

import numpy as np

from shopsim import Scenario, parse_scenario
from shopsim.answers.reach import Reach, find_reach
from shopsim.answers.reach_levers import apply_levers
from shopsim.study.order_queue import OrderQueue
from shopsim.study.reaching import LeverSet, holds_set
from shopsim.study.runner import run_study

LOCKED = "priority rule, room, batch size, material"
#: Points on each side of the asked chance within which a set is left aside.
ASIDE = 0.02


def make_shop(number: int) -> tuple[Scenario, dt.date]:
    """(a small shop, the day that is asked for), of the same number the same."""
    rng = np.random.default_rng(100 + number)
    days = ["mon", "tue", "wed", "thu", "fri", "sat"]
    some = sorted(rng.choice(6, size=int(rng.integers(1, 3)), replace=False).tolist())
    hours = ", ".join(f'{days[day]} = "09:00-{int(rng.integers(12, 17)):02d}:00"' for day in some)
    likely = [int(rng.integers(20, 120)) for _ in range(2)]
    steps = "\n".join(
        f'[[design.operations]]\nname = "step {n}"\nwork = "{work // 2 + 1} / {work} / {2 * work} min"\nbasis = "timed"'
        for n, work in enumerate(likely)
    )
    orders = int(rng.integers(3, 7))
    text = f"""
[shop]
open = {{ {hours} }}
[design]
name = "box"
{steps}
clamps = [{{ kind = "bar clamp", count = 2 }}]
in_clamps = "{int(rng.integers(1, 20))} h"
[[design.ways]]
name = "faster"
change = [{{ operation = "step 0", work = "{likely[0] // 3 + 1} / {likely[0] // 2 + 1} / {likely[0]} min" }}]
price = 20.0
[[shop.clamps]]
name = "bar clamp"
count = {int(rng.integers(2, 4))}
price = 10.0
[run]
orders = {orders}
batch = {int(rng.integers(1, 3))}
start = 2027-01-11
"""
    scenario = parse_scenario(text)
    days_now = run_study({"now": scenario}, replications=400, seed=9).outcomes["now"].order_days.max(axis=1)
    share = float(rng.uniform(0.4, 0.88))  # today's chance of the day that is asked for, about
    by = OrderQueue(scenario).close + dt.timedelta(days=int(np.quantile(days_now, share)))
    return scenario, by


def compare_with_every_set(number: int, runs: int, chance: float = 0.9) -> list[str]:
    """What the list of one shop lacks, or has too much, against every set run ``runs`` times; nothing where it agrees."""
    scenario, by = make_shop(number)
    question = Reach(scenario, by, 100 * chance, lock=LOCKED)
    stands = [lever.stands for lever in question.levers]
    truth: dict[LeverSet, float] = {}
    for size in range(4):
        for one in itertools.combinations(range(len(stands)), size):
            if len({stands[n].group for n in one}) < size:
                continue
            changed, _ = apply_levers(scenario, [question.levers[n] for n in one])
            if changed is not None:
                outcome = run_study({"a": changed}, replications=runs, seed=77).outcomes["a"]
                truth[one] = float((outcome.order_days.max(axis=1) <= question.by_day).mean())
    answer = find_reach(scenario, by, 100 * chance, lock=LOCKED, seconds=600)
    names = {question.say_set(one): one for one in truth}
    rows: list[dict[Any, Any]] = answer.rows.to_dict("records")
    listed = {names[row["what"]] for row in rows if row["stands"] == "reaches"}
    aside = {one for one, share in truth.items() if abs(share - chance) <= ASIDE}
    reach = {one for one, share in truth.items() if share >= chance}

    def least(sets: set[LeverSet]) -> set[LeverSet]:
        return {one for one in sets if not any(other != one and holds_set(one, other, stands) for other in sets)}

    missing = (least(reach | aside) & least(reach - aside)) - aside - listed
    wrong = {one for one in listed - aside if truth[one] < chance}
    larger = {one for one in listed if any(other != one and holds_set(one, other, stands) for other in reach - aside)}
    if len(rows) > 12:  # the list is cut
        missing = set()
    return [
        f"{what}: {question.say_set(one)} ({truth[one]:.3f})"
        for what, sets in (("missing", missing), ("falls short", wrong), ("not the smallest", larger))
        for one in sorted(sets)
    ]


if __name__ == "__main__":
    n_shops = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    n_runs = int(sys.argv[2]) if len(sys.argv) > 2 else 20_000
    n_right = 0
    for shop in range(n_shops):
        faults = compare_with_every_set(shop, n_runs)
        n_right += not faults
        print(f"shop {shop}: {'agrees' if not faults else '; '.join(faults)}", flush=True)
    print(f"{n_right} of {n_shops} lists agree with every set run {n_runs:,} times")
