"""How a page asks a question: look after look in a job, on the worker processes and the results that all sessions share."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from shopsim.answers.question import Question, look
from shopsim.app.background import Job
from shopsim.app.store import Store, name_result
from shopsim.engine.compiling import is_kept
from shopsim.scenario import Scenario
from shopsim.study.execution import Execution
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.known import Known
from shopsim.version import VERSION

#: Tasks, over all runs together, that a first look takes: some two seconds on two cores with the SimPy model.
FIRST_TASKS = 300_000
#: Tasks of one piece of work for a process, about a tenth of a second: so long another session waits for its turn.
TASKS_A_PIECE = 15_000
#: So many times as many where the floor is compiled, whose tasks take so much less.
COMPILED = 15
#: Pieces of work of one job that are waiting at once.
MAX_WAITING = 64


@dataclass(frozen=True)
class Asked:
    """What a page asks: ``make`` a question of ``scenario`` and ``options``; ``replications``: None for the question's own number."""

    make: Callable[..., Question[Any]]
    scenario: Scenario
    options: Mapping[str, Any] = field(default_factory=dict)
    seed: int = 1
    replications: int | None = None

    @property
    def key(self) -> str:
        """A name for what is asked, with all that its answer depends on."""
        return name_result(
            f"{self.make.__module__}.{self.make.__qualname__}", hash_scenario(self.scenario),
            repr(sorted(self.options.items())), self.seed, self.replications, VERSION,
        )  # fmt: skip

    def work(self, job: Job) -> Iterator[Any]:
        """Answer after answer, for a job to hand on."""
        yield from look(self.make(self.scenario, **self.options), self.execution(job))

    def execution(self, job: Job) -> Execution:
        """How a job runs it: apart from this process, in short pieces, the less at first the more sessions wait for a first look."""
        faster = COMPILED if is_kept() else 1
        return Execution(
            self.replications, self.seed, MAX_WAITING // 4, job.executor, job.tell, job.should_stop,
            first_tasks=faster * FIRST_TASKS // max(1, job.executor.workers.urgent_shares),
            tasks_a_piece=faster * TASKS_A_PIECE,
            apart=True, known=_Shared(job.store),
        )  # fmt: skip


class _Shared(Known):
    """What all sessions have worked out: a store's results, for as long as it holds them."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def get(self, key: tuple[Hashable, ...]) -> Any:
        """What is known under a key, or None."""
        return self._store.get(name_result("known", *key, VERSION))

    def put(self, key: tuple[Hashable, ...], result: Any) -> None:
        """Keep a result for all sessions, as long as there is room."""
        self._store.put(name_result("known", *key, VERSION), result)
