"""Where the time goes, over several runs: elapsed time by cause for the run, its batches, pieces and operations."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from shopsim.engine.history import History
from shopsim.engine.luck import draw_luck
from shopsim.engine.run import run as run_engine
from shopsim.engine.task_holdups import account_run, sum_piece, sum_task
from shopsim.errors import Cancelled
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.units import MINUTES_PER_DAY

#: (subject, part, detail) -> minutes.
_Minutes = defaultdict[tuple[int, str, str], float]
#: Columns of every table after those that say of what; ``share`` is of the elapsed time of the row's subject.
PARTS = ("part", "detail", "minutes", "days", "share")


@dataclass(frozen=True)
class Accounts:
    """Mean elapsed time by cause over ``replications`` runs. In each table the rows of one subject sum to its elapsed time.

    ``run``: from midnight of the first day to the end of the last piece, along the chain that set it.
    ``piece``: of a piece since its batch opened, the mean over all pieces. ``batches`` (``batch``): of the piece that
    finishes last. ``pieces`` (``piece``, ``batch``). ``operations`` (``design``, ``operation``, ``tasks``: how many): of a task
    from ready to done, the mean over its tasks. Further columns of each: PARTS; ``detail``: which clamps, rack, station
    or material.
    """

    run: pd.DataFrame
    piece: pd.DataFrame
    batches: pd.DataFrame
    pieces: pd.DataFrame
    operations: pd.DataFrame
    replications: int

    def days(self, part: str, detail: str | None = None) -> float:
        """Mean days of a piece that went to a part, of all details or of one."""
        rows = self.piece[self.piece["part"] == part]
        if detail is not None:
            rows = rows[rows["detail"] == detail]
        return float(rows["days"].sum())


def take_accounts(scenario: Scenario, replications: np.ndarray, execution: Execution) -> Accounts:
    """``account_runs`` of these replications where the execution does not know it yet; also after a stop, and quietly."""
    key = ("accounts", execution.hash_of(scenario), execution.seed, execution.sobol_block, *replications.tolist())
    known: Accounts | None = execution.known.get(key)
    if known is None:
        quiet = (
            Execution(seed=execution.seed, sobol_block=execution.sobol_block)
            if execution.apart
            else replace(execution, on_progress=None, should_stop=None)
        )
        known = execution.call(account_runs, scenario, replications, quiet, even_if_stopped=True)
        execution.known.put(key, known)
    return known


def account_runs(scenario: Scenario, replications: np.ndarray, execution: Execution | None = None) -> Accounts:
    """Where the time of these replications (numbers, shape (n,)) went, on average; the same luck as in a study.

    Sums are exact in every run, so they are in the means. They are accounted for in this process, and after a stop those
    that are done count; Cancelled if there are none. A replication costs about twenty runs.
    """
    execution = execution or Execution()
    seed, on_progress = execution.seed, execution.on_progress
    plan = execution.plans.get(execution.hash_of(scenario), lambda: (scenario, None)).plan
    even = execution.plans.sobol_factors(plan, execution.sobol_block)
    work = plan.worklist
    batch_of = np.asarray(work.piece_batch)
    run, pieces, batches, steps = (_Minutes(float) for _ in range(4))
    done = 0
    for number in replications.tolist():
        if execution.stopped:
            break
        draws = draw_luck(plan.luck, seed, number, even.scores(seed, number) if even else None)
        history = History(plan, run_engine(plan, draws), draws)
        for part in account_run(history):
            run[0, part.part, part.detail] += part.minutes
        last_of: dict[int, int] = {}
        finished = [float(history.record.done[history.last_task(piece)]) for piece in range(work.n_pieces)]
        own = [sum_piece(history, piece) for piece in range(work.n_pieces)]
        for piece, batch in enumerate(work.piece_batch):
            if batch not in last_of or finished[piece] > finished[last_of[batch]]:
                last_of[batch] = piece
            for _, name, detail, minutes in own[piece]:
                pieces[piece, name, detail] += minutes
        for batch, last in last_of.items():
            for _, name, detail, minutes in own[last]:
                batches[batch, name, detail] += minutes
        for task, step in enumerate(work.task_step):
            for name, detail, minutes in sum_task(history, task):
                steps[step, name, detail] += minutes
        done += 1
        if on_progress is not None:
            on_progress(done, len(replications))
    if not done:
        raise Cancelled("stopped before any run was accounted for")
    n_tasks = np.bincount(np.asarray(work.task_step), minlength=len(work.steps)).tolist()
    designs = scenario.all_designs
    mean_piece = _Minutes(float)
    for (_, name, detail), minutes in pieces.items():
        mean_piece[0, name, detail] += minutes / work.n_pieces
    mean_task = {key: minutes / n_tasks[key[0]] for key, minutes in steps.items()}
    return Accounts(
        run=_table(run, done).drop(columns="of"),
        piece=_table(mean_piece, done).drop(columns="of"),
        batches=_table(batches, done).rename(columns={"of": "batch"}).assign(batch=lambda table: table["batch"] + 1),
        pieces=_name_pieces(_table(pieces, done), batch_of),
        operations=_name_steps(
            _table(mean_task, done),
            [(designs[step.design].name, step.operation.name, int(n_tasks[n])) for n, step in enumerate(work.steps)],
        ),
        replications=done,
    )


def _table(minutes: Mapping[tuple[int, str, str], float], runs: int) -> pd.DataFrame:
    """Means over the runs by subject (``of``), the largest part of each first; parts that took no time left out."""
    rows = [(*key, value / runs) for key, value in minutes.items() if value > 0]
    kinds = {"of": "int64", "part": "str", "detail": "str", "minutes": "float64"}
    table = pd.DataFrame(rows, columns=list(kinds)).astype(kinds)
    table = table.sort_values(["of", "minutes", "part", "detail"], ascending=[True, False, True, True])
    table["days"] = table["minutes"] / MINUTES_PER_DAY
    table["share"] = table["minutes"] / table.groupby("of")["minutes"].transform("sum")
    return table.reset_index(drop=True)


def _name_pieces(table: pd.DataFrame, batch_of: np.ndarray) -> pd.DataFrame:
    table.insert(1, "batch", batch_of[table["of"].to_numpy()] + 1)
    return table.rename(columns={"of": "piece"}).assign(piece=lambda named: named["piece"] + 1)


def _name_steps(table: pd.DataFrame, names: list[tuple[str, str, int]]) -> pd.DataFrame:
    numbers = table.pop("of").tolist()
    table.insert(0, "design", pd.Series([names[n][0] for n in numbers], dtype="str"))
    table.insert(1, "operation", pd.Series([names[n][1] for n in numbers], dtype="str"))
    table.insert(2, "tasks", pd.Series([names[n][2] for n in numbers], dtype="int64"))
    return table
