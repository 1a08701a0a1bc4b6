"""More clamps: what each kind would save, what a better work order saves for nothing, and what else would."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from concurrent.futures import Executor
from typing import Any

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE, MATTERS_DAYS, NOW, compare, run_alternatives, try_change
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.clamp_words import say_clamps, say_free_change, say_others
from shopsim.answers.growth import ALL_KINDS, Growth, build_alternatives, clamp_steps, grow_clamps, grow_others
from shopsim.answers.wording import say_confidence, say_count
from shopsim.engine.worklist import build_worklist
from shopsim.errors import InputError
from shopsim.scenario.model import WORK_ORDERS, Scenario
from shopsim.study.intervals import Interval
from shopsim.study.results import Study
from shopsim.study.runner import OnProgress, ShouldStop

#: A step pays while it saves at least so many days of the average ship day for each clamp (own judgement).
PAYS_DAYS = 0.10
#: A step counts as worse when it is later by more than so many standard errors.
WORSE_SE = 3.0
#: The measure on which clamps are judged: every buyer's day counts the same.
JUDGED = "average_ship_day"


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
        threshold: float = PAYS_DAYS,
        everything: bool = True,
    ) -> None:
        if not threshold > 0 or not math.isfinite(threshold):
            raise InputError(
                f"threshold = {threshold!r} days a clamp cannot be used · write a number above 0, like 0.1"
            )
        self.scenario, self.threshold = scenario, threshold
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
        self.clamps = grow_clamps(scenario, step_of, used, add)
        self.others = [other for other in grow_others(scenario, work) if everything or other.thing == "worker"]
        self.alternatives: dict[str, Scenario] = {NOW: scenario}
        self.orders: dict[str, str] = {scenario.run.work_order: NOW}
        for order in WORK_ORDERS:
            if order not in self.orders:
                changed, _ = try_change(scenario, {"run.work_order": order})
                if changed is not None:
                    self.orders[order] = f"work order {order}"
                    self.alternatives[self.orders[order]] = changed
        built, self.why_not = build_alternatives(scenario, [*self.clamps, *self.others])
        self.alternatives.update(built)

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
        base = self.alternatives[self.orders[order]]
        return build_alternatives(base, self.clamps, f", {order}")[0]

    def answer(self, study: Study) -> Answer:
        """Table and sentence; see ``compare_clamps``. ``study`` may or may not hold the further alternatives."""
        today: str = self.scenario.run.work_order
        better = self.better_order(study)
        rows = [self._order_row(study, order) for order in self.orders if order != today]
        curve = self._curve(study, today, NOW, "")
        rows += curve
        priced, order = curve, today
        if better is not None:
            suffix = f", {better}"
            if all(g.label + suffix in study.outcomes for g in self.clamps if g.label not in self.why_not):
                priced, order = self._curve(study, better, self.orders[better], suffix), better
                rows += priced
        others = [self._row(study, other, today, NOW, "", len(self.others)) for other in self.others]
        rows += others
        sentence = " ".join(
            [
                *say_free_change(self._order_row(study, better) if better else None, today, len(self.orders) > 1),
                *say_clamps(priced, order if order != today else None, self.threshold, self.unused),
                *say_others(others, priced, self.threshold),
                f"Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
                f"{say_count(study.replications, 'replication')} on the same luck.",
            ]
        )
        return build_answer(
            study, NOW, "More clamps", pd.DataFrame(rows, columns=list(COLUMNS)), sentence, self._notes(rows)
        )

    def _curve(self, study: Study, order: str, base: str, suffix: str) -> list[dict[str, Any]]:
        """One row for each step of each kind: raw savings, the best so far, and where the next step stops paying."""
        rows = []
        for kind in dict.fromkeys(growth.kind for growth in self.clamps):
            steps = [growth for growth in self.clamps if growth.kind == kind]
            before, best, added = base, 0.0, 0
            mine = []
            for growth in steps:
                row = self._row(study, growth, order, base, suffix, len(self.clamps))
                mine.append(row)
                row["best_so_far_days"], row["gain_a_clamp_days"] = best, 0.0
                if row["remark"]:
                    continue
                gain = compare(study, before, growth.label + suffix, JUDGED, len(self.clamps))
                _put(row, "step_saved_days", gain)
                row["best_so_far_days"] = max(best, row["average_saved_days"])
                row["gain_a_clamp_days"] = (row["best_so_far_days"] - best) / (growth.added - added)
                lost = study.values(growth.label + suffix, JUDGED) - study.values(before, JUDGED)
                se = float(lost.std(ddof=1)) / math.sqrt(lost.size)
                if float(lost.mean()) > WORSE_SE * se and float(lost.mean()) > 1e-9:
                    row["remark"] = "later than with fewer: more clamps can upset the order of work"
                    row["is_worse"] = True
                before, best, added = growth.label + suffix, row["best_so_far_days"], growth.added
            paying = [n for n, row in enumerate(mine) if row["gain_a_clamp_days"] >= self.threshold]
            for n, row in enumerate(mine):
                row["pays"] = bool(paying) and n <= paying[-1]
            rows += mine
        return rows

    def _order_row(self, study: Study, order: str) -> dict[str, Any]:
        row = self._blank("work order", order, order)
        self._fill(study, row, self.orders[order], NOW, max(1, len(self.orders) - 1))
        row["price"] = 0.0
        return row

    def _row(
        self, study: Study, growth: Growth, order: str, base: str, suffix: str, comparisons: int
    ) -> dict[str, Any]:
        row = self._blank(growth.thing, growth.kind, order)
        row["added"], row["step"], row["owned"] = growth.added, growth.step, self._owned(growth)
        row["price"] = growth.price if growth.price is not None else math.nan
        if growth.label in self.why_not:
            row["remark"] = f"cannot be run: {self.why_not[growth.label]}"
            return row
        saved = self._fill(study, row, growth.label + suffix, base, comparisons)
        if growth.price is not None and saved.low > 0:
            row["price_a_day_saved"] = growth.price / saved.value
        return row

    def _fill(self, study: Study, row: dict[str, Any], name: str, base: str, comparisons: int) -> Interval:
        for measure, short in (("last_ship_day", "last"), (JUDGED, "average")):
            row[measure] = float(study.values(name, measure).mean())
            saved = compare(study, base, name, measure, comparisons)
            _put(row, f"{short}_saved_days", saved)
        return saved

    def _blank(self, thing: str, kind: str, order: str) -> dict[str, Any]:
        row: dict[str, Any] = dict.fromkeys(COLUMNS, math.nan)
        row.update(thing=thing, kind=kind, work_order=order, added=0, owned=0, step=0)
        row.update(pays=False, is_worse=False, remark="")
        return row

    def _owned(self, growth: Growth) -> int:
        shop = self.scenario.shop
        if growth.thing == "clamps":
            kinds = {one.kind for one in self.clamps if one.kind != ALL_KINDS}
            return sum(
                k.count for k in shop.clamps if k.name == growth.kind or (growth.kind == ALL_KINDS and k.name in kinds)
            )
        if growth.thing == "worker":
            return len(shop.workers)
        if growth.thing == "station":
            return next(station.count for station in shop.stations if station.name == growth.kind)
        return next(rack.spots for rack in shop.racks if rack.name == growth.kind)

    def _notes(self, rows: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
        notes = [
            "Days saved are days by which the average (or last) order ships sooner; a step pays while it saves at "
            f"least {self.threshold:g} day of the average for each clamp.",
            "A step is what one glue-up takes of that kind; in between, next to nothing changes.",
        ]
        if any(row["is_worse"] for row in rows):
            notes.append(
                "Some steps end later than the one before. That is no mistake: under a fixed work order, more clamps "
                "can lead to an unlucky order of work (Graham 1966). Spare clamps can stay on the wall."
            )
        notes += [f"Nothing in the file uses the {name}, so more of it changes nothing." for name in self.unused]
        return tuple(notes)


#: Columns of the table.
COLUMNS = (
    "thing", "kind", "work_order", "owned", "added", "step",
    "average_ship_day", "average_saved_days", "average_saved_days_low", "average_saved_days_high",
    "last_ship_day", "last_saved_days", "last_saved_days_low", "last_saved_days_high",
    "best_so_far_days", "step_saved_days", "step_saved_days_low", "step_saved_days_high", "gain_a_clamp_days",
    "price", "price_a_day_saved", "pays", "is_worse", "remark",
)  # fmt: skip


def _put(row: dict[str, Any], name: str, interval: Interval) -> None:
    row[name], row[f"{name}_low"], row[f"{name}_high"] = interval.value, interval.low, interval.high


def compare_clamps(
    scenario: Scenario,
    kinds: Sequence[str] | None = None,
    add: Sequence[int] | Mapping[str, Sequence[int]] | None = None,
    replications: int = 200,
    seed: int = 1,
    jobs: int = 1,
    threshold: float = PAYS_DAYS,
    everything: bool = True,
    *,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
    study: Study | None = None,
) -> Answer:
    """What more clamps of each kind would save, after what a better work order saves for nothing.

    ``kinds``: names of the kinds to try, default all; ``add``: how many to add, for all kinds
    or by name, default one to three steps, a step being what one glue-up takes. ``threshold``:
    days of the average ship day that each clamp must save to pay. ``everything``: also one more
    of each station and rack, not only of hands. ``study``: a study of some of these
    alternatives, used for what it holds.

    Rows: ``thing`` "work order" (today's clamps under each other built-in order), "clamps" (kind by
    kind, then "all kinds" together; again under a better work order where there is one),
    "worker", "station", "rack". ``owned``, ``added``, ``step``; means of ``average_ship_day`` and
    ``last_ship_day`` (days after orders close) and the paired ``..._saved_days`` with ``_low``, ``_high``
    against today, for clamps under a better order against today's clamps under that order;
    ``best_so_far_days``: the best of this and all smaller steps; ``step_saved_days``: against the step
    before; ``gain_a_clamp_days``; ``price``; ``price_a_day_saved`` where a saving is sure; ``pays``: up to the
    last step that pays; ``is_worse``: later than the step before by more than 3 standard
    errors; ``remark``. Intervals of a kind of thing hold together at 95 % (Bonferroni). The raw
    savings are never altered to look smooth.

    Raises InputError for bad arguments, Cancelled if stopped before two replications of
    all alternatives were finished.
    """
    plan = ClampsPlan(scenario, kinds, add, threshold, everything)
    first = run_alternatives(
        plan.alternatives, replications=replications, seed=seed, jobs=jobs, executor=executor,
        on_progress=on_progress, should_stop=should_stop, study=study,
    )  # fmt: skip
    return plan.answer(add_further(plan, first, study, jobs, executor, on_progress, should_stop))


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
    whole = first if held is None else first.join(held)
    return run_alternatives(
        both, replications=first.replications, jobs=jobs, executor=executor, on_progress=on_progress,
        should_stop=should_stop, study=whole,
    )  # fmt: skip
