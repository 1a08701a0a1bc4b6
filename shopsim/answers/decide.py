"""Batch size, clamps and delivery window of one scenario, sharing the runs they can."""

from __future__ import annotations

from concurrent.futures import Executor

from shopsim.answers.alternatives import NOW, check_replications
from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import BatchSizePlan
from shopsim.answers.clamps_plan import ClampsPlan
from shopsim.answers.delivery import answer_delivery
from shopsim.answers.more_clamps import add_further
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import quantile_rank
from shopsim.study.results import need_replications
from shopsim.study.runner import OnProgress, ShouldStop, run_study
from shopsim.study.workers import open_workers

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
    replications: int = PROMISED,
    compare_replications: int = COMPARED,
    seed: int = 1,
    jobs: int = 1,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
) -> tuple[Answer, Answer, Answer]:
    """The three answers a maker asks first: (batch size, more clamps, delivery window).

    The same as ``compare_batch_sizes``, ``compare_clamps`` and ``forecast_delivery`` with these
    ``sizes`` and this ``confidence``, on one seed: alternatives run ``compare_replications`` times,
    the scenario as it stands ``replications`` times, and its runs serve all three. Of clamps one and
    two glue-ups more are tried, and of all else one more pair of hands; ``compare_clamps`` and ``find_holdups``
    go further. Costs about 4,700 runs for a scenario with three kinds of clamps.

    After ``should_stop()`` the answers rest on what was finished, and say so. Raises
    InputError for bad arguments, Cancelled if stopped too soon to say anything.
    """
    check_replications(compare_replications)
    quantile_rank(replications, (1 + confidence) / 2)
    batches = BatchSizePlan(scenario, sizes)
    clamps = ClampsPlan(scenario, everything=False, steps=CLAMP_STEPS)
    compared = min(compare_replications, replications)
    alternatives = {**batches.alternatives, **clamps.alternatives}
    rest = replications - compared
    further_runs = len(clamps.clamps) * compared  # runs of a better priority rule, if there is one
    total = len(alternatives) * compared + rest + further_runs
    meter = _Meter(on_progress, total)
    with open_workers(jobs if executor is None else 1) as pool:
        workers = executor if executor is not None else pool
        study = run_study(
            alternatives, replications=compared, seed=seed, jobs=jobs if workers is not None else 1,
            executor=workers, on_progress=meter.stage(), should_stop=should_stop,
        )  # fmt: skip
        need_replications(study)
        whole = study.pick([NOW])
        if study.complete and rest:
            more = run_study(
                {NOW: scenario}, replications=rest, first_replication=compared, seed=seed,
                jobs=jobs if workers is not None else 1, executor=workers, on_progress=meter.stage(),
                should_stop=should_stop,
            )  # fmt: skip
            whole = whole.extend(more)
        with_clamps = study.pick(clamps.alternatives)
        if whole.complete:
            with_clamps = add_further(
                clamps, with_clamps, None, jobs if workers is not None else 1, workers, meter.stage(), should_stop
            )
    meter.finish()
    return (
        batches.answer(study.pick(batches.alternatives)),
        clamps.answer(with_clamps),
        answer_delivery(whole, confidence),
    )


class _Meter:
    """One count of runs over several studies in a row."""

    def __init__(self, on_progress: OnProgress | None, total: int) -> None:
        self._tell, self._total = on_progress, total
        self._before = self._done = 0

    def stage(self) -> OnProgress | None:
        """What the next study shall report to."""
        if self._tell is None:
            return None
        self._before = self._done
        return self._add

    def _add(self, done: int, _total: int) -> None:
        self._done = self._before + done
        self._report(min(self._done, self._total))

    def finish(self) -> None:
        """Everything is done, or no more will be."""
        if self._tell is not None and self._done < self._total:
            self._report(self._total)

    def _report(self, done: int) -> None:
        assert self._tell is not None
        self._tell(done, self._total)
