"""From a simulation plan to the arrays of the compiled floor."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopsim.engine.compiled import array_columns as at
from shopsim.engine.floor.dispatcher import MAX_IDLE_OPENINGS
from shopsim.engine.floor.shop_floor import MAX_RUN_MIN
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.ragged import Ragged

#: What a task has in the logbook: columns of minutes, and of whole numbers.
LOG_MINUTES = (
    at.READY, at.START, at.END, at.PAID_SETUP, at.CLAMPS_OFF, at.UNCLAMP_START, at.UNCLAMP_END, at.DONE, at.WET_UNTIL,
)  # fmt: skip
LOG_NUMBERS = (at.BEGUN, at.WORKERS, at.UNCLAMP_WORKER, at.UNIT)


@dataclass(frozen=True, eq=False)
class PackedPlan:
    """A plan for so many ``days``, with so much ``space`` for events and broken-off work; see ``array_columns.py``.

    ``fresh_w``, ``fresh_x``: how a run begins; ``n_whole``, ``n_real``: sizes of ``w`` and ``x``.
    """

    days: int
    space: int
    p: np.ndarray
    q: np.ndarray
    fresh_w: np.ndarray
    fresh_x: np.ndarray
    n_whole: int
    n_real: int

    @property
    def n_stretches(self) -> int:
        """Stretches of all calendars."""
        return int(self.p[self.p[at.STRETCH_FIRST] + self.p[at.N_CALENDARS]])


class _Laid:
    """Columns laid end to end, each noted in the head of the plan."""

    def __init__(self, head: np.ndarray, singles: np.ndarray) -> None:
        self.head, self.parts, self.size = head, [singles], singles.size

    def add(self, column: int, values: np.ndarray) -> None:
        self.head[column] = self.size
        self.parts.append(values)
        self.size += values.size

    def reserve(self, column: int, n: int) -> None:
        """Room for a column that needs no beginning."""
        self.head[column] = self.size
        self.size += n

    def joined(self, dtype: type) -> np.ndarray:
        return np.concatenate([np.asarray(part, dtype=dtype) for part in self.parts])


def pack(plan: SimulationPlan, days: int, space: int) -> PackedPlan:
    """A plan without a priority rule of the user's own, as arrays; pure."""
    head = np.zeros(at.N_HEAD, dtype=np.int64)
    p, q = _Laid(head, head), _Laid(head, np.zeros(0))
    _count(plan, head, days, space)
    _lay_steps(plan, p, q)
    _lay_tasks(plan, p, q)
    _lay_shop(plan, p)
    _lay_calendars(plan, days, p, q)
    w, x = _lay_run(plan, head, space)
    return PackedPlan(
        days, space, p.joined(np.int64), q.joined(np.float64), w.joined(np.int64), x.joined(np.float64), w.size, x.size
    )


