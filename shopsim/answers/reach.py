"""What it would take: which smallest changes have all orders, or one, out by a day with a chance that is asked for."""

from __future__ import annotations

import datetime as dt
import json
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.promise_policy import date_of
from shopsim.answers.question import Question, ask
from shopsim.answers.reach_asked import find_order, read_day, read_locked
from shopsim.answers.reach_levers import apply_levers, list_reach_levers
from shopsim.answers.reach_words import say_left_out, say_reach
from shopsim.answers.wording import join_words
from shopsim.errors import InputError
from shopsim.say import say_plain
from shopsim.scenario.check_size import count_tasks
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.intervals import quantile
from shopsim.study.order_queue import OrderQueue
from shopsim.study.plan_search import SEARCH_FROM
from shopsim.study.reaching import CONFIRM, LOOK, REACHES, ConfirmedSet, LeverSet, SetSearch, find_sets
from shopsim.study.results import Study
from shopsim.study.runner import run_range
from shopsim.study.until_told import run_counted

#: Keys: the answer, and its further tables.
REACH, FRONTIER, SEARCHED = "what_it_would_take", "chance_by_day", "what_was_searched"
#: Tasks of the first looks at all sets together, and the most sets, where nothing is said; seconds that it may take.
MOST_TASKS, MOST_SETS, SECONDS = 30_000_000, 3_000, 120.0
#: Sets that are listed, and days of the table of chances.
MAX_LISTED, MAX_DAYS = 12, 60
#: The chance that is asked where nothing is said, in percent (common practice, no source).
CHANCE = 90.0


