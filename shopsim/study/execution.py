"""How a question is run: how often, on which luck, where, and what is told meanwhile. One object that travels."""

from __future__ import annotations

import time
from collections.abc import Callable, Hashable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar

from shopsim.errors import Cancelled
from shopsim.priority import Rule
from shopsim.scenario.model import Scenario
from shopsim.study.cluster import as_cluster
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.known import Known
from shopsim.study.plans import PlanStore
from shopsim.study.process_pool import open_workers

if TYPE_CHECKING:
    from shopsim.study.results import Study

T = TypeVar("T")

#: Seconds between looks at whether a call is done.
GLANCE_S = 0.02
#: Called with (runs done, runs asked for).
OnProgress = Callable[[int, int], None]
#: Asked often; True ends the study with what is done.
ShouldStop = Callable[[], bool]


class RunOptions(TypedDict, total=False):
    """What every question can be asked with, as keyword arguments.

    ``replications``: of every alternative, default what the question says. ``seed``: default 1; ``jobs``: worker processes,
    default 1 (this one); ``executor``: a ``concurrent.futures`` executor in their place. ``on_progress(done, total)``
    counts runs. ``should_stop()`` is asked between runs; after True the answer rests on what is done, and says so.
    ``reuse``: runs that are there already: they are used for every alternative that says the same, and their seed counts.
    """

    replications: int | None
    seed: int
    jobs: int
    executor: Executor | None
    on_progress: OnProgress | None
    should_stop: ShouldStop | None
    reuse: Study | None


@dataclass(frozen=True)
class Execution:
    """How alternatives are run. ``reuse``: runs that are there already; see ``RunOptions`` for the other options.

    ``first_tasks``: how much work a first look may be, in tasks of all runs together; 0 for one look at everything. For a
    server that answers many at once: ``tasks_a_piece``, tasks of one piece of work for a worker process at most (0: as many as is
    quickest), and ``apart``, nothing is run in this process.

    ``sobol_block``, ``rule``: see ``run_study``. ``plans``: what has been made ready of the alternatives so far; ``known``: what
    has been worked out so far, runs of alternatives among it (see ``run_known``); so an execution is used by one thread.
    """

    replications: int | None = None
    seed: int = 1
    jobs: int = 1
    executor: Executor | None = None
    on_progress: OnProgress | None = None
    should_stop: ShouldStop | None = None
    reuse: Study | None = None
    first_tasks: int = 0
    tasks_a_piece: int = 0
    apart: bool = False
    sobol_block: int = 0
    rule: Rule | None = None
    plans: PlanStore = field(default_factory=PlanStore, repr=False, compare=False)
    known: Known = field(default_factory=Known, repr=False, compare=False)
    _hashes: dict[int, tuple[Scenario, str]] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "executor", as_cluster(self.executor))

    @classmethod
    def of(cls, options: RunOptions) -> Execution:
        """The options of a public function; TypeError for one that there is not."""
        for key in options:
            if key not in RunOptions.__annotations__:
                raise TypeError(f"there is no option {key!r}; the options are {', '.join(RunOptions.__annotations__)}")
        plain = {key: value for key, value in options.items() if key != "reuse"}
        study = options.get("reuse")
        execution = cls(**plain)  # type: ignore[arg-type]
        return execution if study is None else execution.reusing(study)

    def reusing(self, study: Study) -> Execution:
        """The execution with runs that are there already, on whose luck all others then are."""
        execution = replace(self, reuse=study, seed=study.seed, sobol_block=study.sobol_block)
        for outcome in study.outcomes.values():
            self.known.put(execution.runs_key(outcome.scenario_hash), outcome)
        return execution

    def hash_of(self, scenario: Scenario) -> str:
        """``hash_scenario``, worked out once for each scenario that this execution meets."""
        if id(scenario) not in self._hashes:
            self._hashes[id(scenario)] = (scenario, hash_scenario(scenario))  # held, so that its id stays
        return self._hashes[id(scenario)][1]

    def runs_key(self, scenario_hash: str) -> tuple[Hashable, ...]:
        """The key of what is known of an alternative on this execution's luck, under its rule."""
        return ("runs", scenario_hash, self.seed, self.sobol_block, None if self.rule is None else id(self.rule))

    def times(self, usual: int) -> Execution:
        """The execution with ``usual`` replications where it does not say how many."""
        return self if self.replications is not None else replace(self, replications=usual)

    @property
    def first(self) -> int:
        """The number of the first replication."""
        return 0 if self.reuse is None else self.reuse.first

    @property
    def stopped(self) -> bool:
        """Whether the user asks to stop."""
        return self.should_stop is not None and self.should_stop()

    def call(self, work: Callable[..., T], *args: Any, even_if_stopped: bool = False) -> T:
        """What a plain function at the top of a module gives: worked out here, or by the executor where all is run apart.

        Cancelled if the user stops while the executor is at it, unless ``even_if_stopped``.
        """
        if not self.apart or self.executor is None:
            return work(*args)
        future = self.executor.submit(work, *args)
        while not future.done():
            if self.stopped and not even_if_stopped:
                future.cancel()
                raise Cancelled("stopped before the end")
            time.sleep(GLANCE_S)
        return future.result()

    @contextmanager
    def opened(self) -> Iterator[Execution]:
        """The execution with worker processes that serve several studies in a row and end with the block."""
        if self.executor is not None:
            yield self
            return
        with open_workers(self.jobs) as pool:
            yield self if pool is None else replace(self, executor=pool)


class Meter:
    """One count of runs over several studies in a row, of ``total`` runs at most."""

    def __init__(self, on_progress: OnProgress | None, total: int) -> None:
        self._tell, self._total = on_progress, total
        self._before = self._done = 0

    def stage(self, execution: Execution) -> Execution:
        """The execution of the next study, which reports to this count."""
        self._before = self._done
        return replace(execution, on_progress=None if self._tell is None else self._add)

    def _add(self, done: int, _total: int) -> None:
        self._done = self._before + done
        self._report(min(self._done, self._total))

    def finish(self) -> None:
        """Everything is done, or no more will be; nothing is told where nothing had to be run."""
        if 0 < self._done < self._total:
            self._report(self._total)

    def _report(self, done: int) -> None:
        if self._tell is not None:
            self._tell(done, self._total)
