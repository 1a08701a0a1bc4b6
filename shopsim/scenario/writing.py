"""Scenario files out: a whole scenario, or changes in a user's own file with its comments kept.

Every file is written beside the old one and put in its place only when it is
whole on the disk, so that a failure leaves the old file as it was.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import time
from collections.abc import Mapping
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Array, Item

from shopsim.errors import Fault, InputError, ScenarioError
from shopsim.scenario.files import read_scenario_text
from shopsim.scenario.lenient import copy_plain
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import KeyPath, NameSuggester, clean
from shopsim.scenario.plain import dump_scenario
from shopsim.scenario.settings import NoSuchPlace, as_plain, find_place, put_value, split_place
from shopsim.scenario.text import Unreadable, decode_text, read_bytes

#: Seconds after which a part of a file that was never put in place is taken for left behind, and cleared away.
LEFT_BEHIND_S = 3600.0


def save_scenario(scenario: Scenario, path: str | Path, *, seen: bytes | None = None) -> None:
    """Write the scenario to a TOML file, in place of one that is there; ``seen`` as for ``write_bytes_safely``.

    Raises InputError, the old file then kept.
    """
    write_text_safely(path, dump_scenario(scenario), seen=seen)


def write_text_safely(path: str | Path, text: str, *, seen: bytes | None = None) -> None:
    """Write a text file whole or not at all; raises InputError, the old file then kept."""
    try:
        data = text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise InputError(f"{path} · cannot be written: {str(error).lower()} · nothing is changed") from None
    write_bytes_safely(path, data, seen=seen)


def write_bytes_safely(path: str | Path, data: bytes, *, seen: bytes | None = None, private: bool = False) -> None:
    """Write a file whole or not at all; raises InputError, the old file then kept.

    ``private``: a new file can be read by its owner alone; one that is there keeps its rights.
    ``seen``: what the file held when it was read; if it holds something else by now, another program has
    changed it, and it is left as it is. It is compared last of all, so only a change in the
    moment of the swap itself (well under a millisecond) could go unnoticed.
    """
    target = _find_target(path)
    stem = f".{target.name[:50]}."  # short enough for letters of four bytes each
    beside = target.parent / f"{stem}{secrets.token_hex(6)}.part"
    _clear_left_behind(target.parent, stem)
    try:
        number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600 if private else 0o666)
        with os.fdopen(number, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            beside.chmod(target.stat().st_mode & 0o777)
        if seen is not None:
            _refuse_if_changed(path, target, seen)
        os.replace(beside, target)
    except OSError as error:
        raise _say_failure(path, error) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def check_can_write(path: str | Path, room: int = 0) -> None:
    """InputError where ``write_bytes_safely`` would fail by now; ``room``: bytes that are to fit on the disk.

    For before long work: so many bytes are written beside the file and taken away again.
    """
    target = _find_target(path)
    beside = target.parent / f".{target.name[:50]}.{secrets.token_hex(6)}.part"
    try:
        number = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(number, "wb") as file:
            file.write(bytes(room))
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise _say_failure(path, error) from None
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)


def _find_target(path: str | Path) -> Path:
    """The file that ``path`` leads to, by way of links; InputError where no file can stand."""
    try:
        target = Path(os.path.realpath(path))
        if target.is_dir():
            raise InputError(f"{path} · is a folder · name a file in it")
        if target.exists() and not target.is_file():  # a device would be replaced by a file
            raise InputError(f"{path} · is no plain file · name another one")
        if not target.parent.is_dir():
            raise InputError(f"{path} · its folder does not exist · make the folder first")
        may_only_be_read = target.exists() and not os.access(target, os.W_OK)
    except (OSError, ValueError) as error:
        raise _say_failure(path, error) from None
    if may_only_be_read:  # its folder would let it be replaced, but whoever marked it so meant it
        raise InputError(f"{path} · may only be read · give yourself the right to change it, or name another file")
    return target


def _say_failure(path: str | Path, error: Exception) -> InputError:
    reason = (getattr(error, "strerror", None) or str(error)).lower()
    return InputError(f"{path} · cannot be written: {reason} · it is left as it was; check the folder and the disk")


def _clear_left_behind(folder: Path, stem: str) -> None:
    """Remove parts of the same file that a program left when it was killed; those of one at work are younger."""
    with contextlib.suppress(OSError):
        for part in folder.iterdir():
            if part.name.startswith(stem) and part.name.endswith(".part") and len(part.name) == len(stem) + 17:
                with contextlib.suppress(OSError):
                    if time.time() - part.stat().st_mtime > LEFT_BEHIND_S:
                        part.unlink()


def _refuse_if_changed(path: str | Path, target: Path, seen: bytes) -> None:
    try:
        now = target.read_bytes()
    except FileNotFoundError:
        raise InputError(f"{path} · was taken away by another program meanwhile · nothing is written") from None
    if now != seen:
        raise InputError(
            f"{path} · was changed by another program meanwhile · nothing is written; look at it and try again"
        )


def edit_file(path: str | Path, changes: Mapping[str, Any], *, seen: bytes | None = None) -> None:
    """Change values in a user's scenario file, its comments and layout kept.

    ``changes``: places to values, ``{"run.batch": 5}``, as ``change_scenario``
    takes them; None takes a key out. A file that already had faults can be
    edited; a change that brings in a new one is refused. So is one to a file that another
    program changes meanwhile; ``seen``: what it held when you read it, default what it holds now.

    Raises ScenarioError (faults) or InputError (file), the old file then kept.
    """
    name = str(path)
    try:
        held = read_bytes(Path(path))
        text = decode_text(held)
        parse_toml(text)
    except Unreadable as error:
        raise ScenarioError((Fault(name, error.line, "", error.rule, error.mend),)) from None
    new_text = edit_text(text, changes, name)
    folder = Path(path).parent
    old = {(fault.place, fault.rule) for fault in read_scenario_text(text, name, folder=folder).faults}
    new = read_scenario_text(new_text, name, folder=folder).faults
    brought = tuple(fault for fault in new if (fault.place, fault.rule) not in old)
    if brought:
        raise ScenarioError(brought)
    write_text_safely(path, in_form_of(held, new_text), seen=held if seen is None else seen)


def in_form_of(held: bytes, text: str) -> str:
    """A text with the mark in front and the ends of lines that a file has by now, where all its lines end alike."""
    if b"\r\n" in held and held.count(b"\r\n") == held.count(b"\n"):
        text = re.sub(r"\r?\n", "\r\n", text)
    return ("\ufeff" if held.startswith(b"\xef\xbb\xbf") else "") + text


def edit_text(text: str, changes: Mapping[str, Any], name: str = "scenario.toml", *, within: str = "") -> str:
    """The TOML text of a scenario with values changed, everything else as it was; what the values mean is not looked at.

    ``changes`` as for ``edit_file``. ``within``: the table of a scenario that the whole text is, where it has a file of
    its own. Raises ScenarioError where the text is not TOML or a place is not
    there, and InputError where a value cannot be changed without touching others.
    """
    try:
        data = parse_toml(text)
    except Unreadable as error:
        raise ScenarioError((Fault(name, error.line, "", error.rule, error.mend),)) from None
    for merge in (True, False):  # lists are merged item by item, so that their comments stay, unless that goes wrong
        wanted = copy_plain(data)
        new_text = _edited(text, data, {within: wanted} if within else wanted, changes, name, merge, within)
        try:
            if parse_toml(new_text) == wanted:
                return new_text
        except Unreadable:
            continue
    raise InputError(f"{name} · cannot be edited without touching other values · change it in a text editor")


def _edited(
    text: str, data: dict[str, Any], wanted: dict[str, Any], changes: Mapping[str, Any], name: str, merge: bool,
    within: str,
) -> str:  # fmt: skip
    """The text with the changes made, which are made in ``wanted`` too."""
    faults = []
    try:
        document = tomlkit.parse(text)
        for place, given in changes.items():
            value = as_plain(given)
            try:
                _refuse_other_file(data, place)
                where = find_place(wanted, place, NameSuggester())
                put_value(wanted, where, value)
                _put_item(document, where[1:] if within else where, value, merge)
            except NoSuchPlace as error:
                faults.append(Fault(name, None, clean(place, 80), clean(error.rule), clean(error.mend)))
        new_text = tomlkit.dumps(document)
    except (TOMLKitError, RecursionError) as error:
        raise InputError(f"{name} · cannot be edited: {clean(str(error))} · change it in a text editor") from None
    if faults:
        raise ScenarioError(tuple(faults))
    return new_text


def _refuse_other_file(data: dict[str, Any], place: str) -> None:
    steps = split_place(place)
    first = data.get(str(steps[0]))
    if len(steps) > 1 and isinstance(first, str):
        raise NoSuchPlace(f'"{steps[0]}" stands in a file of its own, {clean(first, 80)}', "change it in that file")


def _put_item(document: Any, where: KeyPath, value: Any, merge: bool) -> None:
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
    elif not (merge and isinstance(value, list) and where[-1] in holder and _merge(holder[where[-1]], value)):
        holder[where[-1]] = _item(value)


def _merge(array: Any, value: list[Any]) -> bool:
    """Make a list what it shall be by taking out and putting in single items; False where it is not a list."""
    if not isinstance(array, Array):
        return False
    before, after = [repr(item) for item in array.unwrap()], [repr(item) for item in value]
    if before == after:
        return True
    for step, first, last, new_first, new_last in reversed(SequenceMatcher(None, before, after, False).get_opcodes()):
        if step != "equal":
            for _ in range(first, last):
                del array[first]
            for item in reversed(value[new_first:new_last]):
                array.insert(first, _item(item))
    return True


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
