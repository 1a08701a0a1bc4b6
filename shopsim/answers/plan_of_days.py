"""The days: a better plan is searched, held against the best named priority rule on fresh luck, and laid out day by day."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, compare, put_interval, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.day_plan import plan_days
from shopsim.answers.day_warnings import list_nights, list_no_fit, list_open_times
from shopsim.answers.days_words import say_days_found, say_notes
from shopsim.answers.glue_rounds import build_clamp_board, find_rounds
from shopsim.answers.question import Question, ask
from shopsim.engine.lower_bound import LowerBound, find_lower_bound
from shopsim.errors import InputError
from shopsim.priority import WISHES_OF_PLANS
from shopsim.say import say_plain
from shopsim.scenario.batches import is_planned, rules_to_compare
from shopsim.scenario.model import Scenario, WorkPlan
from shopsim.study.execution import Execution, RunOptions
from shopsim.study.intervals import Interval
from shopsim.study.once import RunResult, run_once
from shopsim.study.plan_search import USUAL_S, search_order, with_plan, with_rule
from shopsim.study.plan_values import MEASURE_OF
from shopsim.study.results import Study
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: The key of the answer, and of its further tables.
DAYS, PLANS, LINES, ROUNDS, BOARD, NIGHTS, NO_FITS, OPEN_TIMES, WEEKS = (
    "the_days", "plans_compared", "lines_of_the_plan", "rounds_of_glue_ups", "clamp_board", "overnight",
    "does_not_fit_that_day", "working_time_of_glue", "weeks_at_a_glance",
)  # fmt: skip
#: The alternative that is the plan found.
FOUND = "the plan found"
#: Replications on which the plan is held against the named rules.
REPLICATIONS = 512
#: What the measures of the wishes are called when they are compared.
SAVED = {"average": "average_saved_days", "last": "last_saved_days", "idle": "idle_saved_h"}


@dataclass(frozen=True)
class Searched:
    """What a search came to, small enough to go from one process to another. ``plan``: None where none was asked for."""

    plan: WorkPlan | None
    n_tried: int = 0
    stopped: str = ""


def search_plan(scenario: Scenario, wish: str, seed: int, seconds: float) -> Searched:
    """Search in whatever process this is called; see ``search_order``."""
    found = search_order(scenario, wish, seed=seed, seconds=seconds)
    return Searched(found.plan, found.n_tried, found.stopped)


class Days(Question[Answer]):
    """What to do on which day, under the best plan that is found for a wish.

    ``wish``: "average" ship day, "last" ship day, or "idle" hours; default that of the file's plan, else "average".
    ``seconds``: how long the search may take. ``as_it_is``: no search, the days under the file's own rule or plan.
    Raises InputError for another wish or no time.
    """

    def __init__(
        self, scenario: Scenario, wish: str | None = None, seconds: float | None = None, as_it_is: bool = False
    ) -> None:
        plan = scenario.run.plan
        self.scenario, self.as_it_is = scenario, as_it_is
        self.wish = wish if wish is not None else plan.wish if plan is not None and is_planned(scenario) else "average"
        self.seconds = USUAL_S if seconds is None else float(seconds)
        self._has_looked = False
        if self.wish not in WISHES_OF_PLANS:
            raise InputError(f'there is no wish "{self.wish}" · choose one of {", ".join(WISHES_OF_PLANS)}')
        if not 0 < self.seconds <= 86_400:
            raise InputError(f"a search of {say_plain(self.seconds)} seconds cannot be made · write from 1 to 86400")

    @property
    def alternatives(self) -> Mapping[str, Scenario]:
        """Today, and every named rule beside it."""
        names = () if self.as_it_is else rules_to_compare(self.scenario)
        others = {name: with_rule(self.scenario, name) for name in names if name != self.scenario.run.priority}
        return {NOW: self.scenario, **others}

    @property
    def usual(self) -> int:
        """Enough to tell some tenths of a day."""
        return REPLICATIONS

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer, when all is run. Where a first look is asked for, that comes before it: the best named rule and its days, as what
        is searched takes longest."""
        if execution.first_tasks:
            if not self._has_looked:
                self._has_looked = True
                study = run_alternatives(self.alternatives, execution)
                yield self._read(study, Searched(None), execution.seed, looking=not self.as_it_is)
            if not last:
                return
        searched = self._search(execution)
        alternatives = dict(self.alternatives)
        if searched.plan is not None:
            alternatives[FOUND] = with_plan(self.scenario, searched.plan)
        calm = replace(execution, should_stop=None) if searched.stopped == "you" else execution
        study = run_alternatives(alternatives, calm)
        yield self._read(study, searched, execution.seed)

    def _search(self, execution: Execution) -> Searched:
        if self.as_it_is:
            return Searched(None)
        key = ("plan", execution.hash_of(self.scenario), self.wish, execution.seed, self.seconds)
        searched: Searched | None = execution.known.get(key)
        if searched is None:
            if execution.apart and execution.executor is not None:
                if execution.on_progress is not None:
                    execution.on_progress(0, 0)  # how far it is cannot be seen from here
                searched = execution.call(search_plan, self.scenario, self.wish, execution.seed, self.seconds)
            else:
                found = search_order(
                    self.scenario, self.wish, seed=execution.seed, seconds=self.seconds,
                    on_progress=execution.on_progress, should_stop=execution.should_stop,
                )  # fmt: skip
                searched = Searched(found.plan, found.n_tried, found.stopped)
            execution.known.put(key, searched)
        return searched

    # ---- reading
    def _read(self, study: Study, searched: Searched, seed: int, looking: bool = False) -> Answer:
        measure = MEASURE_OF[self.wish]
        means = {name: float(study.values(name, measure).mean()) for name in study.names if name != FOUND}
        rule = min(means, key=lambda name: means[name])
        gain = compare(study, rule, FOUND, measure) if searched.plan is not None else None
        chosen = FOUND if gain is not None and gain.low > 0 else rule if searched.plan is not None or looking else NOW
        scenario = study.outcomes[chosen].scenario
        run = run_once(scenario, likely=True)
        bound = find_lower_bound(run.plan, float(run.record.done.max()))
        plans = self._compare_plans(study, rule, chosen, bound)
        tables = {
            PLANS: plans, ROUNDS: find_rounds(run), NIGHTS: list_nights(run), NO_FITS: list_no_fit(run),
            OPEN_TIMES: list_open_times(run, seed), WEEKS: build_weeks(run), BOARD: build_clamp_board(run),
            LINES: list_plan_lines(scenario.run.plan if is_planned(scenario) else None),
        }  # fmt: skip
        told = {row["under"]: row for row in plans.to_dict("records")}
        answer = build_answer(
            study,
            NOW,
            DAYS,
            plan_days(run),
            say_days_found(
                told, self._name(chosen), self._name(rule), self.wish, gain, run, study.replications, looking
            ),
            say_notes(tables[OPEN_TIMES], searched, self.seconds, bound, tables[ROUNDS]),
            tables,
        )
        return replace(answer, partial=answer.partial or searched.stopped == "you")

    def _name(self, alternative: str) -> str:
        return self.scenario.run.priority if alternative == NOW else alternative

    def _compare_plans(self, study: Study, rule: str, chosen: str, bound: LowerBound) -> pd.DataFrame:
        """A row a plan: means over luck, against the best named rule, and the end of its last piece at likely times beside the bound."""
        rows: list[dict[str, Any]] = []
        for name in study.names:
            row: dict[str, Any] = {"under": self._name(name), "is_now": name == NOW, "is_chosen": name == chosen}
            for measure in ("average_ship_day", "last_ship_day", "idle_h"):
                row[measure] = float(study.values(name, measure).mean())
            for wish, column in SAVED.items():
                same = name == rule
                put_interval(
                    row, column, Interval(0.0, 0.0, 0.0, 0.95) if same else compare(study, rule, name, MEASURE_OF[wish])
                )
            likely_min = float(run_once(study.outcomes[name].scenario, likely=True).record.done.max())
            row["likely_end_days"], row["bound_days"] = likely_min / MINUTES_PER_DAY, bound.minutes / MINUTES_PER_DAY
            row["above_bound_share"] = likely_min / bound.minutes - 1 if bound.minutes > 0 else math.nan
            row["bound_by"] = bound.reason
            rows.append(row)
        return pd.DataFrame(rows)


