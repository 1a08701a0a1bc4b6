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

import numpy as np

from shopsim.engine.even_luck import EvenLuck
from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.run import run
from shopsim.errors import RunError
from shopsim.study.measures import Measurer

#: Plans that one thread keeps ready; a scenario's takes about a millisecond for 100 tasks to build.
MOST_PLANS = 64
#: Tasks in all the plans that are kept ready, about 1.5 kB each.
MOST_TASKS_KEPT = 500_000

_kept = threading.local()


@dataclass(frozen=True)
class Packed:
    """A scenario (and the priority rule of a Python user, if any) as bytes, with a key that stands for them."""

    name: str
    key: str
    content: bytes


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


def plan_of(packed: Packed) -> tuple[SimulationPlan, Measurer]:
    """The plan of a packed scenario, from the ones this thread keeps or built anew."""
    plans: OrderedDict[str, tuple[SimulationPlan, Measurer]] | None = getattr(_kept, "plans", None)
    if plans is None:
        plans = _kept.plans = OrderedDict()
    if packed.key in plans:
        plans.move_to_end(packed.key)
        return plans[packed.key]
    scenario, rule = pickle.loads(packed.content)
    plan = build_plan(scenario, rule)
    plans[packed.key] = ready = (plan, Measurer(plan))
    most_tasks = getattr(_kept, "most_tasks", MOST_TASKS_KEPT)
    while len(plans) > 1 and (len(plans) > MOST_PLANS or _count_tasks(plans) > most_tasks):
        plans.popitem(last=False)
    return ready


def _count_tasks(plans: OrderedDict[str, tuple[SimulationPlan, Measurer]]) -> int:
    return sum(plan.worklist.n_tasks for plan, _ in plans.values())


def run_chunk(packed: Packed, seed: int, first: int, last: int, even_block: int = 0) -> Chunk:
    """Replications ``first`` to ``last - 1`` of a packed scenario, whatever process it is run in.

    ``even_block``: see ``run_study``.

    Raises RunError, naming alternative, seed and replication, if one cannot be carried through.
    """
    plan, measurer = plan_of(packed)
    return run_replications(plan, measurer, packed.name, seed, first, last, even_of(plan, even_block))


def even_of(plan: SimulationPlan, even_block: int) -> EvenLuck | None:
    """The shared luck of a plan in even blocks, built once for each plan; None for blocks of 0."""
    if not even_block:
        return None
    kept: tuple[SimulationPlan, EvenLuck] | None = getattr(_kept, "even", None)
    if kept is None or kept[0] is not plan or kept[1].block != even_block:
        kept = _kept.even = (plan, EvenLuck(plan.luck, even_block))
    return kept[1]


def run_replications(
    plan: SimulationPlan, measurer: Measurer, name: str, seed: int, first: int, last: int, even: EvenLuck | None = None
) -> Chunk:
    """Replications from ``first`` up to ``last`` of a plan, each run and measured; raises RunError, which names it."""
    done = []
    for replication in range(first, last):
        try:
            draws = draw_luck(plan.luck, seed, replication, even.scores(seed, replication) if even else None)
            done.append(measurer.measure(draws, run(plan, draws)))
        except RunError as error:
            raise type(error)(f'"{name}", seed {seed}, replication {replication}: {error}') from error
    n_orders, n_kinds = len(measurer.queue.orders), len(plan.worklist.clamp_counts)
    return Chunk(
        replications=np.arange(first, first + len(done)),
        rows=np.array([measured.row for measured in done]),
        order_days=np.array([measured.order_days for measured in done], dtype=np.int64).reshape(len(done), n_orders),
        clamp_peaks=np.array([measured.clamp_peaks for measured in done], dtype=np.int64).reshape(len(done), n_kinds),
    )


def begin_worker(most_tasks: int = MOST_TASKS_KEPT) -> None:
    """Set up a worker process: Ctrl-C is the parent's business, and no worker outlives its parent.

    ``most_tasks``: tasks in all the plans that this process keeps ready.
    """
    _kept.most_tasks = most_tasks
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_leave_with, args=(parent,), daemon=True).start()


def _leave_with(parent: multiprocessing.process.BaseProcess) -> None:
    parent.join()
    os._exit(1)
