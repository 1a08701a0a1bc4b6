"""Glue-ups in rounds, and the clamp board: which glue-ups hold how many of which clamps, from when until when.

A round is what is glued while clamps last: a glue-up belongs to the round before it as long as no clamps of that round have
come off; the next round begins with the first glue-up after some have.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pandas as pd

from shopsim.answers.day_plan import say_numbers
from shopsim.dates import day_number, moment
from shopsim.engine.waits import CLAMPS, split_wait
from shopsim.plurals import say_number_of
from shopsim.scenario.cautions import join_cautions
from shopsim.study.once import RunResult

#: Columns of the rounds and what they hold.
ROUND_COLUMNS = {
    "round": "int64", "day": "object", "from": "datetime64[us]", "until": "datetime64[us]", "glue_ups": "int64",
    "what": "str", "clamps": "str", "off_from": "datetime64[us]", "off_until": "datetime64[us]", "waited": "bool",
    "caution": "str",
}  # fmt: skip
#: Columns of the clamp board.
BOARD_COLUMNS = {
    "kind": "str", "owned": "int64", "operation": "str", "batch": "Int64", "pieces": "str", "round": "int64",
    "taken": "int64", "since": "datetime64[us]", "until": "datetime64[us]", "in_use": "int64", "all_out": "bool",
}  # fmt: skip


def number_rounds(start: np.ndarray, off: np.ndarray) -> np.ndarray:
    """The round of each glue-up, from 1; ``start``, ``off``: when it is begun and its clamps are off, by rising start; pure."""
    rounds = np.zeros(start.size, dtype=np.int64)
    number, first_off = 0, -np.inf
    for n in range(start.size):
        if start[n] >= first_off:
            number, first_off = number + 1, np.inf
        rounds[n] = number
        first_off = min(first_off, float(off[n]))
    return rounds


def _glue_ups(run: RunResult) -> tuple[np.ndarray, np.ndarray]:
    """(tasks that took clamps, by their start; the round of each)."""
    record = run.record
    tasks = np.flatnonzero(record.clamps.any(axis=1))
    tasks = tasks[np.lexsort((record.begun[tasks], record.start[tasks]))]
    return tasks, number_rounds(record.start[tasks], record.clamps_off[tasks])


def find_rounds(run: RunResult) -> pd.DataFrame:
    """The rounds of a run, one row each in order of time.

    ``round``: its number; ``day``: on which it begins; ``from``, ``until``: begin of its first and end of the hands-on work of
    its last glue-up; ``glue_ups``: how many; ``what``: operation, batch and pieces; ``clamps``: of each kind; ``off_from``,
    ``off_until``: when the first and the last of its clamps are free again; ``waited``: its first glue-up was ready before and
    waited for clamps at the end; ``caution``.
    """
    work, record = run.plan.worklist, run.record
    tasks, rounds = _glue_ups(run)
    rows = []
    for number in np.unique(rounds).tolist():
        mine = tasks[rounds == number]
        first = int(mine[0])
        wait = split_wait(run.history, first, float(record.ready[first]), float(record.start[first]))
        cautions = {caution: None for task in mine for caution in work.steps[work.task_step[task]].operation.caution}
        rows.append(
            (
                number,
                work.day0 + dt.timedelta(days=day_number(float(record.start[first]))),
                moment(float(record.start[first]), work.day0),
                moment(float(record.end[mine].max()), work.day0),
                mine.size,
                _say_what(run, mine),
                _say_clamps(run, mine),
                moment(float(record.clamps_off[mine].min()), work.day0),
                moment(float(record.clamps_off[mine].max()), work.day0),
                bool(wait) and any(cause == CLAMPS for cause, *_ in wait),
                join_cautions(tuple(cautions)),
            )
        )
    return pd.DataFrame(rows, columns=list(ROUND_COLUMNS)).astype(ROUND_COLUMNS)


def _say_what(run: RunResult, tasks: np.ndarray) -> str:
    """``glue side frames, batch 1, pieces 1-3; glue seats, batch 2, piece 7``."""
    work = run.plan.worklist
    groups: dict[tuple[str, int], list[int]] = {}
    for task in tasks.tolist():
        step = work.steps[work.task_step[task]]
        groups.setdefault((step.operation.name, work.task_batch[task] + 1), []).append(int(work.task_piece[task]) + 1)
    said = []
    for (operation, batch), pieces in groups.items():
        known = sorted({piece for piece in pieces if piece > 0})
        text = f"{operation}, batch {batch}"
        if known:
            text += f", piece{'s' if len(known) > 1 else ''} {say_numbers(known)}"
        said.append(text)
    return "; ".join(said)


def _say_clamps(run: RunResult, tasks: np.ndarray) -> str:
    taken = run.record.clamps[tasks].sum(axis=0).tolist()
    return ", ".join(say_number_of(n, name) for n, name in zip(taken, run.plan.worklist.clamp_names, strict=True) if n)


def build_clamp_board(run: RunResult) -> pd.DataFrame:
    """Which glue-ups hold how many of each kind of clamps, one row a kind, operation, batch, round and moment of begin or end.

    ``taken``: clamps of the kind that these glue-ups hold from ``since`` to ``until``; ``in_use``: of the kind together just
    after ``since``; ``all_out``: no clamp of the kind is left then; ``owned``; ``pieces``; ``round`` as in ``find_rounds``.
    """
    work, record = run.plan.worklist, run.record
    tasks, rounds = _glue_ups(run)
    rows = []
    for kind, (name, owned) in enumerate(zip(work.clamp_names, work.clamp_counts, strict=True)):
        groups: dict[tuple[str, int, int, float, float], list[int]] = {}
        for task, number in zip(tasks.tolist(), rounds.tolist(), strict=True):
            if record.clamps[task, kind]:
                step = work.steps[work.task_step[task]]
                since, until = float(record.start[task]), float(record.clamps_off[task])
                key = (step.operation.name, work.task_batch[task] + 1, number, since, until)
                groups.setdefault(key, []).append(task)
        users = np.flatnonzero(record.clamps[:, kind])
        for (operation, batch, number, since, until), mine in groups.items():
            open_then = users[(record.start[users] <= since) & (record.clamps_off[users] > since)]
            in_use = int(record.clamps[open_then, kind].sum())
            pieces = sorted({int(work.task_piece[task]) + 1 for task in mine if work.task_piece[task] >= 0})
            rows.append(
                (
                    name, owned, operation, batch, say_numbers(pieces), number, int(record.clamps[mine, kind].sum()),
                    moment(since, work.day0), moment(until, work.day0), in_use, in_use >= owned,
                )
            )  # fmt: skip
    return pd.DataFrame(rows, columns=list(BOARD_COLUMNS)).astype(BOARD_COLUMNS)