def list_plan_lines(plan: WorkPlan | None) -> pd.DataFrame:
    """The lines of a plan in order: number, operation, batch, design, not_before (text as in a file); no rows without a plan."""
    lines = () if plan is None else plan.order
    return pd.DataFrame(
        {
            "number": np.arange(1, len(lines) + 1, dtype=np.int64),
            "operation": pd.array([line.operation for line in lines], dtype="str"),
            "batch": pd.array([line.batch for line in lines], dtype="Int64"),
            "design": pd.array([line.design or "" for line in lines], dtype="str"),
            "not_before": pd.array(
                ["" if line.not_before is None else f"{line.not_before:%Y-%m-%d %H:%M}" for line in lines], dtype="str"
            ),
        }
    )


def build_weeks(run: RunResult) -> pd.DataFrame:
    """Every day from the first on which something is done to the last: hours of hands, hours open for all hands, glue-ups begun, pieces that ship."""
    plan = plan_days(run)
    if plan.empty:
        return pd.DataFrame(columns=["day", "hands_on_h", "open_h", "glue_ups", "ships_pieces"])
    days = pd.date_range(plan["day"].min(), plan["day"].max())
    by_day = plan.groupby("day")
    hands = by_day["hands_on_min"].sum() / MINUTES_PER_HOUR
    rounds = find_rounds(run)
    glue = rounds.groupby("day")["glue_ups"].sum()
    ships = run.pieces.groupby(run.pieces["ships"].dt.date)["piece"].size()
    open_h = _open_hours(run, (days[0].date() - run.plan.worklist.day0).days, len(days))
    return pd.DataFrame(
        {
            "day": [day.date() for day in days],
            "hands_on_h": [float(hands.get(day.date(), 0.0)) for day in days],
            "open_h": open_h,
            "glue_ups": [int(glue.get(day.date(), 0)) for day in days],
            "ships_pieces": [int(ships.get(day.date(), 0)) for day in days],
        }
    )


