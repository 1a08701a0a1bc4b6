"""Alternatives of a scenario, and a study of them: what every comparing answer begins with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from shopsim.columns import estimate_keys
from shopsim.errors import InputError, ScenarioError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.files import change_scenario
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.study.extending import study_known
from shopsim.study.intervals import Interval, paired_difference
from shopsim.study.results import Study, need_replications
from shopsim.study.until_told import LOOKS

#: The name of the alternative that is the scenario as it stands.
NOW = "now"
#: How sure the intervals of comparisons are, all of one answer together.
CONFIDENCE = 0.95
#: Days of difference that matter to a maker, and hours a piece (own judgement).
MATTERS_DAYS = 0.25
MATTERS_HOURS = 0.05
#: Replications of each alternative at first, where a comparison goes on until it can tell.
FIRST = LOOKS[0]

#: The column of what an alternative saves of a measure against the scenario as it stands; negative: later, or more.
SAVED = {
    "first_ship_day": "first_saved_days",
    "average_ship_day": "average_saved_days",
    "last_ship_day": "last_saved_days",
    "hands_on_h_a_piece": "hands_on_saved_h",
    "setup_h": "setup_saved_h",
}


def try_change(scenario: Scenario, changes: Mapping[str, Any]) -> tuple[Scenario | None, str]:
    """(the changed scenario, ``""``), or (None, why it could never finish)."""
    try:
        return change_scenario(scenario, changes), ""
    except ScenarioError as error:
        fault = error.faults[0]
        return None, " · ".join(part for part in (fault.place, fault.rule, fault.mend) if part)


def check_replications(replications: int) -> None:
    """InputError unless there are enough replications to compare on: 2."""
    if replications < 2:
        raise InputError(
            f"replications = {replications!r} is too few to compare anything · take at least 2, better 200"
        )


def run_alternatives(alternatives: Mapping[str, Scenario], execution: Execution) -> Study:
    """A study of the alternatives, of which the execution says how many replications; see ``study_known``.

    Raises InputError for fewer than two replications, and where runs that are there were made by another version of the
    program and more has to be run; Cancelled if the user stopped before two replications of all were finished.
    """
    replications = execution.replications
    assert replications is not None
    check_replications(replications)
    study = study_known(alternatives, replications, execution)
    need_replications(study)
    return study


def run_first(alternatives: Mapping[str, Scenario], execution: Execution, last: bool) -> Study:
    """The first look at all alternatives side by side, so that a stop leaves each with as much: as many replications as the
    execution says, and not more than ``FIRST`` where others come after (``last``: the look is to go on until it can tell)."""
    most = execution.replications
    assert most is not None
    study = run_alternatives(alternatives, replace(execution, replications=min(FIRST, most) if last else most))
    return study if study.complete else replace(study, wanted=most)


def count_at_most(alternatives: Mapping[str, Scenario], execution: Execution) -> int:
    """The runs that are made at most, for whoever counts them."""
    return (execution.replications or MAX_SEARCH_REPLICATIONS) * len(alternatives)


def compare(study: Study, name: str, base: str, measure: str, comparisons: int = 1) -> Interval:
    """Paired difference of a measure, ``name`` less ``base``, with its interval, on the replications both have.

    ``comparisons``: so many are read together, and each may have been looked at ``LOOKS`` times before it was told: the
    interval holds all the same (Bonferroni). Exactly nothing where both are one scenario.
    """
    if study.outcomes[name].scenario_hash == study.outcomes[base].scenario_hash:
        return Interval(0.0, 0.0, 0.0, CONFIDENCE)
    values, before = pair_values(study, name, base, measure)
    return paired_difference(values, before, CONFIDENCE, comparisons * len(LOOKS))


def paired_mean(study: Study, name: str, measure: str, base: str = NOW) -> float:
    """The mean of a measure as it stands beside that of ``base``: the mean of ``base`` over all its runs, and the mean difference
    over those that both have. So means of alternatives that were run less often differ by what their comparison says.
    """
    values, before = pair_values(study, name, base, measure)
    return float(study.values(base, measure).mean()) + float((values - before).mean())


def put_interval(row: dict[str, Any], name: str, interval: Interval) -> None:
    """An estimate, its ends, and whether it rests on no difference at all (``_unseen``) into a row."""
    said = (interval.value, interval.low, interval.high, interval.unseen)
    row.update(zip(estimate_keys(name), said, strict=True))


def read_interval(row: Mapping[Any, Any], name: str) -> Interval:
    """An interval that ``put_interval`` put into a row."""
    return Interval(row[name], row[f"{name}_low"], row[f"{name}_high"], CONFIDENCE, bool(row[f"{name}_unseen"]))


def pair_values(study: Study, name: str, base: str, measure: str) -> tuple[np.ndarray, np.ndarray]:
    """A measure of two alternatives on the replications that both have, float64, shape (replications,) each."""
    values, before = study.values(name, measure), study.values(base, measure)
    if values.size != before.size:  # one of them was dropped from a search
        here, there = study.outcomes[name].replications, study.outcomes[base].replications
        values, before = values[np.isin(here, there)], before[np.isin(there, here)]
    return values, before


def common_values(study: Study, names: Sequence[str], measure: str) -> np.ndarray:
    """A measure of several alternatives on the replications that all have: float64, shape (replications, names)."""
    shared = Study.of(study.pick(names).outcomes, seed=study.seed, wanted=study.wanted, version=study.version)
    return np.column_stack([shared.values(name, measure) for name in names])


def spread_points(values: np.ndarray) -> tuple[float, float, float]:
    """The 10, 50 and 90 % points as order statistics (ranks rounded outward), for values of shape (n,)."""
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    n = ordered.size
    low = max(1, int(np.floor(round((n + 1) * 0.1, 9))))
    middle = int(np.ceil(round((n + 1) * 0.5, 9)))
    high = min(n, int(np.ceil(round((n + 1) * 0.9, 9))))
    return float(ordered[low - 1]), float(ordered[middle - 1]), float(ordered[high - 1])
