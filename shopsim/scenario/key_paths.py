"""Places in plain data as a file holds it: what stands there, and how a place is written for a change."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shopsim.scenario.places import KeyPath


def value_at(data: Any, where: KeyPath) -> Any:
    """The value at a place of plain data, None where there is none."""
    for step in where:
        if isinstance(data, Mapping):
            data = data.get(str(step))
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def place_text(where: KeyPath) -> str:
    """A place as changes are written: ``"run"."batch"``, ``"designs"[0]."parts"."top leg"``."""
    return "".join(f"[{step}]" if isinstance(step, int) else f'."{_escape(step)}"' for step in where).removeprefix(".")


def _escape(key: str) -> str:
    return key.replace("\\", "\\\\").replace('"', '\\"')


def names_at(data: Mapping[str, Any], where: KeyPath) -> list[str]:
    """The names of the things in a list of the file, those that have one; the keys of a table."""
    here = value_at(data, where)
    if isinstance(here, Mapping):
        return [str(key) for key in here]
    if not isinstance(here, list):
        return []
    return [item["name"] for item in here if isinstance(item, Mapping) and isinstance(item.get("name"), str)]
