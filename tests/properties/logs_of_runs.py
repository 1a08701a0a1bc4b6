"""The log that a careful maker would have kept of a run that the engine has made, row by row."""

from __future__ import annotations

import csv
import datetime as dt
import io
import math

import numpy as np

from shopsim.engine.luck import Draws
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.record import RunRecord
from shopsim.engine.under_way import cut_run
from shopsim.scenario.day_logs import open_minutes
from shopsim.scenario.happenings import RUN_COLUMNS
from shopsim.study.order_queue import OrderQueue
from shopsim.units import MINUTES_PER_DAY


def moment_text(plan: SimulationPlan, minutes: float) -> str:
    """A moment of a run as a log has it, to the microsecond."""
    when = dt.datetime.combine(plan.worklist.day0, dt.time()) + dt.timedelta(microseconds=round(minutes * 60e6))
    return when.isoformat(sep=" ", timespec="microseconds")


def log_of_run(plan: SimulationPlan, draws: Draws, record: RunRecord, now: float, ships: bool = False) -> str:
    """Rows up to ``now``: what was done, with its minutes, what is half done, clamps that came off, material, and every day.

    ``ships``: orders that have shipped, too. What needs no hands is not logged.
    """
    work, state = plan.worklist, cut_run(plan, record, draws, now)
    told: list[tuple[float, dict[str, str]]] = []
    for task in range(work.n_tasks):
        step = work.steps[work.task_step[task]]
        if step.operation.hands == 0 or not record.start[task] <= now:
            continue
        cells = {"operation": step.operation.name, "batch": str(work.task_batch[task] + 1)}
        if work.task_piece[task] >= 0:
            first = work.task_unit[task] + 1
            cells["pieces"] = str(work.task_piece[task] + 1)
            cells["units"] = ",".join(str(unit) for unit in range(first, first + work.task_units[task]))
        crew = int(record.workers[task])
        cells["worker"] = " + ".join(name for n, name in enumerate(work.worker_names) if crew >> n & 1)
        minutes = float(record.setup_min[task] + record.work_min[task])
        if record.end[task] <= now:
            told.append((float(record.end[task]), {"what": "done", **cells, "minutes": f"{minutes:.6f}"}))
        else:
            spent = minutes - float(state.left_min[task])
            told.append((float(record.start[task]), {"what": "begun", **cells}))
            told.append((now, {"what": "paused", **cells, "minutes": f"{spent:.6f}"}))
        if step.clamps and record.clamps_off[task] <= now:
            told.append((float(record.clamps_off[task]), {"what": "clamps off", **cells}))
    for material, there in zip(plan.scenario.materials, draws.material_at, strict=True):
        if not material.on_shelf and there <= now:
            told.append((there, {"what": "material came", "material": material.name}))
    if ships:
        queue = OrderQueue(plan.scenario)
        days = queue.ship_days(_pieces_done(plan, record))
        for order, day in zip(queue.orders, days.tolist(), strict=True):
            when = ((queue.close - work.day0).days + day + 1) * MINUTES_PER_DAY - 1
            if when <= now:
                told.append((when, {"what": "shipped", "order": order.id}))
    rows = [{**cells, "when": moment_text(plan, when)} for when, cells in sorted(told, key=lambda one: one[0])]
    rows += _days_told(plan, draws, now)
    text = io.StringIO()
    writer = csv.DictWriter(text, [*RUN_COLUMNS], restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _pieces_done(plan: SimulationPlan, record: RunRecord) -> np.ndarray:
    from shopsim.engine.pieces import piece_done

    return piece_done(plan.worklist, record)


def _days_told(plan: SimulationPlan, draws: Draws, now: float) -> list[dict[str, str]]:
    """Every open day before today: lost, or by how much it was shortened."""
    if draws.days is None:
        return []
    n_days = int(now // MINUTES_PER_DAY)
    share, lost = draws.days.days(max(n_days, 1))
    rows = []
    for day in range(n_days):
        date = plan.worklist.day0 + dt.timedelta(days=day)
        hours = open_minutes(plan.scenario.shop, date)
        if hours and lost[day]:
            rows.append({"when": str(date), "what": "day lost"})
        elif hours:
            rows.append({"when": str(date), "what": "day shortened", "minutes": f"{(1 - share[day]) * hours:.6f}"})
    return rows


def moment_at_share(plan: SimulationPlan, draws: Draws, record: RunRecord, share: float) -> float:
    """The moment at which this share of all hands-on minutes has been worked."""
    whole = float((record.setup_min + record.work_min).sum())
    low, high = 0.0, float(np.nanmax(record.done)) + 1.0
    for _ in range(40):
        middle = (low + high) / 2
        state = cut_run(plan, record, draws, middle)
        begun = record.start <= middle
        spent = (record.setup_min + record.work_min)[begun].sum() - np.nansum(state.left_min)
        low, high = (middle, high) if spent < share * whole else (low, middle)
    return math.floor(high * 60) / 60
