"""A comparison of clamps before and after it is run: which alternatives, and what they come to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS, NOW, common_values, compare, try_change
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.clamp_rows import COLUMNS, JUDGED, Row, build_curve, growth_row, is_unseen, order_row
from shopsim.answers.clamp_words import (
    Told,
    find_verdict,
    run_rows,
    say_choice,
    say_clamps,
    say_free_change,
    say_no_free_change,
    say_others,
    say_worse,
)
from shopsim.answers.growth import STEPS, build_alternatives, clamp_steps, grow_clamps, grow_others
from shopsim.answers.wording import note_unseen, say_confidence, say_count
from shopsim.answers.worth import Worth
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.scenario.batches import rules_to_compare
from shopsim.scenario.model import Scenario
from shopsim.study.choosing import find_kept
from shopsim.study.results import Study
from shopsim.study.searching import Search

#: Key of the answer.
MORE_CLAMPS = "more_clamps"
#: The further table: dearer steps, judged against the last one that pays.
STEPS_BEYOND = "steps_beyond_those_that_pay"


class ClampsPlan:
    """The alternatives of a comparison of clamps, before they are run.

    ``alternatives`` first; then ``further(study)``, which asks for the clamps under a better priority
    rule if the study shows one; then ``answer(study)``. Raises InputError for bad arguments.
    """

    def __init__(
        self,
        scenario: Scenario,
        kinds: Sequence[str] | None = None,
        add: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
        worth: Worth | None = None,
        everything: bool = True,
        steps: Sequence[int] = STEPS,
    ) -> None:
        self.scenario, self.worth = scenario, worth or Worth()
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
        self.alternatives = {**self.of_orders, **self.of_clamps, **self.of_others}

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

    def handicaps(self, suffix: str = "") -> dict[str, float]:
        """For each number of clamps what it has to save before it pays, in days."""
        return {g.label + suffix: self.worth.days_to_pay(g.added, g.price) for g in self.clamps}

    def answer(self, study: Study, search: Search | None = None, matters_days: float = MATTERS_DAYS) -> Answer:
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
        told: Told | None = None
        order = today
        for order, base, suffix in curves:
            told = self._choose(study, base, suffix, search if (order, base, suffix) == curves[-1] else None)
            priced = build_curve(
                study, self.clamps, self.scenario.shop, self.worth, order=order, base=base, suffix=suffix,
                kept=told.kept, why_not=self.why_not,
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
        sentence = " ".join(
            [
                *([say_free_change(self._order_row(study, better), today, verdict)] if better else []),
                *say_clamps(priced, order if order != today else None, self.unused, runs, better is not None),
                *(say_choice(told, priced, matters_days) if told and search is not None else []),
                *say_worse(priced),
                *say_others(others, priced),
                *([say_no_free_change(today)] if len(self.orders) > 1 and not better else []),
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{'up to ' if search else ''}{say_count(runs, 'replication')} on the same luck.",
            ]
        )
        table = pd.DataFrame(rows, columns=list(COLUMNS))
        tables = {STEPS_BEYOND: table[table["beyond"] > 0]} if (table["beyond"] > 0).any() else {}
        return build_answer(study, NOW, MORE_CLAMPS, table, sentence, self._notes(rows, study.replications), tables)

    def _order_row(self, study: Study, order: str) -> Row:
        return order_row(study, order, self.orders[order], NOW, max(1, len(self.orders) - 1))

    def _choose(self, study: Study, base: str, suffix: str, search: Search | None) -> Told:
        """Which numbers of clamps may be the best once each has to pay for itself; today's among them."""
        names = [base, *(label + suffix for label in self.of_clamps)]
        if search is not None:
            choice = search.choices[JUDGED]
            return Told(search.kept(JUDGED), base, suffix, choice.replications, choice.settled)
        handicaps = self.handicaps(suffix)
        values = common_values(study, names, JUDGED) + np.array([handicaps.get(name, 0.0) for name in names])
        kept = np.flatnonzero(find_kept(values, CONFIDENCE))
        best_first = kept[np.argsort(values.mean(axis=0)[kept], kind="stable")]
        return Told(tuple(names[n] for n in best_first), base, suffix, len(values), kept.size == 1)

    def _notes(self, rows: Sequence[Row], replications: int) -> tuple[str, ...]:
        notes = [
            "Days saved are days by which the average (or last) order ships sooner. A step pays if even the low end of "
            f"what it saves is at least {self.worth.say()}; a dearer step has to save that beyond the last one that pays.",
            "A step is what one glue-up takes of that kind, so that one glue-up more fits; in between, next to nothing "
            "changes.",
        ]
        if self.worth.money_a_day is not None and any(g.price is None for g in self.clamps):
            notes.append(f"Where the file gives no price, each clamp has to save {self.worth.days_a_clamp:g} day.")
        if any(is_unseen(row) for row in rows):
            notes.append(note_unseen(replications, max(len(self.clamps), len(self.others), 1), CONFIDENCE))
        if any(row["is_worse"] for row in rows):
            notes.append(
                "Some steps end later than the one before. That is no mistake: under a fixed priority rule, more clamps "
                "can lead to an unlucky order of work (Graham 1966). Spare clamps can stay on the wall."
            )
        notes += [f"Nothing in the file uses the {name}, so more of it changes nothing." for name in self.unused]
        return tuple(notes)
