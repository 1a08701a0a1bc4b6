"""A scenario as plain data, and plain data as TOML text."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from shopsim.errors import InputError
from shopsim.laws import Law
from shopsim.scenario.model import Record, Scenario
from shopsim.scenario.places import KeyPath, say_place
from shopsim.scenario.values import OrderBook

_BARE = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-")


def record_data(record: Record) -> dict[str, Any]:
    """A record as plain data, defaults left out, as it would stand in a file."""
    return _record_data(record)


def scenario_data(scenario: Scenario) -> dict[str, Any]:
    """A scenario as plain data that reads back as the same, defaults left out.

    Order books and laws of the user's own, which no text can hold, stay as they are.
    """
    return _record_data(scenario)


def _record_data(record: Record) -> dict[str, Any]:
    written = record.model_dump(exclude_defaults=True)
    data: dict[str, Any] = {}
    for key in type(record).model_fields:
        if key not in written:
            continue
        value = getattr(record, key)
        if isinstance(value, Record):
            data[key] = _record_data(value)
        elif isinstance(value, OrderBook) or _has_own_law(value):
            data[key] = value
        elif isinstance(value, tuple) and any(isinstance(item, Record) for item in value):
            data[key] = [_record_data(item) for item in value]
        else:
            data[key] = _listed(written[key])
    return data


def _has_own_law(value: Any) -> bool:
    """Whether a value is a law by a user's function; of transit, whether one of its laws is."""
    if isinstance(value, tuple):
        return any(_has_own_law(item) for item in value)
    return isinstance(value, Law) and value.name == "own"


def _listed(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _listed(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_listed(item) for item in value]
    return value


def dump_scenario(scenario: Scenario) -> str:
    """The scenario as TOML text; parsed again it gives an equal Scenario.

    A CSV file of orders is named as before and must stand beside the text.
    Raises InputError where a law is a function of the user's own.
    """
    data = scenario_data(scenario)
    lines = [f"{key} = {_value(value, (key,), data)}" for key, value in data.items() if key == "title"]
    for key, value in data.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *_table(value, (key,), data)]
        elif isinstance(value, list):
            for number, item in enumerate(value):
                lines += ["", f"[[{key}]]", *_table(item, (key, number), data)]
    return "\n".join(lines).lstrip("\n") + "\n"


def value_text(value: Any) -> str:
    """A plain value as a TOML file writes it, on one line."""
    return _value(value, (), value)


def table_lines(header: str, row: dict[str, Any]) -> list[str]:
    """A row of a list of tables as lines of TOML under ``[[header]]``, everything in it on one line for each key."""
    return [f"[[{header}]]", *(f"{_key(key)} = {_value(value, (header, key), row)}" for key, value in row.items())]


def _table(table: dict[str, Any], where: KeyPath, data: Any) -> list[str]:
    lines, below = [], []
    for key, value in table.items():
        in_operation = "operations" in where
        if isinstance(value, list) and value and all(isinstance(item, dict) for item in value) and not in_operation:
            header = ".".join(str(step) for step in (*where, key) if isinstance(step, str))
            for number, item in enumerate(value):
                below += ["", f"[[{header}]]", *_table(item, (*where, key, number), data)]
        else:
            lines.append(f"{_key(key)} = {_value(value, (*where, key), data)}")
    return lines + below


def _key(key: str) -> str:
    return key if key and set(key) <= _BARE else _text(key)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any, where: KeyPath, data: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, OrderBook):
        return _text(value.path)
    if isinstance(value, list):
        return "[" + ", ".join(_value(item, where, data) for item in value) + "]"
    if isinstance(value, dict):
        inner = ", ".join(f"{_key(key)} = {_value(item, (*where, key), data)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    raise InputError(
        f"{say_place(where, data)} · follows a law of your own, which a file cannot hold · "
        "give it low / likely / high before writing"
    )
