"""What logged times and days teach: taken into the scenario, with what was believed before and after side by side."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from shopsim.answers.alternatives import run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.doubtful import find_doubts
from shopsim.answers.hours_per_piece import HOURS, find_reasons, say_hours, written_hours
from shopsim.answers.learning_rows import AFTER, BEFORE, list_rows, span_ratio, window_dates
from shopsim.answers.log_files import Logs
from shopsim.answers.promise_policy import WINDOW, check_chance
from shopsim.answers.promises import Promise, find_promise
from shopsim.answers.question import Question, ask
from shopsim.answers.wording import join_words, say_count, say_window
from shopsim.errors import DoubtfulLog, InputError
from shopsim.say import say_level, say_number
from shopsim.scenario.model import DeliveredOrder, Learned, Scenario
from shopsim.scenario.shipped_logs import ShippedRow
from shopsim.study.beliefs import believe_bias
from shopsim.study.contradictions import flag_contradictions
from shopsim.study.execution import Execution, OnProgress, ShouldStop
from shopsim.study.intervals import quantile_rank
from shopsim.study.once import run_once
from shopsim.study.recalibration import MIN_ORDERS, find_recalibration
from shopsim.study.results import Study
from shopsim.study.scoring import find_pit
from shopsim.study.taking_in import take_days, take_delivered, take_times

#: Key of the answer.
TEACHES = "what_the_logs_teach"
#: Replications where nothing is said.
USUAL = 1000


@dataclass(frozen=True)
class Lesson:
    """What logs taught. ``answer``: the table, before and after. ``learned``: what the scenario then knows. ``flags``: in
    words, the operations whose times contradict their guess."""

    answer: Answer
    learned: Learned
    flags: tuple[str, ...]


def learn_from_logs(
    scenario: Scenario,
    logs: Logs,
    confidence: float = 0.8,
    replications: int = USUAL,
    seed: int = 1,
    jobs: int = 1,
    *,
    believe: bool = False,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
) -> Lesson:
    """Take logs into what a scenario knows, and show what that changes. The scenario itself stays as it is.

    Rows of the answer: ``what`` ("last order ships", "window", "hours a piece, as written", "hours a piece, expected",
    "all guesses", "pace of", "open share", "lost days", "typical time of"), ``name`` (operation or run), ``design``, ``unit``; ``before``,
    ``before_low`` and ``before_high``, ``after``, ``after_low``, ``after_high``: the middle and the 80 %
    interval of what is believed (of expected hours the mean, 10 % and 90 % of the runs); ``logged``: units or days that
    tell of it; ``remark``. The window
    of the last order is at the confidence asked, before and after on the same luck.

    A log that is far from what is believed (``find_doubts``) is refused with the slip it looks like, unless
    ``believe`` says that it is right as it stands.

    Shipped orders are compared with the forecast of the scenario before these logs: take them in
    before the times of the same run. Raises DoubtfulLog for a log to be looked at again, InputError for bad arguments
    or days that were taken in from another log, Cancelled if stopped too soon.
    """
    question = LessonOfLogs(scenario, logs, confidence, believe)
    return ask(question, Execution(replications, seed, jobs, executor, on_progress, should_stop))


class LessonOfLogs(Question[Lesson]):
    """What logs teach; see ``learn_from_logs``. Raises DoubtfulLog, InputError."""

    def __init__(self, scenario: Scenario, logs: Logs, confidence: float = WINDOW, believe: bool = False) -> None:
        if isinstance(confidence, bool) or not isinstance(confidence, int | float) or not 0 < confidence < 1:
            raise InputError(f"confidence = {confidence!r} is not between 0 and 1 · write 0.8 for 80 %")
        self.scenario, self.logs, self.confidence = scenario, logs, confidence
        doubts = find_doubts(scenario, logs)
        if doubts and not believe:
            raise DoubtfulLog(doubts)
        notes = [f"Believed as it stands: {doubt}." for doubt in doubts]
        if any(row.plain for row in logs.days):
            notes.append(f'"share" in {logs.days_name} is read as the share that was left: call the column open_share.')
        known = scenario
        if logs.times:
            taken = take_times(known, logs.times, logs.times_name)
            known, notes = _with(known, taken.learned), [*notes, *taken.notes]
        if logs.days:
            taken = take_days(known, logs.days, logs.days_name)
            known, notes = _with(known, taken.learned), [*notes, *taken.notes]
        self.known, self.notes = known, notes

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario before the logs, and after them."""
        return {BEFORE: self.scenario, AFTER: self.known}

    @property
    def usual(self) -> int:
        """Replications of both."""
        return USUAL

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the window."""
        quantile_rank(replications, (1 + self.confidence) / 2)

    def answers(self, execution: Execution, last: bool) -> Iterator[Lesson]:
        """One lesson."""
        scenario, logs, known, notes, confidence = self.scenario, self.logs, self.known, self.notes, self.confidence
        study = run_alternatives(self.alternatives, execution)
        check_chance(study, (1 + confidence) / 2, "a window")
        if logs.shipped:
            taken = take_delivered(known.learned, compare_shipped(study, BEFORE, logs.shipped))
            known, notes = _with(known, taken.learned), [*notes, *taken.notes]
        flags = tuple(flag_contradictions(known))
        open_ = _find_open(study, logs)
        windows = _windows(scenario, known, study, confidence, open_)
        written = written_hours(run_once(known, seed=study.seed, likely=True))
        rows = list_rows(scenario, known, study, windows if open_.any() else None, flags, written)
        sentence = _say(logs, known, study, windows, confidence, flags, any_open=bool(open_.any()))
        hours = say_hours(written, study.values(AFTER, HOURS), find_reasons(known))
        n_open = int(open_.sum())
        if 0 < n_open < open_.size:
            notes = [
                *notes,
                f"Orders that have shipped are not forecast: the last order is that of the {n_open} that have not.",
            ]
        notes = [*notes, *_recalibration_notes(known, confidence), hours]
        yield Lesson(
            build_answer(study, AFTER, TEACHES, rows, sentence, tuple(notes)),
            known.learned,
            flags,
        )


def _with(scenario: Scenario, learned: Learned) -> Scenario:
    return scenario.model_copy(update={"learned": learned})


def compare_shipped(study: Study, name: str, rows: Sequence[ShippedRow]) -> list[DeliveredOrder]:
    """Where in its forecast the day of each shipped order lies, drawn within whole days by the order's own id."""
    outcome = study.outcomes[name]
    place = {order.id: column for column, order in enumerate(outcome.queue.orders)}
    compared = []
    for row in rows:
        run = row.run or f"orders closed {outcome.queue.close}"
        day = (row.shipped - outcome.queue.close).days
        digest = hashlib.sha256(f"{run}\n{row.order}".encode()).digest()
        u = (int.from_bytes(digest[:6], "big") + 0.5) / 2**48
        pit = find_pit(day, outcome.order_days[:, place[row.order]], u)
        compared.append(DeliveredOrder(order=row.order, run=run, pit=round(pit, 4)))
    return compared


