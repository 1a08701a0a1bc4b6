"""More clamps as a question: which alternatives are run, in which order, and what they come to."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    MATTERS_DAYS,
    NOW,
    USUAL,
    common_values,
    compare,
    put_interval,
    run_alternatives,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.break_even import PAYS_DAYS, BreakEven
from shopsim.answers.clamp_rows import COLUMNS, JUDGED, Row, build_curve, growth_row, is_unseen, order_row
from shopsim.answers.clamp_words import (
    ClampVerdict,
    find_verdict,
    run_rows,
    say_asked,
    say_choice,
    say_clamps,
    say_clamps_more,
    say_free_change,
    say_no_free_change,
    say_others,
    say_worse,
)
from shopsim.answers.growth import STEPS, build_alternatives, clamp_changes, clamp_steps, grow_clamps, grow_others
from shopsim.answers.question import Question
from shopsim.answers.wording import note_unseen, say_confidence, say_count
from shopsim.engine.worklist import build_worklist
from shopsim.errors import Cancelled, InputError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.say import say_plain
from shopsim.scenario.batches import rules_to_compare
from shopsim.scenario.files import change_scenario
from shopsim.scenario.model import Scenario
from shopsim.study.choosing import find_survivors
from shopsim.study.execution import Execution
from shopsim.study.results import Study
from shopsim.study.searching import FIRST, Search, search_best

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

    After the alternatives come the clamps under a better priority rule, if runs show one (``further``). ``asked``: clamps
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
        until_sure: bool = False,
        matters_days: float = MATTERS_DAYS,
        asked: Mapping[str, int] | None = None,
    ) -> None:
        self.scenario, self.worth = scenario, BreakEven(threshold, day_worth)
        self.until_sure, self.matters_days = until_sure, matters_days
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
        self.orders: dict[str, str] = {scenario.run.priority: NOW}
        self.of_orders: dict[str, Scenario] = {NOW: scenario}
        for order in rules_to_compare(scenario):
            if order not in self.orders:
                changed, _ = try_change(scenario, {"run.priority": order})
                if changed is not None:
                    self.orders[order] = f"priority rule {order}"
                    self.of_orders[self.orders[order]] = changed
        self.of_clamps, no_clamps = build_alternatives(scenario, self.clamps)
        self.of_others, no_others = build_alternatives(scenario, self.others)
        self.why_not = {**no_clamps, **no_others}
        own = {AS_ASKED: change_scenario(scenario, clamp_changes(scenario, self.asked))} if self.asked else {}
        self._alternatives = {**self.of_orders, **self.of_clamps, **self.of_others, **own}

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Priority rules, more clamps of each kind, one more of everything else, and the clamps that were asked for."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications of each alternative, or at most in a search."""
        return MAX_SEARCH_REPLICATIONS if self.until_sure else USUAL

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """The answer from the alternatives, then one with the clamps under a better priority rule, if there is one."""
        if self.until_sure:
            yield self._search(execution)
            return
        first = run_alternatives(self.alternatives, execution)
        further = self.further(first) if last and first.complete and not execution.stopped else {}
        if not further or execution.first_tasks:
            yield self.answer(first)
        if further:
            yield self.answer(run_alternatives({**self.alternatives, **further}, execution))

    def _search(self, execution: Execution) -> Answer:
        """Everything a few times, then the best priority rule, then the best number of clamps under it, until each is sure."""
        most = execution.replications
        assert most is not None
        first = run_alternatives(self.alternatives, replace(execution, replications=min(FIRST, most)))
        if not first.complete:
            return self.answer(first)
        deltas = {JUDGED: self.matters_days}
        orders = search_best(self.of_orders, deltas, confidence=CONFIDENCE, execution=execution).study
        outcomes = {**first.outcomes, **orders.outcomes}
        if not orders.complete:
            return self.answer(replace(first, outcomes=outcomes, wanted=most))
        order = self.better_order(orders)
        suffix, base = ("", NOW) if order is None else (f", {order}", self.orders[order])
        clamps = {base: self.of_orders[base], **(self.further(orders) if order else self.of_clamps)}
        try:
            search = search_best(
                clamps, deltas, cost_in_days=self.cost_in_days(suffix), confidence=CONFIDENCE, execution=execution
            )
        except Cancelled:  # too soon for the clamps under a better order; under today's they were run a few times
            return self.answer(replace(first, outcomes=outcomes, wanted=most))
        outcomes |= search.study.outcomes
        least = min(outcome.replications.size for outcome in outcomes.values())
        wanted = least if search.study.complete else most
        return self.answer(replace(first, outcomes=outcomes, wanted=wanted), search)

    def better_order(self, study: Study) -> str | None:
        """The built-in priority rule that is surely better than today's by a difference that matters, or None."""
        rivals = [order for order, name in self.orders.items() if name != NOW]
        if not rivals:
            return None
        best = min(rivals, key=lambda order: float(study.values(self.orders[order], JUDGED).mean()))
        saved = compare(study, NOW, self.orders[best], JUDGED, len(rivals))
        return best if saved.low > 0 and saved.value >= MATTERS_DAYS else None

    def further(self, study: Study) -> dict[str, Scenario]:
        """The clamps under the better priority rule, if there is one: alternatives still to be run."""
        order = self.better_order(study)
        if order is None:
            return {}
        return build_alternatives(self.of_orders[self.orders[order]], self.clamps, f", {order}")[0]

    def cost_in_days(self, suffix: str = "") -> dict[str, float]:
        """For each number of clamps what it has to save before it pays, in days."""
        return {g.label + suffix: self.worth.days_to_pay(g.added, g.price) for g in self.clamps}

    def answer(self, study: Study, search: Search | None = None) -> Answer:
        """Table and sentence; see ``compare_clamps``. ``study`` may or may not hold the further alternatives.

        ``search``: what a search among the clamps of the same study, under the best order, came to.
        """
        today: str = self.scenario.run.priority
        better = self.better_order(study)
        rows = [self._order_row(study, order) for order in self.orders if order != today]
        curves: list[tuple[str, str, str]] = []
        if all(label in study.outcomes for label in self.of_clamps):
            curves.append((today, NOW, ""))
        if better is not None:
            suffix = f", {better}"
            if all(label + suffix in study.outcomes for label in self.of_clamps):
                curves.append((better, self.orders[better], suffix))
        priced: list[Row] = []
        told: ClampVerdict | None = None
        order = today
        for order, base, suffix in curves:
            told = self._choose(study, base, suffix, search if (order, base, suffix) == curves[-1] else None)
            priced = build_curve(
                study, self.clamps, self.scenario.shop, self.worth, order=order, base=base, suffix=suffix,
                survivors=told.survivors, why_not=self.why_not,
            )  # fmt: skip
            rows += priced
        others = [
            growth_row(
                study, other, self.scenario.shop, today, NOW, "", len(self.others), self.why_not.get(other.label, "")
            )
            for other in self.others
        ]
        rows += others
        runs = max(int(row["replications"]) for row in rows) if rows else study.replications
        verdict = find_verdict(run_rows(priced))
        asked = self._list_asked(study) if self.asked else pd.DataFrame()
        sentence = " ".join(
            [
                *([say_asked(row) for row in asked.to_dict("records")]),
                *([say_free_change(self._order_row(study, better), today, verdict)] if better else []),
                *say_clamps(priced, order if order != today else None, self.unused, runs, better is not None),
                *(say_choice(told, priced, self.matters_days) if told and search is not None else []),
                *say_worse(priced),
                *say_others(others, priced),
                *([say_no_free_change(today)] if len(self.orders) > 1 and not better else []),
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{'up to ' if search else ''}{say_count(runs, 'replication')} on the same luck.",
            ]
        )
        table = pd.DataFrame(rows, columns=list(COLUMNS))
        tables = {STEPS_BEYOND: table[table["beyond"] > 0]} if (table["beyond"] > 0).any() else {}
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

    def _order_row(self, study: Study, order: str) -> Row:
        return order_row(study, order, self.orders[order], NOW, max(1, len(self.orders) - 1))

    def _choose(self, study: Study, base: str, suffix: str, search: Search | None) -> ClampVerdict:
        """Which numbers of clamps may be the best once each has to pay for itself; today's among them."""
        names = [base, *(label + suffix for label in self.of_clamps)]
        if search is not None:
            choice = search.choices[JUDGED]
            return ClampVerdict(search.survivors(JUDGED), base, suffix, choice.replications, choice.settled)
        cost_in_days = self.cost_in_days(suffix)
        values = common_values(study, names, JUDGED) + np.array([cost_in_days.get(name, 0.0) for name in names])
        kept = np.flatnonzero(find_survivors(values, CONFIDENCE))
        best_first = kept[np.argsort(values.mean(axis=0)[kept], kind="stable")]
        return ClampVerdict(tuple(names[n] for n in best_first), base, suffix, len(values), kept.size == 1)

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
        notes += [f"Nothing in the file uses the {name}, so more of it changes nothing." for name in self.unused]
        return tuple(notes)
