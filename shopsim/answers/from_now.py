"""The forecast from now: each promise with its chance at the outset, last time and now, from the state that the run's log tells."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.bench_list import count_done, list_next, list_under_way
from shopsim.answers.from_now_words import list_from_now_notes, say_from_now, write_notes
from shopsim.answers.logged_run import LoggedRun, RunLogReading, last_session
from shopsim.answers.promise_policy import KEPT, WINDOW, PromisePolicy, date_of, window_columns
from shopsim.answers.promise_question import PromiseQuestion
from shopsim.answers.question import ask
from shopsim.dates import day_number
from shopsim.engine.compiling import is_compiled, is_kept
from shopsim.errors import Cancelled
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, RunOptions
from shopsim.study.going_on import GoingOn, GoneOn
from shopsim.study.results import Outcome, Study
from shopsim.study.run_state import RunState

FROM_NOW = "forecast_from_now"
STANDS, NEXT, UNDER_WAY, NOTES = "how_the_run_stands", "next_on_the_bench", "under_way", "notes_to_buyers"
#: Chances under which a promise is late, and at risk (the first as everywhere; the second: own judgement).
LATE_BELOW, RISK_BELOW = 0.5, 0.8
SHIPPED, LATE, AT_RISK, GOOD = "shipped", "late", "at risk", "good"
#: Seconds of work from which on it is handed to worker processes, and replications of one piece of it.
ALONE_S, PIECE, COMPILED_PIECE = 3.0, 32, 256


@dataclass(frozen=True)
class _Weighed:
    """Days of shipping, shape (replications, orders), each replication as often as it agrees with what is half done; ``effective``: how
    many equally good ones they are worth."""

    days: np.ndarray
    effective: float


class FromNow(PromiseQuestion):
    """The forecast of a run under way.

    ``log``: the text of its log, ``log_name`` the name of that file. ``at``: the moment of the forecast, local time; default ``clock``
    or the last row, whichever is later. ``confidence``: of the windows, ``service_level``: the chance with which a new promise is to be kept,
    both in 0..1. ``believe``: the log is right although it is far from what is believed.

    Rows of the answer, late ones first, then those at risk, then the rest in the order of the queue, shipped ones last: ``position``,
    ``order``, ``design``, ``quantity``, ``option``; ``due``: the day its buyer was told, else the one that the forecast at the outset would
    have promised; ``stands``: "late" (kept in under half of the runs), "at risk" (in under 80 %), "good" or "shipped"; ``chance_then``,
    ``chance_last``, ``chance_now``: that it ships by that day, as forecast at the outset, at the end of the last day before today on which
    something happened, and now (of a shipped one 1 or 0); ``shipped``: the day; and for what has not shipped the columns of a delivery
    window from now. Tables: ``how_the_run_stands``, ``under_way``, ``next_on_the_bench``, ``notes_to_buyers``.

    With an empty log it is the forecast of before, bit for bit. Raises ScenarioError with the faults of the log by row, DoubtfulLog,
    InputError.
    """

    def __init__(
        self,
        scenario: Scenario,
        log: str,
        log_name: str = "run-log.csv",
        at: dt.datetime | None = None,
        clock: dt.datetime | None = None,
        confidence: float = WINDOW,
        service_level: float = KEPT,
        believe: bool = False,
    ) -> None:
        super().__init__(scenario, PromisePolicy.of(scenario, confidence, service_level))
        self.reading = RunLogReading(scenario, log, log_name)
        self.now_min = self.reading.choose_now(at, clock)
        self.run = self.reading.at(self.now_min, believe)
        before = last_session(self.reading.moments, self.now_min)
        self.last = None if before is None else self.reading.at(before)

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer."""
        study = run_alternatives(self.alternatives, execution)
        self.policy.need_study(study)
        outcome = study.outcomes[NOW]
        outset = _Weighed(outcome.order_days, float(outcome.replications.size))
        now = outset if self.run.state.is_empty else self._go_on(execution, self.run, outcome)
        before = None if self.last is None else self._go_on(execution, self.last, outcome)
        yield self._read(study, outcome, outset, before, now)

    def _go_on(self, execution: Execution, run: LoggedRun, outcome: Outcome) -> _Weighed:
        numbers = outcome.replications.tolist()
        key = (
            "from now",
            execution.hash_of(run.known),
            self.reading.name,
            self.reading.rows,
            run.state.now_min,
            execution.seed,
            len(numbers),
        )
        found: _Weighed | None = execution.known.get(key)
        if found is None:
            gone_on = run_on(execution, run.known, run.state, run.run_name, numbers)
            if gone_on.log_weight.size < self.policy.fewest:
                raise Cancelled("stopped before anything could be said of the run from now on")
            found = _weigh(gone_on)
            execution.known.put(key, found)
        return found

    def _read(self, study: Study, outcome: Outcome, outset: _Weighed, before: _Weighed | None, now: _Weighed) -> Answer:
        queue, state = outcome.queue, self.run.state
        rows = []
        for place, order in enumerate(queue.orders):
            promised = self.policy.promise(outset.days[:, place]).day
            due_day = (order.promised - queue.close).days if order.promised else promised
            chance = float(np.mean(now.days[:, place] <= due_day))
            row: dict[str, Any] = {
                "position": order.position, "order": order.id, "design": order.design, "quantity": order.quantity,
                "option": order.option, "due": date_of(queue.close, due_day), "is_told": order.promised is not None,
                "stands": LATE if chance < LATE_BELOW else AT_RISK if chance < RISK_BELOW else GOOD,
                "chance_then": float(np.mean(outset.days[:, place] <= due_day)),
                "chance_last": float("nan") if before is None else float(np.mean(before.days[:, place] <= due_day)),
                "chance_now": chance, "shipped": "",
            }  # fmt: skip
            window = window_columns(self.policy.promise(now.days[:, place]), queue.close)
            if place in state.shipped:
                row |= {"stands": SHIPPED, "shipped": state.shipped[place].isoformat()}
                window = {key: "" if isinstance(value, str) else None for key, value in window.items()}
            rows.append({**row, **window})
        ranks = {LATE: 0, AT_RISK: 1, GOOD: 2, SHIPPED: 3}
        rows.sort(
            key=lambda row: (
                ranks[row["stands"]],
                row["chance_now"] if ranks[row["stands"]] < 2 else 0.0,
                row["position"],
            )
        )
        going = GoingOn(self.run.known, state, self.run.run_name)
        table = pd.DataFrame(rows)
        tables = {
            STANDS: self._count(going, now, study.replications),
            NEXT: list_next(going),
            UNDER_WAY: list_under_way(going),
            NOTES: write_notes(self.run, going, rows),
        }
        sentence = say_from_now(going, rows, tables[STANDS], tables[NEXT], self.policy.confidence)
        notes = list_from_now_notes(self.run, going, now.effective, study.replications)
        return build_answer(study, NOW, FROM_NOW, table, sentence, notes, tables)

    def _count(self, going: GoingOn, now: _Weighed, replications: int) -> pd.DataFrame:
        """What has been done so far, in numbers."""
        state, (done, pieces) = self.run.state, count_done(going)
        work = going.plan.worklist
        by_hand = np.array([step.operation.hands > 0 for step in work.steps])[np.asarray(work.task_step)]
        ended = int((~np.isnan(state.ended_min) & by_hand).sum())
        counts = {
            "orders shipped": len(state.shipped), "orders": len(going.queue.orders), "pieces done": done, "pieces": pieces,
            "tasks done": ended, "tasks": int(by_hand.sum()), "days worked": len(state.worked_days), "days lost": len(state.lost),
            "made again": state.made_again, "taken from the spares": len(state.taken_out),
            "replications": replications, "replications they are worth": int(now.effective),
        }  # fmt: skip
        return pd.DataFrame({"what": list(counts), "count": list(counts.values())})


