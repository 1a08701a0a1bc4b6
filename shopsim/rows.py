"""Results as plain data, for JSON and CSV: the one place that says what a cell becomes, and what every result tells of itself.

Moments are local, without a zone: ``2027-01-11T18:00:00``; days are ``2027-01-11``; whatever is not there is None: a
number that is not finite, empty text, and what pandas counts as missing.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd


def plain_value(value: Any) -> Any:
    """A value as JSON can hold it: None, bool, int, float, str, list or dict; dates and moments as ISO text.

    A number that is not finite is None, as is whatever pandas counts as missing.
    """
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, bool | str | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dt.datetime):
        return value.replace(tzinfo=None).isoformat(timespec="seconds")
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Mapping):
        return {str(key): plain_value(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset | np.ndarray):
        items = sorted(value) if isinstance(value, set | frozenset) else value
        return [plain_value(item) for item in items]
    return str(value)


def list_cells(column: pd.Series[Any]) -> list[Any]:
    """The values of a column, empty text as None; days alone (which pandas keeps by the second) as dates."""
    if column.dtype == "datetime64[s]":
        return [None if pd.isna(value) else value.date() for value in column]
    return [None if isinstance(value, str) and not value else value for value in column.tolist()]


def table_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table as plain dicts, columns in order, empty text as None; an empty table gives an empty list."""
    names = [str(name) for name in table.columns]
    columns = [[plain_value(value) for value in list_cells(table[name])] for name in table.columns]
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


def stamp_result(
    scenario: str, scenario_hash: str | None, version: str, seed: int | None, replications: int | None
) -> dict[str, Any]:
    """What every result tells of itself: title and hash of its scenario, version of the program, seed, replications.

    None for a hash that cannot be told, as the scenario could not be read, and where nothing was run.
    """
    return {
        "scenario": scenario,
        "scenario_hash": scenario_hash,
        "version": version,
        "seed": None if seed is None else int(seed),
        "replications": None if replications is None else int(replications),
    }
