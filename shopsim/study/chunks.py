"""What a worker process does: some replications of one scenario. Kept apart so that a new process loads little."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from types import ModuleType

import numpy as np

from shopsim.engine.compiling import find_compiled, want_compiled
from shopsim.engine.luck import LuckBlock, LuckPlan, draw_block
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.quasi_random import QuasiRandomFactors
from shopsim.engine.run import run
from shopsim.errors import RunError
from shopsim.priority import Rule
from shopsim.scenario.model import Scenario
from shopsim.study.measures import RunMeasures
from shopsim.study.plans import MAX_TASKS_KEPT, PlanStore, ReadyPlan

#: Replications sent to a worker process at a time, at most.
CHUNK = 16
#: The most replications that are run at once, and the most tasks in all of them.
MAX_AT_ONCE = 256
MAX_TASKS_AT_ONCE = 64_000
#: Blocks of luck that a process keeps for other alternatives; a block takes 3 MB at most.
MAX_BLOCKS_OF_LUCK = 4
#: Plans that one thread of a worker process keeps ready.
MAX_PLANS = 64

_cache = threading.local()


@dataclass(frozen=True)
class PackedScenario:
    """A scenario (and the priority rule of a Python user, if any) as bytes, with a key that stands for them, and the tasks of a run."""

    name: str
    key: str
    content: bytes
    n_tasks: int

    def read(self) -> tuple[Scenario, Rule | None]:
        """The scenario and the rule."""
        scenario, rule = pickle.loads(self.content)
        return scenario, rule


@dataclass(frozen=True)
class Chunk:
    """Results of some replications of one alternative.

    ``replications``: int64, shape (n,), rising. ``rows``: float64, shape (n, measures).
    ``order_days``: int64, shape (n, orders). ``clamp_peaks``: int64, shape (n, clamp kinds).
    """

    replications: np.ndarray
    rows: np.ndarray
    order_days: np.ndarray
    clamp_peaks: np.ndarray

    @classmethod
    def join(cls, chunks: Sequence[Chunk]) -> Chunk:
        """Chunks of one alternative as one, one after the other; at least one is needed."""
        if len(chunks) == 1:
            return chunks[0]
        return cls(
            np.concatenate([chunk.replications for chunk in chunks]),
            np.concatenate([chunk.rows for chunk in chunks]),
            np.concatenate([chunk.order_days for chunk in chunks]),
            np.concatenate([chunk.clamp_peaks for chunk in chunks]),
        )


def put_by(chunks: list[Chunk], chunk: Chunk) -> None:
    """Add a chunk to those at hand, small ones joined, so that memory holds the numbers and little beside them.

    A chunk of one run takes ten times the room of its numbers. The last is joined to the one before as long as
    that has no more runs, so that few are left and each number is copied only some 20 times in a million runs.
    """
    chunks.append(chunk)
    while len(chunks) > 1 and chunks[-2].replications.size <= chunks[-1].replications.size:
        chunks[-2:] = [Chunk.join(chunks[-2:])]


def plans_here() -> PlanStore:
    """The plans that this thread of a worker process keeps ready."""
    plans: PlanStore | None = getattr(_cache, "plans", None)
    if plans is None:
        plans = _cache.plans = PlanStore(getattr(_cache, "most_tasks", MAX_TASKS_KEPT), MAX_PLANS)
    return plans


def share_plans(n_threads: int) -> None:
    """So many threads of this process run pieces of work: each that begins keeps its share of the tasks in plans ready."""
    if getattr(_cache, "plans", None) is None:
        _cache.most_tasks = MAX_TASKS_KEPT // max(1, n_threads)


def run_chunk(packed: PackedScenario, seed: int, first: int, last: int, sobol_block: int = 0) -> Chunk:
    """Replications ``first`` to ``last - 1`` of a packed scenario, whatever process it is run in.

    ``sobol_block``: see ``run_study``.

    Raises RunError, naming alternative, seed and replication, if one cannot be carried through.
    """
    plans = plans_here()
    ready = plans.get(packed.key, packed.read)
    want_compiled(last - first, ready.plan.task_step.size)
    return run_replications(ready, packed.name, seed, range(first, last), plans.sobol_factors(ready.plan, sobol_block))


def block_size(plan: SimulationPlan) -> int:
    """How many replications are run at once: one where the SimPy model runs, otherwise so many that what is done once a block hardly counts."""
    return 1 if find_compiled(plan) is None else max(1, min(MAX_AT_ONCE, MAX_TASKS_AT_ONCE // plan.task_step.size))


def run_replications(
    ready: ReadyPlan, name: str, seed: int, numbers: range, even: QuasiRandomFactors | None = None
) -> Chunk:
    """Replications of a plan that is ready; ``name``: that of its alternative."""
    size = block_size(ready.plan)
    chunks = [_run_block(ready, name, seed, numbers[at : at + size], even) for at in range(0, len(numbers), size)]
    return Chunk.join(chunks)


class _BlocksOfLuck:
    """The blocks of luck that were drawn last in this process: alternatives of the same work are run on them one after the other.

    Threads may share it. A block is never changed by those who run on it.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._drawn: OrderedDict[tuple[int, int, range, int], tuple[LuckPlan, QuasiRandomFactors | None, LuckBlock]] = (
            OrderedDict()
        )

    def get(
        self, plan: LuckPlan, seed: int, numbers: range, even: QuasiRandomFactors | None, kernels: ModuleType | None
    ) -> LuckBlock:
        key = (id(plan), seed, numbers, id(even))  # both are held as long as the block, so that their ids stay theirs
        with self._lock:
            found = self._drawn.get(key)
        if found is not None:
            return found[2]
        scores = None if even is None else [even.scores(seed, number) for number in numbers]
        luck = draw_block(plan, seed, numbers, scores, kernels)
        if len(numbers) > 1:  # that of one run is as soon drawn again
            with self._lock:
                self._drawn[key] = (plan, even, luck)
                while len(self._drawn) > MAX_BLOCKS_OF_LUCK:
                    self._drawn.popitem(last=False)
        return luck


