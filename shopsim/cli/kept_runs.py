"""``--from`` and ``--save``: runs that were kept in a file, and runs to keep."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from shopsim.answers import Answer
from shopsim.cli.printing import complain
from shopsim.errors import InputError
from shopsim.scenario import Scenario
from shopsim.study import Study, hash_scenario, open_study


def check_target(args: argparse.Namespace) -> None:
    """InputError, before anything is run, where the file of ``--save`` could not be written."""
    if args.save is None:
        return
    target = Path(args.save)
    if target.is_dir() or not target.parent.is_dir():
        what = "is a folder · name a file in it" if target.is_dir() else "its folder does not exist · make it first"
        raise InputError(f"--save {args.save} · {what}")


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


def save_runs(args: argparse.Namespace, answers: Sequence[Answer]) -> None:
    """Keep the runs of the answer in the file of ``--save``, and say so."""
    if args.save is None:
        return
    for answer in answers:
        if answer.study is not None:
            answer.study.save(args.save)
    complain([f"runs kept in {args.save}"])
