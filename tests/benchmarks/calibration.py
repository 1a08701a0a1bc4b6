"""Whether stated chances hold: many true shops, each forecast without being seen, and then run once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np
import scoringrules
from true_shops import Facts, World, draw_scenario, draw_shop, live_once, log_days, log_times

from shopsim.answers.promises import find_joint_days, find_promise
from shopsim.scenario import Scenario
from shopsim.scenario.day_logs import read_days
from shopsim.scenario.logs import read_times
from shopsim.study.beliefs import list_loggable
from shopsim.study.runner import run_study
from shopsim.study.scoring import check_uniform, find_pit
from shopsim.study.taking_in import take_days, take_times

#: What is measured of one order of one shop, for confidences of 80 and 90 %.
ORDER_FIELDS = (
    "in 80", "stated 80", "in 90", "stated 90", "kept 80", "stated kept 80", "pit",
    "pinball 80", "interval 80", "crps", "crps of likely + 20 %", "width 80",
)  # fmt: skip


@dataclass(frozen=True)
class Case:
    """One way of making true shops and forecasting them.

    ``own``: truth drawn from the stated beliefs, else from another world. ``pieces``, ``days``: how much
    of the shop's past is logged and learned from before the forecast. ``without``: layers of luck
    that the forecast leaves out (drawn then by the maker of true shops). ``logged``: past runs.
    """

    own: bool = True
    pieces: int = 0
    days: int = 0
    without: tuple[str, ...] = ()
    logged: int = 1


@dataclass(frozen=True)
class Judged:
    """What came of many shops. ``orders``: shape (shops, fields) of ORDER_FIELDS, means over each shop's orders but for
    the last three columns; see ``judge_shop``. ``pits``: shape (shops,), of one order of each shop."""

    orders: np.ndarray
    last_pits: np.ndarray
    random_pits: np.ndarray
    inside: np.ndarray
    joint: np.ndarray
    joint_stated: np.ndarray
    joint_exact: np.ndarray
    kept_exact: np.ndarray

    @property
    def shops(self) -> int:
        """How many."""
        return self.orders.shape[0]

    def mean(self, field: str) -> float:
        """The mean of one field over orders, then shops."""
        return float(self.orders[:, ORDER_FIELDS.index(field)].mean())

    def uniform(self) -> float:
        """The p-value of the test that the place of what happened, of one order of each shop, is uniform."""
        return check_uniform(self.random_pits)[1]


def learn_from_past(scenario: Scenario, facts: Facts, shop: object, rng: np.random.Generator, case: Case) -> Scenario:
    """The scenario after the shop's logs were read and taken in, exactly as a maker's would be."""
    for past in range(case.logged if case.pieces else 0):
        text = log_times(facts, shop, rng, case.pieces, f"run {past + 1}")  # type: ignore[arg-type]
        rows, faults = read_times(text, f"times-{past}.csv", list_loggable(scenario))
        assert not faults, faults[:3]
        scenario = scenario.model_copy(update={"learned": take_times(scenario, rows, f"times-{past}.csv").learned})
    if case.days:
        days, faults = read_days(log_days(shop, rng, case.days), "days.csv", scenario.shop)  # type: ignore[arg-type]
        assert not faults, faults[:3]
        scenario = scenario.model_copy(update={"learned": take_days(scenario, days, "days.csv").learned})
    return scenario


def judge_shop(case: Case, seed: int, replications: int) -> tuple[np.ndarray, ...]:
    """One true shop: forecast, run once, compare.

    In turn: ORDER_FIELDS as means over the orders; the place of the last order's day in its forecast,
    ties drawn; the same of an order picked at random; whether each order's place lies within the
    central 80 and 90 %, as means; whether all joint 80 % dates were kept; the share stated for that;
    whether they were kept when ties are drawn; the share of orders at or below 80 %, ties drawn.
    """
    rng = np.random.default_rng([seed, 20270111])
    scenario = draw_scenario(rng)
    facts, world = Facts(scenario), World(case.own)
    shop = draw_shop(world, rng, facts.n_steps)
    known = learn_from_past(scenario, facts, shop, rng, case)
    if case.without:
        own = World(True)
        days = np.array(
            [
                live_once(facts, draw_shop(own, rng, facts.n_steps, case.without), rng, case.without)
                for _ in range(replications)
            ]
        )
    else:
        days = run_study({"now": known}, replications=replications, seed=seed).order_days["now"]
    happened = live_once(facts, shop, rng)
    likely = np.array(facts.likely_days()) * 1.2
    rows, pits = [], []
    for order in range(happened.size):
        column, day = days[:, order], int(happened[order])
        eighty, ninety = find_promise(column, 0.8), find_promise(column, 0.9)
        pits.append(find_pit(day, column, float(rng.random())))
        rows.append(
            (
                eighty.first <= day <= eighty.last, eighty.inside, ninety.first <= day <= ninety.last, ninety.inside,
                day <= eighty.day, eighty.chance, pits[-1],
                float(scoringrules.quantile_score(float(day), float(eighty.day), 0.8)),
                float(scoringrules.interval_score(float(day), float(eighty.first), float(eighty.last), 0.2)),
                float(scoringrules.crps_ensemble(float(day), column.astype(np.float64))),
                abs(day - float(likely[order])), eighty.last - eighty.first,
            )
        )  # fmt: skip
    joint, stated = find_joint_days(days, 0.8)
    spread = days + rng.random(days.shape)
    exact, _ = find_joint_days_exact(spread, 0.8)
    place = np.array(pits)
    inside = np.array([np.mean(np.abs(place - 0.5) <= level / 2) for level in (0.8, 0.9)])
    return (
        np.array(rows, dtype=np.float64).mean(axis=0),
        place[-1],
        place[int(rng.integers(place.size))],
        inside,
        np.float64((happened <= joint).all()),
        np.float64(stated),
        np.float64((happened + rng.random(happened.size) <= exact).all()),
        np.mean(place <= 0.8),
    )


def find_joint_days_exact(days: np.ndarray, confidence: float) -> tuple[np.ndarray, float]:
    """``find_joint_days`` for days that are no whole numbers."""
    return find_joint_days(days, confidence)


def _judge(job: tuple[Case, int, int]) -> tuple[np.ndarray, ...]:
    return judge_shop(*job)


def calibrate(case: Case, shops: int, replications: int, seed: int = 1, jobs: int = 1) -> Judged:
    """Many true shops judged; shop number n depends on seed and n alone."""
    work = [(case, seed * 1_000_000 + n, replications) for n in range(shops)]
    if jobs == 1:
        done = [_judge(job) for job in work]
    else:
        with get_context("spawn").Pool(jobs) as pool:
            done = pool.map(_judge, work, chunksize=8)
    return Judged(*(np.array([shop[n] for shop in done]) for n in range(8)))


def table(cases: Sequence[tuple[str, Case]], run: Callable[[Case], Judged]) -> list[str]:
    """Rows of a table in plain text, one a case."""
    lines = [
        "| forecast | 80 % win raw (stated) | exact | 90 % raw (stated) | exact | P80 raw (stated) | exact | "
        "joint 80 raw (stated) | exact | width 80 | CRPS | interval | pinball | KS p |",
        "|" + "---|" * 14,
    ]
    for name, case in cases:
        j = run(case)
        lines.append(
            f"| {name} | {j.mean('in 80'):.3f} ({j.mean('stated 80'):.3f}) | {j.inside[:, 0].mean():.3f} "
            f"| {j.mean('in 90'):.3f} ({j.mean('stated 90'):.3f}) | {j.inside[:, 1].mean():.3f} "
            f"| {j.mean('kept 80'):.3f} ({j.mean('stated kept 80'):.3f}) | {j.kept_exact.mean():.3f} "
            f"| {j.joint.mean():.3f} ({j.joint_stated.mean():.3f}) | {j.joint_exact.mean():.3f} "
            f"| {j.mean('width 80'):.1f} | {j.mean('crps'):.2f} | {j.mean('interval 80'):.1f} "
            f"| {j.mean('pinball 80'):.2f} | {j.uniform():.3f} |"
        )
    return lines
