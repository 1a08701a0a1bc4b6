"""Rows for the log of a run before they are written: whether they can be true, which rows say what of tasks, and a row in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

from shopsim.answers.logged_run import RunLogReading
from shopsim.engine.worklist import Worklist
from shopsim.errors import Fault, ScenarioError
from shopsim.scenario import Scenario
from shopsim.scenario.appending import write_line
from shopsim.scenario.happenings import RUN_COLUMNS
from shopsim.scenario.log_table import find_column, plain_name
from shopsim.scenario.run_log import find_form
from shopsim.study.named_tasks import say_pieces

Cells = Mapping[str, str]
#: Where a fault of a row stands that is not in the file.
NOT_WRITTEN = "not written"


def find_new_faults(
    scenario: Scenario, text: str, rows: Sequence[Cells], name: str
) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
    """(faults of the new rows, faults of rows that stand) of the log ``text`` of the file ``name`` if ``rows`` were added to it.

    Those of the new rows have no line, and "not written" for their file. A last line that was cut off is left as it is.
    """
    if find_form(text) is None:
        text = ",".join(RUN_COLUMNS) + "\n"
    if not text.endswith("\n"):
        text += "\n"
    n_lines = text.replace("\r\n", "\n").count("\n")
    delimiter, head = find_form(text) or (",", [*RUN_COLUMNS])
    for row in rows:
        cells = [row.get(find_column(plain_name(column), RUN_COLUMNS) or "", "") for column in head]
        text += write_line(cells, delimiter, "\n")
    faults = find_faults(scenario, text, name)
    mine = [replace(fault, file=NOT_WRITTEN, line=None) for fault in faults if (fault.line or 0) > n_lines]
    return tuple(mine), tuple(fault for fault in faults if (fault.line or 0) <= n_lines)


def find_faults(scenario: Scenario, text: str, name: str) -> tuple[Fault, ...]:
    """The faults of a log by row; none where it can be true."""
    try:
        RunLogReading(scenario, text, name)
    except ScenarioError as error:
        return error.faults
    return ()


def rows_of(work: Worklist, tasks: Sequence[int], what: str) -> list[dict[str, str]]:
    """The rows that say that ``what`` happened to these tasks of one operation and batch, and to no others; without a moment.

    Mostly one. Where parts of a piece are at different points, one for each group of pieces with the same units. Of work that is
    done for several pieces at once a row can name the batch alone.
    """
    step, batch = work.task_step[tasks[0]], work.task_batch[tasks[0]]
    plain = {"what": what, "operation": work.steps[step].operation.name, "batch": str(batch + 1)}
    if any(work.task_piece[task] < 0 for task in tasks):
        return [plain]
    mine: dict[int, set[int]] = {}
    for task in tasks:
        mine.setdefault(work.task_piece[task], set()).update(_units(work, task))
    alike: dict[tuple[int, ...], list[int]] = {}
    for piece, units in mine.items():
        whole = len(units) >= work.steps[step].units_a_piece
        alike.setdefault(() if whole else tuple(sorted(units)), []).append(piece)
    return [
        {**plain, "pieces": say_pieces(pieces)} | ({"units": say_pieces(units)} if units else {})
        for units, pieces in alike.items()
    ]


def _units(work: Worklist, task: int) -> range:
    """The units of its piece that a task is for, from 0."""
    return range(work.task_unit[task], work.task_unit[task] + work.task_units[task])


def say_row(cells: Cells) -> str:
    """A row in words: ``done, cut, batch 1, pieces 1-3, 2027-01-11 18:44``."""
    said = [cells["what"], *(cells[key] for key in ("operation", "order", "material") if cells.get(key))]
    said += [
        f"{key} {cells[key]}"
        for key in ("part", "batch", "pieces", "units", "minutes", "worker", "row")
        if cells.get(key)
    ]
    return f"{', '.join(said)}, {cells['when']}"


def format_when(when: dt.datetime) -> str:
    """A moment as a row has it: ``2027-02-03 21:00``, with seconds where there are any."""
    return f"{when:%Y-%m-%d %H:%M}" + (f":{when:%S}" if when.second else "")
