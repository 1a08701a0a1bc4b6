"""One run in tables and words: what a page or a report on it shows, gathered so that it can be worked out in another process."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from shopsim.answers.day_plan import GLUE_UP, OVERNIGHT, SHIP, UNCLAMP, plan_days
from shopsim.answers.question import Question
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.study.once import RunResult, run_once
from shopsim.study.spans import list_closed, list_spans
from shopsim.study.use import measure_use
from shopsim.units import MINUTES_PER_DAY, say_minutes


@dataclass(frozen=True)
class RunTables:
    """What one run came to, as tables.

    ``sentence``: in words. ``made_with``: ``seed`` and ``replication``, or ``times`` for the likely run. ``pieces``, ``tasks``,
    ``holdups``, ``in_use``: those of ``RunResult`` (``in_use`` is its ``use``); ``plan``: of ``plan_days``; ``time``: of ``sum_time``;
    ``use``: of ``measure_use``; ``spans``, ``closed``: of ``list_spans`` and ``list_closed``; ``kinds``: clamps that were used.
    """

    sentence: str
    made_with: Mapping[str, Any]
    pieces: pd.DataFrame
    tasks: pd.DataFrame
    plan: pd.DataFrame
    time: pd.DataFrame
    holdups: pd.DataFrame
    in_use: pd.DataFrame
    use: pd.DataFrame
    spans: pd.DataFrame
    closed: pd.DataFrame
    kinds: tuple[str, ...]

    @property
    def tables(self) -> dict[str, pd.DataFrame]:
        """The tables to keep, by their titles."""
        return {
            "pieces": self.pieces,
            "tasks": self.tasks,
            "day plan": self.plan,
            "where the time goes": self.time,
            "hold-ups": self.holdups,
            "use": self.in_use,
            "hours by use": self.use,
        }


def read_run(run: RunResult) -> RunTables:
    """The tables of a run. Costs about as much as a hundred runs."""
    time = sum_time(run)  # what takes most room while it is worked out comes first
    plan = plan_days(run)
    in_use = run.use
    kinds = [
        kind
        for kind in run.plan.worklist.clamp_names
        if in_use.loc[(in_use["kind"] == "clamp") & (in_use["name"] == kind), "in_use"].max() > 0
    ]
    return RunTables(
        sentence=say_run(run),
        made_with={"times": "as likely"} if run.likely else {"seed": run.seed, "replication": run.replication},
        pieces=run.pieces,
        tasks=run.tasks,
        plan=plan,
        time=time,
        holdups=run.holdups,
        in_use=in_use,
        use=measure_use(run),
        spans=list_spans(run),
        closed=list_closed(run),
        kinds=tuple(kinds),
    )


def tell_run(scenario: Scenario, seed: int, replication: int, likely: bool) -> RunTables:
    """Run a scenario once and read it; see ``run_once``. A plain function, so that a worker process can do it."""
    return read_run(run_once(scenario, seed=seed, replication=replication, likely=likely))


class OneRun(Question[RunTables]):
    """One run in tables: which replication, or with everything at its likely time."""

    def __init__(self, scenario: Scenario, replication: int = 0, likely: bool = False) -> None:
        self.scenario, self.replication, self.likely = scenario, replication, likely

    @property
    def alternatives(self) -> dict[str, Scenario]:
        """The scenario as it stands."""
        return {"now": self.scenario}

    @property
    def usual(self) -> int:
        """One run."""
        return 1

    def answers(self, execution: Execution, last: bool) -> Iterator[RunTables]:
        """The run."""
        key = ("one run", execution.hash_of(self.scenario), execution.seed, self.replication, self.likely)
        run: RunTables | None = execution.known.get(key)
        if run is None:
            run = execution.call(tell_run, self.scenario, execution.seed, self.replication, self.likely)
            execution.known.put(key, run)
        yield run


def say_run(run: RunResult) -> str:
    """One sentence on a run: what luck it had, how many pieces, first and last day they ship."""
    pieces = run.pieces
    how = (
        "with everything at its likely time and nothing going wrong"
        if run.likely
        else f"with the luck of seed {run.seed}, replication {run.replication}"
    )
    first, last = pieces["ships"].min(), pieces["ships"].max()
    when = f"on {first:%a %d %b %Y}" if first == last else f"from {first:%a %d %b %Y} to {last:%a %d %b %Y}"
    count = f"{len(pieces)} piece{'s' if len(pieces) != 1 else ''}"
    return f"One run {how}: {count}, shipped {when}. One run is a plan to work by, not a date to state"


def sum_time(run: RunResult) -> pd.DataFrame:
    """Where the elapsed time of a piece goes, on average: part, detail, days, share; the largest first."""
    table = run.holdups
    n_pieces = max(1, len(run.pieces))
    minutes = table.groupby(["part", "detail"], sort=False)["minutes"].sum()
    summed = minutes.sort_values(ascending=False, kind="stable").reset_index()
    summed["days"] = summed["minutes"] / (n_pieces * MINUTES_PER_DAY)
    summed["share"] = summed["minutes"] / max(summed["minutes"].sum(), 1e-9)
    return summed.drop(columns="minutes")


def shorten_pieces(pieces: pd.DataFrame) -> pd.DataFrame:
    """The table of pieces for a reader: how long each took in days, and no design where there is but one."""
    short = pieces.drop(columns=["elapsed_min", *(["design"] if pieces["design"].nunique() == 1 else [])])
    short["elapsed_days"] = pieces["elapsed_min"] / MINUTES_PER_DAY
    return short


def shorten_plan(plan: pd.DataFrame) -> pd.DataFrame:
    """The day plan for paper: day (once for all its rows), time, what to do, and the cautions beside it."""
    said = [say_plan_row({str(key): value for key, value in row.items()}) for row in plan.to_dict("records")]
    days = [f"{day:%a %d %b %Y}" for day in plan["day"]]
    first = [day if n == 0 or day != days[n - 1] else " " for n, day in enumerate(days)]
    return pd.DataFrame(
        {
            "day": first,
            "time": [time for time, _, _ in said],
            "what": [what for _, what, _ in said],
            "caution": [caution for _, _, caution in said],
        }
    ).astype("str")


def say_plan_row(row: Mapping[str, Any]) -> tuple[str, str, str]:
    """One row of the day plan as (clock times, what to do, its cautions)."""
    whose = [f"batch {row['batch']}" if not pd.isna(row["batch"]) else "whole run"]
    if row["pieces"]:
        whose.append(f"piece{'s' if any(mark in row['pieces'] for mark in '-,') else ''} {row['pieces']}")
    about = ", ".join(whose)
    if row["do"] == SHIP:
        return "ships", f"{row['design']}, {about}", ""
    if row["do"] == OVERNIGHT:
        text = f"stays in clamps: {row['operation']}, {about}, until {row['until']:%a %d %b %H:%M}"
        return "night", f"{text}; {row['clamps']}" if row["clamps"] else text, ""
    text = {GLUE_UP: "GLUE UP: ", UNCLAMP: "clamps off: "}.get(row["do"], "") + f"{row['operation']}, {about}"
    if row["begin_at"]:
        text += f"; begin at {row['begin_at']}"
    if row["clamps"]:
        text += f"; {row['clamps']}"
    if row["station"]:
        text += f"; {row['station']}"
    if row["worker"]:
        text += f"; {row['worker']} {say_minutes(row['hands_on_min'])}"
    return f"{row['from']:%H:%M}-{row['until']:%H:%M}", text, row["caution"] or ""