def run_on(execution: Execution, scenario: Scenario, state: RunState, run_name: str, numbers: Sequence[int]) -> GoneOn:
    """Replications of a run gone on with from a state, here or by the executor; as many as were finished when the user stopped."""
    size = COMPILED_PIECE if is_compiled() or (execution.apart and is_kept()) else PIECE
    pieces = [list(numbers[at : at + size]) for at in range(0, len(numbers), size)]
    if execution.apart:
        return GoneOn.join(
            [execution.call(go_on, scenario, state, run_name, execution.seed, piece) for piece in pieces]
        )
    going, done, begun = GoingOn(scenario, state, run_name), list[GoneOn](), time.monotonic()
    while pieces and not execution.stopped:
        spent = time.monotonic() - begun
        if execution.executor is not None and done and spent / len(done) * len(pieces) > ALONE_S:
            break
        done.append(going.go_on(execution.seed, pieces.pop(0)))
    if pieces and execution.executor is not None and not execution.stopped:
        done += _run_elsewhere(execution, scenario, state, run_name, pieces)
    if not done:
        raise Cancelled("stopped before anything could be said of the run from now on")
    return GoneOn.join(done)


def _run_elsewhere(
    execution: Execution, scenario: Scenario, state: RunState, run_name: str, pieces: Sequence[list[int]]
) -> list[GoneOn]:
    assert execution.executor is not None
    try:
        futures = [
            execution.executor.submit(go_on, scenario, state, run_name, execution.seed, piece) for piece in pieces
        ]
        done = []
        for future in futures:
            if execution.stopped:
                future.cancel()
            if not future.cancelled():
                done.append(future.result())
    except BrokenExecutor:  # what was lost with a worker is made here
        return [go_on(scenario, state, run_name, execution.seed, [number for piece in pieces for number in piece])]
    return done


def go_on(scenario: Scenario, state: RunState, run_name: str, seed: int, numbers: Sequence[int]) -> GoneOn:
    """Some replications, in whatever process."""
    return GoingOn(scenario, state, run_name).go_on(seed, numbers)


def _weigh(gone_on: GoneOn) -> _Weighed:
    """Replications as often as they agree with what is half done: taken at even steps of their weights, laid end to end."""
    weight = np.exp(gone_on.log_weight - gone_on.log_weight.max())
    n = weight.size
    if (weight == weight[0]).all():
        return _Weighed(gone_on.order_days, float(n))
    ends = np.cumsum(weight)
    taken = np.searchsorted(ends, (np.arange(n) + 0.5) / n * ends[-1]).clip(max=n - 1)
    return _Weighed(gone_on.order_days[taken], float(weight.sum() ** 2 / (weight**2).sum()))


def today_of(run: LoggedRun) -> dt.date:
    """The day of the forecast."""
    return run.scenario.day0 + dt.timedelta(days=day_number(run.state.now_min))


def forecast_from_now(
    scenario: Scenario,
    log: str,
    log_name: str = "run-log.csv",
    at: dt.datetime | None = None,
    confidence: float = WINDOW,
    *,
    service_level: float = KEPT,
    believe: bool = False,
    **options: Unpack[RunOptions],
) -> Answer:
    """The forecast of a run under way, from the text of its log; see ``FromNow`` for the arguments and what comes back.

    ``at``: default the last row of the log. ``replications``: default 1,537. The luck of what remains has the keys of the whole run, so
    that two forecasts of one seed share it. Further ``options``: see ``RunOptions``. Costs about as much as single runs by ``run_once``.
    """
    question = FromNow(scenario, log, log_name, at, confidence=confidence, service_level=service_level, believe=believe)
    return ask(question, Execution.of(options))
