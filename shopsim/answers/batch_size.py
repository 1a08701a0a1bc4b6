"""Which batch size: what each does to the ship days, the hours and the clamps."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Unpack

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import (
    CONFIDENCE,
    MATTERS_DAYS,
    MATTERS_HOURS,
    MOST,
    NOW,
    SAVED,
    USUAL,
    compare,
    put_interval,
    run_alternatives,
    spread_points,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.hours import HOURS, say_study_hours
from shopsim.answers.question import Question, ask
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.answers.wishes import WISHES, Best, find_best, lead_of_best, list_best
from shopsim.answers.wording import join_words, say_confidence, say_count, say_gain, say_hours_gain, say_tolerance
from shopsim.errors import InputError
from shopsim.plurals import several
from shopsim.scenario.batches import find_room, ordered_of_lines, own_batches, pieces_of_lines
from shopsim.scenario.model import PRIORITY_RULES, Scenario
from shopsim.study.execution import Execution, RunOptions
from shopsim.study.intervals import Interval
from shopsim.study.positions import measure_positions
from shopsim.study.results import Study
from shopsim.study.searching import Search, search_best

#: Key of the answer.
BATCH_SIZE = "batch_size"
#: Key of the further table: lead time of every order, by its place in the queue, for each size.
LEAD_TIMES = "lead_time_by_order"
#: Key of the further table: the best size for each wish, and by how much.
BEST_SIZES = "best_for_each_wish"
_SHIP = ("first_ship_day", "average_ship_day", "last_ship_day")
_MEANS = ("hands_on_h_a_piece", "setup_h", "idle_h", "most_clamps", "most_pieces")


@dataclass(frozen=True)
class _Size:
    """One row: the size asked for, what it comes to on each line, the priority rule, and the alternative it is."""

    asked: int
    actual: tuple[int, ...]
    priority: str
    name: str
    why_not: str = ""


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
        until_sure: bool = False,
        matters_days: float = MATTERS_DAYS,
    ) -> None:
        self.scenario, self.until_sure, self.matters_days = scenario, until_sure, matters_days
        #: of every size that is compared: a smaller batch is not to be compared with a smaller shop
        self.room = find_room(scenario)
        self.made = pieces_of_lines(scenario)
        self.own = own_batches(scenario)
        self._alternatives: dict[str, Scenario] = {NOW: scenario}
        self.sizes: list[_Size] = []
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

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today's batches, and each size under each priority rule."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications of each size, or at most in a search."""
        return MOST if self.until_sure else USUAL

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """One answer from all sizes."""
        if not self.until_sure:
            yield self.answer(run_alternatives(self.alternatives, execution))
            return
        search = search_best(self.alternatives, self.deltas(), confidence=CONFIDENCE, execution=execution)
        yield self.answer(search.study, search)

    def _add(self, asked: int, actual: tuple[int, ...], priority: str) -> None:
        same_order = priority == self.scenario.run.priority
        if same_order and actual == self.own:
            self.sizes.append(_Size(asked, actual, priority, NOW))
            return
        name = f"batches of {' and '.join(str(n) for n in actual)}, {priority}"
        changes: dict[str, Any] = {"run.pieces_open": self.room}
        if not same_order:
            changes["run.priority"] = priority
        if self.scenario.run.lines and actual != self.own:
            changes.update({f"run.lines[{n}].batch": asked for n in range(len(self.made))})
        elif actual != self.own:
            changes["run.batch"] = asked
        changed, why_not = try_change(self.scenario, changes)
        if changed is None:
            self.sizes.append(_Size(asked, actual, priority, "", why_not))
            return
        self._alternatives[name] = changed
        self.sizes.append(_Size(asked, actual, priority, name))

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
        sentence = self._sentence(runnable, found, leads, search is not None)
        labels = {name: f"{self._say_size(name)}{' (now)' if name == NOW else ''}" for name in runnable}
        tables = {
            LEAD_TIMES: measure_positions(study, labels),
            BEST_SIZES: list_best(found, leads, self._say_size),
        }
        notes = (*self._notes(), say_study_hours(self.scenario, study, NOW))
        return build_answer(study, NOW, BATCH_SIZE, pd.DataFrame(rows), sentence, notes, tables)

    def _row(self, study: Study, size: _Size, rivals: int, found: Mapping[str, Best]) -> dict[str, Any]:
        nan = float("nan")
        kinds = [kind.name for kind in self.scenario.shop.clamps]
        row: dict[str, Any] = {
            "batch": size.asked,
            "pieces_in_batch": max(size.actual),
            "said": self._say_pieces(size),
            "batches": sum(-(-n // batch) for n, batch in zip(self.made, size.actual, strict=True)),
            "priority": size.priority,
            "is_now": size.name == NOW,
            "pieces_open": nan if self.room is None else self.room,
        }
        for measure in _SHIP:
            values = study.values(size.name, measure) if size.name else np.array([nan])
            row[measure] = float(values.mean())
            row[f"{measure}_p10"], row[f"{measure}_p50"], row[f"{measure}_p90"] = spread_points(values)
        for measure in _MEANS:
            row[measure] = float(study.values(size.name, measure).mean()) if size.name else nan
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
            row[f"may_be_best: {measure}"] = bool(size.name) and size.name in found[measure].kept
        row["replications"] = study.outcomes[size.name].replications.size if size.name else 0
        row["remark"] = self._remark(size)
        return row

    def _remark(self, size: _Size) -> str:
        return f"cannot be run: {size.why_not}" if size.why_not else ""

    def _say_pieces(self, size: _Size) -> str:
        """Pieces in a batch, of each line where the lines have no common size."""
        if size.actual == tuple(min(size.asked, n) for n in self.made):
            return f"{size.asked:,}"
        return join_words([f"{n:,}" for n in size.actual], "and")

    def _say_tried(self, runnable: list[str]) -> str:
        """What the best is the best of, and in how large a shop."""
        sizes = list(dict.fromkeys(self._say_pieces(size) for size in self.sizes if size.name in runnable))
        room = (
            f"all with room for {say_count(self.room, 'piece')} under way at once"
            if self.room is not None
            else "all with no limit to the pieces under way at once"
        )
        return f"That is of those tried: batches of {join_words(sizes, 'or')}, {room}."

    def _say_size(self, study_name: str) -> str:
        size = next(size for size in self.sizes if size.name == study_name)
        if size.actual == self.made:
            said = f"one batch of all {self.made[0]}" if len(self.made) == 1 else "one batch for each line"
        else:
            said = f"batches of {self._say_pieces(size)}"
        several = len({one.priority for one in self.sizes}) > 1
        return f"{said} ({size.priority})" if several else said

    def _sentence(
        self,
        runnable: list[str],
        found: Mapping[str, Best],
        leads: Mapping[str, Interval | None],
        searched: bool,
    ) -> str:
        if not runnable:
            return "None of these batch sizes can be run in this shop; the table says why."
        if len(runnable) == 1:
            only = self._say_size(runnable[0])
            return f"There is nothing to compare: every size that can be run comes to {only}."
        design = self.scenario.lines[0].design if len(self.made) == 1 else "piece"
        parts = [
            self._say_wish(found[measure], leads[measure], text.format(piece=design, pieces=several(design)))
            for measure, text in WISHES
        ]
        each = "a size" if searched else "every size"
        count = say_count(max(best.replications for best in found.values()), "replication")
        return (
            f"{' '.join(parts)} {self._say_tried(runnable)} Ranges hold with {say_confidence(CONFIDENCE)} confidence, from "
            f"{'up to ' if searched else ''}{count} on the same luck for {each}."
        )

    def _say_wish(self, best: Best, gap: Interval | None, wish: str) -> str:
        if best.all_same:
            return f"{wish} any of them: they came to the same in every run."
        if gap is None:
            likely = join_words([self._say_size(name) for name in best.kept], "or")
            count = say_count(best.replications, "replication")
            return f"{wish} {likely}: these cannot be told apart yet at {count}."
        hours = best.measure == "hands_on_h_a_piece"
        if gap.low <= 0 and best.searched:  # a search ends when none can be better by more than what matters
            within = say_tolerance(best.matters, hours)
            return f"{wish} {self._say_size(best.kept[0])}, which is the best or within {within} of it."
        if gap.low <= 0:
            return (
                f"{wish} {self._say_size(best.kept[0])}, though by how much over {self._say_size(best.second)} cannot "
                f"be told yet at {say_count(best.replications, 'replication')}."
            )
        gain = say_hours_gain(gap) if hours else say_gain(gap)
        return f"{wish} {self._say_size(best.kept[0])}, by {gain} over {self._say_size(best.second)}."

    def _notes(self) -> tuple[str, ...]:
        ordered, made = sum(ordered_of_lines(self.scenario)), sum(self.made)
        notes = ["Ship days count from the day orders close; averages are over the orders."]
        if made > ordered:
            spare = made - ordered
            notes.append(
                f"{say_count(ordered, 'piece')} ordered, {made:,} made whatever the batch size: "
                f"{spare} {'is' if spare == 1 else 'are'} spare."
            )
        if self.too_large:
            all_of = f"the {max(self.made):,} to make" if len(self.made) == 1 else "any line makes"
            notes.append(
                f"A batch of {join_words([f'{size:,}' for size in self.too_large], 'or')} is more than {all_of}: it is one "
                f"batch of all, and adds no piece."
            )
        notes += [f"A batch of {size.asked}: {self._remark(size)}." for size in self.sizes if self._remark(size)]
        return tuple(dict.fromkeys(notes))


def compare_batch_sizes(
    scenario: Scenario,
    sizes: Sequence[int] | None = None,
    *,
    priority_rules: Sequence[str] | None = None,
    until_sure: bool = False,
    matters_days: float = MATTERS_DAYS,
    **options: Unpack[RunOptions],
) -> Answer:
    """What each batch size does to ship days, hours and clamps; which is best for which wish.

    ``sizes``: pieces in a batch, default those of ``usual_sizes``; one above the number of pieces is one batch of
    all, once. Rounding of orders stays as the scenario says, and so does the room (``run.pieces_open``), also where
    the scenario leaves it open. What the scenario has now is always among the rows, also where its lines have
    sizes of their own. ``priority_rules``: names of built-in priority rules, each
    size under each of them; default the scenario's own. ``options``: see ``RunOptions``.

    ``replications``: of every size, default 200. With ``until_sure`` each wish is run on until one size is left,
    which then is the best, or within ``matters_days`` of it (of hours a piece in proportion: 3 minutes
    for a quarter of a day), with 95 % for each wish; sizes that are surely worse are dropped on
    the way, and ``replications``, default 5,000, are the most. What is not settled by then cannot be told apart yet.

    Rows, by priority rule and size: ``batch`` (asked), ``pieces_in_batch``, ``said`` (pieces in a batch, as
    text; of each line where they differ), ``batches``, ``priority``, ``is_now``, ``pieces_open`` (the room, nan: no limit); for ``first_ship_day``, ``average_ship_day``, ``last_ship_day`` (days
    after orders close) the mean over replications and the 10, 50, 90 % points ``_p10``,
    ``_p50``, ``_p90``; means of ``hands_on_h_a_piece`` (also ``_p10``, ``_p90``), ``setup_h``, ``idle_h``, ``most_clamps``,
    ``most_pieces``, and ``most_clamps: <kind>``; ``first_saved_days``, ``average_saved_days``,
    ``last_saved_days``, ``hands_on_saved_h``, each with ``_low`` and ``_high``: what is saved against the scenario's own
    size, paired (negative: later, or more), intervals of all rows together at 95 %
    (Bonferroni); ``may_be_best: <measure>`` for each wish; ``replications`` of the row; ``remark``. The answer's further table
    ``LEAD_TIMES`` has a row for each size and order (see ``measure_positions``), ``BEST_SIZES`` one for each wish (see
    ``list_best``).

    A size with which the shop could never finish stays in the table, with the reason and
    no numbers. Raises InputError for bad arguments, Cancelled if stopped before two
    replications of all sizes were finished.
    """
    question = BatchSizes(scenario, sizes, priority_rules, until_sure=until_sure, matters_days=matters_days)
    return ask(question, Execution.of(options))


def _check_size(size: Any) -> int:
    if isinstance(size, bool) or not isinstance(size, int | np.integer) or not 1 <= size <= 100_000:
        raise InputError(f"a batch of {size!r} cannot be made · write a whole number of pieces from 1 to 100000")
    return int(size)


def _check_priority_rules(scenario: Scenario, priority_rules: Sequence[str] | None) -> tuple[str, ...]:
    if priority_rules is None:
        return (scenario.run.priority,)
    for name in priority_rules:
        if name not in PRIORITY_RULES:
            raise InputError(f'priority rule "{name}" is not known · choose from {", ".join(PRIORITY_RULES)}')
    return tuple(dict.fromkeys(priority_rules)) or (scenario.run.priority,)
