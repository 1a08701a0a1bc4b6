"""It holds that logs handed over on the page are read with all their faults told, and taken into the file when asked."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft

Open = Callable[..., AppTest]
Words = Callable[[AppTest], str]

TEXT = """\
title = "Four trays" # ours

[shop]
open = { mon-fri = "09:00-17:00" }

[design]
name = "tray"

[[design.operations]]
name = "cut"
work = "60 / 90 / 150 min" # a guess

[run]
orders = 2
start = 2027-01-11
"""


@pytest.fixture(autouse=True)
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopsim.answers.learning.USUAL", 100)


def hand_over(page: AppTest, **logs: str) -> AppTest:
    """Logs by their kind, as if their files had been chosen."""
    page.session_state["shopsim logs"] = {kind: (f"{kind}.csv", text.encode()) for kind, text in logs.items()}
    page.radio(key="times about").set_value("What do my logs teach?")
    return page.run()


def test_logged_times_are_told_and_taken_into_the_file(
    open_page: Open, words_on: Words, draft_of: Callable[[AppTest], Draft]
) -> None:
    page = hand_over(
        open_page("times", TEXT),
        times="date, operation, units, minutes\n2027-01-12, cut, 1, 100\n2027-01-13, cut, 1, 96\n",
    )
    job = page.session_state["shopsim job lesson"].job
    job.wait(60)
    page.run()
    assert "With 2 logged times" in words_on(page)
    (take,) = [one for one in page.button if one.label == "Take this into my file"]
    page = take.click().run()
    page.session_state["shopsim job lesson"].job.wait(60)
    page.run()
    draft = draft_of(page)
    assert draft.text.startswith(TEXT.rstrip())
    assert draft.scenario is not None
    assert sum(cell.units for cell in draft.scenario.learned.times) == 2
    assert "nothing in these logs" in words_on(page)


def test_every_fault_of_the_logs_is_told_by_file_and_row(open_page: Open, words_on: Words) -> None:
    page = hand_over(
        open_page("times", TEXT),
        times="date, operation, units, minutes\n2027-01-12, carve, 1, 100\n2027-01-13, cut, 1, soon\n",
        days="date, lost\n2027-13-40, no\n",
    )
    words = words_on(page)
    assert not page.exception
    assert "carve" in words
    assert "times.csv, line 3" in words
    assert "days.csv, line 2" in words


def test_a_log_that_is_no_text_is_refused_in_words(open_page: Open, words_on: Words) -> None:
    page = open_page("times", TEXT)
    page.session_state["shopsim logs"] = {"times": ("times.csv", b"PK\x03\x04\x00\x00")}
    page.radio(key="times about").set_value("What do my logs teach?")
    page.run()
    assert not page.exception
    assert "is no text" in words_on(page) or "NUL" in words_on(page)


def test_logs_can_be_left_aside(open_page: Open, words_on: Words) -> None:
    page = hand_over(open_page("times", TEXT), times="date, operation, units, minutes\n2027-01-12, carve, 1, 100\n")
    (leave,) = [one for one in page.button if one.label == "Leave these logs aside"]
    page = leave.click().run()
    assert not page.error
    assert page.session_state["shopsim logs"] == {}


def test_a_log_in_hours_is_questioned_and_taken_in_only_once_it_is_said_to_be_right(
    open_page: Open, words_on: Words
) -> None:
    page = hand_over(open_page("times", TEXT), times="operation, minutes\ncut, 1.7\ncut, 1.6\n")
    words = words_on(page)
    assert not page.exception
    assert "are they in hours?" in words
    assert "Nothing is taken in" in words
    assert not [one for one in page.button if one.label == "Take this into my file"]
    (yes,) = page.checkbox
    page = yes.check().run()
    page.session_state["shopsim job lesson"].job.wait(60)
    page.run()
    assert "With 2 logged times" in words_on(page)
    assert "Believed as it stands" in words_on(page)
