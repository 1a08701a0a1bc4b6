"""The questions of the answer pages, worked out in steps: a first look after few runs, then more of them.

What an alternative came to is kept by what its scenario says, so that a change of one control runs only what is new.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shopsim.answers.alternatives import CONFIDENCE, NOW, USUAL, compare
from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import BatchSizePlan
from shopsim.answers.clamp_rows import JUDGED
from shopsim.answers.clamps_plan import ClampsPlan
from shopsim.answers.delivery import answer_delivery, forecast_delivery
from shopsim.answers.holdups import ACCOUNTED, HoldupsPlan
from shopsim.answers.learning import Lesson, learn_from_logs
from shopsim.answers.log_files import Logs
from shopsim.answers.one_run import RunTables, tell_run
from shopsim.answers.order_counts import FEWEST, TOGETHER
from shopsim.answers.order_mix import OrderPlan
from shopsim.answers.terms import Terms
from shopsim.answers.what_moves import find_what_moves
from shopsim.answers.wording import say_confidence
from shopsim.answers.worth import Worth
from shopsim.app.background import Job
from shopsim.app.gathering import MOST_WAITING, choose_first, gather, go_in_steps, wait_for
from shopsim.app.store import name_result
from shopsim.app.whatifs import clamp_changes, say_clamps
from shopsim.errors import InputError
from shopsim.scenario import Scenario, change_scenario
from shopsim.study.accounts import Accounts, account_runs
from shopsim.study.execution import Execution
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.intervals import Interval
from shopsim.study.results import Study
from shopsim.study.runner import software_version
from shopsim.study.shared_factors import fewest_replications

#: Runs whose time is accounted for in a first look at what holds the run back.
FIRST_ACCOUNTED = 5
#: Fewer runs than these cannot tell what moves a date.
FEWEST_MOVES = 200
#: Runs behind what moves the date and what logs teach, where nothing is said.
USUAL_MOVES, USUAL_LESSON = 800, 1000

#: One step of an answer after another; each stands for itself.
Steps = Iterator[Any]


@dataclass(frozen=True)
class Question:
    """What a page asks: ``kind``, of which ``scenario``, with which further ``parts`` (plain values), ``seed`` and ``replications``."""

    kind: str
    scenario: Scenario
    parts: tuple[Any, ...] = ()
    seed: int = 1
    replications: int = USUAL

    @property
    def key(self) -> str:
        """A name for the question with all that its answer depends on."""
        return name_result(
            self.kind, hash_scenario(self.scenario), repr(self.parts), self.seed, self.replications, software_version()
        )


def ask_batch_sizes(
    question: Question, sizes: Sequence[int], priority_rules: Sequence[str] | None
) -> Callable[[Job], Steps]:
    """Which batch size; see ``compare_batch_sizes``."""

    def work(job: Job) -> Steps:
        plan = BatchSizePlan(question.scenario, sizes, priority_rules)
        for n in go_in_steps(job, question.scenario, len(plan.alternatives), question.replications):
            yield plan.answer(gather(job, plan.alternatives, n, question.seed))

    return work


def ask_clamps(question: Question, worth: Worth, asked: Mapping[str, int]) -> Callable[[Job], Steps]:
    """What more clamps would save, those asked for by kind first of all; see ``compare_clamps``."""

    def work(job: Job) -> Steps:
        scenario = question.scenario
        plan = ClampsPlan(scenario, worth=worth)
        own = {_ASKED: change_scenario(scenario, clamp_changes(scenario, asked))} if asked else {}
        wanted = {**plan.alternatives, **own}
        for n in go_in_steps(job, scenario, len(wanted), question.replications):
            study = gather(job, wanted, n, question.seed)
            yield _tell_asked(plan.answer(study), study, asked, scenario)
            further = plan.further(study) if study.complete and n == question.replications else {}
            if further and not job.should_stop():
                study = gather(job, {**wanted, **further}, n, question.seed)
                yield _tell_asked(plan.answer(study), study, asked, scenario)

    return work


#: The alternative with the clamps that were asked for.
_ASKED = "as asked"


def _tell_asked(answer: Answer, study: Study, asked: Mapping[str, int], scenario: Scenario) -> Answer:
    """The answer with what the clamps that were asked for would save foremost in its sentence."""
    if not asked:
        return answer
    average, last = (compare(study, NOW, _ASKED, measure) for measure in (JUDGED, "last_ship_day"))
    prices = [kind.price for kind in scenario.shop.clamps if kind.name in asked]
    cost = ""
    if all(price is not None for price in prices):
        total = sum((kind.price or 0.0) * asked.get(kind.name, 0) for kind in scenario.shop.clamps)
        cost = f", for {total:,.0f},"
    text = (
        f"With {say_clamps(asked)}{cost} the average order ships {say_change(average)}, the last one {say_change(last)} "
        f"({say_confidence(CONFIDENCE)} ranges)."
    )
    return replace(answer, sentence=f"{text} {answer.sentence}")


def say_change(saved: Interval) -> str:
    """``1.2 days sooner (0.9 to 1.5)``, or later; with a warning where it may be nothing."""
    if saved.low == saved.high == 0:
        return "on the same day"
    sign, word = (1, "sooner") if saved.value >= 0 else (-1, "later")
    low, high = sorted((sign * saved.low, sign * saved.high))
    maybe = ", which may be nothing" if low <= 0 <= high else ""
    return f"{abs(saved.value):.1f} days {word}{maybe} ({low:.1f} to {high:.1f})"


def ask_holdups(question: Question) -> Callable[[Job], Steps]:
    """What holds the run back; see ``find_holdups``."""

    def work(job: Job) -> Steps:
        plan = HoldupsPlan(question.scenario)
        for n in go_in_steps(job, question.scenario, len(plan.alternatives), question.replications):
            study = gather(job, plan.alternatives, n, question.seed)
            accounted = ACCOUNTED if n == question.replications and study.complete else FIRST_ACCOUNTED
            numbers = study.outcomes[NOW].replications[:accounted]
            yield plan.answer(study, _account(job, question, numbers))

    return work


def _account(job: Job, question: Question, numbers: np.ndarray) -> Accounts:
    name = name_result("accounts", hash_scenario(question.scenario), question.seed, len(numbers), software_version())
    held = job.store.get(name)
    if held is None:
        held = wait_for(
            job,
            job.executor.submit(account_runs, question.scenario, numbers, Execution(seed=question.seed)),
            even_if_stopped=True,
        )
        job.store.put(name, held)
    assert isinstance(held, Accounts)
    return held


def ask_delivery(question: Question, confidence: float, kept: float) -> Callable[[Job], Steps]:
    """When each order ships; see ``forecast_delivery``."""

    def work(job: Job) -> Steps:
        terms = Terms.of(question.scenario, confidence, kept)
        terms.need(question.replications)
        for n in go_in_steps(job, question.scenario, 1, question.replications):
            if _is_enough(terms, n):
                yield answer_delivery(gather(job, {NOW: question.scenario}, n, question.seed), confidence, kept=kept)

    return work


def _is_enough(terms: Terms, replications: int) -> bool:
    try:
        terms.need(replications)
    except InputError:
        return False
    return True


def ask_order_counts(
    question: Question,
    counts: Sequence[int],
    confidence: float,
    kept: float,
    keep: dt.date | None,
    mix: str | None = None,
) -> Callable[[Job], Steps]:
    """What each number of orders would mean; see ``forecast_counts``."""

    def work(job: Job) -> Steps:
        scenario = question.scenario
        terms = Terms.of(scenario, confidence, kept)
        plan = OrderPlan(scenario, mix)
        cap = scenario.run.cap
        asked = [count for count in counts if cap is None or count <= cap]
        if not asked:
            raise InputError(f"no number of orders is left under the cap of {cap} · ask for fewer, or raise the cap")
        alternatives = plan.alternatives(asked)
        usual = max(FEWEST, min(question.replications, TOGETHER // max(1, len(alternatives))))
        largest_scenario = alternatives[plan.name(max(asked))]
        for n in go_in_steps(job, largest_scenario, len(alternatives), usual):
            if _is_enough(terms, n):
                study = gather(job, alternatives, n, question.seed)
                if not study.complete:
                    terms.need_study(study)
                yield forecast_delivery(
                    scenario, asked, confidence, kept=kept, keep=keep, mix=mix, replications=study.replications,
                    study=study.head(study.replications),
                )  # fmt: skip

    return work


def ask_next_buyer(
    question: Question, confidence: float, kept: float, so_far: int | None, mix: str | None = None
) -> Callable[[Job], Steps]:
    """The window of each buyer to come, while orders are open; see ``forecast_next_buyer``."""

    def work(job: Job) -> Steps:
        for n in dict.fromkeys((min(200, question.replications), question.replications)):
            name = name_result("next buyer", question.key, n)
            answer = job.store.get(name)
            if answer is None:
                answer = forecast_delivery(
                    question.scenario, None, confidence, kept=kept, so_far=so_far, mix=mix, replications=n,
                    seed=question.seed, jobs=MOST_WAITING // 4, executor=job.executor, on_progress=job.tell,
                    should_stop=job.should_stop,
                )  # fmt: skip
                job.store.put(name, answer)
            yield answer

    return work


def ask_what_moves(question: Question, confidence: float) -> Callable[[Job], Steps]:
    """What to time first; see ``find_what_moves``."""

    def work(job: Job) -> Steps:
        fewest = max(FEWEST_MOVES, fewest_replications(question.scenario))
        last = max(fewest, question.replications)
        first = max(fewest, choose_first(job, question.scenario, 6, question.replications))
        for n in dict.fromkeys((min(first, last), last)):
            name = name_result("what moves", question.key, n)
            answer = job.store.get(name)
            if answer is None and not job.should_stop():
                study = gather(job, {NOW: question.scenario}, n, question.seed)
                answer = find_what_moves(
                    question.scenario, confidence, n, question.seed, MOST_WAITING // 4, executor=job.executor,
                    on_progress=job.tell, should_stop=job.should_stop, study=study,
                )  # fmt: skip
                if not answer.partial:
                    job.store.put(name, answer)
            if answer is not None:
                yield answer

    return work


def ask_lesson(question: Question, logs: Logs, confidence: float, believe: bool = False) -> Callable[[Job], Steps]:
    """What logs teach; see ``learn_from_logs``. ``believe``: the user has said that they are right as they stand."""

    def work(job: Job) -> Steps:
        for n in dict.fromkeys((min(100, question.replications), question.replications)):
            if job.should_stop():
                return
            lesson: Lesson = learn_from_logs(
                question.scenario, logs, confidence, n, question.seed, MOST_WAITING // 4, believe=believe,
                executor=job.executor, on_progress=job.tell, should_stop=job.should_stop,
            )  # fmt: skip
            yield lesson

    return work


def ask_run(question: Question, replication: int, likely: bool) -> Callable[[Job], Steps]:
    """One run in tables; see ``tell_run``."""

    def work(job: Job) -> Steps:
        name = name_result("one run", question.key)
        run = job.store.get(name)
        if run is None:
            run = wait_for(job, job.executor.submit(tell_run, question.scenario, question.seed, replication, likely))
            job.store.put(name, run)
        assert isinstance(run, RunTables)
        yield run

    return work
