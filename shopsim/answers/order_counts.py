"""Before orders close: what each number of orders would mean for the dates, and how many keep a given one."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.delivery_words import list_notes, say_counts, say_keep
from shopsim.answers.terms import (
    USUAL,
    Terms,
    arrival_columns,
    arrivals_of,
    change_orders,
    date_of,
    only_line,
    share_workers,
    window_columns,
)
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.model import Scenario, pieces_made
from shopsim.study.results import Study

#: Runs of all numbers of orders together, where nothing is said; and the fewest of each.
TOGETHER, FEWEST = 8_000, 400
#: The most orders that a search for the last number that keeps a date looks at.
FURTHEST = 1_000
#: Numbers of orders that are shown on each side of the one found.
AROUND = 2


def forecast_counts(
    scenario: Scenario,
    terms: Terms,
    counts: list[int] | None,
    keep: dt.date | None,
    cap: int | None,
    replications: int | None,
    *,
    study: Study | None = None,
    **options: Any,
) -> Answer:
    """One row for each number of orders; with ``keep``, also how many orders may be taken so that all ship by that day.

    ``counts``: rising; None (only with ``keep``) looks for the number, and shows those about it. Numbers of
    orders above ``cap`` are left out. Runs in which as many pieces are made are shared.

    Rows: ``orders``, ``pieces``, ``spare``; for the last order its ``expected_day`` and ``expected`` (the likely
    last ship date), window, ``promise`` and ``chance_kept`` as in ``forecast_delivery``: a date that each order keeps
    with the chance asked, and ``all_chance_each``: the chance that all are kept if each is promised its own
    such date. ``all_kept_day``, ``all_kept``: so that all are kept together with the chance asked (the
    last order's date at the common level), ``all_kept_chance``. With ``keep`` also ``keep_chance``: that all
    ship by that day, and ``keeps``: whether that is enough. With transit also the arrival of the last order.
    """
    step = only_line(scenario).round_up_to or 1
    most = cap or FURTHEST
    with share_workers(options) as shared:
        return _forecast(scenario, terms, counts, keep, cap, replications, step, most, study, shared)


def _forecast(
    scenario: Scenario,
    terms: Terms,
    counts: list[int] | None,
    keep: dt.date | None,
    cap: int | None,
    replications: int | None,
    step: int,
    most: int,
    study: Study | None,
    options: dict[str, Any],
) -> Answer:
    if counts is not None:
        counts = [count for count in counts if cap is None or count <= cap]
        if not counts:
            raise InputError(f"no number of orders is left under the cap of {cap} · ask for fewer, or raise the cap")
        made = len({pieces_made(count, step) for count in counts})
        n = replications or max(FEWEST, min(USUAL, TOGETHER // made))
        terms.need(n)
        table = _Counts(scenario, terms, step, n, study, options)
        table.run(counts)
    else:
        assert keep is not None
        n = replications or USUAL
        terms.need(n)
        table = _Counts(scenario, terms, step, n, study, options)
        counts = table.search(keep, most)
    rows = [table.row(count, keep) for count in counts]
    transit = "arrive_promise" in rows[0]
    parts = [say_counts(rows, transit)]
    if keep is not None:
        parts.insert(0, say_keep(rows, keep, terms.kept, cap, FURTHEST))
    notes = list_notes(transit, table.study.replications)
    if cap is not None:
        notes = (f"No more than {cap} orders are taken.", *notes)
    if terms.recalibration is not None:
        notes = (terms.recalibration.say(terms.kept), *notes)
    return build_answer(
        table.study,
        table.study.names[0],
        "Delivery window by number of orders",
        pd.DataFrame(rows),
        " ".join(parts),
        notes,
    )


class _Counts:
    """The runs of several numbers of orders, those that make as many pieces shared."""

    def __init__(
        self,
        scenario: Scenario,
        terms: Terms,
        step: int,
        replications: int,
        study: Study | None,
        options: dict[str, Any],
    ) -> None:
        self.scenario, self.terms, self.step = scenario, terms, step
        self.replications, self.options = replications, options
        self.held = study
        self._study: Study | None = None

    @property
    def study(self) -> Study:
        assert self._study is not None
        return self._study

    def run(self, counts: list[int]) -> None:
        """Run what is not there yet. Cancelled if stopped too soon to say anything."""
        largest = {pieces_made(count, self.step): count for count in sorted(counts)}
        wanted = {
            f"{made} pieces": change_orders(self.scenario, count)
            for made, count in largest.items()
            if self._study is None or f"{made} pieces" not in self._study.outcomes
        }
        if not wanted:
            return
        fresh = run_alternatives(wanted, replications=self.replications, study=self.held, **self.options)
        self.terms.need_study(fresh)
        self._study = fresh if self._study is None else self._study.join(fresh)

    def days(self, count: int) -> np.ndarray:
        """Ship days of so many orders, int64, shape (replications, orders)."""
        return self.study.outcomes[f"{pieces_made(count, self.step)} pieces"].order_days[:, :count]

    def chance(self, count: int, keep: dt.date) -> float:
        """The chance that so many orders all ship by a day."""
        outcome = self.study.outcomes[f"{pieces_made(count, self.step)} pieces"]
        return float(np.mean(self.days(count).max(axis=1) <= (keep - outcome.queue.close).days))

    def search(self, keep: dt.date, most: int) -> list[int]:
        """Numbers of orders about the last one with which all ship by a day surely enough.

        Doubles the pieces until they are too many, then halves the gap; so it takes for granted that
        more pieces are not sooner, as they hardly ever are.
        """
        good, bad = 0, -(-most // self.step) + 1  # in steps of pieces
        tried = 1
        while bad - good > 1:
            count = min(tried * self.step, most)
            self.run([count])
            first = max(1, (tried - 1) * self.step + 1)
            if self.chance(first, keep) >= self.terms.kept:
                good = tried
            else:
                bad = tried
            if not self.study.complete:
                raise Cancelled("stopped before the number of orders was found")
            tried = min(2 * good, bad - 1) if bad > -(-most // self.step) and good else (good + bad) // 2
            tried = max(tried, good + 1)
        top = min(max(good, 1) * self.step, most)
        bottom = max(1, (max(good, 1) - 1) * self.step + 1)
        kept = [count for count in range(bottom, top + 1) if self.chance(count, keep) >= self.terms.kept]
        last = max(kept, default=0)
        shown = list(range(max(1, last - AROUND), min(last + AROUND, most) + 1))
        self.run(shown)
        return shown

    def row(self, count: int, keep: dt.date | None) -> dict[str, Any]:
        """One number of orders."""
        made = pieces_made(count, self.step)
        outcome = self.study.outcomes[f"{made} pieces"]
        close, days, terms = outcome.queue.close, self.days(count), self.terms
        promises = [terms.promise(days[:, n]) for n in range(count)]
        joint, joint_share = terms.joint(days)
        row: dict[str, Any] = {"orders": count, "pieces": made, "spare": made - count}
        row.update(window_columns(promises[-1], close))
        each = np.array([promise.day for promise in promises])
        row["all_chance_each"] = float(np.mean((days <= each).all(axis=1)))
        row["all_kept_day"], row["all_kept"] = int(joint[-1]), date_of(close, joint[-1])
        row["all_kept_chance"] = joint_share
        if keep is not None:
            row["keep_chance"] = self.chance(count, keep)
            row["keeps"] = row["keep_chance"] >= terms.kept
        arrivals = arrivals_of(outcome, self.study.seed, outcome.order_days)
        if arrivals is not None:
            arrivals = arrivals[:, :count]
            row.update(arrival_columns(arrivals[:, -1], int(terms.joint(arrivals)[0][-1]), terms, close))
        return row
