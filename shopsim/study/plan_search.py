"""A better plan, searched on a fixed set of luck: chains from every named rule, then a final among the best on luck that none has seen.

How much is looked at is counted in tasks of runs and not in seconds, so that the same seed gives the same plan on any
machine; the time limit only stops a search that is slower than that, and the result says so.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from shopsim.engine import compiling
from shopsim.engine.luck import LuckBlock, draw_block, likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.reordering import PlanLines, list_lines
from shopsim.engine.run import run
from shopsim.priority import AS_PLANNED
from shopsim.scenario.batches import rules_to_compare
from shopsim.scenario.model import Scenario, WorkPlan
from shopsim.study.annealing import Chain, run_chain
from shopsim.study.plan_values import FINISH, OrderValues

#: Runs on which orders are compared in a search, and in the final among the best.
SEARCH_RUNS, FINAL_RUNS = 32, 256
#: Where the luck of the search and of its final begins among the replications of a seed: no answer goes so far.
SEARCH_FROM, FINAL_FROM = 2_000_000_000, 2_100_000_000
#: Chains of a search, and orders that come into its final.
CHAINS, FINALISTS = 4, 5
#: Tasks of runs that a second of the time limit stands for; two cores that do nothing else run some three times as many.
TASKS_A_SECOND = 1_500_000
#: How many times as much is looked at at likely times, where one run stands for an order and none is made in vain.
LIKELY_TIMES = 2
#: Seconds that a search may take unless something else is said.
USUAL_S = 10.0


@dataclass(frozen=True, eq=False)
class FoundOrder:
    """What a search came to. ``lines``: of the plan; ``order``: of the lines, the best that was found; ``n_tried``: orders
    looked at; ``stopped``: "" or what ended it early, "the time limit" or "you"."""

    lines: PlanLines
    order: np.ndarray
    wish: str
    seed: int
    n_tried: int
    stopped: str

    @property
    def plan(self) -> WorkPlan:
        """The order as a plan of one's own for the file."""
        return self.lines.as_plan(self.order, self.wish, self.seed)


class _Watch:
    """When a search is to stop, and how far it is; asked by several threads."""

    def __init__(
        self, seconds: float, total: int, on_progress: Callable[[int, int], None] | None,
        should_stop: Callable[[], bool] | None,
    ) -> None:  # fmt: skip
        self._until, self._total, self._done = time.monotonic() + seconds, total, 0
        self._tell, self._ask, self._lock = on_progress, should_stop, threading.Lock()
        self.reason = ""

    def should_stop(self) -> bool:
        if not self.reason and self._ask is not None and self._ask():
            self.reason = "you"
        if not self.reason and time.monotonic() > self._until:
            self.reason = "the time limit"
        return bool(self.reason)

    def add(self, tasks: int) -> None:
        with self._lock:
            self._done += tasks
            if self._tell is not None:
                self._tell(min(self._done, self._total), self._total)


