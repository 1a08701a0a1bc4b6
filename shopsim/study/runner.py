"""Many replications of one or more alternatives, on the same luck: here, in processes, or on an executor handed in."""

from __future__ import annotations

import hashlib
import math
import pickle
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    wait,
)
from functools import partial

import numpy as np

from shopsim.engine.compiling import is_compiled, want_compiled
from shopsim.errors import InputError, RunError
from shopsim.limits import MAX_REPLICATIONS
from shopsim.priority import Rule
from shopsim.scenario.check_size import count_tasks
from shopsim.scenario.model import Scenario
from shopsim.study.chunks import CHUNK, Chunk, PackedScenario, put_by, run_chunk, run_replications
from shopsim.study.cluster import AHEAD, STOP_S, Cluster
from shopsim.study.execution import Execution, OnProgress, ShouldStop
from shopsim.study.in_process import RunProgress, run_here, run_in_threads
from shopsim.study.process_pool import ProcessPool, check_jobs
from shopsim.study.results import Outcome, Study
from shopsim.study.work_pieces import Piece, Work
from shopsim.version import VERSION

#: Seconds of work from which on it can be told how long the rest will take.
TELLING_S = 0.2
#: Seconds between looks at ``should_stop`` while waiting for workers.
LOOK_S = 0.1


def check_sobol_block(sobol_block: int) -> None:
    """InputError unless ``sobol_block`` is 0 or a power of two from 2 to 65536."""
    whole = isinstance(sobol_block, int) and not isinstance(sobol_block, bool)
    if not whole or (sobol_block != 0 and (not 2 <= sobol_block <= 65536 or sobol_block & (sobol_block - 1))):
        raise InputError(f"even_block = {sobol_block!r} cannot be used · write 0, or a power of two such as 128")


def check_counts(replications: int, seed: int, first_replication: int) -> None:
    """InputError unless these are whole numbers that can be used: of replications, of the seed, of the first replication."""
    for name, value, least, most in (
        ("replications", replications, 1, MAX_REPLICATIONS),
        ("seed", seed, 0, 2**63 - 1),
        ("first_replication", first_replication, 0, 2**53),
    ):
        if isinstance(value, bool) or not isinstance(value, int | np.integer) or not least <= value <= most:
            raise InputError(f"{name} = {value!r} cannot be used · write a whole number from {least} to {most}")


def run_study(
    scenarios: Mapping[str, Scenario],
    *,
    replications: int,
    seed: int = 1,
    first_replication: int = 0,
    sobol_block: int = 0,
    jobs: int = 1,
    executor: Executor | None = None,
    rule: Rule | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
) -> Study:
    """Run every alternative ``replications`` times, all on the same luck.

    ``scenarios``: name of each alternative -> scenario. Replications are numbered from
    ``first_replication``; replication r of seed s has the same luck in every alternative,
    process and machine, so the result does not depend on ``jobs`` or ``executor``.
    ``sobol_block``: 0, or a power of two such as 128: what a whole run shares (bias, pace, estimate errors) is then
    spread evenly over each block of so many replications, by scrambled Sobol points instead of draws of
    their own. On the examples means then need 1.7 to 6 times fewer replications, 80 % points 1.2 to 2.6 times
    (less where days and material are most of the luck); ordinary intervals are wider than they need be,
    ``blocked_interval`` has the right ones. A replication's luck is then not that of ``run_once``.
    ``jobs``: worker processes (1 = this one); see ``open_workers`` for the hazard of a script
    without a main guard. ``executor``: any ``concurrent.futures`` executor instead; it must be
    able to import this package. That of a Dask client, ``client.get_executor()``, runs the study on
    its cluster: workers need the versions that are here, and what was lost with one of them is made
    again. ``rule``: a priority rule of the user's own, for all alternatives; with processes it must
    be a function at the top of a module.
    ``on_progress(done, total)`` counts runs, in this thread. ``should_stop()`` is asked between
    runs (chunks of up to 16 with workers, of up to half a second on a cluster): after True the study keeps what every
    alternative has finished, and its ``complete`` is False.

    Raises InputError for bad arguments, RunError if a run cannot be carried through or
    worker processes are killed again and again. Costs about 7 microseconds a task and run.
    """
    execution = Execution(
        replications, seed, jobs, executor, on_progress, should_stop, sobol_block=sobol_block, rule=rule
    )  # fmt: skip
    return run_range(scenarios, execution, first_replication, replications)


def run_range(scenarios: Mapping[str, Scenario], execution: Execution, first: int, replications: int) -> Study:
    """So many replications of every alternative from the number ``first`` on; see ``run_study``."""
    if not scenarios:
        raise InputError("no scenario is given · give at least one alternative to run")
    check_jobs(execution.jobs)
    check_counts(replications, execution.seed, first)
    check_sobol_block(execution.sobol_block)
    hashes = {name: execution.hash_of(scenario) for name, scenario in scenarios.items()}
    numbers = range(first, first + replications)
    progress = RunProgress(execution, replications * len(scenarios))
    most_tasks = max(count_tasks(scenario) for scenario in scenarios.values())
    if isinstance(execution.executor, Cluster):
        execution.executor.expect(progress.total, most_tasks)
    elif execution.rule is None:
        want_compiled(progress.total, most_tasks)
    if execution.executor is None and execution.jobs == 1:
        chunks = run_here(scenarios, hashes, execution, numbers, progress)
    elif execution.rule is None and is_compiled() and (n_threads := _count_threads(execution)):
        chunks = run_in_threads(scenarios, hashes, execution, numbers, progress, n_threads)
    else:
        packed = [_pack(name, scenario, hashes[name], execution.rule) for name, scenario in scenarios.items()]
        with execution.opened() as opened:
            chunks = _run_on(opened, Work(packed, numbers, _size_pieces(opened, packed, len(numbers))), progress)
    outcomes = {name: Outcome.of(scenario, hashes[name], chunks.get(name, [])) for name, scenario in scenarios.items()}
    return Study.of(
        outcomes, seed=execution.seed, wanted=replications, version=VERSION, first=first,
        own_rule=execution.rule is not None, sobol_block=execution.sobol_block,
    )  # fmt: skip


