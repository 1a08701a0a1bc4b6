"""Running alternatives only until it is sure which is best: replications where they are still needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shopsim.engine.compiling import is_compiled, is_kept
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.model import Scenario
from shopsim.study.choosing import Choice, Deliver, choose_best, find_survivors
from shopsim.study.execution import Execution
from shopsim.study.extending import find_missing, run_known, take_known
from shopsim.study.measures import MEASURES
from shopsim.study.results import Outcome, Study, need_replications
from shopsim.version import VERSION

#: Replications before any alternative is dropped, and added at a time.
FIRST, BLOCK = 50, 25
#: A call of the compiled floor makes a quarter of what there is, or so many runs: the calls themselves would take most of the time.
AHEAD, FEWEST_AHEAD = 4, 128


@dataclass(frozen=True)
class Search:
    """What a search came to.

    ``study``: every alternative with the replications it was given, those that were dropped with fewer.
    ``choices``: for each measure, see ``Choice``; numbers stand for the names of the study in their order.
    ``deltas``: for each measure the smallest difference that mattered.
    """

    study: Study
    choices: Mapping[str, Choice]
    deltas: Mapping[str, float]

    def survivors(self, measure: str) -> tuple[str, ...]:
        """The alternatives that may yet be the best by a measure, the best by mean first."""
        return tuple(self.study.names[number] for number in self.choices[measure].survivors)


class _Stopped(Exception):
    """The user stopped while replications were being run."""


class _Runs:
    """What has been run so far, and more of it on demand."""

    def __init__(self, alternatives: Mapping[str, Scenario], most: int, execution: Execution) -> None:
        self.alternatives, self.most, self.execution = alternatives, most, execution
        self.names = list(alternatives)
        self.outcomes = take_known(alternatives, execution)
        self.asked = dict.fromkeys(self.names, 0)
        self.before = self._count()

    def _count(self) -> int:
        return sum(outcome.replications.size for outcome in self.outcomes.values())

    @property
    def has_run(self) -> bool:
        """Whether anything was run that was not there."""
        return self._count() > self.before

    def deliver(self, column: int, added: np.ndarray) -> Deliver:
        """What ``choose_best`` asks for values of one measure, with something added for each alternative."""

        def values(which: Sequence[int], start: int, end: int) -> np.ndarray:
            numbers = np.arange(self.execution.first + start, self.execution.first + end)
            asked = [self.names[number] for number in which]
            self.asked |= {name: max(end, self.asked[name]) for name in asked}
            self._run(asked, start, end)
            table = np.empty((end - start, len(asked)))
            for place, name in enumerate(asked):
                outcome = self.outcomes[name]
                if not np.isin(numbers, outcome.replications).all():
                    raise _Stopped
                table[:, place] = outcome.measured[np.searchsorted(outcome.replications, numbers), column]
            return np.asarray(table + added[list(which)])

        return values

    def _run(self, names: Sequence[str], start: int, end: int) -> None:
        """Run what is asked for; where a run costs less than its call, what may be asked for next as well."""
        asked = np.arange(self.execution.first + start, self.execution.first + end)
        if not any(find_missing(self.outcomes[name], asked).size for name in names):
            return
        if start and (is_compiled() or (self.execution.apart and is_kept())):
            end = min(self.most, max(end, start + max(start // AHEAD, FEWEST_AHEAD // len(names))))
        numbers = np.arange(self.execution.first + start, self.execution.first + end)
        done, total = self._count() - self.before, self.most * len(self.names)

        def tell(now: int, _total: int) -> None:
            if self.execution.on_progress is not None:
                self.execution.on_progress(done + now, total)

        wanted = dict.fromkeys(names, numbers)
        self.outcomes |= run_known(self.alternatives, wanted, replace(self.execution, on_progress=tell))

    def study(self, stopped: bool) -> Study:
        """All that was asked for, whatever else is known of it; partial if the user stopped."""
        execution = self.execution
        outcomes = {
            name: outcome.only(np.arange(execution.first, execution.first + self.asked[name]))
            for name, outcome in self.outcomes.items()
        }
        shortest = min(outcome.replications.size for outcome in outcomes.values())
        wanted = self.most if stopped else shortest
        return Study(
            outcomes, execution.seed, wanted, VERSION, execution.first, sobol_block=execution.sobol_block
        )  # fmt: skip


def search_best(
    alternatives: Mapping[str, Scenario],
    deltas: Mapping[str, float],
    *,
    cost_in_days: Mapping[str, float] | None = None,
    most: int | None = None,
    confidence: float = 0.95,
    first_look: int = FIRST,
    execution: Execution | None = None,
) -> Search:
    """For each measure, which alternative is the best: the smallest mean, found on the same luck.

    ``deltas``: names of measures, and for each the smallest difference that matters; the procedure is
    ``choose_best`` with at most ``most`` replications (default those of the execution), ``first_look`` before anything is dropped.
    Replications serve all measures. ``cost_in_days``: what is added to the measures of an alternative, such as
    its price in days; nothing for those not named. ``execution``: default in this process, on seed 1. Each measure is right with ``confidence`` by itself.

    After a stop the choices rest on what all alternatives still in play have finished. Raises
    Cancelled if that is fewer than two replications, InputError for bad arguments. The result does
    not depend on where it is run.
    """
    choices: dict[str, Choice] = {}
    execution = (execution or Execution()).times(MAX_SEARCH_REPLICATIONS)
    if most is None:
        most = execution.replications
    assert most is not None
    with execution.opened() as opened:
        runs = _Runs(alternatives, most, opened)
        added = np.array([(cost_in_days or {}).get(name, 0.0) for name in runs.names])
        for measure, delta in deltas.items():
            column = MEASURES.index(measure)
            try:
                choices[measure] = choose_best(
                    runs.deliver(column, added), len(runs.names), delta=delta, alpha=1 - confidence,
                    n0=min(first_look, most), block=BLOCK, most=most, should_stop=opened.should_stop,
                )  # fmt: skip
            except _Stopped:
                choices[measure] = _conclude(runs.outcomes, column, added, confidence, most)
    open_ends = any(not choice.settled for choice in choices.values())
    stopped = open_ends and opened.stopped
    if opened.on_progress is not None and not stopped and runs.has_run:
        opened.on_progress(most * len(runs.names), most * len(runs.names))
    return Search(runs.study(stopped), choices, dict(deltas))


def _conclude(outcomes: Mapping[str, Outcome], column: int, added: np.ndarray, confidence: float, most: int) -> Choice:
    """The choice after a stop: by the replications that all alternatives have finished."""
    study = Study.of(outcomes, seed=0, wanted=most, version="")
    need_replications(study)
    values = np.column_stack([outcome.measured[:, column] for outcome in study.outcomes.values()])
    values = values + added
    kept = np.flatnonzero(find_survivors(values, confidence))
    order = kept[np.argsort(values.mean(axis=0)[kept], kind="stable")]
    return Choice(tuple(int(number) for number in order), False, values, len(values), values.size)
