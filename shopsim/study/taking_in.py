"""From the rows of logs to what a scenario keeps of them: taken in once, whatever the log is called and however it is sorted."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from shopsim.engine.learned import can_learn, split_spread
from shopsim.engine.learned_days import logit_share
from shopsim.engine.task_times import learning_factor
from shopsim.errors import InputError
from shopsim.scenario.day_logs import DayRow
from shopsim.scenario.logged_rows import LoggedRow
from shopsim.scenario.logs import TimeRow
from shopsim.scenario.model import DeliveredOrder, Learned, LoggedDays, LoggedTimes, Scenario, TakenLog
from shopsim.study.beliefs import list_loggable, name_steps, steps_of
from shopsim.study.relogs import Row, are_one_log, find_retold, find_same_runs, row_of
from shopsim.units import format_minutes

#: Digits kept of a mean and of squares: far beyond what a stop-watch tells.
DIGITS = 6


@dataclass(frozen=True)
class TakenIn:
    """What taking a log in came to: what the scenario then knows, and in words what was done with the log."""

    learned: Learned
    notes: tuple[str, ...]


def take_times(scenario: Scenario, rows: Sequence[TimeRow], log: str) -> TakenIn:
    """The scenario's knowledge with a log of task times taken in; ``log``: its file name.

    A time that was taken in before is counted once, whatever the log is called and however it is sorted: by run,
    operation and piece what it says now takes the place of what was known. A log of the same name that was changed
    takes the place of the old one, for the runs it tells of. Raises InputError where it cannot be told whether
    times are the same: where neither says which piece, or what is known has no single times.
    """
    learned, name = scenario.learned, Path(log).name[:120]
    rows, cells = name_runs(learned, rows, log), learned.times
    texts = [f"{r.run}|{r.design}|{r.operation}|{r.piece}|{r.units}|{r.minutes!r}" for r in rows]
    known = _find_known(learned, "times", texts)
    if known is not None and known.rows == len(rows):
        return TakenIn(learned, (_say_known(name, known.log),))
    runs = {row.run for row in rows}
    of_old = {place for place, cell in enumerate(cells) if cell.log == name and cell.run in runs}
    if known is not None:  # the log has grown, perhaps one of which no single times were kept
        of_old |= {place for place, cell in enumerate(cells) if cell.log == known.log and not cell.rows}
    old = [cell for place, cell in enumerate(cells) if place in of_old]
    others = [cell for place, cell in enumerate(cells) if place not in of_old]
    retold = find_retold(others, _by_cell(scenario, rows), _units_in_piece(scenario), name)
    if retold.alike == len(rows) and not old:
        return TakenIn(learned, (_say_known(name, *retold.logs),))
    kept = [
        cell if place not in retold.kept else _without(scenario, cell, retold.kept[place])
        for place, cell in enumerate(others)
    ]
    notes = []
    if old and all(cell.rows for cell in old) and _same_rows(old, rows, scenario):
        return TakenIn(learned, (_say_known(name, name),))
    if known is not None and not retold.corrected and known.rows >= retold.alike:
        notes.append(f'"{name}" has grown by {len(rows) - known.rows} rows since it was taken in.')
    elif old:
        notes.append(f'What was learned from an earlier "{name}" about the same runs is replaced.')
    if retold.logs and not (known is not None and known.log in retold.logs and not retold.corrected):
        notes.append(_say_retold(name, retold.alike, retold.corrected, retold.logs))
    gathered = gather_times(rows, scenario, name)
    left = tuple(cell for cell in kept if cell is not None)
    gone = {cell.log for cell in learned.times} - {cell.log for cell in left}
    logs = tuple(one for one in learned.logs if one.kind != "times" or one.log not in {*gone, name})
    entry = TakenLog(log=name, kind="times", rows=len(rows), digest=_digest(texts))
    return TakenIn(_copy(learned, times=(*left, *gathered), logs=(*logs, entry)), tuple(notes))


def name_runs(learned: Learned, rows: Sequence[TimeRow], log: str) -> list[TimeRow]:
    """The rows, with a run that has no name but its file's called as it is known, where its times are known.

    A log without a column for the run is a run of the file's name: under another name it would be another run.
    """
    mine = Path(log).stem[:120]
    if any(row.run != mine for row in rows) or any(cell.run == mine for cell in learned.times):
        return list(rows)
    new: dict[tuple[str | None, str], list[Row]] = {}
    for row in rows:
        for design in (row.design, None):
            new.setdefault((design, row.operation), []).append(row_of(row))
    for run in dict.fromkeys(cell.run for cell in learned.times):
        cells = [cell for cell in learned.times if cell.run == run]
        if are_one_log(
            [([row_of(row) for row in cell.rows], new.get((cell.design, cell.operation), [])) for cell in cells]
        ):
            return [replace(row, run=run) for row in rows]
    return list(rows)


def find_new(scenario: Scenario, rows: Sequence[TimeRow], log: str) -> list[TimeRow]:
    """The rows of a log that were not taken in before as they stand."""
    named, cells = name_runs(scenario.learned, rows, log), scenario.learned.times
    known = {(cell.run, cell.design, cell.operation, row_of(row)) for cell in cells for row in cell.rows}
    several = len(scenario.all_designs) > 1
    return [row for row in named if (row.run, row.design if several else None, row.operation, row_of(row)) not in known]


def doubt_runs(scenario: Scenario, rows: Sequence[TimeRow], log: str) -> list[str]:
    """In words, the runs of a log whose times are those of another run that is known: the same run by another name?"""
    named, cells = name_runs(scenario.learned, rows, log), scenario.learned.times
    return [
        f'{log} · run "{run}" · its times are those of run "{other}", taken in from "{known}" · is it the same run? '
        f'Then call it "{other}"'
        for run, other, known in find_same_runs(cells, _by_cell(scenario, named))
    ]


def _by_cell(scenario: Scenario, rows: Sequence[TimeRow]) -> dict[tuple[str, str | None, str], list[TimeRow]]:
    several = len(scenario.all_designs) > 1
    found: dict[tuple[str, str | None, str], list[TimeRow]] = {}
    for row in rows:
        found.setdefault((row.run, row.design if several else None, row.operation), []).append(row)
    return found


def _units_in_piece(scenario: Scenario) -> dict[tuple[str | None, str], int | None]:
    several = len(scenario.all_designs) > 1
    return {(work.design if several else None, work.operation): work.in_piece for work in list_loggable(scenario)}


def _without(scenario: Scenario, cell: LoggedTimes, rows: Sequence[LoggedRow]) -> LoggedTimes | None:
    """A cell of which only some rows are left, counted anew; None where none are."""
    if not rows:
        return None
    design = cell.design or scenario.all_designs[0].name
    again = [TimeRow(0, cell.run, design, cell.operation, row.piece, row.units, row.minutes) for row in rows]
    return gather_times(again, scenario, cell.log)[0]


def _same_rows(cells: Sequence[LoggedTimes], rows: Sequence[TimeRow], scenario: Scenario) -> bool:
    """Whether a log tells what it told before, in whatever order."""
    now = {key: sorted(map(row_of, mine)) for key, mine in _by_cell(scenario, rows).items()}
    return now == {(cell.run, cell.design, cell.operation): sorted(map(row_of, cell.rows)) for cell in cells}


def _say_known(name: str, *logs: str) -> str:
    return f'"{name}" has been taken in before, as {join_names(logs)}: nothing is counted twice.'


def _say_retold(name: str, alike: int, corrected: int, logs: Sequence[str]) -> str:
    told = f"{alike} as they were"
    if corrected:
        told += f", {corrected} corrected"
    return f'"{name}" tells again of {alike + corrected} times known from {join_names(logs)}: {told}. None is counted twice.'


def join_names(names: Sequence[str]) -> str:
    """Names in quotation marks."""
    return " and ".join(f'"{name}"' for name in names)


def gather_times(rows: Iterable[TimeRow], scenario: Scenario, log: str) -> tuple[LoggedTimes, ...]:
    """The sufficient statistics of logged times, one for each run and operation, in the order of the log.

    A row for several units is their mean, and counts as so many: on the log scale it lies about
    s^2 (1 - 1/units) / 2 higher than a unit's typical time (lognormal times), which is taken off. Where
    the operation is learned with practice, the nth unit of a run is compared with the nth's likely time.
    """
    designs = [design.name for design in scenario.all_designs]
    steps = steps_of(scenario)
    by_name = {key: steps[number].operation for key, number in name_steps(scenario, steps).items()}
    cells: dict[tuple[str, str, str], list[TimeRow]] = {}
    for row in rows:
        cells.setdefault((row.run, row.design, row.operation), []).append(row)
    gathered = []
    for (run, design, name), mine in cells.items():
        operation = by_name[design, name]
        likely = operation.work.likely
        if likely <= 0.0:
            continue
        _, noise = split_spread(operation, operation.work, scenario.luck) if can_learn(operation) else (0.0, 0.0)
        low, high = (operation.work.numbers[0], operation.work.numbers[2]) if can_learn(operation) else (0.0, math.inf)
        logs, weights, outside, done = [], [], 0, 0
        for row in mine:
            practice = np.mean([learning_factor(operation.learning, done + n + 1) for n in range(row.units)])
            done += row.units
            unit = row.minutes / row.units / float(practice)
            logs.append(math.log(unit / likely) - noise**2 * (1 - 1 / row.units) / 2)
            weights.append(row.units)
            outside += not low <= unit <= high
        mean = float(np.average(logs, weights=weights))
        squares = float(np.sum(np.array(weights) * (np.array(logs) - mean) ** 2))
        gathered.append(
            LoggedTimes.model_validate(
                {
                    "operation": name,
                    "units": sum(weights),
                    "mean": round(min(max(mean, -10.0), 10.0), DIGITS),
                    "squares": round(squares, DIGITS),
                    "times": len(mine),
                    "likely": format_minutes(likely),
                    "outside": outside,
                    "run": run,
                    "design": design if len(designs) > 1 else None,
                    "log": log,
                    "rows": [LoggedRow(row.piece, row.units, row.minutes) for row in mine],
                }
            )
        )
    return tuple(gathered)


def take_days(scenario: Scenario, rows: Sequence[DayRow], log: str) -> TakenIn:
    """The scenario's knowledge with a log of days taken in; raises InputError where other logs tell of the same days."""
    learned, name = scenario.learned, Path(log).name[:120]
    ordered = sorted(rows, key=lambda row: row.date)
    texts = [f"{row.date}|{row.share!r}|{row.lost}" for row in ordered]
    known = _find_known(learned, "days", texts)
    if known is not None and known.rows == len(rows):
        return TakenIn(learned, (f'"{name}" has been taken in before, as "{known.log}": nothing is counted twice.',))
    first, last = ordered[0].date, ordered[-1].date
    notes, kept = [], []
    for days in learned.days:
        meets = days.first is not None and days.last is not None and days.first <= last and first <= days.last
        if known is not None and days.log == known.log:
            notes.append(f'"{name}" has grown by {len(rows) - known.rows} days since it was taken in.')
        elif days.log == name and meets:
            notes.append(f'What was learned from an earlier "{name}" about the same days is replaced.')
        elif meets:
            raise InputError(
                f'{log} · some of its days lie between {days.first} and {days.last}, of which "{days.log}" has told '
                "already · keep all days in one log, so that none is counted twice"
            )
        else:
            kept.append(days)
    logits = [logit_share(row.share) for row in ordered if row.share is not None]
    record = LoggedDays(
        days=len(rows),
        lost=sum(row.lost for row in ordered),
        shares=len(logits),
        mean_logit=round(float(np.mean(logits)), DIGITS) if logits else 0.0,
        first=first,
        last=last,
        log=name,
    )
    logs = _put_log(learned, known, TakenLog(log=name, kind="days", rows=len(rows), digest=_digest(texts)))
    return TakenIn(_copy(learned, days=(*kept, record), logs=logs), tuple(notes))


