"""The state of a run as its log has it: what is done, half done, in clamps, spoiled, shipped and here. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shopsim.dates import day_number
from shopsim.engine.worklist import Worklist
from shopsim.errors import Fault
from shopsim.scenario.day_logs import DayRow, open_minutes
from shopsim.scenario.happenings import CAME, LOST, OF_TASKS, SHORTENED, Happening
from shopsim.scenario.logs import TimeRow
from shopsim.scenario.shipped_logs import ShippedRow
from shopsim.study.beliefs import believe_days
from shopsim.study.log_events import LogEvents
from shopsim.study.named_tasks import NamedTasks
from shopsim.study.order_queue import OrderQueue
from shopsim.study.work_in_hand import HalfDone
from shopsim.study.worked_hours import WorkedHours
from shopsim.units import MINUTES_PER_DAY


@dataclass(frozen=True, eq=False)
class RunState:
    """What has happened of a run by ``now_min``; moments in minutes from midnight of day 0, NaN for what has not happened.

    ``begun_min``, ``ended_min`` (of the hands-on work), ``off_min`` (clamps came off), ``passed_min`` (what comes after it has
    begun, so that nothing of it can be waited for): float64, one a task. ``crew``: who began it, a bit a worker, 0 where the log
    does not say; int64, one a task. ``half_done``: what has begun and not ended. ``taken_out``: pieces, from 0, that were spoiled
    and are replaced by a spare one; ``made_again``: how many pieces and parts are made again. ``shipped``: places of orders in
    the queue, from 0, with their day. ``came_min``: materials that came. ``lost``, ``shares``: days, counted from day 0, that were
    lost, and what others had left. ``worked_days``: days on which something was done. ``times``, ``days``, ``orders``: what the
    log teaches, as rows of the older logs. ``keeps_off``: whether clamps that came off are logged at all. ``last_min``: the last happening.
    """

    now_min: float
    begun_min: np.ndarray
    ended_min: np.ndarray
    off_min: np.ndarray
    passed_min: np.ndarray
    crew: np.ndarray
    half_done: tuple[HalfDone, ...] = ()
    taken_out: tuple[int, ...] = ()
    made_again: int = 0
    shipped: Mapping[int, dt.date] = field(default_factory=dict)
    came_min: Mapping[int, float] = field(default_factory=dict)
    lost: frozenset[int] = frozenset()
    shares: Mapping[int, float] = field(default_factory=dict)
    worked_days: frozenset[int] = frozenset()
    times: tuple[TimeRow, ...] = ()
    days: tuple[DayRow, ...] = ()
    orders: tuple[ShippedRow, ...] = ()
    keeps_off: bool = False
    last_min: float | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing has happened."""
        return self.last_min is None


def moment_of(row: Happening, work: Worklist) -> float:
    """When a row happened, in minutes from midnight of day 0; a task of which only the day is named, at the end of its hours."""
    midnight = (row.date - work.day0).days * MINUTES_PER_DAY
    if row.minute is not None:
        return midnight + row.minute
    shop = work.scenario.shop
    if shop.open == "always" or not open_minutes(shop, row.date):
        return midnight + MINUTES_PER_DAY - 1.0
    return midnight + float(shop.open[row.date.weekday()][-1][1])


