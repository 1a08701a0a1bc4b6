"""More clamps: what each kind would save, what a better work order saves for nothing, and what else would."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    MATTERS_DAYS,
    MOST,
    NOW,
    USUAL,
    compare,
    run_alternatives,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.clamp_rows import COLUMNS, JUDGED, Row, build_curve, growth_row, order_row
from shopsim.answers.clamp_words import Told, say_choice, say_clamps, say_free_change, say_others, say_worse
from shopsim.answers.growth import STEPS, build_alternatives, clamp_steps, grow_clamps, grow_others
from shopsim.answers.wording import say_confidence, say_count
from shopsim.answers.worth import PAYS_DAYS, Worth
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.scenario.model import WORK_ORDERS, Scenario
from shopsim.study.choosing import find_kept
from shopsim.study.results import Study
from shopsim.study.runner import OnProgress, ShouldStop, open_workers
from shopsim.study.searching import FIRST, Search, search_best


class ClampsPlan:
    """The alternatives of a comparison of clamps, before they are run.

    ``alternatives`` first; then ``further(study)``, which asks for the clamps under a better work
    order if the study shows one; then ``answer(study)``. Raises InputError for bad arguments.
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
        self.orders: dict[str, str] = {scenario.run.work_order: NOW}
        self.of_orders: dict[str, Scenario] = {NOW: scenario}
        for order in WORK_ORDERS:
            if order not in self.orders:
                changed, _ = try_change(scenario, {"run.work_order": order})
                if changed is not None:
                    self.orders[order] = f"work order {order}"
                    self.of_orders[self.orders[order]] = changed
        self.of_clamps, no_clamps = build_alternatives(scenario, self.clamps)
        self.of_others, no_others = build_alternatives(scenario, self.others)
        self.why_not = {**no_clamps, **no_others}
        self.alternatives = {**self.of_orders, **self.of_clamps, **self.of_others}

    def better_order(self, study: Study) -> str | None:
        """The built-in work order that is surely better than today's by a difference that matters, or None."""
        rivals = [order for order, name in self.orders.items() if name != NOW]
        if not rivals:
            return None
        best = min(rivals, key=lambda order: float(study.values(self.orders[order], JUDGED).mean()))
        saved = compare(study, NOW, self.orders[best], JUDGED, len(rivals))
        return best if saved.low > 0 and saved.value >= MATTERS_DAYS else None

    def further(self, study: Study) -> dict[str, Scenario]:
        """The clamps under the better work order, if there is one: alternatives still to be run."""
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
        today: str = self.scenario.run.work_order
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
        sentence = " ".join(
            [
                *say_free_change(self._order_row(study, better) if better else None, today, len(self.orders) > 1),
                *say_clamps(priced, order if order != today else None, self.unused, told if search else None),
                *(say_choice(told, priced, search is not None, matters_days) if told else []),
                *say_worse(priced),
                *say_others(others, priced),
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{'up to ' if search else ''}{say_count(runs, 'replication')} on the same luck.",
            ]
        )
        table = pd.DataFrame(rows, columns=list(COLUMNS))
        return build_answer(study, NOW, "More clamps", table, sentence, self._notes(rows))

    def _order_row(self, study: Study, order: str) -> Row:
        return order_row(study, order, self.orders[order], NOW, max(1, len(self.orders) - 1))

    def _choose(self, study: Study, base: str, suffix: str, search: Search | None) -> Told:
        """Which numbers of clamps may be the best once each has to pay for itself; today's among them."""
        names = [base, *(label + suffix for label in self.of_clamps)]
        if search is not None:
            choice = search.choices[JUDGED]
            return Told(search.kept(JUDGED), base, suffix, choice.replications, choice.settled)
        handicaps = self.handicaps(suffix)
        values = np.column_stack([study.values(name, JUDGED) + handicaps.get(name, 0.0) for name in names])
        kept = np.flatnonzero(find_kept(values, CONFIDENCE))
        best_first = kept[np.argsort(values.mean(axis=0)[kept], kind="stable")]
        return Told(tuple(names[n] for n in best_first), base, suffix, study.replications, kept.size == 1)

    def _notes(self, rows: Sequence[Row]) -> tuple[str, ...]:
        notes = [
            "Days saved are days by which the average (or last) order ships sooner; a step pays while it saves at "
            f"least {self.worth.say()}.",
            "A step is what one glue-up takes of that kind, so that one glue-up more fits; in between, next to nothing "
            "changes.",
        ]
        if self.worth.money_a_day is not None and any(g.price is None for g in self.clamps):
            notes.append(f"Where the file gives no price, each clamp has to save {self.worth.days_a_clamp:g} day.")
        if any(row["is_worse"] for row in rows):
            notes.append(
                "Some steps end later than the one before. That is no mistake: under a fixed work order, more clamps "
                "can lead to an unlucky order of work (Graham 1966). Spare clamps can stay on the wall."
            )
        notes += [f"Nothing in the file uses the {name}, so more of it changes nothing." for name in self.unused]
        return tuple(notes)


