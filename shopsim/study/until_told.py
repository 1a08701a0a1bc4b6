"""Running alternatives until enough is known of them: a few looks, each at more replications of what is still open."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace

import numpy as np

from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter
from shopsim.study.extending import run_known
from shopsim.study.results import Study, need_replications
from shopsim.study.runner import check_counts
from shopsim.version import VERSION

#: Replications after which it is looked what is still open. Whoever decides by an interval at each look has to share the
#: chance of being wrong among them.
LOOKS = (200, 632, MAX_SEARCH_REPLICATIONS)
#: With fewer replications nothing can be compared.
MIN_COMPARED = 2


def list_looks_until(most: int) -> tuple[int, ...]:
    """The looks where ``most`` replications are the most: 200, 632, 2000 as far as they go, ``most`` the last."""
    return (*(look for look in LOOKS if look < most), most)


def run_counted(alternatives: Mapping[str, Scenario], counts: Mapping[str, int], execution: Execution) -> Study:
    """A study with as many replications of each alternative as ``counts`` says, whatever else is known of them.

    Incomplete where the user stopped before.
    """
    check_counts(max(counts.values()), execution.seed, execution.first)
    wanted = {name: np.arange(execution.first, execution.first + counts[name]) for name in alternatives}
    outcomes = run_known(alternatives, wanted, execution)
    outcomes = {name: outcomes[name].only(wanted[name]) for name in alternatives}
    done = all(outcomes[name].replications.size == counts[name] for name in alternatives)
    held = execution.reuse
    return Study(
        outcomes, execution.seed, min(counts.values()) if done else max(counts.values()),
        VERSION if held is None else held.version, execution.first, execution.rule is not None,
        execution.sobol_block,
    )  # fmt: skip


def run_until_told(
    alternatives: Mapping[str, Scenario], find_open: Callable[[Study], Collection[str]], execution: Execution
) -> Study:
    """A study in which alternatives have 200, 632 or 2,000 replications, up to those of the execution: those more of which it is still open what they are worth.

    ``find_open``: names of the alternatives of which more has to be known, in view of a study; none: enough is known.
    After a stop, alternatives with fewer than two replications are left out; Cancelled if that is all of them.
    """
    most = execution.replications
    assert most is not None
    meter = Meter(execution.on_progress, most * len(alternatives))
    counts = dict.fromkeys(alternatives, 0)
    names: Iterable[str] = alternatives
    for look in list_looks_until(most):
        counts |= dict.fromkeys(names, look)
        study = run_counted(alternatives, counts, replace(meter.stage(execution), replications=look))
        names = find_open(study) if study.complete else ()
        if not names:
            break
    meter.finish()
    if study.complete:
        return study
    told = {name: outcome for name, outcome in study.outcomes.items() if outcome.replications.size >= MIN_COMPARED}
    if not told:
        need_replications(study)
    return replace(study, outcomes=told)


def join_studies(study: Study, other: Study) -> Study:
    """Both studies as one; of what is in both, whichever has more replications."""
    longer = {
        name: outcome
        for name, outcome in other.outcomes.items()
        if name not in study.outcomes or outcome.replications.size > study.outcomes[name].replications.size
    }
    outcomes = {**study.outcomes, **longer}
    least = min(outcome.replications.size for outcome in outcomes.values())
    complete = study.complete and other.complete
    return replace(study, outcomes=outcomes, wanted=least if complete else max(study.wanted, other.wanted))
