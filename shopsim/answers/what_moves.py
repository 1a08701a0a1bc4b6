"""What moves the date: which guess to time first, or whether to log the days, so that the window narrows most."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.promise_policy import WINDOW, check_chance
from shopsim.answers.promises import find_promise
from shopsim.answers.question import Question, ask
from shopsim.answers.what_moves_words import MIN_GAIN, list_notes, say_what_moves
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.model import Learned, LoggedDays, LoggedTimes, Scenario
from shopsim.study.execution import Execution, OnProgress, ShouldStop
from shopsim.study.extending import run_known
from shopsim.study.imagined_logs import ImaginedLogs, expect_from, imagine_logs, pick_rows, rank_timing, widths_of
from shopsim.study.intervals import quantile_rank
from shopsim.study.results import Study
from shopsim.study.shared_factors import (
    CALENDAR,
    ESTIMATE,
    Factor,
    Fit,
    draw_factors,
    fewest_replications,
    fit_result,
)

#: Key of the answer.
MOVES = "what_moves_the_date"
#: Units timed of an operation, and days logged, whose gain is foretold.
UNITS, DAYS = 5, 20
#: Operations named as the ones to time first.
FIRST = 3
#: Replications where nothing is said, and of a first look.
USUAL, MIN_REPLICATIONS = 800, 200
#: Logs imagined of each kind, at least and at most; runs after each, at least, and beyond either end of the window (own judgement).
MIN_LOGS, MAX_LOGS = 8, 20
MIN_RUNS, MIN_BEYOND = 40, 4


@dataclass(frozen=True)
class Then:
    """The window to expect after a log, days: ``width`` on average over the logs imagined, its standard ``error``."""

    width: float
    error: float
    now: float

    @property
    def narrows(self) -> bool:
        """Whether it is narrower than today's by a day or more, and by more than chance would have it."""
        return round(self.now) - round(self.width) >= 1 and self.now - self.width > 2 * self.error


def find_what_moves(
    scenario: Scenario,
    confidence: float = 0.8,
    replications: int = USUAL,
    seed: int = 1,
    jobs: int = 1,
    *,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
    study: Study | None = None,
) -> Answer:
    """What the day on which the last order ships depends on, and what to measure first to know it better.

    One row a piece of luck that the whole run shares, the largest first: ``what`` ("estimate of", "bias",
    "pace", "calendar", "material", "curing"), ``name`` (operation or material), ``design``; ``share`` of the
    variance of the last ship day, 0..1, with ``share_error`` (standard error), and
    ``explained_share``: of all of them together; ``time_first``: 1, 2, 3.. for
    the operations to time, in the order in which each tells most given those before it, only where that narrows the
    window; ``gain``: the share of the variance that timing UNITS units of it (or logging DAYS days)
    then takes away; ``window_days``: the width of the last order's window today, and
    ``window_then_days``: after timing this one operation, or logging the days, with ``window_then_error_days``, its
    standard error: the average over logs drawn from what is believed, each learned from and run
    again; ``window_together_days``: after timing all of ``time_first``, in their rows; empty where not run, as when stopped
    before.

    ``study``: a study that holds the scenario as it stands, used unless made in even blocks. Runs ``replications`` of the scenario and about as many
    for each of up to five kinds of log. Raises InputError for bad arguments and for too few replications, Cancelled if stopped too soon to say anything.
    """
    question = WhatMoves(scenario, confidence)
    execution = Execution(replications, seed, jobs, executor, on_progress, should_stop)
    return ask(question, execution if study is None else execution.reusing(study))


