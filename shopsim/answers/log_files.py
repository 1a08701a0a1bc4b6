"""The files around learning: logs as a maker keeps them, and what was learned put into the scenario's own file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from shopsim.engine.worklist import build_worklist
from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.scenario.files import read_scenario_text
from shopsim.scenario.logs import DayRow, ShippedRow, TimeRow, read_days, read_file, read_shipped, read_times
from shopsim.scenario.model import Learned, Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.scenario.text import Unreadable, read_bytes
from shopsim.scenario.writing import edit_file
from shopsim.study.beliefs import list_loggable
from shopsim.study.orders import OrderQueue


@dataclass(frozen=True)
class Logs:
    """Logs that were read and hold no fault; each with the name of its file, empty where none was given."""

    times: tuple[TimeRow, ...] = ()
    times_name: str = ""
    days: tuple[DayRow, ...] = ()
    days_name: str = ""
    shipped: tuple[ShippedRow, ...] = ()
    shipped_name: str = ""


def read_logs(
    scenario: Scenario,
    times: str | Path | None = None,
    days: str | Path | None = None,
    shipped: str | Path | None = None,
    *,
    held: Mapping[str, bytes] | None = None,
) -> Logs:
    """The logs in CSV files; raises ScenarioError with every fault of all of them, by file and row.

    ``held``: the bytes of files that were handed over, by name; if it is given, nothing is read from the disk.
    """

    def bytes_of(path: str | Path) -> bytes | None:
        return None if held is None else held[str(path)]

    faults: list[Fault] = []
    time_rows: list[TimeRow] = []
    day_rows: list[DayRow] = []
    shipped_rows: list[ShippedRow] = []
    if times is not None:
        time_rows, found = read_file(times, partial(_read_times, scenario), bytes_of(times))
        faults += found
    if days is not None:
        day_rows, found = read_file(days, partial(_read_days, scenario), bytes_of(days))
        faults += found
    if shipped is not None:
        shipped_rows, found = read_file(shipped, partial(_read_shipped, scenario), bytes_of(shipped))
        faults += found
    if faults:
        raise ScenarioError(tuple(faults))
    return Logs(
        tuple(time_rows), str(times or ""), tuple(day_rows), str(days or ""), tuple(shipped_rows), str(shipped or "")
    )


def _read_times(scenario: Scenario, text: str, name: str) -> tuple[list[TimeRow], list[Fault]]:
    return read_times(text, name, list_loggable(scenario))


def _read_days(scenario: Scenario, text: str, name: str) -> tuple[list[DayRow], list[Fault]]:
    return read_days(text, name, scenario.shop)


def _read_shipped(scenario: Scenario, text: str, name: str) -> tuple[list[ShippedRow], list[Fault]]:
    return read_shipped(text, name, [order.id for order in OrderQueue(build_worklist(scenario)).orders])


def write_learned(path: str | Path, learned: Learned, scenario: Scenario) -> None:
    """Put what is known into a scenario file, comments kept; the rest of the file stays as it is.

    ``scenario``: the one in the file when the logs were taken in. Where the file knows something else by now, another
    program has learned meanwhile; that is not written over. Raises ScenarioError or InputError, the old file then kept.
    """
    try:
        seen = read_bytes(Path(path))
    except Unreadable as error:
        raise ScenarioError((Fault(str(path), error.line, "", error.rule, error.mend),)) from None
    now = read_scenario_text(seen, str(path), folder=Path(path).parent)
    if now.scenario is None:
        raise ScenarioError(now.faults)
    if now.scenario.learned != scenario.learned:
        raise InputError(
            f"{path} · what it has learned was changed by another program meanwhile "
            "· nothing is written; run the command again"
        )
    edit_file(path, learned_changes(scenario, learned), seen=seen)


def learned_changes(scenario: Scenario, learned: Learned) -> dict[str, Any]:
    """What to change in a scenario's file, by places, so that it holds what is known; None takes a key out."""
    data: Mapping[str, Any] = scenario_data(scenario.model_copy(update={"learned": learned})).get("learned", {})
    return {f"learned.{key}": data.get(key) for key in Learned.model_fields}
