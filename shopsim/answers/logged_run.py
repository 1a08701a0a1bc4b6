"""A run with its log: the state it is in at a moment, and what its log teaches, taken in by the rules of all logs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from shopsim.answers.doubtful import find_doubts
from shopsim.answers.log_files import Logs
from shopsim.engine.days import day_beliefs
from shopsim.engine.learned_days import learn_days
from shopsim.engine.worklist import Worklist, build_worklist
from shopsim.errors import DoubtfulLog, Fault, InputError, ScenarioError
from shopsim.scenario.happenings import Happening
from shopsim.scenario.model import Scenario
from shopsim.scenario.run_log import decode_log, read_run_log
from shopsim.scenario.text import Unreadable, check_size
from shopsim.study.order_queue import OrderQueue
from shopsim.study.run_state import RunState, moment_of, read_state
from shopsim.study.taking_in import name_runs, take_days, take_times
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR


@dataclass(frozen=True, eq=False)
class LoggedRun:
    """``scenario``: as its file has it; ``known``: with what the log teaches. ``state``: at ``state.now_min``. ``run_name``: under which
    name the times of this run are known. ``remarks``: what is to be read beside it. ``n_later``: rows that happened later."""

    scenario: Scenario
    known: Scenario
    state: RunState
    run_name: str
    remarks: tuple[str, ...] = ()
    n_later: int = 0


class RunLogReading:
    """A log that was read and holds no fault that its rows alone show; states at any moment are read from it.

    ``name``: of its file. Raises ScenarioError with the faults of all rows.
    """

    def __init__(self, scenario: Scenario, text: str, name: str) -> None:
        self.scenario, self.name = scenario, name
        log = read_run_log(text, name)
        self.work: Worklist = build_worklist(scenario)
        self.queue = OrderQueue(scenario)
        self.rows: tuple[Happening, ...] = log.rows
        self.remarks = log.remarks
        _, faults = read_state(self.work, self.queue, log.rows, max(self.moments, default=0.0), name)
        if log.faults or faults:
            raise ScenarioError(tuple(sorted((*log.faults, *faults), key=lambda fault: fault.line or 0)))

    @property
    def moments(self) -> list[float]:
        """When its rows happened, rising, in minutes from midnight of day 0."""
        return sorted(moment_of(row, self.work) for row in self.rows)

    def minutes_at(self, when: dt.datetime) -> float:
        """A moment in minutes from midnight of day 0."""
        since = when - dt.datetime.combine(self.work.day0, dt.time())
        return since / dt.timedelta(minutes=1)

    def choose_now(self, at: dt.datetime | None, clock: dt.datetime | None) -> float:
        """The moment that a forecast is made at: as asked; else by the clock, but not before the last row nor before the run begins."""
        if at is not None:
            return max(0.0, self.minutes_at(at))
        last = self.moments[-1] if self.rows else 0.0
        return max(0.0, last, self.minutes_at(clock) if clock is not None else 0.0)

    def at(self, now_min: float, believe: bool = True) -> LoggedRun:
        """The run as it stands at a moment, with what the rows until then teach.

        Raises DoubtfulLog where minutes or days are far from what is believed, unless ``believe``.
        """
        state, _ = read_state(self.work, self.queue, self.rows, now_min, self.name)
        run_name = Path(self.name).stem[:120] or "this run"
        rows = [replace(row, run=run_name) for row in state.times]
        if not believe:
            doubts = find_doubts(
                self.scenario, Logs(times=tuple(rows), times_name=self.name, days=state.days, days_name=self.name)
            )
            if doubts:
                raise DoubtfulLog(doubts)
        known, remarks = self.scenario, list(self.remarks)
        if rows:
            rows = name_runs(known.learned, rows, self.name)
            run_name = rows[0].run
            known = known.model_copy(update={"learned": take_times(known, rows, self.name).learned})
        if state.days and not self.are_whole(state):
            try:
                known = known.model_copy(update={"learned": take_days(known, state.days, self.name).learned})
            except InputError as error:
                remarks.append(f"What this log tells of days is not learned from: {error}.")
        later = sum(moment > now_min for moment in self.moments)
        if later:
            remarks.append(f"Rows that happened later are left out: {later}.")
        return LoggedRun(self.scenario, known, state, run_name, tuple(remarks), later)

    def are_whole(self, state: RunState) -> bool:
        """Whether the file says that every open minute counts, and nothing in the log says otherwise."""
        told = any(day.lost or day.share is not None for day in state.days)
        return (
            not told
            and day_beliefs(self.scenario.shop, learn_days(self.scenario.learned.days, self.scenario.shop)).whole
        )


def read_log_file(path: str | Path) -> str:
    """The text of the log of a run; empty where there is none yet. Raises ScenarioError for a file that cannot be read."""
    file = Path(path)
    try:
        return decode_log(check_size(file.read_bytes()))
    except FileNotFoundError:
        return ""
    except Unreadable as error:
        raise ScenarioError((Fault(str(path), error.line, "", error.rule, error.mend),)) from None
    except OSError as error:
        rule = f"cannot be read: {(error.strerror or str(error)).lower()}"
        raise ScenarioError((Fault(str(path), None, "", rule, "check the name and the rights"),)) from None


def say_moment(work: Worklist, minutes: float) -> str:
    """A moment of a run in words: ``2027-02-03 21:00``."""
    date = work.day0 + dt.timedelta(days=int(minutes // MINUTES_PER_DAY))
    of_day = int(minutes % MINUTES_PER_DAY)
    return f"{date} {of_day // int(MINUTES_PER_HOUR):02d}:{of_day % int(MINUTES_PER_HOUR):02d}"


def logs_of_run(scenario: Scenario, text: str, name: str) -> Logs:
    """What the log of a run tells of times, days and shipped orders, as the logs of each would; raises ScenarioError with its faults.

    Days count up to the last row's own day, which is not over.
    """
    reading = RunLogReading(scenario, text, name)
    state, _ = read_state(reading.work, reading.queue, reading.rows, max(reading.moments, default=0.0), name)
    run_name = Path(name).stem[:120] or "this run"
    times = tuple(replace(row, run=run_name) for row in state.times)
    days = () if reading.are_whole(state) else state.days
    return Logs(times, name if times else "", days, name if days else "", state.orders, name if state.orders else "")


def last_session(moments: Sequence[float], now_min: float) -> float | None:
    """The last happening before the day of ``now_min``; None if there is none."""
    today = now_min // MINUTES_PER_DAY
    return max((moment for moment in moments if moment // MINUTES_PER_DAY < today), default=None)
