"""Whether batches are better cut in the order received, or each of one option only."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Unpack

import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    MATTERS_DAYS,
    SAVED,
    compare,
    count_at_most,
    put_interval,
    run_first,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.question import Question, ask
from shopsim.answers.wording import say_confidence, say_count, say_gain, say_hours_gain, say_tolerance
from shopsim.errors import InputError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.scenario.batches import rule_of_other_batches
from shopsim.scenario.model import Scenario
from shopsim.scenario.values import OrderBook
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.intervals import Interval
from shopsim.study.results import Study
from shopsim.study.until_told import run_until_told

#: Key of the answer.
BATCHES_BY = "batches_by_order_received_or_by_option"
#: The two ways, as the scenario names them.
WAYS = ("order received", "option")
_MEASURES = ("first_ship_day", "average_ship_day", "last_ship_day", "setup_h")


def compare_batches_by(scenario: Scenario, **options: Unpack[RunOptions]) -> Answer:
    """Batches cut in the order received against batches of one option each, on the same luck.

    Rows, the scenario's own way first: ``batches_by``, ``is_now``, ``batches`` (how many there are), the means over
    replications of ``first_ship_day``, ``average_ship_day``, ``last_ship_day`` (days after orders close) and ``setup_h``,
    and ``first_saved_days``, ``average_saved_days``, ``last_saved_days``, ``setup_saved_h``, each with ``_low`` and ``_high``:
    what is saved against the scenario's own way, paired (negative: later, or more), at 95 %. InputError where no order of a
    file asks for an option, so that there is nothing to compare. ``options``: see ``RunOptions``; ``replications``, default
    2,000, are the most: both are run until it can be told which is sooner, or that it is by less than a quarter of a day.
    """
    return ask(BatchesBy(scenario), Execution.of(options))


class BatchesBy(Question[Answer]):
    """Batches in the order received or by option; see ``compare_batches_by``. InputError where there is nothing to compare."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self._alternatives = _make_alternatives(scenario)

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Both ways, the scenario's own first."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications of either way at most."""
        return MAX_SEARCH_REPLICATIONS

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer from both ways, run until it can be told which is sooner."""
        meter = Meter(execution.on_progress, count_at_most(self.alternatives, execution))
        study = run_first(self.alternatives, meter.stage(execution), last)
        if last and study.complete:
            study = run_until_told(self.alternatives, _find_open, meter.stage(execution))
            meter.finish()
        yield self.answer(study)

    def answer(self, study: Study) -> Answer:
        """Table and sentence of a study of both ways."""
        own = self.scenario.run.batches_by
        rows = [_row(study, way, own) for way in self.alternatives]
        notes = (
            "Ship days count from the day orders close; averages are over the orders. Set-up is paid again when an "
            "operation is done otherwise for the next option.",
        )
        return build_answer(study, own, BATCHES_BY, pd.DataFrame(rows), _say(study, own), notes)


def _make_alternatives(scenario: Scenario) -> dict[str, Scenario]:
    designs = {design.name: design for design in scenario.all_designs}
    asked = any(
        order.option and designs[line.design].options
        for line in scenario.lines
        if isinstance(line.orders, OrderBook)
        for order in line.orders.orders
    )
    if not asked:
        raise InputError(
            "no order asks for an option of its design, so batches are the same either way "
            "· name options in the file of orders, and describe them under [[design.options]]"
        )
    own = scenario.run.batches_by
    alternatives: dict[str, Scenario] = {own: scenario}
    for way in WAYS:
        if way != own:
            changed, why_not = try_change(
                scenario, {"run.batches_by": way, "run.priority": rule_of_other_batches(scenario)}
            )
            if changed is None:
                raise InputError(f"batches by {way} cannot be run: {why_not}")
            alternatives[way] = changed
    return alternatives


def _find_open(study: Study) -> tuple[str, ...]:
    """Both ways while it cannot be told which is sooner, though it may be by as much as matters."""
    gaps = [compare(study, "option", "order received", measure) for measure in ("average_ship_day", "last_ship_day")]
    return WAYS if any(_is_open(gap) for gap in gaps) else ()


def _is_open(gap: Interval) -> bool:
    return not gap.excludes_zero and not gap.unseen and max(-gap.low, gap.high) >= MATTERS_DAYS


def _row(study: Study, way: str, own: str) -> dict[str, Any]:
    row: dict[str, Any] = {
        "batches_by": way,
        "is_now": way == own,
        "batches": study.outcomes[way].queue.n_batches,
    }
    for measure in _MEASURES:
        row[measure] = float(study.values(way, measure).mean())
    for measure in _MEASURES:
        put_interval(row, SAVED[measure], compare(study, own, way, measure))
    return row


def _say(study: Study, own: str) -> str:
    parts = []
    for measure, what in (("average_ship_day", "The average order ships"), ("last_ship_day", "The last order ships")):
        gap = compare(study, "option", "order received", measure)
        if gap.unseen or gap.low == gap.high == 0:
            parts.append(f"{what} on the same day either way, in every run.")
        elif not gap.excludes_zero:
            within = (
                f"within {say_tolerance(MATTERS_DAYS)}" if not _is_open(gap) else "the difference cannot be told yet"
            )
            parts.append(f"{what} about as soon either way: {within}.")
        else:
            better = "order received" if gap.value > 0 else "option"
            parts.append(f"{what} sooner with batches by {better}, by {say_gain(gap)}.")
    setup = compare(study, "option", "order received", "setup_h")
    if setup.excludes_zero:
        less = "saves" if setup.value < 0 else "costs"
        parts.append(f"Batches by option {less} {say_hours_gain(setup)} of set-up.")
    return (
        f"{' '.join(parts)} Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
        f"{say_count(study.replications, 'replication')} on the same luck."
    )
