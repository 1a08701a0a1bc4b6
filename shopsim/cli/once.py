"""``shopsim once``: one run of the shop as tables, and as a plan of what to do on which day."""

from __future__ import annotations

import argparse
from typing import Any

import pandas as pd
from rich.console import Console
from rich.table import Table
from rich.text import Text

from shopsim.answers.day_plan import GLUE_UP, OVERNIGHT, SHIP, UNCLAMP, list_cautions, plan_days
from shopsim.charts import build_clamps_in_use, build_timeline, build_use, build_waiting
from shopsim.cli.printing import make_console, print_cautions, print_table, say, say_rest, show
from shopsim.cli.results import stamp, write_json, write_out
from shopsim.export import check_folder, table_rows
from shopsim.report import Section
from shopsim.scenario import load_scenario
from shopsim.study.once import Run, run_once
from shopsim.study.spans import list_closed, list_spans
from shopsim.study.use import measure_use
from shopsim.units import MINUTES_PER_DAY, say_minutes

#: Lines of the day plan that are printed before it is cut.
LONGEST_PLAN = 120
#: Rows of the table of where the time goes that are printed; the rest are minutes.
LONGEST_TIME_TABLE = 10


def run_command(args: argparse.Namespace) -> int:
    """Run once and print, or write, what came of it."""
    scenario = load_scenario(args.file, args.settings)
    if args.out:
        check_folder(args.out)
    run = run_once(scenario, seed=args.seed, replication=args.replication, likely=args.likely)
    plan = plan_days(run)
    cautions = list_cautions(scenario)
    sentence = say_run(run)
    if args.json:
        write_json(
            {
                **stamp(scenario, args.seed, 1),
                "replication": args.replication,
                "likely": args.likely,
                "rows": table_rows(run.pieces),
                "sentence": sentence,
                "pieces": table_rows(run.pieces),
                "tasks": table_rows(run.tasks),
                "plan": table_rows(plan),
                "time": table_rows(sum_time(run)),
                "cautions": table_rows(cautions),
            }
        )
    else:
        console = make_console()
        say(console, scenario.title, "bold")
        say(console, sentence)
        say(console, "")
        print_table(console, run.pieces.drop(columns=_lonely_columns(run.pieces)), title="Pieces")
        print_table(
            console, sum_time(run), title="Where the time of a piece goes, on average", longest=LONGEST_TIME_TABLE
        )
        print_plan(console, plan)
        print_cautions(console, cautions)
    if args.out:
        tables = {
            "pieces": run.pieces,
            "tasks": run.tasks,
            "day plan": plan,
            "where the time goes": sum_time(run),
            "hold-ups": run.holdups,
            "use": run.use,
            "hours by use": measure_use(run),
            "cautions": cautions,
        }
        made_with = stamp(scenario, args.seed, 1)
        if args.likely:
            made_with = {"version": made_with["version"], "times": "as likely"}
        else:
            made_with = {"version": made_with["version"], "seed": args.seed, "replication": args.replication}
        write_out(args, tables, scenario, made_with, build_run_sections(run, sentence, plan))
    return 0


def build_run_sections(run: Run, sentence: str, plan: pd.DataFrame) -> list[Section]:
    """The parts of a report on one run: pieces, the run as a timeline, where the time goes, and use."""
    spans, closed, use = list_spans(run), list_closed(run), measure_use(run)
    in_use = run.use
    kinds = [
        kind
        for kind in run.plan.worklist.clamp_names
        if in_use.loc[(in_use["kind"] == "clamp") & (in_use["name"] == kind), "in_use"].max() > 0
    ]
    return [
        Section("One run", sentence, [build_timeline(spans, closed, "piece")], {"": run.pieces}),
        Section("Where the time goes", "", [build_waiting(run.holdups)], {"Average of all pieces": sum_time(run)}),
        Section(
            "Hands and shop",
            "",
            [
                build_timeline(spans, closed, "worker"),
                build_use(use),
                build_use(use, when="whole run"),
                *(build_clamps_in_use(in_use, closed, kind) for kind in kinds),
            ],
            {"Hours by use": use},
        ),
        Section("Day plan", "", (), {"": _shorten_plan(plan)}),
    ]


