"""Whether forecasts from now hold: true shops are run once, stopped on the way, forecast from their logs alone, and compared."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from true_shops import Facts, World, draw_scenario, draw_shop, live_through

from shopsim.answers.logged_run import RunLogReading
from shopsim.engine.pieces import piece_done
from shopsim.study.going_on import GoingOn
from shopsim.units import MINUTES_PER_DAY

sys.path.append(str(Path(__file__).parents[1]))

from properties.logs_of_runs import log_of_run, moment_at_share

#: Shares of the hands-on minutes after which runs are stopped; 0 is the forecast before anything has happened.
STOPS = (0.0, 0.25, 0.5, 0.75)
#: What is measured at each stop: the place, in its forecast, of the finish of one open order at random and of the last one, the width of
#: the last one's 80 % window in days, and the share of the replications that half-done work leaves in the count.
FIELDS = ("random place", "last place", "width 80", "effective share")


def judge(own: bool, seed: int, replications: int, stops: Sequence[float] = STOPS) -> np.ndarray:
    """One true shop at every stop, shape (stops, fields); finishes are unrounded. NaN where no order was open."""
    rng = np.random.default_rng([seed, 20270203])
    scenario = draw_scenario(rng)
    facts = Facts(scenario)
    draws, record = live_through(facts, draw_shop(World(own), rng, facts.n_steps), rng)
    plan = facts.plan
    done = facts.queue.finish_from(piece_done(plan.worklist, record)[None], {}, ())[0]
    found = np.full((len(stops), len(FIELDS)), np.nan)
    for number, share in enumerate(stops):
        now = moment_at_share(plan, draws, record, share) if share else 0.0
        text = log_of_run(plan, draws, record, now) if share else ""
        known = RunLogReading(scenario, text, "run-log.csv").at(now)
        gone_on = GoingOn(known.known, known.state, known.run_name).go_on(seed, range(replications))
        weight = np.exp(gone_on.log_weight - gone_on.log_weight.max())
        open_ = np.flatnonzero(done > now)
        if not open_.size:
            continue
        picked, last = int(rng.choice(open_)), int(open_[np.argmax(done[open_])])
        low, high = (_weighted_quantile(gone_on.finish_min[:, last], weight, level) for level in (0.1, 0.9))
        found[number] = (
            _place(done[picked], gone_on.finish_min[:, picked], weight, float(rng.random())),
            _place(done[last], gone_on.finish_min[:, last], weight, float(rng.random())),
            (high - low) / MINUTES_PER_DAY,
            weight.sum() ** 2 / (weight**2).sum() / weight.size,
        )
    return found


def _place(happened: float, forecast: np.ndarray, weight: np.ndarray, u: float) -> float:
    """Where what happened lies among the replications, itself one more of mean weight: even on (0, 1) where the forecast is right."""
    own = float(weight.mean())
    below = float(weight[forecast < happened - 1e-6].sum())
    ties = float(weight[np.abs(forecast - happened) <= 1e-6].sum())
    return (below + u * (ties + own)) / (float(weight.sum()) + own)


def _weighted_quantile(values: np.ndarray, weight: np.ndarray, level: float) -> float:
    order = np.argsort(values)
    share = np.cumsum(weight[order]) / weight.sum()
    return float(values[order][min(int(np.searchsorted(share, level)), values.size - 1)])


def summarise(found: np.ndarray, stops: Sequence[float] = STOPS) -> list[str]:
    """A table: for each stop the share of 80 % windows that held, with two standard errors, and their mean width.

    ``found``: shape (shops, stops, fields).
    """
    lines = [
        "| stopped at | runs | 80 % windows held, an open order at random | the last order | width 80, days | worth of replications |",
        "|---|---|---|---|---|---|",
    ]
    for number, share in enumerate(stops):
        rows = found[:, number][~np.isnan(found[:, number, 0])]
        held = [float((np.abs(rows[:, column] - 0.5) <= 0.4).mean()) for column in (0, 1)]
        error = 2 * np.sqrt(0.16 / len(rows))
        lines.append(
            f"| {share:.0%} | {len(rows)} | {held[0]:.3f} ± {error:.3f} | {held[1]:.3f} ± {error:.3f} "
            f"| {rows[:, 2].mean():.1f} | {rows[:, 3].mean():.2f} |"
        )
    return lines
