"""The questions of the answer pages, worked out in steps: a first look after few runs, then more of them.

What an alternative came to is kept by what its scenario says, so that a change of one control runs only what is new.
"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future
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
from shopsim.answers.learning import Lesson, Logs, learn_from_logs
from shopsim.answers.one_run import RunTables, tell_run
from shopsim.answers.order_counts import FEWEST, TOGETHER
from shopsim.answers.terms import Terms, change_orders, only_line
from shopsim.answers.what_moves import find_what_moves
from shopsim.answers.wording import say_confidence
from shopsim.answers.worth import Worth
from shopsim.app.background import Job
from shopsim.app.limits import MOST_REPLICATIONS
from shopsim.app.store import name_result
from shopsim.app.whatifs import clamp_changes, say_clamps
from shopsim.engine.worklist import build_worklist
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, change_scenario
from shopsim.scenario.model import pieces_made
from shopsim.study.accounts import Accounts, account_runs
from shopsim.study.extending import find_missing, run_missing
from shopsim.study.fingerprint import hash_scenario
from shopsim.study.intervals import Interval
from shopsim.study.results import Outcome, Study, need_replications
from shopsim.study.runner import CHUNK, software_version

#: Tasks, over all runs together, that a first look takes: some two seconds on two cores.
FIRST_TASKS = 300_000
#: Runs of each alternative in a first look: at least, and at most.
FEWEST_FIRST, MOST_FIRST = 12, 100
#: Runs whose time is accounted for in a first look at what holds the run back.
FIRST_ACCOUNTED = 5
#: Tasks of one piece of work for a process, about a tenth of a second: so long another session waits for its turn.
TASKS_A_PIECE = 15_000
#: Pieces of work of one job that are waiting at once.
MOST_WAITING = 64
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


def check_size(replications: int) -> int:
    """So many replications, but no more than the app takes on."""
    return max(1, min(int(replications), MOST_REPLICATIONS))


def choose_first(job: Job, scenario: Scenario, alternatives: int, replications: int) -> int:
    """Runs of each alternative in a first look, so that it is there within seconds, also while others ask.

    ``scenario``: the largest of the alternatives.
    """
    tasks = build_worklist(scenario).n_tasks * alternatives * max(1, job.executor.workers.urgent_shares)
    return min(replications, max(FEWEST_FIRST, min(MOST_FIRST, FIRST_TASKS // max(1, tasks))))


def gather(job: Job, alternatives: Mapping[str, Scenario], replications: int, seed: int) -> Study:
    """A study of the alternatives, taking what is in store and running the rest; Cancelled if stopped too soon.

    A study that was stopped holds the replications that all have finished.
    """
    outcomes: dict[str, Outcome] = {}
    names: dict[str, str] = {}
    for name, scenario in alternatives.items():
        scenario_hash = hash_scenario(scenario)
        names[name] = name_result("outcome", scenario_hash, seed, software_version())
        held = job.store.get(names[name])
        outcomes[name] = held if held is not None else Outcome.of(scenario, scenario_hash, [])
    wanted = np.arange(replications)
    missing = sum(find_missing(outcome, wanted).size for outcome in outcomes.values())
    if missing:
        tasks = build_worklist(next(iter(alternatives.values()))).n_tasks
        piece = max(1, min(CHUNK, TASKS_A_PIECE // max(1, tasks)))
        step = max(1, MOST_WAITING * piece // len(alternatives))
        done = 0
        for until in [*range(step, replications, step), replications]:
            before = {name: outcome.replications.size for name, outcome in outcomes.items()}
            outcomes = run_missing(
                outcomes, dict.fromkeys(outcomes, wanted[:until]), seed, jobs=MOST_WAITING // 4, executor=job.executor,
                on_progress=_add_to(job, done, missing), should_stop=job.should_stop,
            )  # fmt: skip
            done += sum(outcome.replications.size - before[name] for name, outcome in outcomes.items())
            for name, outcome in outcomes.items():
                if outcome.replications.size > before[name]:
                    job.store.put(names[name], outcome)
            if job.should_stop():
                break
    kept = {name: outcome.only(wanted) for name, outcome in outcomes.items()}
    study = Study.of(kept, seed=seed, wanted=replications, version=software_version())
    need_replications(study)
    return study


def _add_to(job: Job, done: int, total: int) -> Callable[[int, int], None]:
    return lambda runs, _total: job.tell(done + runs, total)


def _in_steps(job: Job, scenario: Scenario, alternatives: int, replications: int) -> Iterator[int]:
    """The numbers of replications after which an answer is given, as long as the job is not stopped."""
    first = choose_first(job, scenario, alternatives, replications)
    for number in dict.fromkeys((first, max(first, min(replications, 4 * first)), replications)):
        if job.should_stop():
            return
        yield number


def ask_batch_sizes(
    question: Question, sizes: Sequence[int], work_orders: Sequence[str] | None
) -> Callable[[Job], Steps]:
    """Which batch size; see ``compare_batch_sizes``."""

    def work(job: Job) -> Steps:
        plan = BatchSizePlan(question.scenario, sizes, work_orders)
        for n in _in_steps(job, question.scenario, len(plan.alternatives), question.replications):
            yield plan.answer(gather(job, plan.alternatives, n, question.seed))

    return work


def ask_clamps(question: Question, worth: Worth, asked: Mapping[str, int]) -> Callable[[Job], Steps]:
    """What more clamps would save, those asked for by kind first of all; see ``compare_clamps``."""

    def work(job: Job) -> Steps:
        scenario = question.scenario
        plan = ClampsPlan(scenario, worth=worth)
        own = {_ASKED: change_scenario(scenario, clamp_changes(scenario, asked))} if asked else {}
        wanted = {**plan.alternatives, **own}
        for n in _in_steps(job, scenario, len(wanted), question.replications):
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
        for n in _in_steps(job, question.scenario, len(plan.alternatives), question.replications):
            study = gather(job, plan.alternatives, n, question.seed)
            accounted = ACCOUNTED if n == question.replications and study.complete else FIRST_ACCOUNTED
            numbers = study.outcomes[NOW].replications[:accounted]
            yield plan.answer(study, _account(job, question, numbers))

    return work


def _account(job: Job, question: Question, numbers: np.ndarray) -> Accounts:
    name = name_result("accounts", hash_scenario(question.scenario), question.seed, len(numbers), software_version())
    held = job.store.get(name)
    if held is None:
        held = _wait(
            job, job.executor.submit(account_runs, question.scenario, numbers, question.seed), even_if_stopped=True
        )
        job.store.put(name, held)
    assert isinstance(held, Accounts)
    return held


def _wait(job: Job, future: Future[Any], even_if_stopped: bool = False) -> Any:
    """The result of a call in a worker process; Cancelled if the job is stopped meanwhile."""
    while not future.done():
        if job.should_stop() and not even_if_stopped:
            future.cancel()
            raise Cancelled("stopped before the end")
        time.sleep(0.02)
    return future.result()


def ask_delivery(question: Question, confidence: float, kept: float) -> Callable[[Job], Steps]:
    """When each order ships; see ``forecast_delivery``."""

    def work(job: Job) -> Steps:
        terms = Terms.of(question.scenario, confidence, kept)
        terms.need(question.replications)
        for n in _in_steps(job, question.scenario, 1, question.replications):
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
    question: Question, counts: Sequence[int], confidence: float, kept: float, keep: dt.date | None
) -> Callable[[Job], Steps]:
    """What each number of orders would mean; see ``forecast_counts``."""

    def work(job: Job) -> Steps:
        scenario = question.scenario
        terms = Terms.of(scenario, confidence, kept)
        step = only_line(scenario).round_up_to or 1
        cap = scenario.run.cap
        asked = [count for count in counts if cap is None or count <= cap]
        largest = {pieces_made(count, step): count for count in sorted(asked)}
        alternatives = {f"{made} pieces": change_orders(scenario, count) for made, count in largest.items()}
        usual = max(FEWEST, min(question.replications, TOGETHER // max(1, len(largest))))
        largest_scenario = alternatives[f"{max(largest)} pieces"]
        for n in _in_steps(job, largest_scenario, len(alternatives), usual):
            if _is_enough(terms, n):
                study = gather(job, alternatives, n, question.seed)
                if not study.complete:
                    terms.need_study(study)
                yield forecast_delivery(
                    scenario, asked, confidence, study.replications, question.seed, kept=kept, keep=keep,
                    study=study.head(study.replications),
                )  # fmt: skip

    return work


def ask_next_buyer(question: Question, confidence: float, kept: float, so_far: int | None) -> Callable[[Job], Steps]:
    """The window of each buyer to come, while orders are open; see ``forecast_next_buyer``."""

    def work(job: Job) -> Steps:
        for n in dict.fromkeys((min(200, question.replications), question.replications)):
            name = name_result("next buyer", question.key, n)
            answer = job.store.get(name)
            if answer is None:
                answer = forecast_delivery(
                    question.scenario, None, confidence, n, question.seed, MOST_WAITING // 4, kept=kept, so_far=so_far,
                    executor=job.executor, on_progress=job.tell, should_stop=job.should_stop,
                )  # fmt: skip
                job.store.put(name, answer)
            yield answer

    return work


def ask_what_moves(question: Question, confidence: float) -> Callable[[Job], Steps]:
    """What to time first; see ``find_what_moves``."""

    def work(job: Job) -> Steps:
        first = max(FEWEST_MOVES, choose_first(job, question.scenario, 6, question.replications))
        for n in dict.fromkeys((min(first, question.replications), question.replications)):
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


def ask_lesson(question: Question, logs: Logs, confidence: float) -> Callable[[Job], Steps]:
    """What logs teach; see ``learn_from_logs``."""

    def work(job: Job) -> Steps:
        for n in dict.fromkeys((min(100, question.replications), question.replications)):
            if job.should_stop():
                return
            lesson: Lesson = learn_from_logs(
                question.scenario, logs, confidence, n, question.seed, MOST_WAITING // 4, executor=job.executor,
                on_progress=job.tell, should_stop=job.should_stop,
            )  # fmt: skip
            yield lesson

    return work


def ask_run(question: Question, replication: int, likely: bool) -> Callable[[Job], Steps]:
    """One run in tables; see ``tell_run``."""

    def work(job: Job) -> Steps:
        name = name_result("one run", question.key)
        run = job.store.get(name)
        if run is None:
            run = _wait(job, job.executor.submit(tell_run, question.scenario, question.seed, replication, likely))
            job.store.put(name, run)
        assert isinstance(run, RunTables)
        yield run

    return work
