"""Batch size, clamps and delivery window of one scenario, sharing the runs they can."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Unpack

from shopsim.answers.alternatives import FIRST, check_replications, run_alternatives
from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.clamps_plan import MoreClamps
from shopsim.answers.delivery import OrdersOfRun
from shopsim.answers.promise_policy import KEPT, WINDOW, PromisePolicy
from shopsim.answers.question import Question, ask
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter, RunOptions

#: Replications of the scenario as it stands; its alternatives have as many as it takes to tell (``MAX_SEARCH_REPLICATIONS`` at most).
PROMISED = 1537
#: Glue-ups more that are tried of each kind of clamps; ``compare_clamps`` goes further.
CLAMP_STEPS = (1, 2)


def decide(
    scenario: Scenario,
    *,
    sizes: tuple[int, ...] | None = None,
    confidence: float = WINDOW,
    compare_replications: int = MAX_SEARCH_REPLICATIONS,
    **options: Unpack[RunOptions],
) -> tuple[Answer, Answer, Answer]:
    """The three answers a maker asks first: (batch size, more clamps, delivery window).

    The same as ``compare_batch_sizes``, ``compare_clamps`` and ``forecast_delivery`` with these
    ``sizes`` and this ``confidence``, on one seed: alternatives run until it can be told which is better, at most
    ``compare_replications`` times (default 2,000), the scenario as it stands ``replications`` times (default 1,537, and then
    also the most of the alternatives), and all runs serve all three. Of clamps one and two glue-ups more are tried, and of all
    else one more pair of hands; ``compare_clamps`` and ``find_holdups`` go further.

    ``options``: see ``RunOptions``. After ``should_stop()`` the answers rest on what was finished, and say so. Raises
    InputError for bad arguments, Cancelled if stopped too soon to say anything.
    """
    return ask(Decide(scenario, sizes, confidence, compare_replications), Execution.of(options))


class Decide(Question[tuple[Answer, Answer, Answer]]):
    """The three questions that a maker asks first, on shared runs; see ``decide``."""

    def __init__(
        self,
        scenario: Scenario,
        sizes: tuple[int, ...] | None = None,
        confidence: float = WINDOW,
        compare_replications: int = MAX_SEARCH_REPLICATIONS,
    ) -> None:
        check_replications(compare_replications)
        self.scenario, self.compare_replications = scenario, compare_replications
        self.batches = BatchSizes(scenario, sizes)
        self.clamps = MoreClamps(scenario, everything=False, steps=CLAMP_STEPS)
        self.delivery = OrdersOfRun(scenario, PromisePolicy.of(scenario, confidence, KEPT))

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Those of all three questions."""
        return {**self.batches.alternatives, **self.clamps.alternatives}

    @property
    def usual(self) -> int:
        """Replications of the scenario as it stands; alternatives are run less often."""
        return PROMISED

    @property
    def fewest(self) -> int:
        """Replications that tell the chances."""
        return self.delivery.fewest

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the chances."""
        self.delivery.check(replications)

    def answers(self, execution: Execution, last: bool) -> Iterator[tuple[Answer, Answer, Answer]]:
        """All three answers. Everything is run side by side first, so that a stop leaves each question with as much."""
        replications = execution.replications
        assert replications is not None
        compared = (
            min(self.compare_replications, replications) if replications < PROMISED else self.compare_replications
        )
        compared = self.afford(compared)
        meter = Meter(execution.on_progress, len(self.alternatives) * compared + replications)
        first = min(FIRST, compared) if last else compared
        run_alternatives(self.alternatives, replace(meter.stage(execution), replications=first))
        (delivery,) = self.delivery.answers(meter.stage(execution), last)
        *_, batches = self.batches.answers(replace(meter.stage(execution), replications=compared), last)
        *_, clamps = self.clamps.answers(replace(meter.stage(execution), replications=compared), last)
        meter.finish()
        yield batches, clamps, delivery