def compare_clamps(
    scenario: Scenario,
    kinds: Sequence[str] | None = None,
    add: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
    replications: int | None = None,
    seed: int = 1,
    jobs: int = 1,
    threshold: float = PAYS_DAYS,
    everything: bool = True,
    *,
    steps: Sequence[int] = STEPS,
    day_worth: float | None = None,
    until_sure: bool = False,
    matters_days: float = MATTERS_DAYS,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
    study: Study | None = None,
) -> Answer:
    """What more clamps of each kind would save, after what a better work order saves for nothing.

    ``kinds``: names of the kinds to try, default all; ``add``: how many to add, for all kinds
    or by name, default so many that as many glue-ups more fit as ``steps`` says. ``threshold``:
    days of the average ship day that each clamp must save to pay; or ``day_worth``: what a day saved is
    worth in the money of the file's prices. ``everything``: also one more of each station and
    rack, not only of hands. ``study``: a study of some of these alternatives, used for what it holds.

    ``replications``: of every alternative, default 200. With ``until_sure`` the work orders, and then the numbers of
    clamps under the best of them, are run on until one is left that is the best once each clamp has to
    pay for itself, or within ``matters_days`` of it, with 95 % each; those that are surely worse are
    dropped on the way, and ``replications``, default 5,000, are the most. Clamps are then run under the best
    order only, and everything else 50 times.

    Rows: ``thing`` "work order" (today's clamps under each other built-in order), "clamps" (kind by
    kind, then the kinds that one glue-up takes together, then "all kinds" together; again under a better
    work order where there is one), "worker", "station", "rack". ``owned``, ``added``, ``step``; means of
    ``average_ship_day`` and ``last_ship_day`` (days after orders close) and the paired ``..._saved_days`` with
    ``_low``, ``_high`` against today, for clamps under a better order against today's clamps under that order;
    ``best_so_far_days``: the best of this and all smaller steps; ``step_saved_days``: against the step
    before; ``gain_a_clamp_days``; ``price``; ``price_a_day_saved`` where a saving is sure; ``days_to_pay``: what it has
    to save; ``pays``: up to the last step that pays; ``may_be_best``: cannot be told from the best number
    once each has to pay; ``is_worse``: later than the step before by more than 3 standard errors;
    ``replications``; ``remark``. Intervals of a kind of thing hold together at 95 % (Bonferroni). The raw savings
    are never altered to look smooth.

    Raises InputError for bad arguments, Cancelled if stopped before two replications of
    all alternatives were finished.
    """
    plan = ClampsPlan(scenario, kinds, add, Worth(threshold, day_worth), everything, steps)
    if until_sure:
        return _search_clamps(
            plan, matters_days, MOST if replications is None else replications, seed, jobs, executor, on_progress,
            should_stop, study,
        )  # fmt: skip
    first = run_alternatives(
        plan.alternatives, replications=USUAL if replications is None else replications, seed=seed, jobs=jobs,
        executor=executor, on_progress=on_progress, should_stop=should_stop, study=study,
    )  # fmt: skip
    return plan.answer(add_further(plan, first, study, jobs, executor, on_progress, should_stop))


def _search_clamps(
    plan: ClampsPlan,
    matters_days: float,
    most: int,
    seed: int,
    jobs: int,
    executor: Executor | None,
    on_progress: OnProgress | None,
    should_stop: ShouldStop | None,
    held: Study | None,
) -> Answer:
    """The best work order first, then the best number of clamps under it, each until it is sure."""
    with open_workers(jobs if executor is None else 1) as pool:
        workers = executor if executor is not None else pool
        jobs = jobs if workers is not None else 1
        others = run_alternatives(
            {NOW: plan.scenario, **plan.of_others}, replications=min(FIRST, most), seed=seed, jobs=jobs,
            executor=workers, on_progress=on_progress, should_stop=should_stop, study=held,
        )  # fmt: skip
        known = replace(others, outcomes={**(held.outcomes if held is not None else {}), **others.outcomes})
        orders = search_best(
            plan.of_orders, {JUDGED: matters_days}, most=most, confidence=CONFIDENCE, jobs=jobs, executor=workers,
            on_progress=on_progress, should_stop=should_stop, held=known,
        )  # fmt: skip
        order = plan.better_order(orders.study)
        suffix, base = ("", NOW) if order is None else (f", {order}", plan.orders[order])
        clamps = {base: plan.of_orders[base], **(plan.further(orders.study) if order else plan.of_clamps)}
        search = search_best(
            clamps, {JUDGED: matters_days}, handicaps=plan.handicaps(suffix), most=most, confidence=CONFIDENCE,
            jobs=jobs, executor=workers, on_progress=on_progress, should_stop=should_stop,
            held=replace(known, outcomes={**known.outcomes, **orders.study.outcomes}),
        )  # fmt: skip
    outcomes = {**others.outcomes, **orders.study.outcomes, **search.study.outcomes}
    complete = others.complete and orders.study.complete and search.study.complete
    least = min(outcome.replications.size for outcome in outcomes.values())
    return plan.answer(
        replace(search.study, outcomes=outcomes, wanted=least if complete else most), search, matters_days
    )


def add_further(
    plan: ClampsPlan,
    first: Study,
    held: Study | None,
    jobs: int,
    executor: Executor | None,
    on_progress: OnProgress | None,
    should_stop: ShouldStop | None,
) -> Study:
    """The study with the clamps under a better work order, if there is one and the user has not stopped."""
    further = plan.further(first) if first.complete else {}
    if not further or (should_stop is not None and should_stop()):
        return first
    both = {**{name: first.outcomes[name].scenario for name in first.names}, **further}
    known = {} if held is None else {f"held: {name}": outcome for name, outcome in held.outcomes.items()}
    return run_alternatives(
        both, replications=first.replications, jobs=jobs, executor=executor, on_progress=on_progress,
        should_stop=should_stop, study=replace(first, outcomes={**known, **first.outcomes}),
    )  # fmt: skip