def read_state(
    work: Worklist, queue: OrderQueue, rows: Sequence[Happening], now_min: float, name: str
) -> tuple[RunState, tuple[Fault, ...]]:
    """(state of the run at ``now_min``, faults) from the rows of its log, those that happened later left out.

    Rows count in the order of their moments, those of one moment as the file has them. Faults are told by row of the file
    ``name``: names that there are not, more pieces than there are, and what cannot be true together.
    """
    names = NamedTasks(work, queue, name)
    told = sorted(((moment_of(row, work), row) for row in rows), key=lambda one: (one[0], one[1].line))
    for moment, row in told:
        if moment < 0 and row.what != CAME:
            rule = f"{row.date} is before the run begins, on {work.day0}"
            names.fault(row, "when", rule, "look at the date, or let the run start earlier")
    told = [(moment, row) for moment, row in told if moment <= now_min and (moment >= 0 or row.what == CAME)]
    lost, shares = _read_days(names, told)
    hours = WorkedHours(work.scenario, lost, shares, believe_days(work.scenario).open_share[0])
    events = LogEvents(work, queue, names, hours)
    for moment, row in told:
        events.take(row, moment)
    half_done = events.end(now_min)
    worked = _worked_days(events, told, half_done, now_min)
    for day in sorted(worked & lost):
        row = next(row for moment, row in told if row.what == LOST and day_number(moment) == day)
        other = next((row for moment, row in told if row.what in OF_TASKS and day_number(moment) == day), None)
        if other is not None:
            rule = f"{row.date} was lost, and yet row {other.line} tells of work on it"
            names.fault(row, "what", rule, "take one of them back, or log the day as shortened")
    state = RunState(
        now_min=now_min,
        begun_min=events.begun,
        ended_min=events.ended,
        off_min=events.off,
        passed_min=events.passed,
        crew=events.crew,
        half_done=half_done,
        taken_out=tuple(events.taken_out),
        made_again=events.made_again,
        shipped=events.shipped,
        came_min=events.came,
        lost=lost,
        shares=shares,
        worked_days=worked - lost,
        times=tuple(events.times),
        days=_list_days(work, lost, shares, worked, now_min),
        orders=tuple(events.orders),
        keeps_off=events.keeps_off,
        last_min=told[-1][0] if told else None,
    )
    return state, tuple(sorted(names.faults, key=lambda fault: fault.line or 0))


def _read_days(names: NamedTasks, told: Sequence[tuple[float, Happening]]) -> tuple[frozenset[int], dict[int, float]]:
    """(days that were lost, share of others that was left), counted from day 0."""
    lost: dict[int, int] = {}
    shares: dict[int, float] = {}
    for moment, row in told:
        if row.what not in (LOST, SHORTENED):
            continue
        day, hours = day_number(moment), open_minutes(names.work.scenario.shop, row.date)
        if not hours:
            names.fault(row, "when", f"the shop is not open on {row.date}", "look at the date")
        elif day in lost:
            names.fault(row, "what", f"{row.date} was lost, as row {lost[day]} says", "take one of the two rows back")
        elif row.what == LOST:
            lost[day] = row.line
        elif row.minutes is not None and row.minutes >= hours:
            rule = f"{row.minutes:g} min are as much as the {hours:g} min it is open, or more"
            names.fault(row, "minutes", rule, "write the minutes lost, or log the day as lost")
        elif row.minutes is not None:
            shares[day] = 1.0 - row.minutes / hours
    return frozenset(lost), shares


def _worked_days(
    events: LogEvents, told: Sequence[tuple[float, Happening]], half_done: Sequence[HalfDone], now_min: float
) -> frozenset[int]:
    """Days on which something was done by hand: those that rows tell of, and those that lie between its beginning and its end."""
    days = {day_number(moment) for moment, row in told if row.what in OF_TASKS or row.what == SHORTENED}
    for since, until in events.spans:
        days.update(range(day_number(since), day_number(until) + 1))
    return frozenset(days)


def _list_days(
    work: Worklist, lost: frozenset[int], shares: Mapping[int, float], worked: frozenset[int], now_min: float
) -> tuple[DayRow, ...]:
    """The days that the log tells of, but for today, which is not over.

    What was left of them counts only where at least half of the days that were not lost have it said: whoever notes
    only bad days would teach that all are bad.
    """
    shop, today = work.scenario.shop, day_number(now_min)
    counted = sorted(day for day in worked | lost | set(shares) if day < today)
    dated = [(day, work.day0 + dt.timedelta(days=day)) for day in counted]
    dated = [(day, date) for day, date in dated if open_minutes(shop, date)]
    said = sum(day in shares for day, _ in dated if day not in lost)
    whole = 2 * said >= sum(day not in lost for day, _ in dated)
    return tuple(
        DayRow(0, date, shares.get(day) if whole and day not in lost else None, day in lost) for day, date in dated
    )
