"""The page of the days, drawn without a browser: the sentence, the plan taken into the file, and a what-if that it is not for."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.answers.plan_of_days import Days
from shopsim.app.drafts import Draft
from shopsim.study import plan_search

Open = Callable[..., AppTest]


@pytest.fixture(autouse=True)
def _little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_search, "USUAL_S", 1.0)
    monkeypatch.setattr("shopsim.answers.plan_of_days.USUAL_S", 1.0)
    monkeypatch.setattr("shopsim.app.asked_page.MAX_SEARCH_REPLICATIONS", 40)


def finish(page: AppTest) -> AppTest:
    deadline = time.monotonic() + 120
    while time.monotonic() < deadline:
        job = page.session_state["shopsim job days"].job
        if job.state != "running":
            return page.run()
        job.wait(1)
        page.run()
    raise AssertionError("the job did not end")


def test_the_page_says_which_plan_and_takes_it_into_the_file(
    open_page: Open, words_on: Callable[[AppTest], str], draft_of: Callable[[AppTest], Draft]
) -> None:
    page = finish(open_page("days"))
    assert not page.exception
    assert not page.error
    words = words_on(page)
    assert "likely times its last piece is done on" in words
    before = draft_of(page).text
    (button,) = [one for one in page.button if one.label == "Take this plan into my file"] or [None]
    if button is None:  # the best named rule is the file's own
        assert "Your file says what comes first" in words
        return
    finish(button.click().run())
    draft = draft_of(page)
    assert draft.text != before
    assert draft.faults == ()
    assert draft.scenario is not None


def test_the_best_named_rule_stands_there_while_a_plan_is_searched(
    open_page: Open, words_on: Callable[[AppTest], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    may_search, search = threading.Event(), Days._search
    monkeypatch.setattr(Days, "_search", lambda days, execution: may_search.wait(60) and search(days, execution))
    monkeypatch.setattr("shopsim.app.question_jobs.FIRST_TASKS", 1)
    page = open_page("days")
    job = page.session_state["shopsim job days"].job
    deadline = time.monotonic() + 60
    while job.result is None and time.monotonic() < deadline:
        job.wait(0.2)
    words = words_on(page.run())
    assert "A better plan is being searched; so far" in words
    assert "likely times its last piece is done on" in words
    assert not [one for one in page.button if one.label == "Take this plan into my file"]  # that is for what is found
    may_search.set()
    assert "A better plan is being searched" not in words_on(finish(page))


def test_no_plan_of_a_what_if_goes_into_the_file(open_page: Open, words_on: Callable[[AppTest], str]) -> None:
    page = open_page("days")
    (orders,) = [one for one in page.number_input if one.label.startswith("Orders")]
    page = finish(orders.set_value(int(orders.value) + 1).run())
    assert not [one for one in page.button if one.label == "Take this plan into my file"]
    words = words_on(page)
    assert "This plan is for what you are trying out" in words or "Your file says what comes first" in words
