"""Logs and what was learned from them: every way in which a row, a head or a count can be wrong is told with its mend."""

from __future__ import annotations

from pathlib import Path

import pytest

from shopsim.scenario import log_table, read_scenario
from shopsim.scenario.logs import LoggableWork, read_times

WORKS = [LoggableWork("tray", "cut", 1, 1), LoggableWork("tray", "glue", 2, 2)]


def faults_of(text: str) -> list[str]:
    rows, faults = read_times(text, "log.csv", WORKS)
    return [str(fault) for fault in faults] or [f"{len(rows)} rows"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            'operation,minutes\ncut,"12\n',
            'log.csv:2 · a cell begins with " and is never closed · close it with ", or take the " out',
        ),
        (
            'operation,minutes\ncut,"12" min\n',
            'log.csv:2 · something stands behind the closing " of a cell · write a " within a cell twice, as ""',
        ),
        (
            "operation,minutes\ncut," + "1" * 200_000 + "\n",
            'log.csv:2 · a cell is longer than anybody needs · look for a " that is never closed',
        ),
        (
            "operation,minutes,operation\ncut,12,cut\n",
            'log.csv:1 · head · there are two columns for "operation" · keep one of them',
        ),
        (
            "operation,minuts\ncut,12\n",
            'log.csv:1 · head · "minuts" is not a known column · call it "minutes"',
        ),
    ],
)  # fmt: skip
def test_a_log_that_is_no_table_is_told_at_its_row(text: str, said: str) -> None:
    assert faults_of(text) == [said]


def test_semicolons_tabs_blank_rows_and_a_comma_at_the_end_of_each_row_do_no_harm() -> None:
    assert faults_of("operation;minutes\n\ncut;12\n;\nglue;9\n") == ["2 rows"]
    assert faults_of("\ufeffoperation\tminutes\ncut\t12\n") == ["1 rows"]
    assert faults_of("operation,minutes,\ncut,12,\n") == ["1 rows"]


def test_a_log_of_more_rows_than_anybody_keeps_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_table, "MAX_LOG_ROWS", 3)
    assert faults_of("operation,minutes\n" + "cut,12\n" * 3) == ["3 rows"]
    assert faults_of("operation,minutes\n" + "cut,12\n" * 5) == ["log.csv:5 · holds more than 3 rows · split the log"]


@pytest.mark.parametrize(
    ("learned", "place", "rule"),
    [
        ('times = [{ operation = "cut", units = 4, mean = 0.1, times = 2, outside = 3 }]',
         "learned.times[0] · outside", "3 of 2 times lie outside"),
        ('times = [{ operation = "cut", units = 4, mean = 0.1, outside = 5 }]',
         "learned.times[0] · outside", "5 of 4 times lie outside"),
        ("days = [{ days = 5, lost = 2, shares = 4, mean_logit = 1.0 }]",
         "learned.days[0] · shares", "4 days with a share, and 2 lost, are more than 5 days"),
        ("days = [{ days = 5, first = 2026-03-09, last = 2026-03-02 }]",
         "learned.days[0] · last", "2026-03-02 is before the first day, 2026-03-09"),
        ('delivered = [{ run = "may", order = "A", pit = 0.5 }, { run = "may", order = "A", pit = 0.7 }]',
         'learned.delivered[1]', 'order "A" of "may" is there twice'),
    ],
)  # fmt: skip
def test_counts_that_do_not_fit_together_are_told(trays: Path, learned: str, place: str, rule: str) -> None:
    trays.write_text(f"{trays.read_text(encoding='utf-8')}\n[learned]\n{learned}\n", encoding="utf-8")
    (fault,) = read_scenario(trays).faults
    assert (fault.place, fault.rule) == (place, rule)
    assert fault.mend


def test_of_counts_that_cannot_be_read_nothing_more_is_said(trays: Path) -> None:
    learned = (
        'times = [{ operation = "cut", units = "many", mean = 0.1, times = 9 }]\ndays = [{ days = "x", lost = 4 }]'
    )
    trays.write_text(f"{trays.read_text(encoding='utf-8')}\n[learned]\n{learned}\n", encoding="utf-8")
    places = [fault.place for fault in read_scenario(trays).faults]
    assert places == ["learned.times[0] · units", "learned.days[0] · days"]


def test_an_operation_of_a_log_that_no_design_has_is_told_once_with_those_there_are(trays: Path) -> None:
    cell = '{ operation = "french polish", units = 1, mean = 0.1 }'
    trays.write_text(f"{trays.read_text(encoding='utf-8')}\n[learned]\ntimes = [{cell}, {cell}]\n", encoding="utf-8")
    reading = read_scenario(trays)
    assert reading.faults == ()
    (warning,) = reading.warnings
    assert warning.place == "learned.times[0] · operation"
    assert warning.mend == 'write its new name; known are "cut", "glue", "sand", "oil", "packing"'
