"""What holds the run back: the days that one more of each thing would save, beside where the time goes."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Unpack

import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    NOW,
    compare,
    count_at_most,
    put_interval,
    run_first,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.growth import Improvement, build_alternatives
from shopsim.answers.holdup_words import say_savings, say_time
from shopsim.answers.levers import (
    COSTS_NOTHING,
    FREE,
    JUDGED,
    TRIED_FIRST,
    is_open,
    list_best_levers,
    list_levers,
    say_free_too,
    tabulate_levers,
)
from shopsim.answers.one_more import list_more, open_share
from shopsim.answers.question import Question, ask
from shopsim.answers.wording import note_unseen, say_confidence, say_count
from shopsim.columns import UNSEEN, estimate_keys
from shopsim.engine.task_holdups import (
    CLOSED,
    CURING,
    IN_CLAMPS,
    MATERIAL,
    MATES,
)
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.model import Scenario
from shopsim.study.accounts import Accounts, take_accounts
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.results import Study
from shopsim.study.until_told import run_until_told

#: Runs whose time is accounted for, where nothing is said; and in a look before the last.
ACCOUNTED, FIRST_ACCOUNTED = 20, 5
#: Tasks in all of them together from which on there are fewer, FEWEST at least: each is a few minutes' work where it has 400,000.
ACCOUNTED_TASKS, FEWEST_ACCOUNTED = 500_000, 2
#: Key of the answer.
HOLDS_BACK = "what_holds_the_run_back"
#: Keys of the further tables.
OF_PIECE, OF_RUN, OF_BATCHES, OF_PIECES, OF_OPERATIONS = (
    "where_the_time_of_a_piece_goes", "where_the_time_of_the_run_goes", "time_by_batch", "time_by_piece",
    "time_by_operation",
)  # fmt: skip
#: Columns of the table.
COLUMNS = (
    "what", "thing", "kind", "added", *estimate_keys("average_saved_days"),
    *estimate_keys("last_saved_days"), "waited_days", "cost", "cost_a_day", "is_sure", "remark",
)  # fmt: skip
#: Parts of elapsed time that pass on the clock, whether the shop is open or not.
_ON_THE_CLOCK = (CURING, IN_CLAMPS, CLOSED, MATERIAL, MATES)


class Holdups(Question[Answer]):
    """What holds the run back; see ``find_holdups``. InputError where ``accounted`` is no number of runs."""

    def __init__(self, scenario: Scenario, accounted: int | None = None) -> None:
        work = build_worklist(scenario)
        if accounted is None:
            accounted = min(ACCOUNTED, max(FEWEST_ACCOUNTED, ACCOUNTED_TASKS // work.n_tasks))
        if isinstance(accounted, bool) or not isinstance(accounted, int) or accounted < 1:
            raise InputError(f"accounted = {accounted!r} is not a number of runs · write a whole number from 1")
        self.scenario, self.accounted = scenario, accounted
        self.levers, self.more = list_levers(scenario), list_more(scenario, work)
        of_levers, _ = build_alternatives(scenario, self.levers)
        built, self.why_not = build_alternatives(scenario, self.more)
        self._alternatives = {NOW: scenario, **of_levers, **built}

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """What costs nothing, and one more of everything, each by itself."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications of each at most."""
        return MAX_SEARCH_REPLICATIONS

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer, from as many runs as it takes to tell what each saves; after a stop one run is accounted for all the
        same, as savings alone would be half of it."""
        meter = Meter(execution.on_progress, count_at_most(self.alternatives, execution))
        study = run_first(self.alternatives, meter.stage(execution), last)
        if last and study.complete:
            study = run_until_told(self.alternatives, self.find_open, meter.stage(execution))
            meter.finish()
        accounted = (self.accounted if study.complete else 1) if last else min(FIRST_ACCOUNTED, self.accounted)
        yield self.answer(study, take_accounts(self.scenario, study.outcomes[NOW].replications[:accounted], execution))

    def find_open(self, study: Study) -> set[str]:
        """What may yet save as much as matters, with today."""
        open_ = {
            one.label
            for listed in (self.levers, self.more)
            for one in listed
            if one.label in study.outcomes and is_open(compare(study, NOW, one.label, JUDGED, len(listed)))
        }
        return {NOW, *open_} if open_ else set()

    def answer(self, study: Study, accounts: Accounts) -> Answer:
        """Table, further tables and sentence; see ``find_holdups``."""
        share = open_share(self.scenario)
        free = tabulate_levers(study, self.levers)
        listed = [*list_best_levers(study, self.levers), *self.more]
        rows = [self._row(study, one, accounts, share) for one in listed]
        rows.sort(
            key=lambda row: (
                row["thing"] not in FREE, math.isnan(row["average_saved_days"]), -row["average_saved_days"],
            )
        )  # fmt: skip
        paid = [row for row in rows if row["thing"] not in FREE]
        runs = max(outcome.replications.size for outcome in study.outcomes.values())
        tables = {
            **({COSTS_NOTHING: free} if len(free) else {}),
            OF_PIECE: accounts.piece,
            OF_RUN: accounts.run,
            OF_BATCHES: accounts.batches,
            OF_PIECES: accounts.pieces,
            OF_OPERATIONS: accounts.operations,
        }
        sentence = " ".join(
            [
                *say_free_too(
                    free, self.levers, "What costs nothing comes first" if free["is_sure"].any() else TRIED_FIRST
                ),
                *say_savings(paid, self.scenario, runs, "else " if len(free) else ""),
                say_time(accounts),
                "What a piece waits for and what would be saved are two numbers: the first adds up exactly, but only "
                "running again with more of it, as was done here, tells what it would save, and that decides.",
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{'up to ' if runs > study.replications else ''}{say_count(runs, 'replication')} on the same luck.",
            ]
        )
        notes = (
            "Each row is tried by itself, everything else as today. Days sooner are those of the average order.",
            "Days waited are those of an average piece that were put down to the thing, the first that was missing; a "
            "wait while the shop is open counts in days of the calendar, at the hours the shop keeps in a week.",
            f"Where the time goes was added up over {say_count(accounts.replications, 'run')}; in each the parts sum to "
            "the whole.",
            *(
                [note_unseen(study.replications, len(self.more), CONFIDENCE)]
                if any(_is_unseen(row) for row in rows)
                else []
            ),
            *(f"{one.what[0].upper()}{one.what[1:]}: {one.remark}." for one in self.more if one.remark),
        )
        return build_answer(study, NOW, HOLDS_BACK, _frame(rows), sentence, notes, tables)

    def _row(self, study: Study, one: Improvement, accounts: Accounts, share: float) -> dict[str, Any]:
        row: dict[str, Any] = dict.fromkeys(COLUMNS, math.nan)
        row.update(what=one.what, thing=one.thing, kind=one.kind, added=one.added, is_sure=False, remark=one.remark)
        row.update({f"{name}{UNSEEN}": False for name in ("average_saved_days", "last_saved_days")})
        row["cost"] = one.price if one.price is not None else math.nan
        if one.waits:
            row["waited_days"] = sum(_waited(accounts, part, detail, share) for part, detail in one.waits)
        if one.label not in study.outcomes:
            row["remark"] = f"cannot be run: {self.why_not[one.label]}" if one.label in self.why_not else "not run"
            return row
        for measure, saved_days in (("last_ship_day", "last_saved_days"), (JUDGED, "average_saved_days")):
            n = len(self.levers if one.thing in FREE else self.more)
            put_interval(row, saved_days, compare(study, NOW, one.label, measure, n))
        row["is_sure"] = row["average_saved_days_low"] > 0
        if one.price and row["average_saved_days_low"] > 0:
            row["cost_a_day"] = one.price / row["average_saved_days"]
        if row["average_saved_days_high"] < 0:
            row["remark"] = "later with more of it: it can upset the order of work"
        return row


def _frame(rows: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    kinds = {"what": "str", "thing": "str", "kind": "str", "remark": "str", "added": "int64", "is_sure": "bool"}
    kinds |= {f"{name}{UNSEEN}": "bool" for name in ("average_saved_days", "last_saved_days")}
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.astype({name: kinds.get(name, "float64") for name in COLUMNS})


def _is_unseen(row: Mapping[str, Any]) -> bool:
    """Whether a row says "in every run" of the average or the last order."""
    return bool(
        (row["average_saved_days_unseen"] and row["average_saved_days_low"] < 0)
        or (row["last_saved_days_unseen"] and row["last_saved_days_low"] < 0)
    )


def _waited(accounts: Accounts, part: str, detail: str | None, share: float) -> float:
    days = accounts.days(part, detail)
    return days if part in _ON_THE_CLOCK or not share else days / share


def find_holdups(
    scenario: Scenario,
    *,
    accounted: int | None = None,
    **options: Unpack[RunOptions],
) -> Answer:
    """What one more of everything would save, each by itself on the same luck, beside where the time goes.

    Tried are, before all else, what costs nothing (``list_levers``), of which the best of each sort is shown; then, of each kind of clamps in use so many that one glue-up more fits, also of those that one glue-up takes
    together; a person like each there is; one more of each station, and as many spots of each rack as one
    task fills; the shop's longest day an hour longer, for everybody who works then; a helper on Saturdays (on the longest
    day where the shop is closed then) who can do everything; half the set-up times; half the time in clamps; and half
    of all drying and curing (``cure``, ``wet`` and the wait before packing). Times by a law of the user's own stay.

    ``accounted``: of how many of the ``replications`` the elapsed time is added up, default 20, fewer in runs of more than
    25,000 tasks; one costs about twenty runs.
    ``options``: see ``RunOptions``; everything is run until it is told what it saves, ``replications``, default 2,000, at most.

    Rows, what costs nothing first, and then the largest saving first: ``what`` in words, ``thing``, ``kind``, ``added``; paired ``average_saved_days``
    and ``last_saved_days``, each with ``_low`` and ``_high``, all intervals of a measure together at
    95 % (Bonferroni); ``waited_days`` of an average piece put down to it today; ``cost`` and ``cost_a_day`` (days
    surely saved) where the file has a price; ``_unseen`` of each: no run showed a difference (see
    ``paired_difference``); ``is_sure``: the interval lies above 0; ``remark``. Days saved decide.

    Further tables, each with ``part``, ``detail``, ``minutes``, ``days``, ``share`` and means over the accounted runs, in
    which parts sum exactly: ``OF_PIECE``, ``OF_RUN``, ``OF_BATCHES``, ``OF_PIECES``, ``OF_OPERATIONS`` (see ``Accounts``).

    Raises InputError for bad arguments, Cancelled if stopped before two replications of all were finished.
    """
    return ask(Holdups(scenario, accounted), Execution.of(options))
