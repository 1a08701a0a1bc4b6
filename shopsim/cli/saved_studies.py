"""``--from`` and ``--save``: runs that were kept in a file, and runs to keep."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from shopsim.answers import Answer
from shopsim.cli.complaints import complain, say_not_ours
from shopsim.errors import InputError
from shopsim.scenario import Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.scenario.writing import check_can_write
from shopsim.study import Study, hash_scenario, open_study
from shopsim.study.saving import list_books


def check_target(args: argparse.Namespace, scenario: Scenario) -> None:
    """InputError, before anything is run, where the file of ``--save`` could not be written, or holds something else.

    A study of this scenario is replaced; anything else only with ``--replace``; what the scenario is read from, never.
    """
    if args.save is None:
        return
    target = Path(args.save)
    if target.is_dir() or not target.parent.is_dir():
        what = "is a folder · name a file in it" if target.is_dir() else "its folder does not exist · make it first"
        raise InputError(f"--save {args.save} · {what}")
    check_can_write(target)
    if not target.exists():
        return
    folder = Path(args.file).parent
    for read in (Path(args.file), *(folder / book.path for book in list_books(scenario))):
        if read.exists() and target.samefile(read):
            raise InputError(f"--save {args.save} · is what the scenario is read from · name another file")
    if args.replace:
        return
    try:
        kept = open_study(target)
    except InputError:
        raise say_not_ours(f"--save {args.save}", "study") from None
    if not _is_of(kept, scenario):
        raise InputError(
            f'--save {args.save} · holds the runs of another scenario, "{kept.title}", or of this one as it was, so it is '
            "not replaced · name another file, or add --replace"
        )


def _is_of(study: Study, scenario: Scenario) -> bool:
    """Whether a study has runs of this scenario as it stands, if with another number of orders."""
    mine = _apart_from_orders(scenario)
    return any(_apart_from_orders(outcome.scenario) == mine for outcome in study.outcomes.values())


def _apart_from_orders(scenario: Scenario) -> dict[str, Any]:
    data = scenario_data(scenario)
    data["run"] = {key: value for key, value in data.get("run", {}).items() if key != "orders"}
    return data


def open_held(args: argparse.Namespace, scenario: Scenario) -> Study | None:
    """The study of ``--from``, whose seed then is the seed; InputError if it is of another scenario or seed."""
    if args.held is None:
        return None
    study = open_study(args.held)
    changed = getattr(args, "orders", None) is not None  # asks for other numbers of orders than the file's
    if not changed and hash_scenario(scenario) not in study.scenario_hash.values():
        raise InputError(
            f'--from {args.held} · holds no runs of this scenario as it stands; it was made of "{study.title}" '
            "· leave --from out, or give the same file and settings as then"
        )
    if args.seed not in (1, study.seed):
        raise InputError(f"--seed {args.seed} · {args.held} was made with seed {study.seed} · leave --seed out")
    args.seed = study.seed
    return study


def save_runs(args: argparse.Namespace, scenario: Scenario, answers: Sequence[Answer]) -> None:
    """Keep the runs of the answer in the file of ``--save``, and say so; what came there meanwhile is looked at again."""
    if args.save is None:
        return
    check_target(args, scenario)
    for answer in answers:
        if answer.study is not None:
            answer.study.save(args.save)
    complain([f"runs kept in {args.save}"])