def _find_open(study: Study, logs: Logs) -> np.ndarray:
    """Which orders have not shipped by the logs; bool, shape (orders,). Those that have are no longer forecast."""
    shipped = {row.order for row in logs.shipped}
    return np.array([order.id not in shipped for order in study.outcomes[BEFORE].queue.orders])


def _windows(
    scenario: Scenario, known: Scenario, study: Study, confidence: float, open_: np.ndarray
) -> tuple[Promise, Promise]:
    """The window of the last order that has not shipped, before and after, as a forecast of either would state it."""
    if not open_.any():
        open_ = np.ones_like(open_)
    before, after = (
        find_promise(
            study.outcomes[name].order_days[:, open_].max(axis=1),
            confidence,
            recalibration=find_recalibration(state.learned),
        )
        for name, state in ((BEFORE, scenario), (AFTER, known))
    )
    return before, after


def _say(
    logs: Logs,
    known: Scenario,
    study: Study,
    windows: tuple[Promise, Promise],
    confidence: float,
    flags: Sequence[str],
    any_open: bool = True,
) -> str:
    taken = []
    if logs.times:
        taken.append(say_count(len(logs.times), "logged time"))
    if logs.days:
        taken.append(say_count(len(logs.days), "logged day"))
    if logs.shipped:
        taken.append(say_count(len(logs.shipped), "shipped order"))
    before, after = windows
    was, now = before.last - before.first, after.last - after.first
    first, last = window_dates(study, after)
    asked = say_level(confidence)
    if now == was and (before.first, before.last) == (after.first, after.last):
        change = f"the {asked} window of the last order stays at {say_count(was, 'day')}"
    else:
        verb = "narrows" if now < was else "widens" if now > was else "moves, and stays"
        change = f"the {asked} window of the last order {verb} " + (
            f"from {say_count(was, 'day')} to {now}" if now != was else f"at {say_count(was, 'day')}"
        )
    text = f"With {join_words(taken)}, {change}: it ships {say_window(first, last)}."
    if not any_open:
        text = f"With {join_words(taken)}, all orders have shipped, so that none is forecast."
    if logs.times:
        middle, low, high = span_ratio(*believe_bias(known))
        text += f" Your work takes about {say_number(middle, 2)} times what you guess ({say_number(low, 2)} to {say_number(high, 2)})."
    if flags:
        count = say_count(len(flags), "operation")
        text += f" The times of {count} contradict what is stated of {'it' if len(flags) == 1 else 'them'}; see below."
    return text


def _recalibration_notes(known: Scenario, confidence: float) -> tuple[str, ...]:
    n = len(known.learned.delivered)
    if not n:
        return ()
    recalibration = find_recalibration(known.learned)
    if recalibration is None:
        return (f"{say_count(n, 'shipped order')} so far: from {MIN_ORDERS} on, windows are recalibrated on them.",)
    return (recalibration.say(confidence),)
