"""``shopsim days --keep``: the plan found, or the best named rule, goes into the user's own file."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shopsim.answers import Answer, list_cautions
from shopsim.answers.plan_of_days import ROUNDS, chosen_rule, say_plan
from shopsim.cli.complaints import complain
from shopsim.errors import InputError
from shopsim.scenario import Scenario
from shopsim.scenario.plain import record_data
from shopsim.scenario.writing import check_can_write, edit_file
from shopsim.wall_sheet import WALL_SHEET, format_wall_sheet


def check_keep(args: argparse.Namespace) -> bytes | None:
    """What FILE holds, before anything is searched; None without ``--keep``. InputError where a plan could not go into it."""
    if not args.keep:
        return None
    if args.settings:
        raise InputError(
            "--keep · the plan would be for values that --set puts in place of the file's · change the file first, or leave one out"
        )
    check_can_write(args.file)
    return Path(args.file).read_bytes()


def keep_plan(args: argparse.Namespace, answers: Sequence[Answer], seen: bytes) -> None:
    """Put the rule and the plan of the days into FILE; what is there is not written over if it was changed meanwhile."""
    priority, plan = chosen_rule(answers[0])
    changes: dict[str, Any] = {"run.priority": priority}
    if plan is not None:
        changes["run.plan"] = record_data(plan)
    edit_file(args.file, changes, seen=seen)
    what = f"a plan of {len(plan.order)} lines" if plan is not None else f'the priority rule "{priority}"'
    complain([f"{args.file} has {what} now"])


def more_files(answers: Sequence[Answer], scenario: Scenario) -> dict[str, bytes]:
    """The wall sheet and the calendar file of the days, by their names."""
    from shopsim.calendar_file import (
        CALENDAR,
        format_calendar,
    )  # with what writes calendars, which no other answer needs

    answer = answers[0]
    made_at = dt.datetime.now(dt.UTC)
    sheet = format_wall_sheet(answer.rows, scenario.title, list_cautions(scenario), say_plan(answer))
    return {
        WALL_SHEET: sheet.encode(),
        CALENDAR: format_calendar(answer.rows, answer.tables[ROUNDS], scenario.title, made_at),
    }