def search_order(
    scenario: Scenario,
    wish: str = "average",
    *,
    seed: int = 1,
    seconds: float = USUAL_S,
    likely: bool = False,
    on_progress: Callable[[int, int], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> FoundOrder:
    """The best order of the lines of a plan that is found; see ``FoundOrder``. What the file holds back stays held back.

    ``wish``: "average", "last" or "idle", by its mean over luck; ``likely``: the end of the last piece at likely times
    instead. ``seconds``: how long it may take, and so how much it looks at. The same arguments find the same order unless
    it is stopped by ``should_stop`` or the time limit: the best so far then counts, at least a named rule's as a list.
    """
    lines = list_lines(scenario)
    n_tasks = lines.plan.task_step.size
    compiling.want_compiled(int(seconds * TASKS_A_SECOND) // max(1, n_tasks), n_tasks)
    most_tasks = int(seconds * TASKS_A_SECOND * (LIKELY_TIMES if likely else 1))
    watch = _Watch(seconds, most_tasks, on_progress, should_stop)
    wished = FINISH if likely else wish
    luck = LuckBlock.of(likely_luck(lines.plan.luck)) if likely else _draw(lines, seed, SEARCH_FROM, SEARCH_RUNS)
    starts = _best_starts(lines, OrderValues(lines, luck, wished), _starts(scenario, lines), watch)
    chains = _run_chains(lines, luck, wished, starts, seed, most_tasks, watch)
    order = _choose(lines, chains, wished, seed, likely)
    return FoundOrder(lines, order, wish, seed, sum(chain.n_tried for chain in chains), watch.reason)


def _draw(lines: PlanLines, seed: int, first: int, n: int) -> LuckBlock:
    return draw_block(lines.plan.luck, seed, range(first, first + n))


def _starts(scenario: Scenario, lines: PlanLines) -> list[np.ndarray]:
    """Orders to begin with: of each named rule its list, and the order in which work is begun under it at likely times."""
    found = []
    for rule in rules_to_compare(scenario):
        plan = build_plan(with_rule(scenario, rule))
        record = run(plan, likely_luck(plan.luck))
        found.append(lines.order_of(plan))
        begun = np.full(len(lines.work), np.inf)
        line_of_task = lines.line_of_entry[lines.plan.task_entry]
        np.minimum.at(begun, line_of_task, record.start)
        found.append(np.argsort(begun, kind="stable"))
    return found


def _best_starts(
    lines: PlanLines, values: OrderValues, starts: Sequence[np.ndarray], watch: _Watch
) -> list[np.ndarray]:
    """As many as there are chains, the best first; the first start again where there are too few."""
    seen: list[tuple[float, int]] = []
    for number, order in enumerate(starts):
        if number and watch.should_stop():
            break
        seen.append((float(values.measure(order).mean()), number))
    ranked = [starts[number] for _, number in sorted(seen)]
    return [ranked[number % len(ranked)] for number in range(CHAINS)]


def _run_chains(
    lines: PlanLines, luck: LuckBlock, wish: str, starts: Sequence[np.ndarray], seed: int, most_tasks: int, watch: _Watch
) -> list[Chain]:  # fmt: skip
    """All chains, as many at once as there are processors; each for itself, so that their number changes nothing."""

    def one(number: int) -> Chain:
        rng = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(number,))))
        values = OrderValues(lines, luck, wish)
        return run_chain(values, starts[number], rng, most_tasks // len(starts), watch.should_stop, watch.add)

    with ThreadPoolExecutor(min(len(starts), os.cpu_count() or 1)) as pool:
        return list(pool.map(one, range(len(starts))))


def _choose(lines: PlanLines, chains: Sequence[Chain], wish: str, seed: int, likely: bool) -> np.ndarray:
    """The best order of the final: at likely times the best of all chains, else that of the best mean on fresh luck."""
    pool = sorted((pair for chain in chains for pair in chain.best), key=lambda pair: pair[0])
    finalists: list[np.ndarray] = []
    for _, order in pool:
        if not any(np.array_equal(order, other) for other in finalists):
            finalists.append(order)
    if likely or len(finalists) == 1:
        return finalists[0]
    values = OrderValues(lines, _draw(lines, seed, FINAL_FROM, FINAL_RUNS), wish)
    means = [float(values.measure(order).mean()) for order in finalists[:FINALISTS]]
    return finalists[int(np.argmin(means))]


def with_plan(scenario: Scenario, plan: WorkPlan) -> Scenario:
    """The scenario with a plan of one's own in use."""
    return with_rule(scenario, AS_PLANNED, plan)


def with_rule(scenario: Scenario, priority: str, plan: WorkPlan | None = None) -> Scenario:
    """The scenario under a priority rule, with a plan of one's own in the file where one is given."""
    changes = {"priority": priority} | ({"plan": plan} if plan is not None else {})
    return scenario.model_copy(update={"run": scenario.run.model_copy(update=changes)})
