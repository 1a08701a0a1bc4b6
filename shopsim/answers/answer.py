"""What an answer is: a table, one plain sentence, and what it was made with."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from shopsim.study.results import Study


@dataclass(frozen=True)
class Answer:
    """An answer to one question of the maker.

    ``title``: the question. ``rows``: the table; columns as the function that made it says.
    ``sentence``: the answer in plain words. ``scenario``: its title; ``scenario_hash``: SHA-256
    of all it says. ``version``, ``seed``, ``replications``: what it was made with. ``partial``:
    the user stopped, and it rests on fewer replications than asked for. ``notes``: what
    should be read beside it. ``tables``: further tables that belong to it, by their titles.
    ``study``: the runs it rests on, to be saved or to answer another question with.
    """

    title: str
    rows: pd.DataFrame
    sentence: str
    scenario: str
    scenario_hash: str
    version: str
    seed: int
    replications: int
    partial: bool = False
    notes: tuple[str, ...] = ()
    tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    study: Study | None = field(default=None, repr=False, compare=False)

    def to_dict(self) -> dict[str, Any]:
        """One object of plain JSON types; a number that is not there is None, dates are ISO 8601 texts."""
        return {
            "title": self.title,
            "scenario": self.scenario,
            "scenario_hash": self.scenario_hash,
            "version": self.version,
            "seed": int(self.seed),
            "replications": int(self.replications),
            "partial": bool(self.partial),
            "rows": _plain_rows(self.rows),
            "sentence": self.sentence,
            "notes": list(self.notes),
            "tables": {title: _plain_rows(table) for title, table in self.tables.items()},
        }


def build_answer(
    study: Study,
    name: str,
    title: str,
    rows: pd.DataFrame,
    sentence: str,
    notes: tuple[str, ...] = (),
    tables: Mapping[str, pd.DataFrame] | None = None,
) -> Answer:
    """An answer stamped with what the study was made with; ``name``: the alternative that is today's."""
    outcome = study.outcomes[name]
    if not study.complete:
        stopped = f"Stopped early: {study.replications} of {study.wanted} replications were finished."
        notes = (stopped, *notes)
    return Answer(
        title=title,
        rows=rows,
        sentence=sentence,
        scenario=outcome.scenario.title,
        scenario_hash=outcome.scenario_hash,
        version=study.version,
        seed=study.seed,
        replications=study.replications,
        partial=not study.complete,
        notes=notes,
        tables=tables or {},
        study=study,
    )


def _plain_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(key): _plain(value) for key, value in row.items()} for row in table.to_dict(orient="records")]


def _plain(value: Any) -> Any:
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, dt.date | dt.datetime | pd.Timestamp):
        return value.isoformat()
    if isinstance(value, np.ndarray | list | tuple):
        return [_plain(item) for item in value]
    return str(value)