class WhatMoves(Question[Answer]):
    """What the day on which the last order ships depends on; see ``find_what_moves``."""

    def __init__(self, scenario: Scenario, confidence: float = WINDOW) -> None:
        if isinstance(confidence, bool) or not isinstance(confidence, int | float) or not 0 < confidence < 1:
            raise InputError(f"confidence = {confidence!r} is not between 0 and 1 · write 0.8 for 80 %")
        self.scenario, self.confidence = scenario, confidence
        self._fewest = fewest_replications(scenario)

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario as it stands; what it is after logs follows from its runs."""
        return {NOW: self.scenario}

    @property
    def usual(self) -> int:
        """Replications."""
        return USUAL

    @property
    def fewest(self) -> int:
        """Replications of a first look."""
        return max(MIN_REPLICATIONS, self._fewest)

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell the window, or what moves it."""
        quantile_rank(replications, (1 + self.confidence) / 2)
        check_enough(self.scenario, replications)

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer; after a stop without the windows to expect after a log."""
        scenario, confidence = self.scenario, self.confidence
        if (
            execution.sobol_block
        ):  # shared luck that is spread evenly cannot be drawn again from the keys of its replications
            execution = replace(execution, reuse=None, sobol_block=0)
        now = run_alternatives(self.alternatives, execution)
        check_chance(now, (1 + confidence) / 2, "a window")
        if now.replications < self._fewest:
            raise Cancelled(f"stopped after {now.replications} replications, too few to tell what moves the date")
        days = now.values(NOW, "last_ship_day")
        until = max(1, math.ceil(float(np.median(days))))
        factors = draw_factors(scenario, now.seed, now.outcomes[NOW].replications, until)
        fit = fit_result(days, factors)
        logs = imagine_logs(scenario, factors, now.seed, UNITS, DAYS)
        ranked = [(factor, gain) for factor, gain in rank_timing(days, logs, FIRST) if gain >= MIN_GAIN]
        calendar = 0.0 if logs.mean_logit is None else max(0.0, expect_from(days, logs.tells(Factor(CALENDAR)))[1])
        trial = _Trial(scenario, now, days, logs, confidence, execution)
        kinds = [(factor,) for factor, _ in ranked] + ([(Factor(CALENDAR),)] if calendar >= MIN_GAIN else [])
        stopped = not now.complete
        then: dict[tuple[Factor, ...], Then] = {}
        first = tuple(factor for factor, _ in ranked)
        if not stopped:
            try:
                then = trial.run(kinds)
                first = tuple(factor for factor in first if then[factor,].narrows) or first
                if len(first) > 1:
                    then |= trial.run([first])
            except Cancelled:  # what moves the date is known all the same
                stopped = True
            else:
                tried = [
                    kind for kind in (first, *((factor,) for factor in first)) if kind in then and then[kind].narrows
                ]
                first = tried[0] if tried else ()
        promise = find_promise(now.outcomes[NOW].order_days.max(axis=1), confidence)
        window = promise.last - promise.first
        rows = _list_rows(fit, dict(ranked), calendar, first, then, window)
        both, logged = (
            one.width if one is not None and one.narrows else None
            for one in (then.get(first), then.get((Factor(CALENDAR),)))
        )
        sentence = say_what_moves(
            rows,
            fit,
            window,
            confidence,
            first=first,
            both=both,
            logged=logged,
            stopped=stopped,
            units=UNITS,
            days=DAYS,
        )
        error = max((one.error for one in then.values()), default=None)
        notes = list_notes(fit, dict(ranked), error, trial.n_logs, UNITS, DAYS, stopped)
        yield replace(build_answer(now, NOW, MOVES, rows, sentence, notes), partial=stopped or not now.complete)


def check_enough(scenario: Scenario, replications: int) -> None:
    """InputError where so few replications cannot tell apart all that may move the date."""
    fewest = fewest_replications(scenario)
    if replications < fewest:
        raise InputError(
            f"{replications} replications are too few to tell what moves the date of this scenario · ask for {fewest} or more"
        )


class _Trial:
    """Runs the scenario after imagined logs, each log on a stretch of replications of its own."""

    def __init__(
        self,
        scenario: Scenario,
        now: Study,
        days: np.ndarray,
        logs: ImaginedLogs,
        confidence: float,
        execution: Execution,
    ) -> None:
        self.scenario, self.now, self.days, self.logs, self.confidence = scenario, now, days, logs, confidence
        self.execution = replace(execution, seed=now.seed, on_progress=None)
        self.n_runs = max(MIN_RUNS, math.ceil(round(2 * MIN_BEYOND / (1 - confidence), 6)))
        self.n_logs = min(MAX_LOGS, max(MIN_LOGS, now.replications // self.n_runs))

    def run(self, kinds: Sequence[tuple[Factor, ...]]) -> dict[tuple[Factor, ...], Then]:
        """The window to expect after timing, in one run, or logging what each kind names. Cancelled if stopped before its end."""
        scenarios: dict[str, Scenario] = {}
        wanted: dict[str, np.ndarray] = {}
        for kind, factors in enumerate(kinds):
            told = np.column_stack([self.logs.tells(factor) for factor in factors])
            rows = pick_rows(expect_from(self.days, told)[0], self.n_logs, self.now.seed)
            for log, row in enumerate(rows):
                name = f"{kind} {log}"
                scenarios[name] = self._learn(factors, int(row))
                wanted[name] = self.now.first + log * self.n_runs + np.arange(self.n_runs)
        outcomes = run_known(scenarios, wanted, self.execution)
        done = {name: outcomes[name].only(numbers) for name, numbers in wanted.items()}
        if any(done[name].replications.size < self.n_runs for name in done):
            raise Cancelled("stopped before it was run how far a log would narrow the window")
        today = float(widths_of([self.days], self.confidence)[0])
        found = {}
        for kind, factors in enumerate(kinds):
            widths = widths_of(
                [done[f"{kind} {log}"].order_days.max(axis=1) for log in range(self.n_logs)], self.confidence
            )
            error = math.sqrt(float((np.diff(widths) ** 2).mean()) / 2 / self.n_logs)  # neighbours of one order
            found[factors] = Then(float(widths.mean()), error, today)
        return found

    def _learn(self, factors: tuple[Factor, ...], row: int) -> Scenario:
        times: tuple[LoggedTimes, ...] = ()
        days: tuple[LoggedDays, ...] = ()
        for factor in factors:
            if factor.kind == CALENDAR:
                days = (*days, self.logs.days(row))
            else:
                times = (*times, self.logs.cells(factor, row))
        known = self.scenario.learned
        learned = Learned(
            times=(*known.times, *times), days=(*known.days, *days), delivered=known.delivered, logs=known.logs
        )
        return self.scenario.model_copy(update={"learned": learned})


def _list_rows(
    fit: Fit,
    gain: Mapping[Factor, float],
    calendar: float,
    first: tuple[Factor, ...],
    then: Mapping[tuple[Factor, ...], Then],
    window: int,
) -> pd.DataFrame:
    rows = []
    for found in sorted(fit.shares, key=lambda found: -found.share):
        factor = found.factor
        after = then.get((factor,))
        gained = gain.get(factor)
        if factor.kind == CALENDAR and after is not None:
            gained = calendar
        rows.append(
            {
                "what": factor.kind,
                "name": factor.name,
                "design": factor.design,
                "share": found.share,
                "share_error": found.error,
                "explained_share": min(1.0, fit.total),
                "time_first": first.index(factor) + 1 if factor in first else None,
                "gain": gained,
                "window_days": window,
                "window_then_days": round(after.width)
                if after is not None and factor.kind in (ESTIMATE, CALENDAR)
                else None,
                "window_then_error_days": after.error if after is not None else None,
                "window_together_days": round(then[first].width) if factor in first and first in then else None,
            }
        )
    return pd.DataFrame(rows).astype(
        {
            "time_first": "Int64", "gain": "float64", "window_days": "int64", "window_then_days": "Int64",
            "window_then_error_days": "float64", "window_together_days": "Int64",
        }
    )  # fmt: skip
