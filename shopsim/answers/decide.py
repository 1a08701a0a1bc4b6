"""Batch size, clamps and delivery window of one scenario, sharing the runs they can."""

from __future__ import annotations

from dataclasses import replace
from typing import Unpack

from shopsim.answers.alternatives import NOW, check_replications, run_alternatives
from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import BatchSizePlan
from shopsim.answers.clamps_plan import ClampsPlan
from shopsim.answers.delivery import answer_delivery
from shopsim.answers.more_clamps import add_further
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.intervals import quantile_rank

#: Replications of every alternative, and of the scenario as it stands.
COMPARED = 200
PROMISED = 1537
#: Glue-ups more that are tried of each kind of clamps; ``compare_clamps`` goes further.
CLAMP_STEPS = (1, 2)


def decide(
    scenario: Scenario,
    *,
    sizes: tuple[int, ...] | None = None,
    confidence: float = 0.8,
    compare_replications: int = COMPARED,
    **options: Unpack[RunOptions],
) -> tuple[Answer, Answer, Answer]:
    """The three answers a maker asks first: (batch size, more clamps, delivery window).

    The same as ``compare_batch_sizes``, ``compare_clamps`` and ``forecast_delivery`` with these
    ``sizes`` and this ``confidence``, on one seed: alternatives run ``compare_replications`` times,
    the scenario as it stands ``replications`` times (default 1,537), and its runs serve all three. Of clamps one and
    two glue-ups more are tried, and of all else one more pair of hands; ``compare_clamps`` and ``find_holdups``
    go further. Costs about 4,700 runs for a scenario with three kinds of clamps.

    ``options``: see ``RunOptions``. After ``should_stop()`` the answers rest on what was finished, and say so. Raises
    InputError for bad arguments, Cancelled if stopped too soon to say anything.
    """
    execution = Execution.of(options).times(PROMISED)
    replications = execution.replications
    assert replications is not None
    check_replications(compare_replications)
    quantile_rank(replications, (1 + confidence) / 2)
    batches = BatchSizePlan(scenario, sizes)
    clamps = ClampsPlan(scenario, everything=False, steps=CLAMP_STEPS)
    compared = min(compare_replications, replications)
    alternatives = {**batches.alternatives, **clamps.alternatives}
    rest = replications - compared
    further_runs = len(clamps.clamps) * compared  # runs of a better priority rule, if there is one
    meter = Meter(execution.on_progress, len(alternatives) * compared + rest + further_runs)
    with execution.opened() as opened:
        study = run_alternatives(alternatives, replace(meter.stage(opened), replications=compared))
        whole = study.pick([NOW])
        if study.complete and rest:
            whole = run_alternatives({NOW: scenario}, meter.stage(opened))
        with_clamps = study.pick(clamps.alternatives)
        if whole.complete:
            with_clamps = add_further(clamps, with_clamps, meter.stage(opened))
    meter.finish()
    return (
        batches.answer(study.pick(batches.alternatives)),
        clamps.answer(with_clamps),
        answer_delivery(whole, confidence),
    )
