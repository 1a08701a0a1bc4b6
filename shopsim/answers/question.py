"""What a question is, and how every question is asked: from Python, the command line, the app and the report alike."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Generic, TypeVar

from shopsim.errors import Cancelled
from shopsim.scenario.check_size import count_tasks
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution

A = TypeVar("A")

#: Runs of each alternative in a first look: at least, and at most where it cannot be all; and how many times as many there
#: are in the next.
MIN_FIRST, MAX_FIRST, NEXT_LOOK = 12, 200, 4
#: Tasks of all runs together where nobody has said how many runs: some minutes with the compiled floor.
MAX_TASKS_UNASKED = 1_000_000_000


class Question(ABC, Generic[A]):
    """One question about a scenario: its alternatives, and how an answer is read from runs of them.

    What is asked more exactly is given when a question is made, which checks it. Nothing is run before it is asked.
    """

    scenario: Scenario

    @property
    @abstractmethod
    def alternatives(self) -> Mapping[str, Scenario]:
        """The scenarios that are run first of all, by name."""

    @property
    @abstractmethod
    def usual(self) -> int:
        """Replications of each alternative where nothing is said."""

    def afford(self, usual: int) -> int:
        """Replications of each alternative where nothing is said: as usual, but fewer where runs are so large that it would take hours."""
        tasks = sum(count_tasks(scenario) for scenario in self.alternatives.values())
        return min(usual, max(self.fewest, MIN_FIRST, MAX_TASKS_UNASKED // max(1, tasks)))

    @property
    def fewest(self) -> int:
        """Replications from which on there is something to say."""
        return 2

    def check(self, replications: int) -> None:
        """InputError where so many replications cannot tell what is asked."""

    @abstractmethod
    def answers(self, execution: Execution, last: bool) -> Iterator[A]:
        """The answer after as many replications as the execution says, then a better one if more is worth running.

        ``last``: all replications that were asked for, so that what is run but once is run now. Alternatives are run by
        ``run_alternatives`` or ``run_known``, so that what a look before has run is not run again.
        """


def look(question: Question[A], execution: Execution) -> Iterator[A]:
    """Answer after answer, each from more replications than the one before and each standing for itself.

    The first is there soon where the execution says how much work a first look may be (``first_tasks``); otherwise there is
    one look at everything. Ends early, with an answer from what is finished, when the user stops. Raises InputError for
    too few replications, Cancelled if stopped before anything can be said.
    """
    whole = execution.times(question.afford(question.usual))
    assert whole.replications is not None
    question.check(whole.replications)
    with whole.opened() as opened:
        for number, replications in enumerate(list_looks(question, opened)):
            if number and opened.stopped:
                return
            yield from question.answers(
                replace(opened, replications=replications), last=replications == whole.replications
            )


def list_looks(question: Question[A], execution: Execution) -> list[int]:
    """The replications of each look, rising; the last is all that the execution says."""
    whole = execution.replications
    assert whole is not None
    if not execution.first_tasks:
        return [whole]
    tasks = sum(count_tasks(scenario) for scenario in question.alternatives.values())
    if tasks * whole <= execution.first_tasks:
        return [whole]
    first = max(MIN_FIRST, min(MAX_FIRST, execution.first_tasks // max(1, tasks)))
    first = min(whole, max(question.fewest, first))
    return list(dict.fromkeys((first, min(whole, NEXT_LOOK * first), whole)))


def ask(question: Question[A], execution: Execution | None = None) -> A:
    """The answer to a question from all the replications that the execution says, default the question's own number on seed 1.

    After a stop it rests on what was finished, and says so. Raises InputError for bad arguments, Cancelled if stopped too
    soon to say anything.
    """
    answers = list(look(question, replace(execution or Execution(), first_tasks=0)))
    if not answers:
        raise Cancelled("stopped before anything could be said")
    return answers[-1]
