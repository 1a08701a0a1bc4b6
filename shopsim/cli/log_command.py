"""``shopsim log``: one row into the log of a run, looked at before it is written; then what is next."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

import pandas as pd
from rich.console import Console

from shopsim.answers.bench_list import list_next, list_under_way
from shopsim.answers.logged_run import RunLogReading, read_log_file, say_moment
from shopsim.answers.new_rows import find_new_faults, format_when, say_row
from shopsim.cli.command_output import load_told, write_json
from shopsim.cli.complaints import complain
from shopsim.cli.now_command import find_log, read_moment
from shopsim.cli.printing import make_console, print_table, say
from shopsim.errors import InputError, ScenarioError
from shopsim.rows import table_rows
from shopsim.scenario import Scenario
from shopsim.scenario.appending import append_row
from shopsim.scenario.happenings import CAME, LOST, SHIPPED, SHORTENED, SPOILED, TAKEN_BACK, WHATS, find_what
from shopsim.scenario.places import NameSuggester, say_names
from shopsim.screen_tables import bench_table
from shopsim.study.going_on import GoingOn

#: Into which column what stands behind the happening goes.
_NAMED = {SHIPPED: "order", CAME: "material", TAKEN_BACK: "row"}


def run_command(args: argparse.Namespace) -> int:
    """Write a row and say what was written and what is next; without a happening, say how the run stands."""
    scenario = load_told(args)
    path = find_log(args)
    if args.what is None:
        _show(args, scenario, path, "")
        return 0
    cells = _read_cells(args, scenario)
    _check(scenario, path, cells)
    line = append_row(path, cells)
    _show(args, scenario, path, f"written to {path}, row {line}: {say_row(cells)}")
    return 0


def _read_cells(args: argparse.Namespace, scenario: Scenario) -> dict[str, str]:
    """The row that was typed, by column."""
    what = find_what(args.what)
    if what is None:
        near = NameSuggester().nearest(args.what, WHATS)
        mend = f'write "{near}"' if near else f"write one of {say_names(WHATS, 20)}"
        raise InputError(f'"{args.what}" is nothing that happens in a run · {mend}')
    cells = {key: value for key in _OPTIONS if (value := getattr(args, key)) is not None}
    when = read_moment(args.at, "--at") if args.at is not None else dt.datetime.now()
    cells["when"] = format_when(when)
    if what in (LOST, SHORTENED):
        if args.name:
            when = read_moment(args.name, what)
        cells["when"] = f"{when:%Y-%m-%d}"
    elif args.name is not None:
        parts = {part for design in scenario.all_designs for part in design.parts}
        column = _NAMED.get(what) or ("part" if what == SPOILED and args.name in parts else "operation")
        if column in cells:
            raise InputError(f'"{args.name}" · the {column} is said twice · leave one of the two out')
        cells[column] = args.name
    return {"what": what, **cells}


#: Options that go into the column of their name.
_OPTIONS = ("batch", "pieces", "part", "units", "worker", "station", "clamps", "minutes", "note")


def _check(scenario: Scenario, path: Path, cells: dict[str, str]) -> None:
    """ScenarioError where the row cannot be true after what is logged; faults of other rows keep nobody from logging."""
    mine, others = find_new_faults(scenario, read_log_file(path), [cells], str(path))
    if mine:
        raise ScenarioError(mine)
    if others:
        complain([f"{path} · has {len(others)} faults in other rows · see: shopsim log {path.name}"])


def _show(args: argparse.Namespace, scenario: Scenario, path: Path, written: str) -> None:
    """What was written, what is under way, and what is next; faults of the log as an error, after what was written."""
    if written and not args.json:
        say(make_console(), written)
    text = read_log_file(path)
    reading = RunLogReading(scenario, text, str(path))
    at = read_moment(args.at, "--at") if args.at is not None and args.what is None else None
    run = reading.at(reading.choose_now(at, dt.datetime.now()))
    going = GoingOn(run.known, run.state, run.run_name)
    following, under_way = list_next(going), list_under_way(going)
    if args.json:
        write_json(
            {
                "written": written,
                "log": str(path),
                "at": say_moment(reading.work, run.state.now_min),
                "under_way": table_rows(under_way),
                "next": table_rows(following),
                "remarks": list(run.remarks),
            }
        )
        return
    console = make_console()
    if not written:
        say(console, scenario.title, "bold")
        rows = len(reading.rows)
        say(
            console,
            f"{path}: {rows} row{'s' if rows != 1 else ''} that stand; at {say_moment(reading.work, run.state.now_min)}",
        )
    print_tables(console, under_way, following)
    for remark in (*run.remarks, *going.start.remarks):
        say(console, f"- {remark}")


def print_tables(console: Console, under_way: pd.DataFrame, following: pd.DataFrame) -> None:
    """What is under way, and what is next, as a maker reads it."""
    for table, title in ((under_way, "Under way"), (following, "Next on the bench")):
        if len(table):
            print_table(console, bench_table(table), title=title)
    if not len(following):
        say(console, "Nothing is left to be done by hand.")
