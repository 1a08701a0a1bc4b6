"""From the rows of logs to what a scenario keeps of them, and what is believed before and after."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy import special

from shopsim.engine.days import DAY_SHARED, day_beliefs, interrupted_share
from shopsim.engine.learned import LearnedTimes, can_learn, learn_days, learn_times, logit_share, split_spread
from shopsim.engine.lopsided import Lopsided
from shopsim.engine.steps import Step, build_steps
from shopsim.engine.task_times import learning_factor, spread_of
from shopsim.errors import InputError
from shopsim.laws import Z90
from shopsim.scenario.batches import build_batches
from shopsim.scenario.day_logs import DayRow
from shopsim.scenario.logs import LoggableWork, TimeRow
from shopsim.scenario.model import DeliveredOrder, Learned, LoggedDays, LoggedTimes, Scenario, TakenLog
from shopsim.scenario.variants import PLAIN, Chosen
from shopsim.units import format_minutes

#: Digits kept of a mean and of squares: far beyond what a stop-watch tells.
DIGITS = 6


@dataclass(frozen=True)
class TakenIn:
    """What taking a log in came to: what the scenario then knows, and in words what was done with the log."""

    learned: Learned
    notes: tuple[str, ...]


def list_loggable(scenario: Scenario) -> list[LoggableWork]:
    """The operations that a log may name: those of every design and its options, and the packing where the file has it."""
    works = []
    steps = steps_of(scenario)
    for (design, _), number in name_steps(scenario, steps).items():
        operation, count = steps[number].operation, steps[number].units_a_piece
        if operation.hands == 0:
            continue
        if operation.per in ("run", "batch"):
            works.append(LoggableWork(design, operation.name, 1, 1))
        elif operation.handful == "batch":
            works.append(LoggableWork(design, operation.name, None, None))
        else:
            usual = count if operation.handful is None else min(int(operation.handful), count)
            works.append(LoggableWork(design, operation.name, usual, count))
    return works


def steps_of(scenario: Scenario) -> tuple[Step, ...]:
    """The steps of all designs: first as the pieces of the run have them, then what only other options bring."""
    designs = scenario.all_designs
    number_of = {design.name: number for number, design in enumerate(designs)}
    _, cuts = build_batches(scenario, scenario.lines, number_of, scenario.day0)
    chosen: dict[int, list[Chosen]] = {number: [] for number in range(len(designs))}
    for line, cut in zip(scenario.lines, cuts, strict=True):
        chosen[number_of[line.design]] += sorted(set(cut.chosen))
    for number, design in enumerate(designs):
        chosen[number] += [PLAIN, *((option,) for option in range(len(design.options)))]
    return build_steps(scenario, designs, {number: list(dict.fromkeys(ways)) for number, ways in chosen.items()})[0]


def name_steps(scenario: Scenario, steps: Sequence[Step]) -> dict[tuple[str, str], int]:
    """(design, operation) -> the first step of it, in the order of the steps; versions of an operation are one."""
    named: dict[tuple[str, str], int] = {}
    for number, step in enumerate(steps):
        named.setdefault((scenario.all_designs[step.design].name, step.operation.name), number)
    return named


def take_times(scenario: Scenario, rows: Sequence[TimeRow], log: str) -> TakenIn:
    """The scenario's knowledge with a log of task times taken in; ``log``: its file name.

    The same rows, under whatever name, are counted once. A log that has grown takes the place
    of what was taken in of it before; so does one of the same name that was changed, for the
    runs it tells of.
    """
    learned, name = scenario.learned, Path(log).name[:120]
    texts = [f"{r.run}|{r.design}|{r.operation}|{r.piece}|{r.units}|{r.minutes!r}" for r in rows]
    known = _find_known(learned, "times", texts)
    if known is not None and known.rows == len(rows):
        return TakenIn(learned, (f'"{name}" has been taken in before, as "{known.log}": nothing is counted twice.',))
    notes = []
    runs = {row.run for row in rows}
    if known is not None:
        kept = [cell for cell in learned.times if cell.log != known.log]
        if known.log != name:  # it also goes by another name now
            kept = [cell for cell in kept if not (cell.log == name and cell.run in runs)]
        notes.append(f'"{name}" has grown by {len(rows) - known.rows} rows since it was taken in.')
    else:
        kept = [cell for cell in learned.times if not (cell.log == name and cell.run in runs)]
        if len(kept) < len(learned.times):
            notes.append(f'What was learned from an earlier "{name}" about the same runs is replaced.')
    cells = gather_times(rows, scenario, name)
    logs = _put_log(learned, known, TakenLog(log=name, kind="times", rows=len(rows), digest=_digest(texts)))
    return TakenIn(_copy(learned, times=(*kept, *cells), logs=logs), tuple(notes))


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
    """The same with orders that have shipped; one that is known already keeps what was written of it first."""
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


@dataclass(frozen=True)
class OperationBelief:
    """What is believed of the time of one unit of an operation, minutes: typical value and its 80 % interval."""

    design: str
    operation: str
    typical: float
    low: float
    high: float


def believe_times(scenario: Scenario) -> list[OperationBelief]:
    """The typical time of one unit of every operation that varies, with bias and what was learned, pace left out.

    Order of the file. ``low`` to ``high`` holds the operation's own typical time with 80 %, not single units. What is
    told is what the runs draw: a range that leans to one side does so here, too, until its times are logged.
    """
    steps, luck = steps_of(scenario), scenario.luck
    posterior = learn_times(scenario.learned.times, steps, scenario.all_designs, luck)
    bias, bias_sd = believe_bias(scenario)
    places = {} if posterior is None else {step.steps[0]: n + 1 for n, step in enumerate(posterior.steps)}
    beliefs = []
    for (design, name), number in name_steps(scenario, steps).items():
        operation = steps[number].operation
        if not can_learn(operation):
            continue
        if posterior is not None and number in places:
            at = places[number]
            middle = float(posterior.mean[0] + posterior.mean[at])
            sd = math.sqrt(posterior.covariance[0, 0] + posterior.covariance[at, at] + 2 * posterior.covariance[0, at])
            quantiles = (middle, middle - Z90 * sd, middle + Z90 * sd)
        else:
            spread = spread_of(operation, operation.work, luck)
            law = Lopsided(bias, spread.error * spread.below, spread.error * spread.above, bias_sd)
            quantiles = (law.quantile(0.5), law.quantile(0.1), law.quantile(0.9))
        typical, low, high = (operation.work.likely * math.exp(one) for one in quantiles)
        beliefs.append(OperationBelief(design, name, typical, low, high))
    return beliefs


@dataclass(frozen=True)
class DaysBelief:
    """What is believed of the calendar: (middle, 10 %, 90 %) of the typical share of an open day that is left for the
    shop, and of the chance that an open day is lost."""

    open_share: tuple[float, float, float]
    lost: tuple[float, float, float]


def believe_days(scenario: Scenario) -> DaysBelief:
    """The calendar as the runs draw it: what the file says or, where it is silent, what is assumed; or what logged days taught."""
    learned = learn_days(scenario.learned.days, scenario.shop)
    days = day_beliefs(scenario.shop, learned)
    if learned is not None:
        low, middle, high = (float(special.expit(learned.level + z * learned.level_sd)) for z in (-Z90, 0.0, Z90))
    elif days.interrupted is None:
        low = middle = high = 1.0
    else:
        scores = math.sqrt(DAY_SHARED) * np.array([Z90, 0.0, -Z90])
        low, middle, high = (float(share) for share in 1.0 - interrupted_share(days.interrupted, scores))
    return DaysBelief((middle, low, high), (days.lost_chance(0.5), days.lost_chance(0.1), days.lost_chance(0.9)))


def believe_bias(scenario: Scenario) -> tuple[float, float]:
    """(mean, sd) of the log of the shop's bias: typical actual time over likely time."""
    posterior = _posterior(scenario)
    if posterior is None:
        return math.log(scenario.luck.bias), scenario.luck.bias_spread
    return float(posterior.mean[0]), math.sqrt(float(posterior.covariance[0, 0]))


def believe_pace(scenario: Scenario) -> list[tuple[str, float, float]]:
    """(run, mean, sd) of the log of the pace of every logged run."""
    posterior = _posterior(scenario)
    if posterior is None:
        return []
    return [
        (run, float(mean), float(sd))
        for run, mean, sd in zip(posterior.runs, posterior.pace_mean, posterior.pace_sd, strict=True)
    ]


def _posterior(scenario: Scenario) -> LearnedTimes | None:
    return learn_times(scenario.learned.times, steps_of(scenario), scenario.all_designs, scenario.luck)