def _count(plan: SimulationPlan, head: np.ndarray, days: int, space: int) -> None:
    n_tasks = plan.task_step.size
    head[at.N_TASKS], head[at.N_ENTRIES], head[at.N_BATCHES] = n_tasks, plan.entry_step.size, plan.batch_size.size
    head[at.N_CALENDARS], head[at.N_KINDS] = len(plan.calendars), plan.clamp_count.size
    head[at.N_MATERIALS], head[at.N_UNCLAMPERS] = len(plan.material_entries), plan.unclampers.size
    head[at.ROOM], head[at.ANY_DUSTY], head[at.MAX_IDLE] = plan.room, plan.step_dusty.any(), MAX_IDLE_OPENINGS
    head[at.MAX_RUN_MIN] = MAX_RUN_MIN
    announced = plan.batch_size.size + plan.entry_step.size + len(plan.material_entries)
    head[at.MAX_EVENTS] = announced + space * (64 + n_tasks // 2)
    head[at.N_DAYS] = 0 if plan.luck.days.whole else days
    head[at.MAX_STRETCHES] = 128 * space
    head[at.MAX_TOGETHER] = 6 * space if len(plan.calendars) > 1 else 0


def _lay_ragged(laid: _Laid, first: int, members: int, rows: Ragged) -> None:
    laid.add(first, rows.first)
    laid.add(members, rows.members)


def _lay_steps(plan: SimulationPlan, p: _Laid, q: _Laid) -> None:
    able = [sum(1 << worker for worker in plan.step_workers.row(n).tolist()) for n in range(plan.step_hands.size)]
    holds = (np.diff(plan.step_needs.first) > 0) | plan.step_timed_hold | plan.step_unclamps
    goes_on = holds | plan.step_wet | plan.step_keeps_station | (plan.step_rack >= 0) | plan.step_cures
    for column, values in (
        (at.HANDS, plan.step_hands), (at.ABLE, np.array(able, dtype=np.int64)), (at.STATION, plan.step_station),
        (at.KEEPS_STATION, plan.step_keeps_station), (at.RACK, plan.step_rack), (at.SPOTS, plan.step_spots),
        (at.NEED_COUNT, plan.need_count), (at.PAUSABLE, plan.step_pausable), (at.DUSTY, plan.step_dusty),
        (at.WET_COAT, plan.step_wet), (at.TIMED_HOLD, plan.step_timed_hold), (at.UNCLAMPS, plan.step_unclamps),
        (at.HOLDS_CLAMPS, holds), (at.ENDS_WITH_WORK, ~goes_on),
    ):  # fmt: skip
        p.add(column, values)
    _lay_ragged(p, at.WORKERS_FIRST, at.ABLE_WORKERS, plan.step_workers)
    p.add(at.NEEDS_FIRST, plan.step_needs.first)  # needs are numbered as they come, so the members are their places
    _lay_ragged(p, at.NEED_KINDS_FIRST, at.NEED_KINDS, plan.need_kinds)
    q.add(at.LIKELY_SETUP, plan.step_likely_setup_min)


def _lay_tasks(plan: SimulationPlan, p: _Laid, q: _Laid) -> None:
    p.add(at.TASK_STEP, plan.task_step)
    p.add(at.TASK_UNITS, plan.task_units)
    p.add(at.TASK_ENTRY, plan.task_entry)
    _lay_ragged(p, at.GROUPS_FIRST, at.GROUPS, plan.task_groups)
    _lay_ragged(p, at.ENDS_FIRST, at.ENDS, plan.task_ends_pieces)
    _lay_ragged(p, at.LISTENERS_FIRST, at.LISTENERS, plan.group_listeners)
    p.add(at.ENTRY_STEP, plan.entry_step)
    p.add(at.ENTRY_UNITS, plan.entry_units)
    p.add(at.ENTRY_SETUP, plan.entry_setup)
    p.add(at.ENTRY_STOP, plan.entry_stop)
    waiting = np.bincount(plan.task_entry, minlength=plan.entry_step.size)
    p.add(at.ENTRY_FIRST, np.concatenate(([0], np.cumsum(waiting)[:-1])))
    _lay_ragged(p, at.MATERIALS_FIRST, at.MATERIAL_ENTRIES, plan.material_entries)
    q.add(at.ENTRY_LIKELY, plan.entry_likely_min)
    q.add(at.ENTRY_NOT_BEFORE, plan.entry_not_before_min)
    for place, column in enumerate((at.WORK, at.SETUP, at.UNCLAMP, at.IN_CLAMPS, at.CURE, at.WET)):
        p.head[column] = place * plan.task_step.size


def _lay_shop(plan: SimulationPlan, p: _Laid) -> None:
    p.add(at.BATCH_GATE, plan.batch_gate)
    p.add(at.BATCH_FIRST, plan.batch_first)
    p.add(at.BATCH_SIZE, plan.batch_size)
    p.add(at.PIECE_BATCH, plan.piece_batch)
    _lay_ragged(p, at.UNITS_FIRST, at.UNITS, plan.station_units)
    p.add(at.WORKER_CALENDAR, plan.worker_calendar)
    crew = np.zeros(len(plan.calendars), dtype=np.int64)
    for worker, calendar in enumerate(plan.worker_calendar.tolist()):
        crew[calendar] |= 1 << worker
    p.add(at.CREW, crew)
    p.add(at.UNCLAMPERS, plan.unclampers)


def _lay_calendars(plan: SimulationPlan, days: int, p: _Laid, q: _Laid) -> None:
    first, starts, ends, on_day = [0], [], [], []
    for calendar in plan.calendars:
        if not calendar.endless:
            start, end, day = calendar.upto(days)
            n = int(np.searchsorted(day, days))  # the calendar may know more than is asked for
            starts.append(start[:n])
            ends.append(end[:n])
            on_day.append(day[:n])
        first.append(sum(map(len, starts)))
    p.add(at.ENDLESS, np.array([calendar.endless for calendar in plan.calendars], dtype=bool))
    p.add(at.STRETCH_FIRST, np.array(first))
    p.add(at.STRETCH_DAY, np.concatenate([*on_day, np.zeros(0, dtype=np.int64)]))
    q.add(at.STRETCH_START, np.concatenate([*starts, np.zeros(0)]))
    q.add(at.STRETCH_END, np.concatenate([*ends, np.zeros(0)]))
    sizes = np.maximum(np.diff(first), 1)
    p.head[at.CURVE_LENGTH] = int(sizes.sum()) if sizes.size > 1 else int(sizes.max(initial=1))


def _lay_run(plan: SimulationPlan, head: np.ndarray, space: int) -> tuple[_Laid, _Laid]:
    n_tasks, n_entries, n_kinds = plan.task_step.size, plan.entry_step.size, plan.clamp_count.size
    n_batches, n_stretches, n_events = plan.batch_size.size, int(head[at.MAX_STRETCHES]), int(head[at.MAX_EVENTS])
    n_units = plan.station_units.members.size
    singles_w, singles_x = np.zeros(at.N_WHOLE, dtype=np.int64), np.zeros(at.N_REAL)
    singles_w[at.FREE] = (1 << plan.worker_calendar.size) - 1
    singles_x[at.HERE_UNTIL] = singles_x[at.WAKE_AT] = -1.0
    w, x = _Laid(head, singles_w), _Laid(head, singles_x)
    for column in LOG_MINUTES:
        x.add(column, np.full(n_tasks, 0.0 if column == at.PAID_SETUP else np.nan))
    x.add(at.BATCH_OPENED, np.full(n_batches, np.nan))
    x.add(at.BROKEN_FROM, np.zeros(n_stretches))
    x.add(at.BROKEN_UNTIL, np.zeros(n_stretches))
    for column in LOG_NUMBERS:
        w.add(column, np.full(n_tasks, -1 if column in (at.UNIT, at.UNCLAMP_WORKER) else 0))
    w.add(at.CLAMPS, np.zeros(n_tasks * n_kinds))
    for column in (at.BROKEN_OFF_TASK, at.BROKEN_OFF_WORKERS, at.BROKEN_OFF_UNCLAMPS):
        w.add(column, np.zeros(n_stretches))
    head[at.LOG_WHOLE], head[at.LOG_REAL] = w.size, x.size
    for column, values in (
        (at.GROUP_LEFT, plan.group_size), (at.TASK_WAITS, plan.task_waits), (at.PIECE_WAITS, plan.piece_waits),
        (at.N_WAITING, np.zeros(n_entries)), (at.OUTSTANDING, np.zeros(n_entries)), (at.CLAMPS_FREE, plan.clamp_count),
        (at.SPOTS_FREE, plan.rack_spots), (at.UNIT_FREE, np.ones(n_units)), (at.UNIT_SET_FOR, np.full(n_units, -1)),
        (at.N_SET, np.zeros(plan.step_hands.size)), (at.SETUP_PAID, np.zeros(plan.n_setups)),
        (at.UNCLAMPING, np.zeros(n_tasks)), (at.BEGAN_BY, np.zeros(n_tasks)), (at.LAST_BY, np.zeros(n_tasks)),
    ):  # fmt: skip
        w.add(column, values)
    x.add(at.UNIT_USED, np.full(n_units, -1.0))
    x.add(at.BATCH_OPENS, plan.batch_opens_min)
    n_curves = len(plan.calendars) + int(head[at.MAX_TOGETHER]) + 1
    for column, n in (
        (at.CURVE_AT, n_curves), (at.CURVE_SIZE, n_curves), (at.CURVE_ENDLESS, n_curves),
        (at.CURVE_OF, int(head[at.MAX_TOGETHER])), (at.ACTIVE, n_entries), (at.ACTIVE_STEP, n_entries), (at.WAITING, n_tasks), (at.CLAMPS_LEFT, n_kinds),
        (at.DUE_TASK, n_tasks), (at.BROKEN_TASK, n_tasks), (at.EVENT_WHAT, n_events),
        (at.OFF_TASK, n_tasks),
    ):  # fmt: skip
        w.reserve(column, n)
    for column, n in (
        (at.DUE_AT, n_tasks), (at.BROKEN_SINCE, n_tasks), (at.BROKEN_LEFT, n_tasks), (at.EVENT_AT, n_events),
        (at.LEFT_AT_BREAK, n_tasks),
    ):  # fmt: skip
        x.reserve(column, n)
    for column in (at.CURVE_START, at.CURVE_END, at.CURVE_RATE, at.CURVE_DONE, at.CURVE_CLOSE):
        x.reserve(column, n_curves * int(head[at.CURVE_LENGTH]))
    return w, x
