"""More clamps as a question: which alternatives are run, in which order, and what they come to."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import partial

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    FIRST,
    MATTERS_DAYS,
    NOW,
    common_values,
    compare,
    count_at_most,
    put_interval,
    run_first,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.break_even import PAYS_DAYS, BreakEven
from shopsim.answers.clamp_rows import COLUMNS, Row, build_curve, growth_row, is_unseen
from shopsim.answers.clamp_words import (
    find_verdict,
    run_rows,
    say_asked,
    say_clamps,
    say_clamps_more,
    say_free_change,
    say_others,
    say_worse,
)
from shopsim.answers.growth import (
    STEPS,
    Improvement,
    build_alternatives,
    clamp_changes,
    clamp_steps,
    grow_clamps,
    grow_others,
)
from shopsim.answers.levers import (
    COSTS_NOTHING,
    JUDGED,
    find_best_lever,
    is_open,
    is_rough,
    is_surely_better,
    list_levers,
    name_lever,
    say_none_helps,
    tabulate_levers,
)
from shopsim.answers.question import Question
from shopsim.answers.wording import note_unseen, say_confidence, say_count
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.say import say_plain
from shopsim.scenario.files import change_scenario
from shopsim.scenario.model import Scenario
from shopsim.study.choosing import find_survivors
from shopsim.study.execution import Execution, Meter
from shopsim.study.results import Study
from shopsim.study.searching import search_best
from shopsim.study.until_told import join_studies, run_until_told

#: Key of the answer.
MORE_CLAMPS = "more_clamps"
#: The alternative with the clamps that were asked for.
AS_ASKED = "as asked"
#: The further table of one row: what these would save.
ASKED = "clamps_that_were_asked_for"
#: The further table: dearer steps, judged against the last one that pays.
STEPS_BEYOND = "steps_beyond_those_that_pay"


class MoreClamps(Question[Answer]):
    """What more clamps would save; see ``compare_clamps``. Raises InputError for bad arguments.

    After the alternatives come the clamps under whatever costs nothing and surely helps most (``further``). ``asked``: clamps
    of each kind that the maker thinks of, whose saving then stands foremost in the sentence.
    """

    def __init__(
        self,
        scenario: Scenario,
        kinds: Sequence[str] | None = None,
        add: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
        threshold: float = PAYS_DAYS,
        everything: bool = True,
        *,
        steps: Sequence[int] = STEPS,
        day_worth: float | None = None,
        matters_days: float = MATTERS_DAYS,
        asked: Mapping[str, int] | None = None,
    ) -> None:
        self.scenario, self.worth, self.matters_days = scenario, BreakEven(threshold, day_worth), matters_days
        self.asked = dict(asked or {})
        work = build_worklist(scenario)
        step_of = clamp_steps(work)
        known = [kind.name for kind in scenario.shop.clamps]
        for name in [*(kinds or ()), *(add if isinstance(add, Mapping) else ())]:
            if name not in known:
                owned = ", ".join(known) or "no clamps"
                raise InputError(f'clamp kind "{name}" is not in the shop · the shop has {owned}')
        wanted = list(dict.fromkeys(kinds)) if kinds is not None else known
        self.unused = [name for name in wanted if name not in step_of]
        used = [name for name in wanted if name in step_of]
        self.clamps = grow_clamps(scenario, work, used, add, steps)
        self.others = [other for other in grow_others(scenario, work) if everything or other.thing == "worker"]
        self.levers = list_levers(scenario)
        self.of_levers, _ = build_alternatives(scenario, self.levers)
        self.of_clamps, no_clamps = build_alternatives(scenario, self.clamps)
        self.of_others, no_others = build_alternatives(scenario, self.others)
        self.why_not = {**no_clamps, **no_others}
        own = {AS_ASKED: change_scenario(scenario, clamp_changes(scenario, self.asked))} if self.asked else {}
        self._alternatives = {NOW: scenario, **self.of_levers, **self.of_clamps, **self.of_others, **own}

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today, what costs nothing, more clamps of each kind, one more of everything else, and the clamps that were asked for."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications of each alternative at most."""
        return MAX_SEARCH_REPLICATIONS

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """The answer from a first look at everything; then from as many replications as it takes to tell, of clamps under
        whatever costs nothing and surely helps most."""
        meter = Meter(execution.on_progress, count_at_most(self.alternatives, execution))
        first = run_first(self.alternatives, meter.stage(execution), last)
        if not last or not first.complete or execution.stopped:
            yield self.answer(first, find_best_lever(first, self.levers))
            return
        search = search_best(
            {NOW: self.scenario, **self.of_levers}, {JUDGED: self.matters_days}, confidence=CONFIDENCE, first_look=FIRST,
            execution=meter.stage(execution),
        )  # fmt: skip
        best = next((lever for lever in self.levers if lever.label == search.survivors(JUDGED)[0]), None)
        further = self.further(join_studies(first, search.study), best)
        study = run_until_told(
            {**self.alternatives, **further}, partial(self.find_open, best=best), meter.stage(execution)
        )
        meter.finish()
        yield self.answer(join_studies(study, search.study), best)

    def further(self, study: Study, lever: Improvement | None) -> dict[str, Scenario]:
        """The clamps under what costs nothing, where it surely helps."""
        if lever is None or not is_surely_better(study, lever, len(self.levers)):
            return {}
        return build_alternatives(self.of_levers[lever.label], self.clamps, f", {lever.label}")[0]

    def find_open(self, study: Study, best: Improvement | None) -> set[str]:
        """Alternatives of which it cannot be told yet whether they pay, or help, and what they are compared with."""
        curves = self._curves(study, best)
        _, base, suffix = curves[-1]
        open_: set[str] = set()
        rows = self._curve_rows(study, *curves[-1], survivors=())
        for kind in {row["kind"] for row in rows if row["may_pay"]}:
            open_ |= {growth.label + suffix for growth in self.clamps if growth.kind == kind} & {*study.outcomes}
        for one in (*self.others, *([best] if best else [])):
            if one.label in study.outcomes:
                saved = compare(study, NOW, one.label, JUDGED, len(self.levers if one is best else self.others))
                if is_open(saved) or (one is best and is_rough(saved)):
                    open_.add(one.label)
        return {NOW, base, *open_} if open_ else set()

    def _curves(self, study: Study, best: Improvement | None) -> list[tuple[str, str, str]]:
        """(what costs nothing, today's clamps under it, what it adds to a name): as the shop is, then under what surely helps."""
        curves = [("", NOW, "")]
        if best is not None and is_surely_better(study, best, len(self.levers)):
            suffix = f", {best.label}"
            if all(label + suffix in study.outcomes for label in self.of_clamps):
                curves.append((name_lever(best), best.label, suffix))
        return curves

    def _curve_rows(self, study: Study, under: str, base: str, suffix: str, survivors: Collection[str]) -> list[Row]:
        return build_curve(
            study, self.clamps, self.scenario.shop, self.worth, under=under, base=base, suffix=suffix, survivors=survivors,
            why_not=self.why_not,
        )  # fmt: skip

    def cost_in_days(self, suffix: str = "") -> dict[str, float]:
        """For each number of clamps what it has to save before it pays, in days."""
        return {g.label + suffix: self.worth.days_to_pay(g.added, g.price) for g in self.clamps}

    def answer(self, study: Study, best: Improvement | None) -> Answer:
        """Table and sentence; see ``compare_clamps``. ``study`` may or may not hold the clamps under ``best``, the best of what
        costs nothing."""
        better = best if best is not None and is_surely_better(study, best, len(self.levers)) else None
        free = tabulate_levers(study, self.levers, best)
        priced: list[Row] = []
        rows: list[Row] = []
        under = ""
        for under, base, suffix in self._curves(study, best):
            priced = self._curve_rows(study, under, base, suffix, self._may_be_best(study, base, suffix))
            rows += priced
        others = [
            growth_row(
                study, other, self.scenario.shop, "", NOW, "", len(self.others), self.why_not.get(other.label, "")
            )
            for other in self.others
        ]
        rows += others
        runs = max(outcome.replications.size for outcome in study.outcomes.values())
        verdict = find_verdict(run_rows(priced))
        asked = self._list_asked(study) if self.asked else pd.DataFrame()
        told = [row for row in free.to_dict("records") if better is not None and row["what"] == better.what]
        sentence = " ".join(
            [
                *([say_asked(row) for row in asked.to_dict("records")]),
                *(say_free_change(row, verdict) for row in told),
                *say_clamps(priced, under, self.unused, runs, bool(told)),
                *say_worse(priced),
                *say_others(others, priced),
                *([say_none_helps(self.levers)] if len(free) and not told else []),
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{'up to ' if runs > study.replications else ''}{say_count(runs, 'replication')} on the same luck.",
            ]
        )
        table = pd.DataFrame(rows, columns=list(COLUMNS))
        tables = {COSTS_NOTHING: free} if len(free) else {}
        if (table["beyond"] > 0).any():
            tables[STEPS_BEYOND] = table[table["beyond"] > 0]
        if len(asked):
            tables[ASKED] = asked
        return build_answer(study, NOW, MORE_CLAMPS, table, sentence, self._notes(rows, study.replications), tables)

    def _list_asked(self, study: Study) -> pd.DataFrame:
        """One row: what the clamps that were asked for cost and would save."""
        prices = [kind.price for kind in self.scenario.shop.clamps if kind.name in self.asked]
        cost = sum((kind.price or 0.0) * self.asked.get(kind.name, 0) for kind in self.scenario.shop.clamps)
        row: Row = {"what": say_clamps_more(self.asked), "cost": math.nan if None in prices else cost}
        for measure, saved in ((JUDGED, "average_saved_days"), ("last_ship_day", "last_saved_days")):
            put_interval(row, saved, compare(study, NOW, AS_ASKED, measure))
        return pd.DataFrame([row])

    def _may_be_best(self, study: Study, base: str, suffix: str) -> set[str]:
        """Which numbers of clamps may be the best once each has to pay for itself; today's among them."""
        names = [base, *(label + suffix for label in self.of_clamps)]
        cost_in_days = self.cost_in_days(suffix)
        values = common_values(study, names, JUDGED) + np.array([cost_in_days.get(name, 0.0) for name in names])
        return {names[n] for n in np.flatnonzero(find_survivors(values, CONFIDENCE))}

    def _notes(self, rows: Sequence[Row], replications: int) -> tuple[str, ...]:
        notes = [
            "Days saved are days by which the average (or last) order ships sooner. A step pays if even the low end of "
            f"what it saves is at least {self.worth.say()}; a dearer step has to save that beyond the last one that pays.",
            "A step is what one glue-up takes of that kind, so that one glue-up more fits; in between, next to nothing "
            "changes.",
        ]
        if self.worth.money_a_day is not None and any(g.price is None for g in self.clamps):
            notes.append(
                f"Where the file gives no price, each clamp has to save {say_plain(self.worth.days_a_clamp)} day."
            )
        if any(is_unseen(row) for row in rows):
            notes.append(note_unseen(replications, max(len(self.clamps), len(self.others), 1), CONFIDENCE))
        if any(row["is_worse"] for row in rows):
            notes.append(
                "Some steps end later than the one before. That is no mistake: under a fixed priority rule, more clamps "
                "can lead to an unlucky order of work (Graham 1966). Spare clamps can stay on the wall."
            )
        under = {row["under"] for row in rows} - {""}
        notes += [f"Clamps are shown with {what}; as the shop is they stand in the table as a file." for what in under]
        notes += [f"Nothing in the file uses the {name}, so more of it changes nothing." for name in self.unused]
        return tuple(notes)
