"""What every command that works something out prints alike: the stamp of a result, JSON, and files."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import pandas as pd

from shopsim.answers.caution_lists import list_cautions
from shopsim.cli.complaints import complain
from shopsim.cli.out_folder import write_files
from shopsim.errors import ScenarioError
from shopsim.export import file_name, format_csv, format_json
from shopsim.rows import stamp_result
from shopsim.scenario import Scenario, dump_scenario, read_scenario
from shopsim.study.fingerprint import hash_scenario
from shopsim.version import VERSION

if TYPE_CHECKING:
    from shopsim.report import Section


def stamp(scenario: Scenario, seed: int, replications: int) -> dict[str, Any]:
    """What every result tells of itself; see ``stamp_result``."""
    return stamp_result(scenario.title, hash_scenario(scenario), VERSION, seed, replications)


def load_told(args: argparse.Namespace) -> Scenario:
    """The scenario of a command, and a line for the columns that were passed over in each file of orders.

    Raises ScenarioError.
    """
    reading = read_scenario(args.file, args.settings)
    if reading.scenario is None:
        raise ScenarioError(reading.faults)
    complain(str(warning) for warning in reading.warnings if warning.place == "head")
    return reading.scenario


def write_json(result: Mapping[str, Any]) -> None:
    """One JSON object on standard output."""
    sys.stdout.write(format_json(result))


def write_out(
    args: argparse.Namespace,
    tables: Mapping[str, pd.DataFrame],
    scenario: Scenario,
    made_with: Mapping[str, Any],
    sections: Sequence[Section],
    more: Mapping[str, bytes] | None = None,
) -> None:
    """Every table as CSV and all sections as a report into the folder that was asked for, and a line that says so.

    ``made_with``: the ``stamp`` of the result; the report also says the day, by this machine's clock. ``more``: further
    files by name.
    """
    from shopsim.report import REPORT_NAME, format_report

    files = {file_name(title): format_csv(table).encode() for title, table in tables.items()}
    report = format_report(
        sections,
        title=scenario.title,
        scenario_text=dump_scenario(scenario),
        stamp={key: value for key, value in made_with.items() if key not in ("scenario", "scenario_hash")},
        date=dt.date.today(),
        cautions=list_cautions(scenario),
    )
    complain(write_files(args.out, {**files, REPORT_NAME: report.encode(), **(more or {})}, args.replace))
