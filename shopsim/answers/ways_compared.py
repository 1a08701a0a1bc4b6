"""Other ways of making it: each against today and against the others on the same luck, and from how many pieces on it pays."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Unpack

import pandas as pd

from shopsim.answers.alternatives import (
    NOW,
    SAVED,
    compare,
    put_interval,
    run_alternatives,
    spread_points,
    try_change,
)
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.hours_per_piece import HOURS, say_study_hours
from shopsim.answers.pays_from import PaysFrom, find_pays_from
from shopsim.answers.promise_policy import KEPT, USUAL, WINDOW, PromisePolicy, window_columns
from shopsim.answers.question import Question, ask
from shopsim.answers.ways_words import say_ways
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.batches import pieces_of_lines
from shopsim.scenario.model import Scenario, Way
from shopsim.scenario.places import NameSuggester, say_names
from shopsim.scenario.variants import fold_name
from shopsim.scenario.ways import list_ways, put_ways, ways_in_use
from shopsim.study.execution import Execution, Meter, RunOptions
from shopsim.study.results import Study

#: Keys: the answer, and its further tables.
WAYS, AGAINST, PAYS = "ways_of_making_it", "ways_against_each_other", "from_how_many_pieces_on"
#: Ways up to which all that are not in use are put together where nothing is asked.
MAX_TOGETHER = 3
#: Runs that the search for the number of pieces may take, of one way: for the count of progress.
_RUNS_TO_FIND = 8_000
_MEASURES = ("first_ship_day", "average_ship_day", "last_ship_day", HOURS)


@dataclass(frozen=True)
class Tried:
    """One row: which ways are in use, as the run names them, and what it is called; ``price`` of those that today lacks."""

    name: str
    ways: tuple[str, ...]
    price: float | None
    #: (ways without, ways with) between which it is asked from how many pieces on it pays
    pair: tuple[tuple[str, ...], tuple[str, ...]] | None = None


class WaysCompared(Question[Answer]):
    """Each way of making it against today and against the others; see ``compare_ways``.

    Raises InputError where the file knows no ways, or ``together`` names some that it does not know.
    """

    def __init__(self, scenario: Scenario, together: str | None = None) -> None:
        self.scenario = scenario
        known = list_ways(scenario)
        if not known:
            raise InputError(
                "the file knows no other way of making it · write one under [[design.ways]], with a name and what it changes"
            )
        used = tuple(way.name for way in ways_in_use(scenario))
        self.tried = [Tried(NOW, used, 0.0)]
        for way in known:
            if way.name in used:
                left = tuple(name for name in used if name != way.name)
                self.tried.append(Tried(f"without {way.name}", left, 0.0, (left, used)))
            else:
                self.tried.append(Tried(way.name, (*used, way.name), way.price, (used, (*used, way.name))))
        for names in _read_together(known, together, used):
            added = tuple(name for name in names if name not in used)
            prices = [way.price for way in known if way.name in added]
            price = None if any(one is None for one in prices) else sum(one or 0.0 for one in prices)
            self.tried.append(Tried(" + ".join(added), (*used, *added), price, (used, (*used, *added))))
        self._alternatives: dict[str, Scenario] = {}
        self.why_not: dict[str, str] = {}
        for one in self.tried:
            changed, why_not = try_change(scenario, {"run.ways": list(one.ways)}) if one.name != NOW else (scenario, "")
            if changed is None:
                self.why_not[one.name] = why_not
            else:
                self._alternatives[one.name] = changed
        self.policy = PromisePolicy.of(scenario, WINDOW, KEPT)

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """Today, and each way or set of ways that can be made."""
        return self._alternatives

    @property
    def usual(self) -> int:
        """Replications that tell a window."""
        return USUAL

    @property
    def fewest(self) -> int:
        """Replications that tell the chances of windows."""
        return self.policy.fewest

    def check(self, replications: int) -> None:
        """InputError where so many cannot tell a window."""
        self.policy.need(replications)

    def answers(self, execution: Execution, last: bool) -> Iterator[Answer]:
        """What each way does to the run; then the same with the number of pieces from which on each pays."""
        runs = (execution.replications or USUAL) * len(self._alternatives)
        meter = Meter(execution.on_progress, runs + _RUNS_TO_FIND * (len(self.tried) - 1))
        study = run_alternatives(self._alternatives, meter.stage(execution))
        self.policy.need_study(study)
        if not last or not study.complete:
            yield self.answer(study, {})
            return
        found: dict[str, PaysFrom] = {}
        reason, stopped = "", False
        for one in self.tried:
            if one.pair is None or one.name in self.why_not:
                continue
            without, _ = try_change(self.scenario, {"run.ways": list(one.pair[0])})
            if without is None:
                continue
            try:
                found[one.name] = find_pays_from(without, one.pair[1], meter.stage(execution))
            except InputError as error:
                reason = str(error)
            except Cancelled:
                stopped = True
                break
        meter.finish()
        answer = self.answer(study, found, reason)
        yield replace(answer, partial=True, notes=(_STOPPED, *answer.notes)) if stopped else answer

    def answer(self, study: Study, found: dict[str, PaysFrom], reason: str = "") -> Answer:
        """Tables and sentence of a study."""
        rows = pd.DataFrame([self._row(study, one) for one in self.tried])
        pays = pd.DataFrame([_pays_row(name, one) for name, one in found.items()], columns=list(_PAYS_COLUMNS))
        tables = {PAYS: pays}
        against = self._against(study)
        if len(against):
            tables[AGAINST] = against
        notes = [
            "Ship days count from the day orders close; the window is that of the last order to ship. It pays where all the "
            "hours of people that the run takes are no more than without it; its price is not in that.",
            say_study_hours(put_ways(self.scenario), study, NOW),
        ]
        if reason:
            notes.insert(0, f"From how many pieces on they pay is not told: {reason}")
        sentence = say_ways(rows, pays, self.made, study.replications)
        return build_answer(study, NOW, WAYS, rows, sentence, tuple(notes), tables)

    @property
    def made(self) -> int:
        """Pieces that today's run makes."""
        return sum(pieces_of_lines(self.scenario))

    def _row(self, study: Study, one: Tried) -> dict[str, Any]:
        nan = float("nan")
        row: dict[str, Any] = {
            "ways": "as today" if one.name == NOW else one.name,
            "ways_in_use": ", ".join(one.ways),
            "is_now": one.name == NOW,
            "cost": nan if one.price is None else one.price,
        }
        there = one.name in self._alternatives
        for measure in _MEASURES:
            values = study.values(one.name, measure) if there else None
            row[measure] = nan if values is None else float(values.mean())
            row[f"{measure}_p10"], row[f"{measure}_p50"], row[f"{measure}_p90"] = (
                (nan, nan, nan) if values is None else spread_points(values)
            )
        row["most_clamps"] = float(study.values(one.name, "most_clamps").mean()) if there else nan
        for kind in put_ways(self.scenario).shop.clamps:
            row[f"most_clamps: {kind.name}"] = _peak(study, one.name, kind.name) if there else nan
        rivals = max(1, len(self._alternatives) - 1)
        for measure in _MEASURES:
            if there:
                put_interval(row, SAVED[measure], compare(study, NOW, one.name, measure, rivals))
        if there:
            outcome = study.outcomes[one.name]
            promise = self.policy.promise(outcome.order_days.max(axis=1))
            row.update(window_columns(promise, outcome.queue.close))
        row["replications"] = study.outcomes[one.name].replications.size if there else 0
        row["remark"] = f"cannot be made: {self.why_not[one.name]}" if one.name in self.why_not else ""
        return row

    def _against(self, study: Study) -> pd.DataFrame:
        """A row for each two of what was tried beside today: what the first saves against the second, paired."""
        names = [one.name for one in self.tried if one.name != NOW and one.name in self._alternatives]
        pairs = list(itertools.combinations(names, 2))
        rows = []
        for first, second in pairs:
            row: dict[str, Any] = {"what": first, "against": second}
            for measure in _MEASURES:
                put_interval(row, SAVED[measure], compare(study, second, first, measure, len(pairs)))
            rows.append(row)
        return pd.DataFrame(rows)


