"""What went on when in one run: every stretch of work, of time in clamps and of cure, and when the shop was closed."""

from __future__ import annotations

import numpy as np
import pandas as pd

from shopsim.study.once import RunResult, say_crew

#: Columns of ``list_spans`` and what they hold.
SPAN_COLUMNS = {
    "task": "int64", "operation": "str", "batch": "Int64", "piece": "Int64", "state": "str", "worker": "str",
    "station": "str", "since": "datetime64[us]", "until": "datetime64[us]",
}  # fmt: skip
HANDS_ON, UNCLAMPING, ALONE, IN_CLAMPS, CURING = "hands-on", "taking clamps off", "nobody needed", "in clamps", "curing"


def list_spans(run: RunResult) -> pd.DataFrame:
    """Every stretch of every task, in the order of tasks and time: columns of SPAN_COLUMNS, times as local moments.

    ``state``: "hands-on" (set-up included, pauses left out), "nobody needed" (work with ``hands = 0``),
    "in clamps" (until they come off), "taking clamps off", "curing" (what is left of cure and
    drying when clamps are off). ``worker``: who had their hands on it, joined by " + "; ``station``:
    where it was kept meanwhile, with a number where the shop has several of one name.
    ``piece`` is missing for work of a whole batch, ``batch`` for work of a whole run.
    """
    history, work, record = run.history, run.plan.worklist, run.record
    places = {
        unit: name if len(units) == 1 else f"{name} {number}"
        for name, units in zip(work.station_names, work.station_units, strict=True)
        for number, unit in enumerate(units, start=1)
    }

    rows: list[tuple[object, ...]] = []
    since: list[float] = []
    until: list[float] = []
    for task, number in enumerate(work.task_step):
        operation = work.steps[number].operation
        whole_run = operation.per == "run"
        piece = work.task_piece[task]
        start, end, done, off = (
            float(column[task]) for column in (record.start, record.end, record.done, record.clamps_off)
        )
        unclamped = history.unclamping(task)
        clamped = off if not np.isnan(off) else end
        loose = unclamped[0][0] if unclamped else clamped
        parts = [(HANDS_ON, *stretch) for stretch in history.hands_on(task)]
        parts += [(ALONE, start, end, 0)] if operation.hands == 0 else []
        parts += [(IN_CLAMPS, end, loose, 0)]
        parts += [(UNCLAMPING, *stretch) for stretch in unclamped]
        parts += [(CURING, clamped, done, 0)]
        kept = float(history.station_until[task])
        for state, begun, ended, crew in parts:
            if ended <= begun:
                continue
            there = not np.isnan(kept) and begun < kept
            rows.append(
                (
                    task + 1,
                    operation.name,
                    pd.NA if whole_run else work.task_batch[task] + 1,
                    pd.NA if piece < 0 else piece + 1,
                    state,
                    say_crew(work.worker_names, crew),
                    places[int(record.station_unit[task])] if there else "",
                )
            )
            since.append(begun)
            until.append(ended)
    table = pd.DataFrame(rows, columns=list(SPAN_COLUMNS)[:7])
    table["since"], table["until"] = run.moments(np.array(since)), run.moments(np.array(until))
    return table.astype(SPAN_COLUMNS)


def list_closed(run: RunResult) -> pd.DataFrame:
    """When the shop was closed during a run, as ``since`` and ``until``: nights, days off and lost days, in order of time."""
    last = float(run.record.done.max(initial=0.0))
    edges = [0.0]
    for start, end, _ in run.history.shop_hours.pieces(0.0, last):
        edges += [start, end]
    edges.append(last)
    spans = np.array([(a, b) for a, b in zip(edges[0::2], edges[1::2], strict=True) if b > a]).reshape(-1, 2)
    return pd.DataFrame({"since": run.moments(spans[:, 0]), "until": run.moments(spans[:, 1])}).astype("datetime64[us]")
