"""``shopsim now``: which log, and which moment."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

from shopsim.answers.from_now import FromNow
from shopsim.answers.logged_run import read_log_file
from shopsim.dates import parse_date, parse_timestamp
from shopsim.errors import InputError
from shopsim.scenario import Scenario
from shopsim.scenario.appending import find_run_log
from shopsim.units import UnitError


def make_question(args: argparse.Namespace, scenario: Scenario) -> FromNow:
    """The question of what was typed. Raises ScenarioError with the faults of the log, DoubtfulLog, InputError."""
    path = find_log(args)
    return FromNow(
        scenario,
        read_log_file(path),
        str(path),
        at=None if args.at is None else read_moment(args.at, "--at"),
        clock=dt.datetime.now(),
        believe=args.believe,
    )


def find_log(args: argparse.Namespace) -> Path:
    """The log that was named, which has to be there, else the one beside the scenario, which may not be there yet."""
    if args.log is None:
        return find_run_log(args.file)
    if not Path(args.log).is_file():
        raise InputError(f"--log · {args.log} is not there · check the name, or leave it out")
    return Path(args.log)


def read_moment(text: str, option: str) -> dt.datetime:
    """A moment as typed: a day with a time, or a day alone for its end."""
    try:
        date, minutes = parse_timestamp(text) if len(text.strip()) > 10 else (parse_date(text), 1439.0)
    except UnitError as error:
        raise InputError(f"{option} · {error.rule} · {error.mend}") from None
    return dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=minutes)
