"""What an answer is: a table, one plain sentence, and what it was made with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from shopsim.columns import find_table
from shopsim.priority import PRIORITY_RULES
from shopsim.rows import stamp_result, table_rows
from shopsim.scenario.batches import is_planned
from shopsim.study.results import Study

#: Said where a plan of one's own is compared with what other batches or another rule would bring.
PLAN_NOTE = (
    f'Today runs as planned in the file. A plan is for its own batches, so where others are cut "{PRIORITY_RULES[0]}" '
    "stands in its place: search a plan for them (shopsim days) before you take today's for better."
)


@dataclass(frozen=True)
class Answer:
    """An answer to one question of the maker.

    ``key``: the question, one of ``TABLES``, which stays; ``title``: the question for people, which no program reads.
    ``rows``: the table; columns as the function that made it says, each known by its key (``find_column``).
    ``sentence``: the answer in plain words. ``scenario``: its title; ``scenario_hash``: SHA-256
    of all it says. ``version``, ``seed``, ``replications``: what it was made with. ``partial``:
    the user stopped, and it rests on fewer replications than asked for. ``notes``: what
    should be read beside it. ``tables``: further tables that belong to it, by their keys.
    ``study``: the runs it rests on, to be saved or to answer another question with.
    """

    key: str
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

    @property
    def runs_each(self) -> str:
        """How many runs of each alternative there are, in words: ``200``, or ``200 to 2,000`` where some were run on."""
        most = 0
        if self.study is not None:
            most = max(outcome.replications.size for outcome in self.study.outcomes.values())
        return f"{self.replications:,} to {most:,}" if most > self.replications else f"{self.replications:,}"

    def to_dict(self) -> dict[str, Any]:
        """One object of plain JSON types; what is not there is None, dates are ISO 8601 texts."""
        return {
            **stamp_result(self.scenario, self.scenario_hash, self.version, self.seed, self.replications),
            "partial": bool(self.partial),
            "answer": self.key,
            "title": self.title,
            "rows": table_rows(self.rows),
            "sentence": self.sentence,
            "notes": list(self.notes),
            "tables": {key: table_rows(table) for key, table in self.tables.items()},
        }

    def titled_tables(self) -> dict[str, pd.DataFrame]:
        """All tables, its own first, by their titles: for people, as in a report or a workbook."""
        further = {find_table(key).title: table for key, table in self.tables.items()}
        return {self.title: self.rows, **further}


def build_answer(
    study: Study,
    name: str,
    key: str,
    rows: pd.DataFrame,
    sentence: str,
    notes: tuple[str, ...] = (),
    tables: Mapping[str, pd.DataFrame] | None = None,
) -> Answer:
    """An answer stamped with what the study was made with; ``name``: the alternative that is today's; ``key``: one of ``TABLES``."""
    outcome = study.outcomes[name]
    if not study.complete:
        stopped = f"Stopped early: {study.replications} of {study.wanted} replications were finished."
        notes = (stopped, *notes)
    others = {outcome.scenario.run.priority for outcome in study.outcomes.values()}
    if is_planned(outcome.scenario) and len(others) > 1:
        notes = (*notes, PLAN_NOTE)
    return Answer(
        key=key,
        title=find_table(key).title,
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