def _open_hours(run: RunResult, first: int, n: int) -> list[float]:
    """Hours at work of all people together on each of ``n`` days from the ``first`` on, counted from day 0."""
    hours = np.zeros(first + n)
    for number in run.plan.worker_calendar.tolist():
        calendar = run.plan.calendars[number]
        if calendar.endless:
            hours += 24.0
            continue
        since, until, day = calendar.upto(first + n)
        here = day < first + n
        np.add.at(hours, day[here], (until - since)[here] / MINUTES_PER_HOUR)
    return [float(one) for one in hours[first:]]


def find_days(
    scenario: Scenario, wish: str | None = None, seconds: float | None = None, as_it_is: bool = False,
    **options: Unpack[RunOptions],
) -> Answer:  # fmt: skip
    """What to do on which day under a plan that is searched for a wish; see ``Days`` and, for ``options``, ``RunOptions``.

    The search compares orders of operations and batches by the mean of the wish over a fixed set of luck (see
    ``search_order``). What it finds meets every named priority rule, and the file's own plan where it has one, on 512 runs of
    luck that it has not seen. Where it is not surely better there (95 %, paired), the best of them is the plan.

    Rows: those of ``plan_days`` for a run at likely times. Tables: ``PLANS`` (a row a plan, ``is_chosen``: the one the days are
    of; ``..._saved_...``: against the best named rule; ``likely_end_days`` and ``bound_days``: end of the last piece at likely
    times and a proven lower bound of it, days after midnight of the first day, of which it is ``above_bound_share``), ``LINES``
    of the plan, ``ROUNDS`` of glue-ups (``find_rounds``), ``BOARD`` (``build_clamp_board``), ``NIGHTS`` (``list_nights``),
    ``NO_FITS`` (``list_no_fit``), ``OPEN_TIMES`` (``list_open_times``), ``WEEKS``.

    Raises InputError for bad arguments, Cancelled if stopped before two replications were finished.
    """
    return ask(Days(scenario, wish, seconds, as_it_is), Execution.of(options))


def say_plan(answer: Answer) -> str:
    """Which plan the days of an answer are of, in a few words."""
    row = answer.tables[PLANS].loc[lambda table: table["is_chosen"]].iloc[0]
    if row["under"] == FOUND:
        return f"A plan that was searched, seed {answer.seed}."
    return f'What comes first: "{row["under"]}".'


def chosen_rule(answer: Answer) -> tuple[str, WorkPlan | None]:
    """(the priority rule under which the days of an answer are, its plan where it goes by one), as a file has them."""
    row = answer.tables[PLANS].loc[lambda table: table["is_chosen"]].iloc[0]
    assert answer.study is not None
    name = NOW if row["is_now"] else str(row["under"])
    run = answer.study.outcomes[name].scenario.run
    return run.priority, run.plan if is_planned(answer.study.outcomes[name].scenario) else None