class Reach(Question[Answer]):
    """What it would take; see ``find_reach``. Raises InputError for what cannot be asked."""

    def __init__(
        self,
        scenario: Scenario,
        by: str | dt.date | None = None,
        chance: float = CHANCE,
        order: str | None = None,
        lock: str | None = None,
        budget: float | None = None,
        seconds: float = SECONDS,
    ) -> None:
        self.scenario, self.seconds, self.budget = scenario, seconds, budget
        self.queue = OrderQueue(scenario)
        self.by = read_day(by, scenario)
        self.by_day = (self.by - self.queue.close).days
        if self.by_day < 0:
            raise InputError(f"by · {self.by} is before orders close on {self.queue.close} · ask for a later day")
        if isinstance(chance, bool) or not 1 <= chance <= 99.9:
            raise InputError(
                f"chance · {say_plain(chance)} is no chance in percent · write one from 1 to 99.9, like 90"
            )
        self.chance = chance / 100
        self.place = find_order(self.queue, order)
        self.order = order
        self.locked = [*scenario.run.locked, *read_locked(lock)]
        levers = list_reach_levers(scenario, self.locked)
        self.levers = [one for one in levers if budget is None or one.price is None or one.price <= budget]
        if self.place is not None:  # whoever is asked for is not turned away
            self.levers = [one for one in self.levers if one.thing != "orders"]

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today; sets come on the way."""
        return {NOW: self.scenario}

    @property
    def usual(self) -> int:
        """Fresh replications by which a set is confirmed."""
        return CONFIRM

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer; there is none before the search is through."""
        if not last:
            return
        most_sets = max(len(self.levers) + 1, min(MOST_SETS, MOST_TASKS // (LOOK * count_tasks(self.scenario))))
        meter = Meter(execution.on_progress, LOOK * most_sets + 8 * CONFIRM)
        ends = time.monotonic() + self.seconds
        sets = _Sets(self, execution, meter, ends)
        found = find_sets(
            [lever.stands for lever in self.levers], sets.run, self.by_day, self.chance, most_sets, sets.is_over
        )
        meter.finish()
        yield self.answer(found, sets)

    def answer(self, found: SetSearch, sets: _Sets) -> Answer:
        """Table and sentence of what the search came to."""
        reached = sorted(found.reached, key=self._key)
        about = sorted(found.about, key=self._key)
        nearest = [found.nearest] if found.nearest is not None and found.nearest.levers and not about else []
        listed = [found.today, *[*reached, *about, *nearest][:MAX_LISTED]]
        rows = pd.DataFrame([self._row(one, sets) for one in listed])
        room = self.by_day - int(quantile(found.today.days, self.chance)) if found.today.stands == REACHES else 0
        searched = pd.DataFrame([self._counts(found)])
        if found.today.stands == REACHES:
            searched["room_days"] = room
        tables = {FRONTIER: self._frontier(listed, sets), SEARCHED: searched}
        sentence = say_reach(rows, searched, self.by, self.chance, self.order, found.today.stands == REACHES)
        study = sets.study(listed)
        notes = say_left_out(searched, self.locked)
        if len(reached) + len(about) > MAX_LISTED:
            notes.insert(0, f"The first {MAX_LISTED} sets are listed.")
        if found.stopped and not sets.execution.stopped:
            notes.insert(
                0,
                f"Ended after {say_plain(self.seconds)} seconds, before all that was meant to be run was run; --time gives it longer.",
            )
        answer = build_answer(study, NOW, REACH, rows, sentence, tuple(notes), tables)
        return replace(answer, partial=answer.partial or found.stopped)

    def say_set(self, levers: LeverSet) -> str:
        """What a set is, in words."""
        return join_words([self.levers[n].what for n in levers]) if levers else "as today"

    def _key(self, one: ConfirmedSet) -> tuple[int, float, int, float]:
        """Cheapest first: by what the dearest lever asks for, then by price, then fewer levers, then the better chance."""
        levers = [self.levers[n] for n in one.levers]
        price = sum(lever.price or 0.0 for lever in levers)
        return max(lever.tier for lever in levers), price, len(levers), -one.chance.value

    def _row(self, one: ConfirmedSet, sets: _Sets) -> dict[str, Any]:
        levers = [self.levers[n] for n in one.levers]
        close, nan = self.queue.close, float("nan")
        known = all(lever.price is not None for lever in levers)
        return {
            "what": self.say_set(one.levers),
            "is_now": not one.levers,
            "stands": one.stands,
            "reach_chance": one.chance.value,
            "reach_chance_least": one.chance.low,
            "reach_chance_most": one.chance.high,
            "expected": date_of(close, int(quantile(one.days, 0.5))),
            "reached_by": date_of(close, int(quantile(one.days, self.chance))),
            "cost": sum(lever.price or 0.0 for lever in levers) if known else nan,
            "asks": "; ".join(dict.fromkeys(lever.asks for lever in levers)),
            "levers": len(levers),
            "replications": int(one.days.size),
            "changes": json.dumps(sets.changes(one.levers), default=str, ensure_ascii=False) if levers else "",
        }

    def _frontier(self, listed: Sequence[ConfirmedSet], sets: _Sets) -> pd.DataFrame:
        """For each listed set the chance of each day, from the soonest that any of them may be done to the latest."""
        first = min(int(one.days.min()) for one in listed)
        last = max(self.by_day, *(int(quantile(one.days, 0.99)) for one in listed))
        days = np.unique(np.append(np.linspace(first, last, MAX_DAYS).round().astype(int), self.by_day))
        return pd.DataFrame(
            [
                {
                    "what": self.say_set(one.levers),
                    "day": date_of(self.queue.close, int(day)),
                    "reach_chance": float((one.days <= day).mean()),
                    "is_asked": bool(day == self.by_day),
                }
                for one in listed
                for day in days
            ]
        )

    def _counts(self, found: SetSearch) -> dict[str, Any]:
        return {
            "levers_tried": len(self.levers),
            "sets_run": max(0, found.n_run - 1),  # without today
            "sets_reach": len(found.reached),
            "sets_about": len(found.about),
            "left_by_bound": found.n_bound,
            "left_as_held": found.n_held,
            "fell_short": found.n_failed,
            "left_by_limit": found.n_left,
            "impossible": found.n_impossible,
        }


class _Sets:
    """Sets of levers as scenarios, and their runs: on the luck of the search, and on the luck of all other answers."""

    def __init__(self, question: Reach, execution: Execution, meter: Meter, ends: float) -> None:
        self.question, self.execution, self.meter, self.ends = question, execution, meter, ends
        self.made: dict[LeverSet, tuple[Scenario | None, dict[str, Any]]] = {(): (question.scenario, {})}

    def is_over(self) -> bool:
        """Whether the user stops, or time is up."""
        return self.execution.stopped or time.monotonic() > self.ends

    def scenario(self, levers: LeverSet) -> Scenario | None:
        """The scenario with these levers, None where it cannot be."""
        if levers not in self.made:
            question = self.question
            chosen = [question.levers[n] for n in levers]
            price = sum(lever.price or 0.0 for lever in chosen)
            dear = question.budget is not None and price > question.budget
            self.made[levers] = (None, {}) if dear else apply_levers(question.scenario, chosen)
        return self.made[levers][0]

    def changes(self, levers: LeverSet) -> dict[str, Any]:
        """What they change, by places."""
        self.scenario(levers)
        return self.made[levers][1]

    def run(self, sets: Sequence[LeverSet], first: int, n: int, fresh: bool) -> Mapping[LeverSet, np.ndarray | None]:
        """The days of each set; see ``RunSets``."""
        there = {str(one): scenario for one in sets if (scenario := self.scenario(one)) is not None}
        if not there:
            return dict.fromkeys(sets)
        execution = replace(self.meter.stage(self.execution), should_stop=None)
        if fresh:
            study = run_counted(there, dict.fromkeys(there, first + n), execution)
        else:
            study = run_range(there, execution, SEARCH_FROM + first, n)
        days: dict[LeverSet, np.ndarray | None] = {}
        for one in sets:
            if str(one) not in there:
                days[one] = None
                continue
            table = study.outcomes[str(one)].order_days
            own = table.max(axis=1) if self.question.place is None else table[:, self.question.place]
            days[one] = own[first:] if fresh else own
        return days

    def study(self, listed: Sequence[ConfirmedSet]) -> Study:
        """The confirmed runs of what is listed, by names."""
        names = {NOW if not one.levers else self.question.say_set(one.levers): one for one in listed}
        scenarios = {
            name: scenario for name, one in names.items() if (scenario := self.scenario(one.levers)) is not None
        }
        counts = {name: names[name].days.size for name in scenarios}
        return run_counted(scenarios, counts, replace(self.execution, on_progress=None, should_stop=None))


def find_reach(
    scenario: Scenario,
    by: str | dt.date | None = None,
    chance: float = CHANCE,
    *,
    order: str | None = None,
    lock: str | None = None,
    budget: float | None = None,
    seconds: float = SECONDS,
    **options: Unpack[RunOptions],
) -> Answer:
    """Which smallest sets of changes have every order out by a day with a chance: what it would take.

    ``by``: the day, default ``run.promised``; ``chance`` in percent; ``order``: one order by its id, default all of them;
    ``lock``: sorts of levers to leave alone, with commas between, beside those of ``run.locked``; ``budget``: the most that what has a
    known price may cost together; ``seconds``: after which it ends with what is confirmed by then. Levers, alone and in sets of up to three: see
    ``list_reach_levers``. Sets are searched on luck of their own and confirmed on the luck of all other answers, 1,537 replications, or 6,148 where the
    interval holds the asked chance (see ``find_sets``); only confirmed chances are told. Same seed, same answer, unless time or the user ended it.

    Rows: today, then the sets that reach it, none contained in another, cheapest first, then those about there; where there is neither, the nearest: ``what``,
    ``is_now``, ``stands`` ("reaches", "about there", "falls short"), ``reach_chance`` with ``_least`` and ``_most`` (Wilson, 90 %), ``expected`` (the likely day),
    ``reached_by`` (the day that has the asked chance), ``cost`` (nan: not known), ``asks``, ``levers`` (how many), ``replications``, ``changes`` (JSON, by
    places). Further tables: ``FRONTIER``, the chance of each day for each of them; ``SEARCHED``: how many sets were run and left out, and why.
    """
    question = Reach(scenario, by, chance, order, lock, budget, seconds)
    return ask(question, Execution.of(options))
