"""More replications for alternatives that have some already, bit for bit as if all had been run in one go."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np

from shopsim.errors import InputError
from shopsim.priority import Rule
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter, OnProgress, ShouldStop
from shopsim.study.results import Outcome, Study
from shopsim.study.runner import check_counts, run_range
from shopsim.study.saving import ARRAYS
from shopsim.version import VERSION


def extend_study(
    study: Study,
    replications: int,
    *,
    jobs: int = 1,
    executor: Executor | None = None,
    rule: Rule | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
) -> Study:
    """The study with as many replications as asked for in all, running those that are not there yet.

    The result is, bit for bit, that of one study of so many replications, also where the first was stopped
    before its end. ``replications`` is the whole number, counted from the study's first; fewer than there are
    gives the first so many. ``rule``: the priority rule of the user's own, if it was run under one.

    One replication of each alternative is run again beforehand. Raises InputError when it does not come to
    what the study holds, or the study is of another version of the program: then it must be run anew.
    """
    if isinstance(replications, bool) or not isinstance(replications, int | np.integer) or replications < 1:
        raise InputError(f"replications = {replications!r} cannot be used · write a whole number from 1")
    execution = Execution(
        jobs=jobs, executor=executor, on_progress=on_progress, should_stop=should_stop, rule=rule
    ).reusing(study)
    scenarios = {name: outcome.scenario for name, outcome in study.outcomes.items()}
    return study_known(scenarios, replications, execution)


def study_known(scenarios: Mapping[str, Scenario], replications: int, execution: Execution) -> Study:
    """A study of these alternatives: what the execution knows of them is taken, and the rest run."""
    check_counts(replications, execution.seed, execution.first)
    wanted = np.arange(execution.first, execution.first + replications)
    outcomes = run_known(scenarios, dict.fromkeys(scenarios, wanted), execution)
    held = execution.reuse
    return Study.of(
        {name: outcome.only(wanted) for name, outcome in outcomes.items()},
        seed=execution.seed, wanted=replications, version=VERSION if held is None else held.version,
        first=execution.first, own_rule=execution.rule is not None, sobol_block=execution.sobol_block,
    )  # fmt: skip


def take_known(scenarios: Mapping[str, Scenario], execution: Execution) -> dict[str, Outcome]:
    """What the execution knows of these alternatives, which it recognises by what their scenarios say; nothing is run."""
    taken = {}
    for name, scenario in scenarios.items():
        scenario_hash = execution.hash_of(scenario)
        known: Outcome | None = execution.known.get(execution.runs_key(scenario_hash))
        # what a scenario says of orders to come is not in its hash
        taken[name] = Outcome.of(scenario, scenario_hash, []) if known is None else replace(known, scenario=scenario)
    return taken


def run_known(
    scenarios: Mapping[str, Scenario], wanted: Mapping[str, np.ndarray], execution: Execution
) -> dict[str, Outcome]:
    """What alternatives came to on the replications wanted of each (numbers, int64), and on others that are known.

    What the execution knows of them is taken; the rest is run, as far as the user does not stop, and then known. An
    alternative that comes twice is run once. InputError where runs that are re-used were made by another version of
    the program, or do not come out as they are, and more has to be run.
    """
    outcomes = take_known({name: scenarios[name] for name in wanted}, execution)
    same: dict[str, list[str]] = {}
    for name, outcome in outcomes.items():
        same.setdefault(outcome.scenario_hash, []).append(name)
    missing = {
        names[0]: find_missing(outcomes[names[0]], np.unique(np.concatenate([wanted[name] for name in names])))
        for names in same.values()
    }
    missing = {name: numbers for name, numbers in missing.items() if numbers.size}
    if not missing:
        return outcomes
    _check_reused(outcomes, execution)
    longer = run_missing({name: outcomes[name] for name in missing}, missing, execution)
    for outcome in longer.values():
        execution.known.put(execution.runs_key(outcome.scenario_hash), outcome)
        for twin in same[outcome.scenario_hash]:
            outcomes[twin] = replace(outcome, scenario=outcomes[twin].scenario)
    return outcomes


def _check_reused(outcomes: Mapping[str, Outcome], execution: Execution) -> None:
    """``check_extendable`` of the alternatives among these that are in the study that is re-used, once for each."""
    held = execution.reuse
    if held is None:
        return
    there = set(held.scenario_hash.values())
    fresh = {
        name: outcome
        for name, outcome in outcomes.items()
        if outcome.scenario_hash in there
        and execution.known.get(("checked", *execution.runs_key(outcome.scenario_hash))) is None
    }
    check_extendable(replace(held, outcomes=fresh), execution)
    for outcome in fresh.values():
        execution.known.put(("checked", *execution.runs_key(outcome.scenario_hash)), True)


def find_missing(outcome: Outcome, wanted: np.ndarray) -> np.ndarray:
    """Which of the wanted replications an outcome does not have yet: int64, rising."""
    return np.setdiff1d(wanted, outcome.replications, assume_unique=True)


def run_missing(
    outcomes: Mapping[str, Outcome], wanted: Mapping[str, np.ndarray], execution: Execution
) -> dict[str, Outcome]:
    """The outcomes with the wanted replications (numbers, int64) of each added, as far as the user does not stop."""
    stretches = _group({name: find_missing(outcomes[name], numbers) for name, numbers in wanted.items()})
    longer = dict(outcomes)
    if not stretches:
        return longer
    meter = Meter(execution.on_progress, sum((last - first) * len(names) for first, last, names in stretches))
    with execution.opened() as opened:
        for first, last, names in stretches:
            scenarios = {name: longer[name].scenario for name in names}
            fresh = run_range(scenarios, meter.stage(opened), first, last - first)
            longer.update({name: longer[name].add(fresh.outcomes[name]) for name in names})
            if not fresh.complete:
                break
    return longer


def check_extendable(study: Study, execution: Execution) -> None:
    """InputError unless this program, under the rule of the execution, gives the results that the study holds."""
    if study.version != VERSION:
        raise InputError(
            f"the study was made with version {study.version}, and this is {VERSION} "
            "· what it holds can be read, but not added to: run it anew"
        )
    if study.own_rule != (execution.rule is not None):
        said = (
            "under a priority rule of your own · hand it in as rule=" if study.own_rule else "without · leave out rule="
        )
        raise InputError(f"the study was run {said}")
    here = replace(execution, jobs=1, executor=None, on_progress=None, should_stop=None)
    for name, outcome in study.outcomes.items():
        if not outcome.replications.size:
            continue
        number = int(outcome.replications[0])
        again = run_range({name: outcome.scenario}, here, number, 1).outcomes[name]
        if not all(np.array_equal(getattr(again, array)[0], getattr(outcome, array)[0]) for array in ARRAYS):
            raise InputError(
                f'replication {number} of "{name}" does not come out as the study has it: the program or the '
                "priority rule has changed since · run the study anew"
            )


def _group(missing: Mapping[str, np.ndarray]) -> list[tuple[int, int, list[str]]]:
    """(first, last, alternatives) of stretches of missing replications, those of several alternatives together."""
    stretches: dict[tuple[int, int], list[str]] = {}
    for name, numbers in missing.items():
        for part in np.split(numbers, np.flatnonzero(np.diff(numbers) != 1) + 1):
            if part.size:
                stretches.setdefault((int(part[0]), int(part[-1]) + 1), []).append(name)
    return [(first, last, names) for (first, last), names in sorted(stretches.items())]
