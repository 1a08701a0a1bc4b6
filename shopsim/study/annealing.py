"""One chain of a search among orders: from one order to another near it, on the same luck, worse ones too at first.

Simulated annealing (Kirkpatrick, Gelatt & Vecchi 1983) whose acceptance is settled beforehand, so that a candidate is
dropped as soon as its paired mean is worse than may be taken by ``STANDARD_ERRORS`` of its standard errors.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shopsim.study.plan_moves import Moves
from shopsim.study.plan_values import OrderValues

#: Runs of a candidate after which it is looked at.
LOOKS = (4, 8, 16, 32, 48, 64)
STANDARD_ERRORS = 2.5
#: How much worse a candidate may be in the beginning and at the end, as a share of the value: its exponential mean.
WARM, COLD = 0.004, 0.0001
#: What a candidate costs beside its runs, in tasks of a run.
OVERHEAD_TASKS = 400
#: Orders of a chain that are kept as its best.
KEPT = 5


@dataclass(frozen=True)
class Chain:
    """``best``: orders with their values, the best first; ``n_tried``: orders looked at; ``complete``: it was not stopped."""

    best: tuple[tuple[float, np.ndarray], ...]
    n_tried: int
    complete: bool


def run_chain(
    values: OrderValues,
    start: np.ndarray,
    rng: np.random.Generator,
    most_tasks: int,
    should_stop: Callable[[], bool],
    tell: Callable[[int], None],
) -> Chain:
    """Search from an order on for about ``most_tasks`` tasks of runs; ``tell`` is told the tasks run since it was told last.

    The same arguments give the same chain, unless it is stopped: what it did so far then counts.
    """
    moves, n_tasks = Moves(values.lines), values.lines.plan.task_step.size
    now = start
    seen = values.measure(now)
    spent = OVERHEAD_TASKS + seen.size * n_tasks
    best = [(float(seen.mean()), now)]
    tried, told = 1, 0
    while spent < most_tasks and not should_stop():
        if spent - told > most_tasks // 100:
            tell(spent - told)
            told = spent
        share = spent / most_tasks
        heat = WARM * (COLD / WARM) ** share * abs(float(seen.mean()))
        may_be_worse = heat * float(rng.exponential())
        candidate = moves.draw(now, rng)
        found, n_runs = _look_at(values, candidate, seen, may_be_worse)
        spent += OVERHEAD_TASKS + n_runs * n_tasks
        tried += 1
        if found is None:
            continue
        now, seen = candidate, found
        mean = float(seen.mean())
        if mean < best[-1][0] or len(best) < KEPT:
            _keep(best, mean, now)
    tell(spent - told)
    return Chain(tuple(best), tried, spent >= most_tasks)


def _look_at(
    values: OrderValues, candidate: np.ndarray, seen: np.ndarray, may_be_worse: float
) -> tuple[np.ndarray | None, int]:
    """(the candidate's values where it is taken, else None; how many runs it took)."""
    found = np.empty(seen.size)
    first = 0
    for stop in (*(look for look in LOOKS if look < seen.size), seen.size):
        found[first:stop] = values.measure(candidate, first, stop)
        first = stop
        worse = found[:stop] - seen[:stop]
        mean = float(worse.mean())
        error = float(worse.std(ddof=1)) / stop**0.5 if stop > 1 else 0.0
        if not mean <= may_be_worse + STANDARD_ERRORS * error * (stop < seen.size):
            return None, stop
    return found, seen.size


def _keep(best: list[tuple[float, np.ndarray]], mean: float, order: np.ndarray) -> None:
    if any(mean == other and np.array_equal(order, held) for other, held in best):
        return
    best.append((mean, order))
    best.sort(key=lambda one: one[0])
    del best[KEPT:]
