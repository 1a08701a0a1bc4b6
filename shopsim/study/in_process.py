"""Replications of several alternatives made in this process: one after the other, or in threads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait

from shopsim.engine.compiling import is_compiled
from shopsim.engine.quasi_random import QuasiRandomFactors
from shopsim.scenario.check_size import count_tasks
from shopsim.scenario.model import Scenario
from shopsim.study.chunks import CHUNK, MAX_AT_ONCE, Chunk, block_size, put_by, run_replications
from shopsim.study.execution import Execution
from shopsim.study.plans import ReadyPlan


class RunProgress:
    """Counts runs, tells of them, and asks whether to stop."""

    def __init__(self, execution: Execution, total: int) -> None:
        self._tell, self._ask = execution.on_progress, execution.should_stop
        self.done, self.total = 0, total
        self.stopped = False

    def add(self, runs: int) -> None:
        self.done += runs
        if self._tell is not None:
            self._tell(self.done, self.total)

    def should_stop(self) -> bool:
        if not self.stopped and self._ask is not None and self._ask():
            self.stopped = True
        return self.stopped


def run_here(
    scenarios: Mapping[str, Scenario],
    hashes: Mapping[str, str],
    execution: Execution,
    numbers: range,
    progress: RunProgress,
) -> dict[str, list[Chunk]]:
    done: dict[str, list[Chunk]] = {name: [] for name in scenarios}
    for name, ready, even, part in _turns(scenarios, hashes, execution, numbers):
        if progress.should_stop():
            break
        put_by(done[name], run_replications(ready, name, execution.seed, part, even))
        progress.add(len(part))
    return done


def _turns(
    scenarios: Mapping[str, Scenario], hashes: Mapping[str, str], execution: Execution, numbers: range
) -> Iterator[tuple[str, ReadyPlan, QuasiRandomFactors | None, range]]:
    """(alternative, its plan, its even luck, replications to run at once): each alternative has its turn again and again."""
    tasks = max(count_tasks(scenario) for scenario in scenarios.values())
    usual = CHUNK if tasks * len(scenarios) > execution.plans.most_tasks else 1  # plans that do not all fit into memory
    grown = CHUNK // 2 if is_compiled() else 1
    while numbers:
        grown = min(2 * grown, MAX_AT_ONCE)  # small at first, so that whoever stops early has a little of everything
        turn = numbers[: grown if is_compiled() else usual]
        for name, scenario in scenarios.items():
            ready = _ready_plan(execution, scenario, hashes[name])
            even = execution.plans.sobol_factors(ready.plan, execution.sobol_block)
            size = block_size(ready.plan)
            for first in range(0, len(turn), size):
                yield name, ready, even, turn[first : first + size]
        numbers = numbers[len(turn) :]


def run_in_threads(
    scenarios: Mapping[str, Scenario],
    hashes: Mapping[str, str],
    execution: Execution,
    numbers: range,
    progress: RunProgress,
    n_threads: int,
) -> dict[str, list[Chunk]]:
    """Like ``run_here``, in threads: compiled runs do not hold each other up."""
    done: dict[str, list[Chunk]] = {name: [] for name in scenarios}
    under_way: dict[Future[Chunk], str] = {}

    def take_in(most_left: int) -> None:
        while len(under_way) > most_left:
            finished, _ = wait(under_way, return_when=FIRST_COMPLETED)
            for future in finished:
                chunk = future.result()
                put_by(done[under_way.pop(future)], chunk)
                progress.add(chunk.replications.size)

    with ThreadPoolExecutor(n_threads) as threads:
        for name, ready, even, part in _turns(scenarios, hashes, execution, numbers):
            if progress.should_stop():
                break
            under_way[threads.submit(run_replications, ready, name, execution.seed, part, even)] = name
            take_in(2 * n_threads)
        take_in(0)
    return done


def _ready_plan(execution: Execution, scenario: Scenario, scenario_hash: str) -> ReadyPlan:
    rule = execution.rule
    key = scenario_hash if rule is None else (scenario_hash, id(rule))  # the execution holds the rule, so its id stays
    return execution.plans.get(key, lambda: (scenario, rule))
