"""A draft: the scenario that somebody is working on, as the text of its file, with what reading it gave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from shopsim.errors import Fault, InputError
from shopsim.limits import MAX_BESIDE_BYTES, MAX_FILES_BESIDE
from shopsim.scenario import Reading, Scenario, read_scenario_text
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.text import Unreadable, check_size, decode_text
from shopsim.scenario.writing import edit_text
from shopsim.study.fingerprint import hash_scenario

#: The name of a draft that came from no file.
UNNAMED = "scenario.toml"


@dataclass(frozen=True)
class Draft:
    """The text is the one truth: everything else follows from it.

    ``name``: file name. ``beside``: files that the text names, by name. ``reading``: what reading gave.
    ``fingerprint``: hash of what the scenario says, "" where it has faults.
    """

    name: str
    text: str
    beside: Mapping[str, bytes]
    reading: Reading
    fingerprint: str

    @property
    def scenario(self) -> Scenario | None:
        """The scenario, None where there are faults."""
        return self.reading.scenario

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Every fault, in file order."""
        return self.reading.faults

    @property
    def data(self) -> dict[str, Any] | None:
        """Plain data of the text itself, other files not followed; None where it is not TOML."""
        try:
            return parse_toml(self.text)
        except Unreadable:
            return None


def make_draft(text: str, name: str = UNNAMED, beside: Mapping[str, bytes] | None = None) -> Draft:
    """Read a text into a draft, faults and all; no file of this computer is read, only those handed over."""
    given = MappingProxyType(dict(beside or {}))
    reading = read_scenario_text(text, name, folder=None, beside=given)
    fingerprint = hash_scenario(reading.scenario) if reading.scenario is not None else ""
    return Draft(name, text, given, reading, fingerprint)


def edit_draft(draft: Draft, changes: Mapping[str, Any]) -> Draft:
    """The draft with values changed in its text, comments kept; faults that this brings in are kept in the draft.

    Raises ScenarioError where a place is not there, InputError where it cannot be changed alone.
    """
    return make_draft(edit_text(draft.text, changes, draft.name), draft.name, draft.beside)


def put_beside(draft: Draft, name: str, data: bytes | None) -> Draft:
    """The draft with a file beside it added, replaced or (None) taken away; raises InputError for too many or too much."""
    beside = dict(draft.beside)
    beside.pop(name, None)
    if data is not None:
        beside[name] = data
        check_beside(beside)
    return make_draft(draft.text, draft.name, beside)


def check_beside(beside: Mapping[str, bytes]) -> None:
    """Raise InputError where the files beside a scenario are too many, too large, or no text."""
    if len(beside) > MAX_FILES_BESIDE:
        raise InputError(
            f"{len(beside)} files beside the scenario · at most {MAX_FILES_BESIDE} are taken · leave some out"
        )
    if sum(len(data) for data in beside.values()) > MAX_BESIDE_BYTES:
        raise InputError(
            f"the files beside the scenario are larger than {MAX_BESIDE_BYTES // 1_000_000} MB together · "
            "leave out what the run does not need"
        )
    for name, data in beside.items():
        read_upload(data, name)


def read_upload(data: bytes, name: str) -> str:
    """The text of an uploaded file; raises InputError where it is too large, empty or no text."""
    try:
        return decode_text(check_size(data))
    except Unreadable as error:
        raise InputError(str(Fault(name, error.line, "", error.rule, error.mend))) from None
