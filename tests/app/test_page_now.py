"""The page of a run under way: it says when nothing is logged, forecasts from the log, and tells faults and doubts before it does."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.state import find_keeper
from shopsim.scenario.appending import append_row

from .test_page_bench import TODAY, TRAYS, log_of

Open = Callable[..., AppTest]
Words = Callable[[AppTest], str]
LATE = TRAYS.replace("orders = 3", f"orders = 3\npromised = {TODAY - dt.timedelta(days=8)}")


@pytest.fixture(autouse=True)
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers rest on a hundred runs, so that a test is short."""
    monkeypatch.setattr("shopsim.app.pages.now_page.USUAL", 100)


def finish(page: AppTest) -> AppTest:
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline:
        job = page.session_state["shopsim job now"].job
        if job.state != "running":
            return page.run()
        job.wait(1)
        page.run()
    raise AssertionError("the job did not end")


def begin(open_page: Open, text: str, *rows: dict[str, str]) -> AppTest:
    """The page with these rows in the log."""
    page = open_page("bench", text)
    for row in rows:
        append_row(log_of(page), row)
    token = page.session_state["shopsim token"]
    kept = find_keeper().fetch(token)
    assert kept is not None
    later = open_page("now", None)
    later.session_state["shopsim token"] = token
    return later.run()


def row(days_ago: int, what: str, **cells: str) -> dict[str, str]:
    return {"when": f"{TODAY - dt.timedelta(days=days_ago)} 09:00", "what": what, **cells}


def test_an_empty_log_is_said_and_leads_to_the_bench(open_page: Open, words_on: Words) -> None:
    page = open_page("now", TRAYS)
    assert not page.exception
    assert "Nothing is logged of this run yet" in words_on(page)


def test_promises_at_risk_come_first_with_the_note_to_the_buyer(open_page: Open, words_on: Words) -> None:
    page = finish(begin(open_page, LATE, row(9, "done", operation="cut")))
    assert not page.exception
    words = words_on(page)
    assert "0 of 3 orders have shipped and 0 of 3 pieces are done" in words
    assert "3 promises are late" in words
    assert "Each promise, at the outset and now" in words
    assert "Next on the bench" in words
    notes = [one.value for one in page.code]
    assert len(notes) == 3
    assert all("It will not be ready by then. My new shipping date is" in note for note in notes)


def test_more_in_the_log_is_another_forecast(open_page: Open, words_on: Words) -> None:
    page = finish(begin(open_page, TRAYS, row(9, "done", operation="cut")))
    assert "0 of 3 pieces are done" in words_on(page)
    append_row(log_of(page), row(8, "done", operation="glue"))
    append_row(log_of(page), row(5, "shipped", order="1"))
    page = finish(page.run())
    assert "1 of 3 orders have shipped and 3 of 3 pieces are done" in words_on(page)


def test_faults_of_the_log_are_told_by_row_and_nothing_is_forecast(open_page: Open, words_on: Words) -> None:
    page = begin(open_page, TRAYS, row(9, "done", operation="cut"), row(8, "done", operation="polish"))
    words = words_on(page)
    assert 'there is no operation "polish"' in words
    assert "line 3" in words
    assert "shopsim job now" not in page.session_state


def test_a_log_far_from_what_is_believed_is_asked_about_first(open_page: Open, words_on: Words) -> None:
    rows = [row(9, "done", operation=what, pieces=str(n), minutes="0.1") for what in ("cut", "glue") for n in (1, 2, 3)]
    unsure = TRAYS.replace('work = "5 min"', 'work = "3 / 5 / 9 min"').replace(
        'work = "10 min"', 'work = "6 / 10 / 18 min"'
    )
    page = begin(open_page, unsure, *rows)
    assert "trays-run-log.csv · its times are about 0.0088 times the likely times" in words_on(page)
    assert "shopsim job now" not in page.session_state
    (yes,) = [one for one in page.checkbox if one.label.startswith("Yes, this log is right")]
    page = finish(yes.check().run())
    assert "0 of 3 orders have shipped" in words_on(page)