def take_delivered(learned: Learned, delivered: Sequence[DeliveredOrder]) -> TakenIn:
    """What was learned, with orders that have shipped taken in; one that is known keeps what was written of it first."""
    known = {(order.run, order.order) for order in learned.delivered}
    new = [order for order in delivered if (order.run, order.order) not in known]
    notes = []
    if len(new) < len(delivered):
        notes.append(
            f"{len(delivered) - len(new)} of the shipped orders had been taken in before and are not counted twice."
        )
    return TakenIn(_copy(learned, delivered=(*learned.delivered, *new)), tuple(notes))


def _copy(learned: Learned, **changes: object) -> Learned:
    return Learned(**{**{key: getattr(learned, key) for key in Learned.model_fields}, **changes})


def _digest(texts: Sequence[str]) -> str:
    return hashlib.sha256("\n".join(texts).encode()).hexdigest()[:16]


def _find_known(learned: Learned, kind: str, texts: Sequence[str]) -> TakenLog | None:
    """The log taken in before that these rows begin with, the longest of several."""
    known = [
        log
        for log in learned.logs
        if log.kind == kind and log.rows <= len(texts) and log.digest == _digest(texts[: log.rows])
    ]
    return max(known, key=lambda log: log.rows, default=None)


def _put_log(learned: Learned, known: TakenLog | None, new: TakenLog) -> tuple[TakenLog, ...]:
    kept = [log for log in learned.logs if log != known and not (log.kind == new.kind and log.log == new.log)]
    return (*kept, new)
