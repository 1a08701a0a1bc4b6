"""Which batch size: what each does to the ship days, the hours and the clamps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    FIRST,
    MATTERS_DAYS,
    MATTERS_HOURS,
    NOW,
    SAVED,
    compare,
    count_at_most,
    paired_mean,
    put_interval,
    run_first,
    spread_points,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.batch_size_words import Size, SizeWords
from shopsim.answers.growth import build_alternatives
from shopsim.answers.hours_per_piece import HOURS, say_study_hours
from shopsim.answers.levers import (
    BATCH,
    COSTS_NOTHING,
    JUDGED,
    PRIORITY,
    is_open,
    is_rough,
    list_levers,
    say_free_too,
    tabulate_levers,
)
from shopsim.answers.question import Question, ask
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.answers.wishes import WISHES, Best, find_best, lead_of_best, list_best
from shopsim.errors import InputError
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.priority import AS_PLANNED
from shopsim.scenario.batches import batch_changes, find_room, own_batches, pieces_of_lines, rule_of_other_batches
from shopsim.scenario.model import PRIORITY_RULES, Scenario
from shopsim.scenario.ways import put_ways
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.intervals import Interval
from shopsim.study.positions import measure_positions
from shopsim.study.results import Study
from shopsim.study.searching import Search, search_best
from shopsim.study.until_told import join_studies, run_until_told

#: Key of the answer.
BATCH_SIZE = "batch_size"
#: Key of the further table: lead time of every order, by its place in the queue, for each size.
LEAD_TIMES = "lead_time_by_order"
#: Key of the further table: the best size for each wish, and by how much.
BEST_SIZES = "best_for_each_wish"
_SHIP = ("first_ship_day", "average_ship_day", "last_ship_day")
_MEANS = ("hands_on_h_a_piece", "setup_h", "idle_h", "most_clamps", "most_pieces")


class BatchSizes(Question[Answer]):
    """Which batch size; see ``compare_batch_sizes``.

    Raises InputError for sizes that are no numbers of pieces, or priority rules that are not known.
    """

    def __init__(
        self,
        scenario: Scenario,
        sizes: Sequence[int] | None = None,
        priority_rules: Sequence[str] | None = None,
        *,
        matters_days: float = MATTERS_DAYS,
    ) -> None:
        self.scenario, self.matters_days = scenario, matters_days
        #: of every size that is compared: a smaller batch is not to be compared with a smaller shop
        self.room = find_room(scenario)
        self.made = pieces_of_lines(scenario)
        self.own = own_batches(scenario)
        self._alternatives: dict[str, Scenario] = {NOW: scenario}
        self.sizes: list[Size] = []
        asked = [_check_size(size) for size in (usual_sizes(scenario) if sizes is None else sizes)]
        if not asked:
            raise InputError("no batch size is given · name at least one, like 5")
        #: sizes that were asked for and are more than there is to make
        self.too_large = sorted({size for size in asked if size > max(self.made)})
        tried = {min(size, max(self.made)) for size in asked}
        actual = {tuple(min(size, n) for n in self.made): size for size in tried}
        actual.setdefault(self.own, max(self.own))  # today's, which may be of no one size where there are several lines
        for priority in _check_priority_rules(scenario, priority_rules):
            for of_lines, size in sorted(actual.items(), key=lambda item: (item[1], item[0])):
                self._add(size, of_lines, priority)
        apart = (BATCH,) if priority_rules is None else (BATCH, PRIORITY)
        self.levers = list_levers(scenario, leave_out=apart)
        self.of_levers, _ = build_alternatives(scenario, self.levers)

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today's batches, each size under each priority rule, and what else costs nothing."""
        return {**self._alternatives, **self.of_levers}

    @property
    def usual(self) -> int:
        """Replications of each size at most."""
        return MAX_SEARCH_REPLICATIONS

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer: sizes are run until it can be told which is the best for each wish, all else until it can be told what it saves."""
        meter = Meter(execution.on_progress, count_at_most(self.alternatives, execution))
        first = run_first(self.alternatives, meter.stage(execution), last)
        if not last or not first.complete:
            yield self.answer(first)
            return
        levers = run_until_told({NOW: self.scenario, **self.of_levers}, self.find_open, meter.stage(execution))
        search = search_best(
            self._alternatives, self.deltas(), confidence=CONFIDENCE, first_look=FIRST, execution=meter.stage(execution)
        )
        meter.finish()
        yield self.answer(join_studies(search.study, levers), search)

    def find_open(self, study: Study) -> list[str]:
        """What else costs nothing and may yet save as much as matters, or does so by it is not known how much; with today."""
        saved = {name: compare(study, NOW, name, JUDGED, len(self.of_levers)) for name in self.of_levers}
        open_ = [name for name, days in saved.items() if is_open(days) or is_rough(days)]
        return [NOW, *open_] if open_ else []

    @property
    def words(self) -> SizeWords:
        """What is said of these sizes."""
        return SizeWords(self.scenario, self.sizes, self.made, self.room)

    def _add(self, asked: int, actual: tuple[int, ...], priority: str) -> None:
        if actual != self.own and priority == AS_PLANNED:
            priority = rule_of_other_batches(self.scenario)
        same_order = priority == self.scenario.run.priority
        if same_order and actual == self.own:
            self.sizes.append(Size(asked, actual, priority, NOW))
            return
        name = f"batches of {' and '.join(str(n) for n in actual)}, {priority}"
        changes: dict[str, Any] = (
            batch_changes(self.scenario, asked) if actual != self.own else {"run.pieces_open": self.room}
        )
        if not same_order:
            changes["run.priority"] = priority
        changed, why_not = try_change(self.scenario, changes)
        if changed is None:
            self.sizes.append(Size(asked, actual, priority, "", why_not))
            return
        self._alternatives[name] = changed
        self.sizes.append(Size(asked, actual, priority, name))

    def deltas(self) -> dict[str, float]:
        """For each wish the smallest difference that matters; hours a piece in proportion to days."""
        hours = MATTERS_HOURS * self.matters_days / MATTERS_DAYS
        return {measure: hours if measure == "hands_on_h_a_piece" else self.matters_days for measure, _ in WISHES}

    def answer(self, study: Study, search: Search | None = None) -> Answer:
        """Table and sentence; see ``compare_batch_sizes``. ``search``: what a search over the same study came to."""
        runnable = list(dict.fromkeys(size.name for size in self.sizes if size.name))
        rivals = max(1, len(set(runnable) | {NOW}) - 1)
        found = {measure: find_best(study, runnable, measure, search) for measure, _ in WISHES}
        rows = [self._row(study, size, rivals, found) for size in self.sizes]
        leads = {measure: lead_of_best(study, best, len(runnable) - 1) for measure, best in found.items()}
        free = tabulate_levers(study, self.levers)
        sentence = " ".join(
            [
                self.words.say_sentence(runnable, found, leads, search is not None),
                *say_free_too(free, self.levers),
                self.words.say_rest(max(row["replications"] for row in rows), search is not None)
                if len(runnable) > 1
                else "",
            ]
        ).rstrip()
        labels = {name: f"{self.words.say_size(name)}{' (now)' if name == NOW else ''}" for name in runnable}
        tables = {
            LEAD_TIMES: measure_positions(study, labels),
            BEST_SIZES: list_best(found, leads, self.words.say_size),
        }
        if len(free):
            tables[COSTS_NOTHING] = free
        notes = (*self.words.list_notes(self.too_large), say_study_hours(self.scenario, study, NOW))
        return build_answer(study, NOW, BATCH_SIZE, pd.DataFrame(rows), sentence, notes, tables)

    def _row(self, study: Study, size: Size, rivals: int, found: Mapping[str, Best]) -> dict[str, Any]:
        nan = float("nan")
        kinds = [kind.name for kind in put_ways(self.scenario).shop.clamps]
        row: dict[str, Any] = {
            "batch": size.asked,
            "pieces_in_batch": max(size.actual),
            "said": self.words.say_pieces(size),
            "batches": sum(-(-n // batch) for n, batch in zip(self.made, size.actual, strict=True)),
            "priority": size.priority,
            "is_now": size.name == NOW,
            "pieces_open": nan if self.room is None else self.room,
        }
        for measure in _SHIP:
            values = study.values(size.name, measure) if size.name else np.array([nan])
            row[measure] = paired_mean(study, size.name, measure) if size.name else nan
            row[f"{measure}_p10"], row[f"{measure}_p50"], row[f"{measure}_p90"] = spread_points(values)
        for measure in _MEANS:
            row[measure] = paired_mean(study, size.name, measure) if size.name else nan
        hours = study.values(size.name, HOURS) if size.name else np.array([nan])
        row[f"{HOURS}_p10"], _, row[f"{HOURS}_p90"] = spread_points(hours)
        for n, kind in enumerate(kinds):
            row[f"most_clamps: {kind}"] = float(study.clamp_peaks[size.name][:, n].mean()) if size.name else nan
        for measure in (*_SHIP, "hands_on_h_a_piece"):
            saved = (
                compare(study, NOW, size.name, measure, rivals) if size.name else Interval(nan, nan, nan, CONFIDENCE)
            )
            put_interval(row, SAVED[measure], saved)
        for measure, _ in WISHES:
            row[f"may_be_best: {measure}"] = bool(size.name) and size.name in found[measure].survivors
        row["replications"] = study.outcomes[size.name].replications.size if size.name else 0
        row["remark"] = size.remark
        return row


def compare_batch_sizes(
    scenario: Scenario,
    sizes: Sequence[int] | None = None,
    *,
    priority_rules: Sequence[str] | None = None,
    matters_days: float = MATTERS_DAYS,
    **options: Unpack[RunOptions],
) -> Answer:
    """What each batch size does to ship days, hours and clamps; which is best for which wish.

    ``sizes``: pieces in a batch, default those of ``usual_sizes``; one above the number of pieces is one batch of
    all, once. Rounding of orders stays as the scenario says, and so does the room (``run.pieces_open``), also where
    the scenario leaves it open. What the scenario has now is always among the rows, also where its lines have
    sizes of their own. ``priority_rules``: names of built-in priority rules, each
    size under each of them; default the scenario's own. ``options``: see ``RunOptions``.

    Each wish is run on until one size is left, which then is the best, or within ``matters_days`` of it (of hours a piece in
    proportion: 3 minutes for a quarter of a day), with 95 % for each wish (``choose_best``); sizes that are surely worse are
    dropped on the way. ``replications``, default 2,000, are the most; what is not settled by then cannot be told apart.
    What else costs nothing (see ``list_levers``) is run beside it until it is told what it saves, and has a table of its own.

    Rows, by priority rule and size: ``batch`` (asked), ``pieces_in_batch``, ``said`` (pieces in a batch, as
    text; of each line where they differ), ``batches``, ``priority``, ``is_now``, ``pieces_open`` (the room, nan: no limit); for ``first_ship_day``, ``average_ship_day``, ``last_ship_day`` (days
    after orders close) the mean over replications and the 10, 50, 90 % points ``_p10``,
    ``_p50``, ``_p90``; means of ``hands_on_h_a_piece`` (also ``_p10``, ``_p90``), ``setup_h``, ``idle_h``, ``most_clamps``,
    ``most_pieces``, and ``most_clamps: <kind>``; ``first_saved_days``, ``average_saved_days``,
    ``last_saved_days``, ``hands_on_saved_h``, each with ``_low`` and ``_high``: what is saved against the scenario's own
    size, paired (negative: later, or more), intervals of all rows together at 95 %
    (Bonferroni); ``may_be_best: <measure>`` for each wish; ``replications`` of the row; ``remark``. The answer's further table
    ``LEAD_TIMES`` has a row for each size and order (see ``measure_positions``), ``BEST_SIZES`` one for each wish (see
    ``list_best``), ``COSTS_NOTHING`` one for each sort of what else costs nothing (see ``tabulate_levers``).

    A size with which the shop could never finish stays in the table, with the reason and
    no numbers. Raises InputError for bad arguments, Cancelled if stopped before two
    replications of all sizes were finished.
    """
    question = BatchSizes(scenario, sizes, priority_rules, matters_days=matters_days)
    return ask(question, Execution.of(options))


def _check_size(size: Any) -> int:
    if isinstance(size, bool) or not isinstance(size, int | np.integer) or not 1 <= size <= 100_000:
        raise InputError(f"a batch of {size!r} cannot be made · write a whole number of pieces from 1 to 100000")
    return int(size)


def _check_priority_rules(scenario: Scenario, priority_rules: Sequence[str] | None) -> tuple[str, ...]:
    if priority_rules is None:
        return (scenario.run.priority,)
    for name in priority_rules:
        if name not in (*PRIORITY_RULES, scenario.run.priority):
            raise InputError(f'priority rule "{name}" is not known · choose from {", ".join(PRIORITY_RULES)}')
    return tuple(dict.fromkeys(priority_rules)) or (scenario.run.priority,)
