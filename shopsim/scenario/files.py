"""Scenario files in: read, put together, checked whole, with every fault at its file and line.

``load_scenario`` for a file that should be right, ``read_scenario`` where the
faults are to be shown. Writing is in writing.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, NamedTuple

from shopsim.errors import Fault, ScenarioError
from shopsim.scenario.changing import change_values
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario, warn_scenario
from shopsim.scenario.lenient import read_leniently
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import SourceMap
from shopsim.scenario.plain import scenario_data
from shopsim.scenario.settings import Settings, apply_settings, as_plain, split_settings
from shopsim.scenario.source import Source, follow_files, read_order_books, read_source
from shopsim.scenario.text import IncludedFiles, Unreadable, check_size, decode_text, read_bytes
from shopsim.units import clean

#: What of a file's name is said in messages, in letters.
MAX_PATH_LETTERS = 1000


class Reading(NamedTuple):
    """What reading a scenario gave: the scenario (None if it has faults), its faults and its warnings, in file order."""

    scenario: Scenario | None
    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...]


def load_scenario(path: str | Path, settings: Settings = ()) -> Scenario:
    """The scenario in a TOML file, checked whole and ready to run.

    ``settings``: values put in place of the file's, as texts like
    ``"run.batch=5"`` or as a mapping ``{"run.batch": 5}``; list items by number
    (``shop.clamps[0].count``) or name (``shop.clamps."bar clamp".count``).
    Tables and orders in other files are read from the same folder.

    Raises ScenarioError with every fault at once, in file order.
    """
    return _or_raise(read_scenario(path, settings))


def read_scenario(path: str | Path, settings: Settings = ()) -> Reading:
    """Read a scenario file, with faults and warnings handed back instead of raised."""
    name = clean(str(path), MAX_PATH_LETTERS)
    try:
        text = decode_text(read_bytes(Path(path)))
    except Unreadable as error:
        return Reading(None, (Fault(name, error.line, "", error.rule, error.mend),), ())
    return read_scenario_text(text, name, folder=Path(path).parent, settings=settings)


def parse_scenario(
    text: str,
    name: str = "scenario.toml",
    *,
    folder: str | Path | None = None,
    beside: Mapping[str, bytes] | None = None,
    settings: Settings = (),
) -> Scenario:
    """The scenario in a TOML text; ``name`` stands for it in faults. Raises ScenarioError.

    Files named in it are looked for in ``beside`` (name: contents) and then in
    ``folder``; without either, naming a file is a fault (as for an upload).
    """
    return _or_raise(read_scenario_text(text, name, folder=folder, beside=beside, settings=settings))


def read_scenario_text(
    text: str | bytes,
    name: str = "scenario.toml",
    *,
    folder: str | Path | None = None,
    beside: Mapping[str, bytes] | None = None,
    settings: Settings = (),
) -> Reading:
    """Read a scenario from its text, with faults and warnings handed back instead of raised; bytes may be given as uploaded."""
    name = clean(name, MAX_PATH_LETTERS)
    try:
        raw = text if isinstance(text, bytes) else text.encode("utf-8", "surrogateescape")
        text = decode_text(check_size(raw))
    except Unreadable as error:
        return Reading(None, (Fault(name, error.line, "", error.rule, error.mend),), ())
    near = IncludedFiles(Path(folder) if folder is not None else None, dict(beside or {}))
    source = read_source(text, name, near)
    if isinstance(source, tuple):
        return Reading(None, source, ())
    return _read(source, settings, "--set")


def change_scenario(scenario: Scenario, changes: Mapping[str, Any], *, folder: str | Path | None = None) -> Scenario:
    """A copy of the scenario with values changed, checked by the same rules.

    ``changes``: places to values, ``{"run.batch": 5, 'shop.clamps."bar clamp".count': 12}``,
    values as a file has them, or as a scenario holds them; None takes a key out. ``folder`` is needed only to name another CSV
    file of orders. Raises ScenarioError.
    """
    changed = change_values(scenario, [(place, as_plain(value)) for place, value in changes.items()])
    if changed is not None:
        return changed
    source = Source(
        SourceMap("scenario"), IncludedFiles(Path(folder) if folder is not None else None), scenario_data(scenario)
    )
    return _or_raise(_read(source, changes, "changed"))


def _or_raise(reading: Reading) -> Scenario:
    if reading.scenario is None:
        raise ScenarioError(reading.faults)
    return reading.scenario


def _read(source: Source, settings: Settings, label: str) -> Reading:
    split = split_settings(settings, label)
    apply_settings(source, split, whole_tables=True)
    follow_files(source)
    apply_settings(source, split, whole_tables=False)
    read_order_books(source)
    read = read_leniently(source.data, source.holes, source.suggester)
    spots = source.spots
    spots.renamed.update(read.renamed)
    faults = [*source.faults, *(spots.fault(finding, source.data) for finding in read.findings)]
    warnings = list(source.remarks)
    if read.scenario is not None:
        context = CheckContext(read.scenario, frozenset(read.holes), source.suggester, source.order_lines)
        faults.extend(spots.fault(finding, source.data) for finding in check_scenario(context))
        if not faults:
            warnings.extend(spots.fault(finding, source.data) for finding in warn_scenario(context))
    return Reading(None if faults else read.scenario, spots.in_order(faults), spots.in_order(warnings))
