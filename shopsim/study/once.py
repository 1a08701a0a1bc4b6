"""One run of the shop, as tables: what was done when, by whom, and where the time went."""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from functools import cached_property
from itertools import groupby
from typing import Any

import numpy as np
import pandas as pd

from shopsim.engine.history import History
from shopsim.engine.luck import draw_luck, likely_luck
from shopsim.engine.pieces import piece_done, ship_days
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.record_laws import check_record
from shopsim.engine.run import run as run_engine
from shopsim.engine.step_function import StepFunction
from shopsim.engine.task_holdups import sum_piece
from shopsim.engine.waits import sum_wait
from shopsim.priority import Rule
from shopsim.scenario.model import Scenario
from shopsim.scenario.variants import say_options
from shopsim.study.order_queue import OrderQueue

#: Columns of ``Run.tasks`` and what they hold.
TASK_COLUMNS = {
    "task": "int64", "design": "str", "operation": "str", "batch": "Int64", "piece": "Int64", "unit": "Int64",
    "units": "int64", "ready": "datetime64[us]", "start": "datetime64[us]", "setup_min": "float64",
    "work_min": "float64", "end": "datetime64[us]", "in_clamps_until": "datetime64[us]",
    "unclamp_start": "datetime64[us]", "unclamp_min": "float64", "done": "datetime64[us]", "worker": "str",
    "station": "str", "clamps": "str", "rack": "str", "redone_units": "int64", "waited_for": "str",
}  # fmt: skip


def say_crew(names: Sequence[str], crew: int) -> str:
    """The names of workers, a bit each, joined by " + "."""
    return " + ".join(name for worker, name in enumerate(names) if crew >> worker & 1)