def _shorten_plan(plan: pd.DataFrame) -> pd.DataFrame:
    """The day plan with one column of clock times, and without what says nothing."""
    moments = zip(plan["from"], plan["until"], plan["do"], strict=True)
    times = [
        "" if do == SHIP else f"{since:%H:%M}-{until:%H:%M}" if since.date() == until.date() else f"to {until:%a %H:%M}"
        for since, until, do in moments
    ]
    short = plan.drop(columns=["from", "until", "tasks", *(["design"] if plan["design"].nunique() == 1 else [])])
    short["day"] = [f"{day:%a %d %b}" for day in plan["day"]]
    short.insert(1, "time", pd.Series(times, index=short.index, dtype="str"))
    return short


def say_run(run: Run) -> str:
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
    return (
        f"One run {how}: {count}, shipped {when}. One run is a plan to work by, not a date to state; "
        "for that see: shopsim delivery."
    )


def sum_time(run: Run) -> pd.DataFrame:
    """Where the elapsed time of a piece goes, on average: part, detail, days, share; the largest first."""
    table = run.holdups
    n_pieces = max(1, len(run.pieces))
    minutes = table.groupby(["part", "detail"], sort=False)["minutes"].sum()
    summed = minutes.sort_values(ascending=False, kind="stable").reset_index()
    summed["days"] = summed["minutes"] / (n_pieces * MINUTES_PER_DAY)
    summed["share"] = summed["minutes"] / max(summed["minutes"].sum(), 1e-9)
    return summed.drop(columns="minutes")


def _lonely_columns(pieces: pd.DataFrame) -> list[str]:
    """Columns that say nothing on a screen: the design where there is one, and minutes beside days."""
    return ["elapsed_min", *(["design"] if pieces["design"].nunique() == 1 else [])]


def print_plan(console: Console, plan: pd.DataFrame) -> None:
    """The plan day by day, cautions named beside the work; cut after LONGEST_PLAN lines, at the end of a day."""
    say(console, "Day by day (! names the caution below)", "bold")
    shown = 0
    days = list(plan.groupby("day", sort=False))
    for number, (day, rows) in enumerate(days):
        if shown and shown + len(rows) > LONGEST_PLAN:
            say_rest(console, len(days) - number, "days")
            break
        shown += len(rows)
        say(console, f"{pd.Timestamp(str(day)):%a %d %b %Y}", "bold")
        grid = Table.grid(padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        grid.add_column(no_wrap=True, style="yellow")
        for row in rows.to_dict("records"):
            grid.add_row(*say_plan_row({str(key): value for key, value in row.items()}))
        show(console, grid)
    say(console, "")


def say_plan_row(row: dict[str, Any]) -> tuple[Text, ...]:
    """One row of the plan as (clock times, what to do, caution)."""
    whose = [f"batch {row['batch']}" if not pd.isna(row["batch"]) else "whole run"]
    if row["pieces"]:
        whose.append(f"piece{'s' if any(mark in row['pieces'] for mark in '-,') else ''} {row['pieces']}")
    about = ", ".join(whose)
    span = f"  {row['from']:%H:%M}-{row['until']:%H:%M}"
    if row["do"] == SHIP:
        return Text("  ships"), Text(f"{row['design']}, {about}")
    if row["do"] == OVERNIGHT:
        text = f"stays in clamps: {row['operation']}, {about}, until {row['until']:%a %d %b %H:%M}"
        return Text("  night"), Text(f"{text}; {row['clamps']}" if row["clamps"] else text)
    text = {GLUE_UP: "GLUE UP: ", UNCLAMP: "clamps off: "}.get(row["do"], "") + f"{row['operation']}, {about}"
    if row["begin_at"]:
        text += f"; begin at {row['begin_at']}"
    if row["clamps"]:
        text += f"; {row['clamps']}"
    if row["station"]:
        text += f"; {row['station']}"
    if row["worker"]:
        text += f"; {row['worker']} {say_minutes(row['hands_on_min'])}"
    return Text(span), Text(text), Text(f"! {row['caution']}" if row["caution"] else "")
