"""``shopsim days --keep``: the plan found, or the best named rule, goes into the user's own file."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shopsim.answers import Answer
from shopsim.answers.plan_of_days import chosen_rule
from shopsim.cli.complaints import complain
from shopsim.errors import InputError
from shopsim.scenario.plain import record_data
from shopsim.scenario.writing import check_can_write, edit_file


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