class RunResult:
    """One run of a scenario: its record and luck, and the tables that can be read from them.

    ``scenario``, ``seed``, ``replication``, ``likely`` say what was run; ``record`` and
    ``draws`` are the engine's own. Tables are worked out when first asked for.
    """

    def __init__(self, plan: SimulationPlan, seed: int, replication: int, likely: bool) -> None:
        self.plan, self.scenario = plan, plan.scenario
        self.seed, self.replication, self.likely = seed, replication, likely
        draws = likely_luck(plan.luck) if likely else draw_luck(plan.luck, seed, replication)
        self.record = run_engine(plan, draws)
        self.draws = draws.packed()
        self.history = History(plan, self.record, self.draws)

    def moments(self, minutes: np.ndarray) -> Any:
        """Minutes from day 0 as local datetimes, to the nearest second; NaN as NaT."""
        day0 = np.datetime64(self.plan.worklist.day0, "us")
        known = np.isfinite(minutes)
        seconds = np.rint(np.where(known, minutes, 0.0) * 60).astype("timedelta64[s]")
        return np.where(known, day0 + seconds, np.datetime64("NaT", "us"))

    @cached_property
    def tasks(self) -> pd.DataFrame:
        """One row a task in the order batch, operation, piece, unit; columns of TASK_COLUMNS.

        Times are local datetimes, NaT where there is none; ``piece`` and ``unit`` count
        from 1 and are missing for a task of a whole batch or run, ``batch`` for one of the
        run; ``worker`` joins several names by " + ", and by ", then " those who went on with what
        others had begun. ``setup_min`` and ``work_min`` are
        hands-on minutes as drawn. ``in_clamps_until`` is when the clamps are off.
        ``waited_for`` says what held it up between ready and start, longest first.
        """
        work, record = self.plan.worklist, self.record
        steps = [work.steps[n] for n in work.task_step]
        designs = self.scenario.all_designs
        unit_station = {unit: s for s, units in enumerate(work.station_units) for unit in units}
        piece = np.asarray(work.task_piece)
        whole_run = np.array([step.operation.per == "run" for step in steps], dtype=bool)
        table = pd.DataFrame(
            {
                "task": np.arange(1, work.n_tasks + 1),
                "design": [designs[step.design].name for step in steps],
                "operation": [step.operation.name for step in steps],
                "batch": pd.array(np.where(whole_run, 0, np.asarray(work.task_batch) + 1), dtype="Int64"),
                "piece": pd.array(piece + 1, dtype="Int64"),
                "unit": pd.array(np.asarray(work.task_unit) + 1, dtype="Int64"),
                "units": work.task_units,
                "ready": self.moments(record.ready),
                "start": self.moments(record.start),
                "setup_min": record.setup_min,
                "work_min": record.work_min,
                "end": self.moments(record.end),
                "in_clamps_until": self.moments(record.clamps_off),
                "unclamp_start": self.moments(record.unclamp_start),
                "unclamp_min": np.asarray(self.draws.unclamp),
                "done": self.moments(record.done),
                "worker": self._say_workers(),
                "station": [
                    "" if unit < 0 else work.station_names[unit_station[int(unit)]] for unit in record.station_unit
                ],
                "clamps": self._say_clamps(),
                "rack": ["" if step.rack < 0 else work.rack_names[step.rack] for step in steps],
                "redone_units": np.asarray(self.draws.redone),
                "waited_for": [self._waited_for(task) for task in range(work.n_tasks)],
            }
        )
        table.loc[whole_run, "batch"] = pd.NA
        table.loc[piece < 0, ["piece", "unit"]] = pd.NA
        return table.astype(TASK_COLUMNS)

    def _say_workers(self) -> list[str]:
        """Who was at each task; the same words are one text, however many tasks there are."""
        names, record = self.plan.worklist.worker_names, self.record
        said = {crew: say_crew(names, crew) for crew in set(record.workers.tolist())}
        words = [said[crew] for crew in record.workers.tolist()]
        for task, stretches in record.stretches.items():
            crews = [crew for crew, _ in groupby(crew for _, _, crew in stretches)]
            words[task] = ", then ".join(say_crew(names, crew) for crew in crews)
        return words

    def _say_clamps(self) -> list[str]:
        """What clamps each task took."""
        kinds, place = np.unique(self.record.clamps, axis=0, return_inverse=True)
        names = self.plan.worklist.clamp_names
        said = [", ".join(f"{n} {name}" for n, name in zip(row, names, strict=True) if n) for row in kinds.tolist()]
        return [said[n] for n in place.ravel().tolist()]

    def _waited_for(self, task: int) -> str:
        waited = sum_wait(self.history, task, float(self.record.ready[task]), float(self.record.start[task]))
        return ", ".join(
            f"{f'{cause}: {detail}' if detail else cause} {minutes:.0f} min"
            for cause, detail, minutes in sorted(waited, key=lambda part: -part[2])
        )

    @cached_property
    def pieces(self) -> pd.DataFrame:
        """One row a piece: piece, design, batch, opened, done, ships (a date), lead_days, elapsed_min.

        Where a design has options, ``option`` stands behind ``design``: their names, joined by " + ".
        ``lead_days``: whole days from the day the line's orders close to the day it ships, or, made
        as ordered, from the date of the order it goes to; a spare piece counts from the last order.
        """
        work = self.plan.worklist
        done = piece_done(work, self.record)
        ships = ship_days(work.scenario, work.day0, done)
        batch = np.asarray(work.piece_batch)
        line = np.array([work.batches[k].line for k in work.piece_batch])
        queue = OrderQueue(work.scenario)
        since = queue.piece_since(done) + (queue.close - work.day0).days
        opened = self.record.batch_opened[batch]
        day0 = np.datetime64(work.day0, "s")
        table = pd.DataFrame(
            {
                "piece": np.arange(1, work.n_pieces + 1),
                "design": [work.lines[number].design for number in line],
                "batch": batch + 1,
                "opened": self.moments(opened),
                "done": self.moments(done),
                "ships": day0 + ships.astype("timedelta64[D]"),
                "lead_days": ships - since,
                "elapsed_min": done - opened,
            }
        )
        designs = self.scenario.all_designs
        if any(design.options for design in designs):
            kinds = [work.variants[number] for number in work.piece_variant]
            table.insert(2, "option", [say_options(designs[kind.design], kind.chosen) for kind in kinds])
        return table

    @cached_property
    def use(self) -> pd.DataFrame:
        """Use over time: kind ("worker", "station", "rack", "clamp"), name, since, until, in_use, owned.

        One row for every time in which the number in use stays the same; a worker counts as
        in use while they have something in hand, staying late included.
        """
        work, history = self.plan.worklist, self.history
        groups: tuple[tuple[str, tuple[str, ...], list[StepFunction], list[int], bool], ...] = (
            ("worker", work.worker_names, history.workers_busy, [1] * len(work.worker_names), False),
            ("station", work.station_names, history.units_free, [len(units) for units in work.station_units], True),
            ("rack", work.rack_names, history.spots_free, list(work.rack_spots), True),
            ("clamp", work.clamp_names, history.clamps_free, list(work.clamp_counts), True),
        )
        last = float(self.record.done.max(initial=0.0))
        parts = []
        for kind, names, levels, owned, is_free in groups:
            for name, level, total in zip(names, levels, owned, strict=True):
                inner = level.times[(level.times > 0.0) & (level.times < last)]
                moments = np.concatenate(([0.0], inner, [last]))
                held = level.at(moments[:-1])
                lasts = moments[1:] > moments[:-1]
                parts.append(
                    pd.DataFrame(
                        {
                            "kind": kind,
                            "name": name,
                            "since": self.moments(moments[:-1][lasts]),
                            "until": self.moments(moments[1:][lasts]),
                            "in_use": (total - held if is_free else held)[lasts],
                            "owned": total,
                        }
                    )
                )
        return pd.concat(parts, ignore_index=True)

    @cached_property
    def holdups(self) -> pd.DataFrame:
        """Where each piece's elapsed time went: piece, batch, operation, part, detail, minutes.

        The minutes of a piece sum to its ``elapsed_min``; rows of one piece follow the
        order of time. ``part``: hands-on, in clamps, curing, or a hold-up.
        """
        work = self.plan.worklist
        name_of = [step.operation.name for step in work.steps]
        names = {name: n for n, name in enumerate(dict.fromkeys(name_of))}
        known: dict[tuple[str, str], int] = {}
        pieces, operations, parts, minutes = array("q"), array("q"), array("q"), array("d")
        for piece in range(work.n_pieces):
            for task, part, detail, took in sum_piece(self.history, piece):
                pieces.append(piece)
                operations.append(names[name_of[work.task_step[task]]])
                parts.append(known.setdefault((part, detail), len(known)))
                minutes.append(took)
        numbers = {"piece": np.array(pieces), "operation": np.array(operations), "part": np.array(parts)}
        summed = (
            pd.DataFrame({**numbers, "minutes": np.array(minutes)}).groupby([*numbers], sort=False)["minutes"].sum()
        )
        of_piece, of_operation, of_part = (summed.index.get_level_values(key).to_numpy() for key in numbers)
        return pd.DataFrame(
            {
                "piece": of_piece + 1,
                "batch": np.asarray(work.piece_batch)[of_piece] + 1,
                "operation": pd.array([*names], dtype="str").take(of_operation),
                "part": pd.array([one for one, _ in known], dtype="str").take(of_part),
                "detail": pd.array([one for _, one in known], dtype="str").take(of_part),
                "minutes": summed.to_numpy(),
            }
        )

    def check(self) -> list[str]:
        """Breaches of the laws of a record, in words; empty when it is sound."""
        return check_record(self.history)


def run_once(
    scenario: Scenario,
    *,
    seed: int = 1,
    replication: int = 0,
    likely: bool = False,
    rule: Rule | None = None,
) -> RunResult:
    """Run a scenario once and keep everything about the run.

    ``seed`` and ``replication`` choose the luck; ``likely=True`` leaves luck out, with
    every value at its likely figure. ``rule`` is a priority rule of your own
    (``shopsim.Waiting`` -> sortable key). Pure: the same arguments give the same run.
    Raises StalledShop if the run cannot end. Costs some milliseconds a thousand tasks;
    the tables cost more, when asked for.
    """
    return RunResult(build_plan(scenario, rule), seed, replication, likely)