def _count_threads(execution: Execution) -> int:
    """In how many threads to run what was to be run in processes of ours; 0 where it is to be run elsewhere."""
    if execution.apart:
        return 0
    if isinstance(execution.executor, ProcessPool):
        return execution.executor.jobs
    return execution.jobs if execution.executor is None else 0


def _pack(name: str, scenario: Scenario, scenario_hash: str, rule: Rule | None) -> PackedScenario:
    try:
        content = pickle.dumps((scenario, rule))
    except (pickle.PicklingError, AttributeError, TypeError) as error:
        raise InputError(
            f'"{name}" cannot be sent to a worker process: {error} '
            "· define functions of your own at the top of a module, or run with jobs=1"
        ) from error
    key = scenario_hash if rule is None else hashlib.sha256(content).hexdigest()
    return PackedScenario(name, key, content, count_tasks(scenario))


def _size_pieces(execution: Execution, packed: Sequence[PackedScenario], replications: int) -> Callable[[int], int]:
    """How many replications each piece of work shall have; see ``Work``."""
    executor = execution.executor
    n_tasks = max(one.n_tasks for one in packed)
    if isinstance(executor, Cluster):
        return partial(executor.piece_size, n_tasks)
    most = CHUNK
    if execution.tasks_a_piece:
        most = max(1, min(CHUNK, execution.tasks_a_piece // max(1, n_tasks)))
    size = max(1, min(most, -(-replications * len(packed) // (4 * execution.jobs))))
    return lambda _: size


def _run_on(execution: Execution, waiting: Work, progress: RunProgress) -> dict[str, list[Chunk]]:
    executor, seed, sobol_block = execution.executor, execution.seed, execution.sobol_block
    assert executor is not None
    done: dict[str, list[Chunk]] = {}
    if isinstance(executor, ProcessPool) and executor.waits:
        done = _run_while_short(execution, executor, waiting, progress)
    under_way: dict[Future[Chunk], Piece] = {}
    cluster = executor if isinstance(executor, Cluster) else None
    stopped_at = math.inf
    try:
        while waiting or under_way:
            if progress.should_stop():
                waiting.clear()
                stopped_at = min(stopped_at, time.monotonic())
                begun = cluster.count_threads() if cluster and time.monotonic() - stopped_at < STOP_S else 0
                for future in list(under_way)[begun:]:  # of a cluster the first handed out are those it is at
                    if future.cancel():
                        del under_way[future]
            broken: list[Piece] = []
            try:
                most = AHEAD * cluster.count_threads() if cluster else 4 * max(execution.jobs, 4)
                while waiting and len(under_way) < most:
                    piece = waiting.take()
                    broken.append(piece)  # until somebody has it
                    under_way[executor.submit(run_chunk, piece[0], seed, *piece[1:], sobol_block)] = broken.pop()
            except RuntimeError as error:  # broken, or shut down
                if progress.should_stop():
                    return done
                _take_up_again(executor, error)
                waiting.put_back([*under_way.values(), *broken])
                under_way.clear()
                continue
            finished, _ = wait(under_way, timeout=LOOK_S, return_when=FIRST_COMPLETED)
            fault: Exception | None = None
            for future in finished:
                piece = under_way.pop(future)
                try:
                    chunk = future.result()
                except (BrokenExecutor, CancelledError) as error:
                    fault = error
                    broken.append(piece)
                    continue
                put_by(done.setdefault(piece[0].name, []), chunk)
                progress.add(chunk.replications.size)
            if fault is not None:
                if progress.should_stop():
                    return done
                _take_up_again(executor, fault)
                waiting.put_back(broken)
                if cluster is None:  # all others went with it
                    waiting.put_back(list(under_way.values()))
                    under_way.clear()
    except BaseException:
        for future in under_way:
            future.cancel()
        raise
    return done


def _run_while_short(
    execution: Execution, pool: ProcessPool, waiting: Work, progress: RunProgress
) -> dict[str, list[Chunk]]:
    """Takes runs out of ``waiting`` and makes them here, until it pays to begin processes for those left."""
    done: dict[str, list[Chunk]] = {}
    begun, runs = time.perf_counter(), 0
    spent_before, left = pool.spent_here, waiting.n_runs
    while waiting and not progress.should_stop():
        packed, first, last = waiting.take()
        if first + 1 < last:
            waiting.put_back([(packed, first + 1, last)])
        ready = execution.plans.get(packed.key, packed.read)
        even = execution.plans.sobol_factors(ready.plan, execution.sobol_block)
        one = run_replications(ready, packed.name, execution.seed, range(first, first + 1), even)
        put_by(done.setdefault(packed.name, []), one)
        progress.add(1)
        runs, left = runs + 1, left - 1
        spent = time.perf_counter() - begun
        pool.spent_here = spent_before + spent
        if left and spent >= TELLING_S and pool.pays(left * spent / runs):
            break
    return done


def _take_up_again(executor: Executor, fault: Exception) -> None:
    """Replace killed processes that are ours; an executor handed in is its owner's to mend."""
    if isinstance(executor, ProcessPool):
        executor.restart()
        return
    if isinstance(executor, Cluster):
        executor.restart(fault)
        return
    raise RunError(
        f"the executor handed in no longer works ({type(fault).__name__}) "
        "· start a new one, or leave it to jobs=2 to run the study in processes"
    ) from fault
