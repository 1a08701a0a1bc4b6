"""Where everything stands in the arrays that the compiled floor works on.

Five arrays go through this room, always under these names:

- ``p`` (int64): the plan, whole numbers. Its head says where each column begins, in whichever array it lies: the worker
  of a calendar is ``p[p[WORKER_CALENDAR] + worker]``. Counts stand in the head themselves: ``p[N_TASKS]``.
- ``q`` (float64): the plan, minutes.
- ``w`` (int64) and ``x`` (float64): the run, whole numbers and minutes. Both begin with single numbers (``w[FREE]``),
  then come the columns of the logbook, which outlive the run, then what is worked with.
- ``d`` (float64): the hands-on and clock minutes drawn for a run, six columns of tasks (``d[p[CURE] + task]``).

Ragged columns are two: row n of ``GROUPS`` is ``p[GROUPS_FIRST] + n`` to ``+ n + 1``. See ``SimulationPlan`` and
``RunRecord`` for what the columns mean.
"""

from __future__ import annotations

#: Counts and switches in the head of ``p``.
(
    N_TASKS, N_ENTRIES, N_BATCHES, N_CALENDARS, N_KINDS, N_MATERIALS,
    N_UNCLAMPERS, ROOM, ANY_DUSTY, MAX_EVENTS, MAX_STRETCHES, MAX_TOGETHER, CURVE_LENGTH, LOG_WHOLE, LOG_REAL, N_DAYS,
    MAX_IDLE, MAX_RUN_MIN, N_COUNTS,
) = range(19)  # fmt: skip

#: Columns of the plan, one place a step, a need, a task, a group, an entry, a batch, a piece, a unit and so on.
(
    HANDS, ABLE, WORKERS_FIRST, ABLE_WORKERS, STATION, KEEPS_STATION, RACK, SPOTS, NEEDS_FIRST, NEED_COUNT, NEED_KINDS_FIRST,
    NEED_KINDS, PAUSABLE, DUSTY, WET_COAT, TIMED_HOLD, UNCLAMPS, HOLDS_CLAMPS, ENDS_WITH_WORK, LIKELY_SETUP, TASK_STEP,
    TASK_UNITS, TASK_ENTRY, GROUPS_FIRST, GROUPS, ENDS_FIRST, ENDS, LISTENERS_FIRST, LISTENERS, ENTRY_STEP, ENTRY_UNITS,
    ENTRY_LIKELY, ENTRY_SETUP, ENTRY_STOP, ENTRY_NOT_BEFORE, ENTRY_FIRST, MATERIALS_FIRST, MATERIAL_ENTRIES, BATCH_GATE,
    BATCH_FIRST, BATCH_SIZE, PIECE_BATCH, UNITS_FIRST, UNITS, WORKER_CALENDAR, CREW, UNCLAMPERS, ENDLESS, STRETCH_FIRST,
    STRETCH_DAY, STRETCH_START, STRETCH_END,
) = range(N_COUNTS, N_COUNTS + 52)  # fmt: skip

#: Columns of luck.
WORK, SETUP, UNCLAMP, IN_CLAMPS, CURE, WET = range(STRETCH_END + 1, STRETCH_END + 7)

#: Columns of the logbook: in ``x`` from ``READY`` to ``BROKEN_UNTIL``, the others in ``w``.
(
    READY, START, END, PAID_SETUP, CLAMPS_OFF, UNCLAMP_START, UNCLAMP_END, DONE, WET_UNTIL, BATCH_OPENED, BROKEN_FROM,
    BROKEN_UNTIL, BEGUN, WORKERS, UNCLAMP_WORKER, UNIT, CLAMPS, BROKEN_OFF_TASK, BROKEN_OFF_WORKERS, BROKEN_OFF_UNCLAMPS,
) = range(WET + 1, WET + 21)  # fmt: skip

#: What is worked with, first what begins anew with each run.
(
    GROUP_LEFT, TASK_WAITS, PIECE_WAITS, N_WAITING, OUTSTANDING, CLAMPS_FREE, SPOTS_FREE, UNIT_FREE, UNIT_SET_FOR, N_SET,
    SETUP_PAID, UNCLAMPING, BEGAN_BY, LAST_BY, UNIT_USED, BATCH_OPENS, CURVE_AT, CURVE_SIZE, CURVE_ENDLESS, CURVE_OF, ACTIVE, WAITING,
    CLAMPS_LEFT, DUE_TASK, DUE_AT, BROKEN_TASK, BROKEN_SINCE, BROKEN_LEFT, EVENT_AT, EVENT_WHAT, LEFT_AT_BREAK,
    ACTIVE_STEP, CURVE_START, CURVE_END, CURVE_RATE, CURVE_DONE, CURVE_CLOSE, OFF_TASK, N_HEAD,
) = range(BROKEN_OFF_UNCLAMPS + 1, BROKEN_OFF_UNCLAMPS + 40)  # fmt: skip

#: Single numbers at the head of ``w``.
(
    FREE, HERE, AVAILABLE, REFUSED, N_DUSTY, N_WET, N_OPENED, N_UNDER_WAY, N_DONE, N_ACTIVE, N_HANDLESS, N_DUE, N_BROKEN,
    N_EVENTS, N_IDLE, N_BEGUN, N_STRETCHES, N_TOGETHER, N_OFF, STATUS, RESUMES, N_WHOLE,
) = range(22)  # fmt: skip
#: Single numbers at the head of ``x``.
HERE_UNTIL, NEXT_COMING, WAKE_AT, BEGINS_AT, N_REAL = range(5)

#: How a run ended: done; it needs more days laid out, or more space; it cannot go on; it takes too long.
OVER, NEEDS_DAYS, NEEDS_SPACE, STALLED, TOO_LONG = range(5)
#: Kinds of events; an event is its kind and ``N_KINDS_OF_EVENTS`` times the task (or the material, or 0).
(
    WORK_ENDS, BREAKS_OFF, DRIES, HOLD_ENDS, COMES_OFF, UNCLAMPED, CURED, MATERIAL_COMES, LOOK_AGAIN, N_KINDS_OF_EVENTS,
) = range(10)  # fmt: skip

#: Columns of what is measured in minutes and numbers, a row a run, before those of clamp kinds.
SETUP_MIN, HANDS_ON_MIN, IDLE_MIN, MOST_PIECES, MOST_CLAMPS, N_MEASURED = range(6)