_blocks_of_luck = _BlocksOfLuck()


def _run_block(ready: ReadyPlan, name: str, seed: int, numbers: range, even: QuasiRandomFactors | None) -> Chunk:
    plan, measurer = ready
    compiled = find_compiled(plan)
    luck = _blocks_of_luck.get(plan.luck, seed, numbers, even, None if compiled is None else compiled.machine_code)
    found: list[tuple[np.ndarray, RunMeasures]] = []
    left_over = np.arange(len(numbers))
    if compiled is not None:
        measured, over = compiled.measure_block(plan, luck, measurer.measure_plan)
        left_over = np.flatnonzero(~over)
        if over.any():
            found.append((np.flatnonzero(over), measurer.tabulate(measured if over.all() else measured.take(over))))
    for place in left_over.tolist():
        try:
            draws = luck.one(place)
            found.append((np.array([place]), measurer.measure(draws, run(plan, draws))))
        except RunError as error:
            raise type(error)(f'"{name}", seed {seed}, replication {numbers[place]}: {error}') from error
    order = np.argsort(np.concatenate([places for places, _ in found]))
    return Chunk(
        replications=np.array(numbers, dtype=np.int64),
        rows=np.concatenate([measured.rows for _, measured in found])[order],
        order_days=np.concatenate([measured.order_days for _, measured in found])[order],
        clamp_peaks=np.concatenate([measured.clamp_peaks for _, measured in found])[order],
    )


def begin_worker(most_tasks: int = MAX_TASKS_KEPT) -> None:
    """Set up a worker process: Ctrl-C is the parent's business, and no worker outlives its parent.

    ``most_tasks``: tasks in all the plans that this process keeps ready.
    """
    _cache.most_tasks = most_tasks
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()


def _leave_with(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)
