"""Measures whether forecasts from now hold. Run by hand:

    python tests/benchmarks/bench_from_now.py --shops 1500 --jobs 2 --out from-now.md

Each shop is run once by luck drawn apart from the program's own (``true_shops.py``), stopped after 25, 50 and 75 % of its hands-on minutes, and
forecast from the log that a careful maker would have kept; then what happened is compared with the forecast. Ends with 1 if
a goal is missed. About 40 minutes for 1,500 shops on two free cores; with ``--world other`` truth is not as believed.
"""

from __future__ import annotations

import argparse
import sys
import time
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from judging_from_now import STOPS, judge, summarise

#: Shares of 80 % windows that are to hold: in the believed world, and in another.
GOALS = {"own": (0.77, 0.83), "other": (0.75, 0.90)}


def main() -> int:
    """Run, print, and write the table where asked."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shops", type=int, default=1500)
    parser.add_argument("--replications", type=int, default=99)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--world", choices=[*GOALS], default="own")
    parser.add_argument("--out", type=Path)
    args = parser.parse_args()
    begun = time.perf_counter()
    seeds = [args.seed * 1_000_000 + n for n in range(args.shops)]
    one = partial(judge, args.world == "own", replications=args.replications)
    found: list[np.ndarray] = []
    with get_context("spawn").Pool(args.jobs) as pool:
        for shop in pool.imap(one, seeds, chunksize=4):
            found.append(shop)
            if len(found) % 100 == 0:
                print(
                    len(found),
                    f"{time.perf_counter() - begun:.0f} s",
                    *summarise(np.array(found))[2:],
                    sep="\n",
                    flush=True,
                )
    lines = [
        f"{args.shops} shops of the {args.world} world, {args.replications} replications each, seed {args.seed}",
        "",
    ]
    lines += summarise(np.array(found))
    low, high = GOALS[args.world]
    rows = np.array(found)
    missed = 0
    for number, share in enumerate(STOPS[1:], start=1):
        for column, what in enumerate(("an open order at random", "the last order")):
            places = rows[:, number, column]
            held = float((np.abs(places[~np.isnan(places)] - 0.5) <= 0.4).mean())
            missed += not low <= held <= high
            lines.append(
                f"- {'met' if low <= held <= high else 'MISSED'}: {share:.0%}, {what}: {held:.3f}, goal {low} to {high}"
            )
    print("\n".join(lines))
    if args.out:
        args.out.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
