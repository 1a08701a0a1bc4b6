"""Holds what an answer says to its tables: every number, date and percentage of its sentence and notes stands in one."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Iterator
from typing import Any

import pandas as pd

from shopsim import Scenario
from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import BINDING, FEW_TOGETHER, TRANSIT_COUNTS
from shopsim.answers.what_moves import DAYS, MAX_LOGS, MIN_LOGS, UNITS
from shopsim.columns import CHANCE, COUNT, DATE, LABEL, MOMENT, NUMBER, SHARE, TABLES, TEXT, YES_NO, Column, find_column
from shopsim.say import say_chance, say_share
from shopsim.scenario.batches import find_room, ordered_of_lines, pieces_of_lines

_DATE = r"\d{4}-\d\d-\d\d"
_PLAIN = r"(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?"
_NUMBER = re.compile(rf"{_DATE}|(?:under )?{_PLAIN} %|{_PLAIN}")
#: Notes that say the same of every shop, and so stand in no table.
FIXED_NOTES = (BINDING, FEW_TOGETHER, TRANSIT_COUNTS)
#: What is said of the law and of statistics, whatever the shop: sources, levels, trials, and rules that tables do not hold.
FIXED = (
    r"Graham 1966", r"\b95 % confidence", r"with more replications \(95 %\)", r"at most [\d.]+ % of runs \(95 %\)",
    r"10 % / 50 % / 90 %", r"0\.25 days", r"less than 0\.1 days?", r"\b3 minutes", r"at least 0\.5 day",
    r"[\d.,]+ as you wrote them", r"1[09] % (?=are below|above)", r"10 % (?=are below|above)",
    r"windows of 80 % held in 72 to 80 % of cases",
)  # fmt: skip
_ALLOWED = {
    CHANCE: (float,), SHARE: (float,), NUMBER: (float, int), COUNT: (int,), LABEL: (str, int, bool), TEXT: (str,),
    DATE: (str, dt.date), MOMENT: (str, dt.date), YES_NO: (bool,),
}  # fmt: skip


def find_unsaid(answer: Answer, asked: Iterable[str] = ()) -> list[str]:
    """What the sentence and the notes say and no table holds.

    ``asked``: what the question or the scenario states, and names with numbers in them, which need no table.
    """
    asked = [*asked, answer.scenario]
    said = {*_ways_of(answer), *asked, f"{answer.replications:,}"}
    names = sorted({name for name in asked if not _NUMBER.fullmatch(name)}, key=len, reverse=True)
    unread = re.compile("|".join([*FIXED, r'"[^"]*"', *(re.escape(name) for name in names)]))
    missing = []
    for text in (answer.sentence, *(note for note in answer.notes if note not in FIXED_NOTES)):
        missing += [f"{found[0]} · {text}" for found in _NUMBER.finditer(unread.sub(" ", text)) if found[0] not in said]
    return missing


def stated(scenario: Scenario, answer: Answer) -> set[str]:
    """What the scenario or the question states: pieces, room, levels, names; and what follows from replications alone."""
    made, ordered = sum(pieces_of_lines(scenario)), sum(ordered_of_lines(scenario))
    within = math.ceil(100 * 1.96 * math.sqrt(0.8 * 0.2 / answer.replications))  # normal approximation, near 80 %
    threshold = 0.1  # days of the average that a clamp has to save
    numbers = {made, ordered, made - ordered, find_room(scenario) or 0, within, threshold, UNITS, DAYS}
    numbers |= {MIN_LOGS, MAX_LOGS}
    names = [*(design.name for design in scenario.all_designs), *(worker.name for worker in scenario.shop.workers)]
    return {*(f"{number:,}" for number in numbers), "80 %", "85 %", "1 run", *names}


def find_strange(answer: Answer) -> list[str]:
    """Tables and columns that have no key of their own, and values that are not of the kind their column says."""
    found = [key for key in (answer.key, *answer.tables) if key not in TABLES]
    for key, table in {answer.key: answer.rows, **answer.tables}.items():
        for column, value in _cells(table):
            if not column.kind or not isinstance(value, _ALLOWED[column.kind]):
                found.append(f"{key}: {column.key} = {value!r}, which is no {column.kind or 'column of any table'}")
    return found


def _cells(table: pd.DataFrame) -> Iterator[tuple[Column, Any]]:
    """Every value that is there, with its column; a number that pandas keeps as another kind of number is that number."""
    for name in table.columns:
        column = find_column(str(name))
        for value in table[name].dropna().tolist():
            if value != "":
                whole = column.kind == COUNT and isinstance(value, float) and value == int(value)
                yield column, int(value) if whole else value


def _ways_of(answer: Answer) -> Iterator[str]:
    """Every way in which a value of the tables may be said."""
    for table in (answer.rows, *answer.tables.values()):
        yield f"{len(table):,}"
        for column, value in _cells(table):
            yield from _ways(column, value)
        if {"part", "days"} <= {*table.columns}:  # the parts of a whole, each with all its details, and what is left
            parts = table.groupby("part", sort=False)["days"].sum().sort_values(ascending=False)
            for days in (*parts, float(parts.sum()), float(parts.iloc[4:].sum())):
                yield from _ways(find_column("waited_days"), days)


def _ways(column: Column, value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield from (found[0] for found in _NUMBER.finditer(value))
    elif isinstance(value, bool):
        return
    elif isinstance(value, dt.date):
        yield f"{value:%Y-%m-%d}"
    elif column.kind == CHANCE:
        yield say_chance(value)
    elif column.kind == SHARE:
        yield say_share(value)
    elif math.isfinite(value):
        size = abs(value)
        yield from (f"{size:,.{places}f}" for places in (0, 1, 2))
        yield f"{size:g}"
        if column.unit == "h":
            yield f"{60 * size:.0f}"
        if column.key.endswith("_error_days"):  # known to within two standard errors
            yield f"{math.ceil(2 * size)}"