_STOPPED = "Stopped before it was found for every way from how many pieces on it pays."
_PAYS_COLUMNS = ("what", "pays_from", "pays_from_low", "pays_from_high", "pieces_tried")


def _pays_row(name: str, found: PaysFrom) -> dict[str, Any]:
    nan = float("nan")
    numbers = [nan if one is None else float(one) for one in (found.pieces, found.low, found.high)]
    return dict(zip(_PAYS_COLUMNS, (name, *numbers, found.most), strict=True))


def _peak(study: Study, name: str, kind: str) -> float:
    """The most clamps of a kind in use, the mean over replications; nothing where the shop then has none of it."""
    names = [own.name for own in put_ways(study.outcomes[name].scenario).shop.clamps]
    return float(study.clamp_peaks[name][:, names.index(kind)].mean()) if kind in names else 0.0


def _read_together(known: Sequence[Way], asked: str | None, used: Sequence[str]) -> list[tuple[str, ...]]:
    """The sets of ways that are asked for together; where none is, all that are not in use if they are few."""
    if asked is None:
        free = tuple(way.name for way in known if way.name not in used)
        return [free] if 2 <= len(free) <= MAX_TOGETHER else []
    names = {fold_name(way.name): way.name for way in known}
    sets = []
    for part in asked.split(";"):
        chosen: dict[str, None] = {}
        for name in part.split("+"):
            if fold_name(name) not in names:
                near = NameSuggester().nearest(name.strip(), list(names.values()))
                mend = f'write "{near}"' if near else f"the file has {say_names(list(names.values()))}"
                raise InputError(f'together · there is no way "{name.strip()}" · {mend}')
            chosen[names[fold_name(name)]] = None
        if len([name for name in chosen if name not in used]) > 1:
            sets.append(tuple(way.name for way in known if way.name in chosen))
    return sets


def compare_ways(scenario: Scenario, together: str | None = None, **options: Unpack[RunOptions]) -> Answer:
    """Each way of making it (``[[design.ways]]``) against today and against the others, on the same luck.

    ``together``: sets of ways to try at once, ``"jig + slow glue; jig + sled"``; default all that are not in use, if they are two
    or three. A way that is in use is compared with the file without it. ``options``: see ``RunOptions``.

    Rows, today first: ``ways``, ``ways_in_use``, ``is_now``, ``cost`` (price of what today lacks, nan: not known); for
    ``first_ship_day``, ``average_ship_day``, ``last_ship_day`` (days after orders close) and ``hands_on_h_a_piece`` the mean and
    ``_p10``, ``_p50``, ``_p90``; means of ``most_clamps`` and ``most_clamps: <kind>``; ``first_saved_days``, ``average_saved_days``,
    ``last_saved_days``, ``hands_on_saved_h`` against today, paired, with ``_low`` and ``_high`` (all rows together at 95 %);
    the window of the last order to ship, as in ``forecast_delivery``; ``remark``. Further tables: ``AGAINST``, the same savings for each two that were
    tried; ``PAYS``: ``pays_from`` how many pieces on all the hours of people are no more than without it, ``_low`` and ``_high``
    (nan: not seen), and the most ``pieces_tried`` (see ``find_pays_from``). Raises InputError where the file has no ways.
    """
    return ask(WaysCompared(scenario, together), Execution.of(options))
