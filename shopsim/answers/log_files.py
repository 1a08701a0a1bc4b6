"""The files around learning: logs as a maker keeps them, and what was learned put into the scenario's own file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path, PurePosixPath
from typing import Any, NamedTuple

from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.limits import MAX_LOG_FILES
from shopsim.scenario.day_logs import DayRow, read_days
from shopsim.scenario.files import read_scenario_text
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.logs import TimeRow, read_file, read_times
from shopsim.scenario.model import Learned, Scenario
from shopsim.scenario.plain import scenario_data
from shopsim.scenario.run_log import decode_log, is_run_log
from shopsim.scenario.shipped_logs import ShippedRow, read_shipped
from shopsim.scenario.text import IncludedFiles, Unreadable, check_size, decode_text, read_bytes
from shopsim.scenario.writing import check_can_write, edit_file, edit_text, in_form_of, write_text_safely
from shopsim.study.beliefs import list_loggable
from shopsim.study.order_queue import OrderQueue

#: Bytes that what was learned may add to a file, for looking beforehand whether there is room.
ROOM_TO_LEARN = 100_000


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

    ``times`` may be the log of a run, which tells of days and of shipped orders too; those named beside it then go before its own.
    ``held``: the bytes of files that were handed over, by name; if it is given, nothing is read from the disk.
    """

    def bytes_of(path: str | Path) -> bytes | None:
        return None if held is None else held[str(path)]

    faults: list[Fault] = []
    of_run = Logs() if times is None else _read_run(scenario, times, bytes_of(times), faults)
    if of_run is not None:
        times = None
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
    if of_run is not None:
        if days is not None:
            of_run = replace(of_run, days=tuple(day_rows), days_name=str(days))
        if shipped is not None:
            of_run = replace(of_run, shipped=tuple(shipped_rows), shipped_name=str(shipped))
        return of_run
    return Logs(
        tuple(time_rows), str(times or ""), tuple(day_rows), str(days or ""), tuple(shipped_rows), str(shipped or "")
    )


def _read_run(scenario: Scenario, path: str | Path, data: bytes | None, faults: list[Fault]) -> Logs | None:
    """What the log of a run teaches; None for a log of times alone, or one that cannot be read, which is then told as such."""
    from shopsim.answers.logged_run import logs_of_run  # which itself gives logs of this kind

    try:
        text = decode_log(check_size(read_bytes(Path(path)) if data is None else data))
        if not is_run_log(text):
            return None
        logs = logs_of_run(scenario, text, str(path))
    except Unreadable:
        return None
    except ScenarioError as error:
        faults += error.faults
        return Logs()
    if not (logs.times or logs.days or logs.shipped):
        faults.append(
            Fault(
                str(path),
                None,
                "",
                "holds nothing yet that could be learned from",
                "log what is done, with its minutes",
            )
        )
    return logs


def _read_times(scenario: Scenario, text: str, name: str) -> tuple[list[TimeRow], list[Fault]]:
    return read_times(text, name, list_loggable(scenario))


def _read_days(scenario: Scenario, text: str, name: str) -> tuple[list[DayRow], list[Fault]]:
    return read_days(text, name, scenario.shop)


def _read_shipped(scenario: Scenario, text: str, name: str) -> tuple[list[ShippedRow], list[Fault]]:
    return read_shipped(text, name, [order.id for order in OrderQueue(scenario).orders])


def check_can_learn(path: str | Path) -> None:
    """InputError, before long work, where ``write_learned`` could not write: no room, or a file that may only be read."""
    target = find_learned_file(path).path
    check_can_write(target, len(_read(target)) + ROOM_TO_LEARN)


def write_learned(path: str | Path, learned: Learned, scenario: Scenario) -> Path:
    """Put what is known into a scenario file, comments kept, or into the file in which its [learned] stands; that file.

    ``scenario``: the one in the file when the logs were taken in. Where the file knows something else by now, another
    program has learned meanwhile; that is not written over. Raises ScenarioError or InputError, the old file then kept.
    """
    seen = _read(path)
    now = read_scenario_text(seen, str(path), folder=Path(path).parent)
    if now.scenario is None:
        raise ScenarioError(now.faults)
    if now.scenario.learned != scenario.learned:
        raise InputError(
            f"{path} · what it has learned was changed by another program meanwhile "
            "· nothing is written; run the command again"
        )
    changes = learned_changes(scenario, learned)
    place = find_learned_file(path)
    if place.name is None:
        edit_file(path, changes, seen=seen)
        return place.path
    held = _read(place.path)
    text = edit_text(decode_text(held), changes, str(place.path), within="" if place.headed else "learned")
    beside = {place.name: text.encode()}
    after = read_scenario_text(seen, str(path), folder=Path(path).parent, beside=beside)
    if after.scenario is None or after.scenario.learned != learned:
        raise (
            ScenarioError(after.faults)
            if after.faults
            else InputError(
                f"{place.path} · cannot hold what was learned as it is written · change it in a text editor"
            )
        )
    write_text_safely(place.path, in_form_of(held, text), seen=held)
    return place.path


class LearnedFile(NamedTuple):
    """Where [learned] stands: the file, its name in the scenario (None: the scenario itself), and whether under its head."""

    path: Path
    name: str | None
    headed: bool


def find_learned_file(path: str | Path) -> LearnedFile:
    """The file that holds what a scenario has learned, from file to file as it names them; raises ScenarioError."""
    folder, place = Path(path).parent, LearnedFile(Path(path), None, True)
    for _ in range(MAX_LOG_FILES):
        text = decode_text(_read(place.path))
        try:
            found = parse_toml(text).get("learned")
            if not isinstance(found, str):
                headed = place.name is None or isinstance(found, dict)
                return place._replace(headed=headed)
            key, _ = IncludedFiles(folder).read(found, ".toml")
        except Unreadable as error:
            raise ScenarioError((Fault(str(place.path), error.line, "", error.rule, error.mend),)) from None
        place = LearnedFile(Path(key), str(PurePosixPath(found)), False)
    raise InputError(f"{path} · its [learned] leads from file to file without an end · write the table itself")


def _read(path: str | Path) -> bytes:
    try:
        return read_bytes(Path(path))
    except Unreadable as error:
        raise ScenarioError((Fault(str(path), error.line, "", error.rule, error.mend),)) from None


def learned_changes(scenario: Scenario, learned: Learned) -> dict[str, Any]:
    """What to change in a scenario's file, by places, so that it holds what is known; None takes a key out."""
    data: Mapping[str, Any] = scenario_data(scenario.model_copy(update={"learned": learned})).get("learned", {})
    return {f"learned.{key}": data.get(key) for key in Learned.model_fields}
