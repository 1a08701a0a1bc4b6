"""``shopsim once``: one run of the shop as tables, and as a plan of what to do on which day."""

from __future__ import annotations

import argparse

import pandas as pd
from rich.console import Console
from rich.table import Table
from rich.text import Text

from shopsim.answers.caution_lists import list_cautions
from shopsim.answers.one_run import say_plan_row, shorten_pieces, tell_run
from shopsim.cli.command_output import load_told, stamp, write_json, write_out
from shopsim.cli.out_folder import check_out
from shopsim.cli.printing import bind, make_console, print_cautions, print_table, say, say_rest, show
from shopsim.rows import table_rows

#: Lines of the day plan that are printed before it is cut.
MAX_PLAN_LINES = 120
#: Rows of the table of where the time goes that are printed; the rest are minutes.
MAX_TIME_ROWS = 10


def run_command(args: argparse.Namespace) -> int:
    """Run once and print, or write, what came of it."""
    scenario = load_told(args)
    if args.out:
        check_out(args.out, args.replace)
    run = tell_run(scenario, args.seed, args.replication, args.likely)
    cautions = list_cautions(scenario)
    sentence = f"{run.sentence}; for that see: shopsim delivery."
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
                "plan": table_rows(run.plan),
                "time": table_rows(run.time),
                "cautions": table_rows(cautions),
            }
        )
    else:
        console = make_console()
        say(console, scenario.title, "bold")
        say(console, sentence)
        say(console, "")
        print_table(console, shorten_pieces(run.pieces), title="Pieces")
        print_table(console, run.time, title="Where the time of a piece goes, on average", longest=MAX_TIME_ROWS)
        print_plan(console, run.plan)
        print_cautions(console, cautions)
    if args.out:
        from shopsim.report import build_run_sections

        made_with = {"version": stamp(scenario, args.seed, 1)["version"], **run.made_with}
        tables = {**run.tables, "cautions": cautions}
        write_out(args, tables, scenario, made_with, build_run_sections(run, sentence))
    return 0


def print_plan(console: Console, plan: pd.DataFrame) -> None:
    """The plan day by day, cautions named beside the work; cut after MAX_PLAN_LINES lines, at the end of a day."""
    say(console, "Day by day (! names the cautions below)", "bold")
    shown = 0
    days = list(plan.groupby("day", sort=False))
    for number, (day, rows) in enumerate(days):
        if shown and shown + len(rows) > MAX_PLAN_LINES:
            say_rest(console, len(days) - number, "days")
            break
        shown += len(rows)
        say(console, f"{pd.Timestamp(str(day)):%a %d %b %Y}", "bold")
        grid = Table.grid(padding=(0, 2, 0, 0))
        grid.add_column(no_wrap=True)
        grid.add_column(overflow="fold")
        grid.add_column(overflow="fold", max_width=console.width // 3, style="yellow")
        for row in rows.to_dict("records"):
            time, text, caution = say_plan_row({str(key): value for key, value in row.items()})
            grid.add_row(Text(f"  {time}"), Text(bind(text)), Text(f"! {caution}" if caution else ""))
        show(console, grid)
    say(console, "")
