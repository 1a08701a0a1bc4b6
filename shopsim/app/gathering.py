"""Runs for the questions of the answer pages: taken from the store where they are there, and run where they are not, step by step."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from typing import Any

import numpy as np

from shopsim.app.background import Job
from shopsim.app.store import name_result
from shopsim.engine.worklist import build_worklist
from shopsim.errors import Cancelled
from shopsim.scenario import Scenario
from shopsim.study.execution import Execution
from shopsim.study.extending import find_missing, run_missing
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.results import Outcome, Study, need_replications
from shopsim.study.runner import CHUNK, software_version

#: Tasks, over all runs together, that a first look takes: some two seconds on two cores.
FIRST_TASKS = 300_000
#: Runs of each alternative in a first look: at least, and at most.
FEWEST_FIRST, MOST_FIRST = 12, 100
#: Tasks of one piece of work for a process, about a tenth of a second: so long another session waits for its turn.
TASKS_A_PIECE = 15_000
#: Pieces of work of one job that are waiting at once.
MOST_WAITING = 64


def choose_first(job: Job, scenario: Scenario, alternatives: int, replications: int) -> int:
    """Runs of each alternative in a first look, so that it is there within seconds, also while others ask.

    ``scenario``: the largest of the alternatives.
    """
    tasks = build_worklist(scenario).n_tasks * alternatives * max(1, job.executor.workers.urgent_shares)
    return min(replications, max(FEWEST_FIRST, min(MOST_FIRST, FIRST_TASKS // max(1, tasks))))


def gather(job: Job, alternatives: Mapping[str, Scenario], replications: int, seed: int) -> Study:
    """A study of the alternatives, taking what is in store and running the rest; Cancelled if stopped too soon.

    A study that was stopped holds the replications that all have finished.
    """
    outcomes: dict[str, Outcome] = {}
    names: dict[str, str] = {}
    for name, scenario in alternatives.items():
        scenario_hash = hash_scenario(scenario)
        names[name] = name_result("outcome", scenario_hash, seed, software_version())
        held = job.store.get(names[name])
        outcomes[name] = held if held is not None else Outcome.of(scenario, scenario_hash, [])
    wanted = np.arange(replications)
    missing = sum(find_missing(outcome, wanted).size for outcome in outcomes.values())
    if missing:
        tasks = build_worklist(next(iter(alternatives.values()))).n_tasks
        piece = max(1, min(CHUNK, TASKS_A_PIECE // max(1, tasks)))
        step = max(1, MOST_WAITING * piece // len(alternatives))
        done = 0
        for until in [*range(step, replications, step), replications]:
            before = {name: outcome.replications.size for name, outcome in outcomes.items()}
            execution = Execution(
                seed=seed, jobs=MOST_WAITING // 4, executor=job.executor, on_progress=_add_to(job, done, missing),
                should_stop=job.should_stop,
            )  # fmt: skip
            outcomes = run_missing(outcomes, dict.fromkeys(outcomes, wanted[:until]), execution)
            done += sum(outcome.replications.size - before[name] for name, outcome in outcomes.items())
            for name, outcome in outcomes.items():
                if outcome.replications.size > before[name]:
                    job.store.put(names[name], outcome)
            if job.should_stop():
                break
    kept = {name: outcome.only(wanted) for name, outcome in outcomes.items()}
    study = Study.of(kept, seed=seed, wanted=replications, version=software_version())
    need_replications(study)
    return study


def _add_to(job: Job, done: int, total: int) -> Callable[[int, int], None]:
    return lambda runs, _total: job.tell(done + runs, total)


def go_in_steps(job: Job, scenario: Scenario, alternatives: int, replications: int) -> Iterator[int]:
    """The numbers of replications after which an answer is given, as long as the job is not stopped."""
    first = choose_first(job, scenario, alternatives, replications)
    for number in dict.fromkeys((first, max(first, min(replications, 4 * first)), replications)):
        if job.should_stop():
            return
        yield number


def wait_for(job: Job, future: Future[Any], even_if_stopped: bool = False) -> Any:
    """The result of a call in a worker process; Cancelled if the job is stopped meanwhile."""
    while not future.done():
        if job.should_stop() and not even_if_stopped:
            future.cancel()
            raise Cancelled("stopped before the end")
        time.sleep(0.02)
    return future.result()
