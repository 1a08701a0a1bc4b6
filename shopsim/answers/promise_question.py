"""What the questions share that are about the promises of a run as it stands."""

from __future__ import annotations

from shopsim.answers.alternatives import NOW
from shopsim.answers.answer import Answer
from shopsim.answers.promise_policy import USUAL, PromisePolicy
from shopsim.answers.question import Question
from shopsim.scenario.model import Scenario


class PromiseQuestion(Question[Answer]):
    """A question about one scenario, with as many runs as the chances of its promises need."""

    def __init__(self, scenario: Scenario, policy: PromisePolicy) -> None:
        self.scenario, self.policy = scenario, policy

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario as it stands."""
        return {NOW: self.scenario}

    @property
    def usual(self) -> int:
        """Replications."""
        return USUAL

    @property
    def fewest(self) -> int:
        """Replications that tell the chances."""
        return self.policy.fewest

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the chances."""
        self.policy.need(replications)
