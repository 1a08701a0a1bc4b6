"""Scenario files out: a whole scenario, or changes in a user's own file with its comments kept.

Every file is written beside the old one and put in its place only when it is
whole on the disk, so that a failure leaves the old file as it was.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Item

from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.scenario.files import read_scenario_text
from shopsim.scenario.lenient import copy_plain
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import Guesser, Where, clean
from shopsim.scenario.plain import dump_scenario
from shopsim.scenario.settings import NoSuchPlace, as_plain, find_place, put_value, split_place
from shopsim.scenario.text import Unreadable, decode_text, read_bytes


def save_scenario(scenario: Scenario, path: str | Path) -> None:
    """Write the scenario to a TOML file, in place of one that is there. Raises InputError, the old file then kept."""
    write_text_safely(path, dump_scenario(scenario))


def write_text_safely(path: str | Path, text: str) -> None:
    """Write a text file whole or not at all; raises InputError, the old file then kept."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError(f"{path} · cannot be written: {str(error).lower()} · nothing is changed") from None
    write_bytes_safely(path, data)


def write_bytes_safely(path: str | Path, data: bytes) -> None:
    """Write a file whole or not at all; raises InputError, the old file then kept."""
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise InputError(f"{path} · is a folder · name a file in it")
    if target.exists() and not target.is_file():  # a device would be replaced by a file
        raise InputError(f"{path} · is no plain file · name another one")
    if not target.parent.is_dir():
        raise InputError(f"{path} · its folder does not exist · make the folder first")
    beside = target.parent / f".{target.name[:100]}.{secrets.token_hex(6)}.part"
    try:
        number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        with os.fdopen(number, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        os.replace(beside, target)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(
            f"{path} · cannot be written: {reason.lower()} · nothing is changed; check the folder and the disk"
        ) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def edit_file(path: str | Path, changes: Mapping[str, Any]) -> None:
    """Change values in a user's scenario file, its comments and layout kept.

    ``changes``: places to values, ``{"run.batch": 5}``, as ``change_scenario``
    takes them; None takes a key out. A file that already had faults can be
    edited; a change that brings in a new one is refused.

    Raises ScenarioError (faults) or InputError (file), the old file then kept.
    """
    name = str(path)
    try:
        text = decode_text(read_bytes(Path(path)))
        data = parse_toml(text)
    except Unreadable as error:
        raise ScenarioError((Fault(name, error.line, "", error.rule, error.mend),)) from None
    new_text = _edited(text, data, changes, name)
    folder = Path(path).parent
    old = {(fault.place, fault.rule) for fault in read_scenario_text(text, name, folder=folder).faults}
    new = read_scenario_text(new_text, name, folder=folder).faults
    brought = tuple(fault for fault in new if (fault.place, fault.rule) not in old)
    if brought:
        raise ScenarioError(brought)
    write_text_safely(path, new_text)


def _edited(text: str, data: dict[str, Any], changes: Mapping[str, Any], name: str) -> str:
    wanted = copy_plain(data)
    faults = []
    try:
        document = tomlkit.parse(text)
        for place, given in changes.items():
            value = as_plain(given)
            try:
                _refuse_other_file(data, place)
                where = find_place(wanted, place, Guesser())
                put_value(wanted, where, value)
                _put_item(document, where, value)
            except NoSuchPlace as error:
                faults.append(Fault(name, None, clean(place, 80), clean(error.rule), clean(error.mend)))
        new_text = tomlkit.dumps(document)
    except (TOMLKitError, RecursionError) as error:
        raise InputError(f"{name} · cannot be edited: {clean(str(error))} · change it in a text editor") from None
    if faults:
        raise ScenarioError(tuple(faults))
    try:
        kept = parse_toml(new_text) == wanted
    except Unreadable:
        kept = False
    if not kept:
        raise InputError(f"{name} · cannot be edited without touching other values · change it in a text editor")
    return new_text


def _refuse_other_file(data: dict[str, Any], place: str) -> None:
    steps = split_place(place)
    first = data.get(str(steps[0]))
    if len(steps) > 1 and isinstance(first, str):
        raise NoSuchPlace(f'"{steps[0]}" stands in a file of its own, {clean(first, 80)}', "change it in that file")


def _put_item(document: Any, where: Where, value: Any) -> None:
    holder = document
    for number, step in enumerate(where[:-1]):
        if isinstance(step, str) and step not in holder:
            if value is None:
                return
            holder[step] = tomlkit.table() if number == 0 else tomlkit.inline_table()
        holder = holder[step]
    if value is None:
        if where[-1] in holder:
            del holder[where[-1]]
    else:
        holder[where[-1]] = _item(value)


def _item(value: Any) -> Item:
    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table[key] = _item(inner)
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for inner in value:
            array.append(_item(inner))
        if any(isinstance(inner, dict) for inner in value):
            array.multiline(True)  # a table on each line
        return array
    item: Item = tomlkit.item(value)
    return item
