"""What went on when in one run: every stretch of work, of time in clamps and of cure, and when the shop was closed."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from typing import Any

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

    states = (HANDS_ON, ALONE, IN_CLAMPS, UNCLAMPING, CURING)
    of_task, of_state, unit, crews = array("q"), array("b"), array("i"), array("q")
    since, until = array("d"), array("d")
    for task, number in enumerate(work.task_step):
        operation = work.steps[number].operation
        start, end, done, off = (
            float(column[task]) for column in (record.start, record.end, record.done, record.clamps_off)
        )
        unclamped = history.unclamping(task)
        clamped = off if not np.isnan(off) else end
        loose = unclamped[0][0] if unclamped else clamped
        parts = [(0, *stretch) for stretch in history.hands_on(task)]
        parts += [(1, start, end, 0)] if operation.hands == 0 else []
        parts += [(2, end, loose, 0)]
        parts += [(3, *stretch) for stretch in unclamped]
        parts += [(4, clamped, done, 0)]
        kept = float(history.station_until[task])
        for state, begun, ended, crew in parts:
            if ended <= begun:
                continue
            there = not np.isnan(kept) and begun < kept
            of_task.append(task)
            of_state.append(state)
            unit.append(int(record.station_unit[task]) if there else -1)
            crews.append(crew)
            since.append(begun)
            until.append(ended)
    tasks = np.array(of_task, dtype=np.int64)
    step = np.asarray(work.task_step, dtype=np.int64)[tasks]
    of_run = np.array([one.operation.per == "run" for one in work.steps], dtype=bool)[step]
    piece = np.asarray(work.task_piece, dtype=np.int64)[tasks]
    crew_number = {crew: number for number, crew in enumerate(dict.fromkeys(crews))}
    table = pd.DataFrame(
        {
            "task": tasks + 1,
            "operation": _words([one.operation.name for one in work.steps], step),
            "batch": _counted(np.asarray(work.task_batch, dtype=np.int64)[tasks], of_run),
            "piece": _counted(piece, piece < 0),
            "state": _words(states, np.array(of_state, dtype=np.int64)),
            "worker": _words(
                [say_crew(work.worker_names, crew) for crew in crew_number],
                np.array([crew_number[crew] for crew in crews], dtype=np.int64),
            ),
            "station": _words([*(places[n] for n in range(len(places))), ""], np.array(unit, dtype=np.int64)),
        }
    )
    table["since"], table["until"] = run.moments(np.array(since)), run.moments(np.array(until))
    return table.astype(SPAN_COLUMNS)


def _words(words: Sequence[str], number: np.ndarray) -> Any:
    """A column of words, given by their numbers (-1: the last)."""
    return pd.array(list(words), dtype="str").take(np.where(number < 0, len(words) - 1, number))


def _counted(number: np.ndarray, missing: np.ndarray) -> Any:
    """A column of numbers counted from 1, with nothing where it is missing."""
    return pd.arrays.IntegerArray(number + 1, missing)


def list_closed(run: RunResult) -> pd.DataFrame:
    """When the shop was closed during a run, as ``since`` and ``until``: nights, days off and lost days, in order of time."""
    last = float(run.record.done.max(initial=0.0))
    edges = [0.0]
    for start, end, _ in run.history.shop_hours.pieces(0.0, last):
        edges += [start, end]
    edges.append(last)
    spans = np.array([(a, b) for a, b in zip(edges[0::2], edges[1::2], strict=True) if b > a]).reshape(-1, 2)
    return pd.DataFrame({"since": run.moments(spans[:, 0]), "until": run.moments(spans[:, 1])}).astype("datetime64[us]")
