"""The page of the days, drawn without a browser: the sentence, the plan taken into the file, and a what-if that it is not for."""

from __future__ import annotations

import datetime as dt
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


PLAN = """priority = "as planned"

[run.plan]
order = [
  { operation = "glue up", batch = 1 }, # the clamps are borrowed
  { operation = "cut sides", batch = 1 },
]
"""


def lines_of(draft: Draft) -> list[tuple[str, dt.datetime | None]]:
    assert draft.scenario is not None
    assert draft.scenario.run.plan is not None
    return [(line.operation, line.not_before) for line in draft.scenario.run.plan.order]


def test_a_line_of_the_plan_is_moved_held_back_and_let_go_by_buttons(
    open_page: Open, draft_of: Callable[[AppTest], Draft], words_on: Callable[[AppTest], str], small: str
) -> None:
    page = open_page("days", small + PLAN)

    def press(label: str) -> AppTest:
        (button,) = [one for one in page.button if one.label == label]
        assert not button.disabled
        after = button.click().run()
        assert not after.exception
        return after

    assert [one.disabled for one in page.button if one.label in ("Earlier", "First of all")] == [True, True]
    page = press("Later")
    assert lines_of(draft_of(page)) == [("cut sides", None), ("glue up", None)]
    page = finish(page)
    assert "The days as the file stands" in words_on(page)  # not those of another search
    (day,) = [one for one in page.date_input if one.label == "Not before"]
    page = day.set_value(dt.date(2027, 1, 13)).run()
    page = press("Hold it back to that day")
    assert lines_of(draft_of(page)) == [("cut sides", None), ("glue up", dt.datetime(2027, 1, 13))]
    words = words_on(finish(page))
    assert "Wed 13 Jan 2027" in words
    page = press("First of all")
    page = press("As soon as it can be")
    assert lines_of(draft_of(page)) == [("glue up", None), ("cut sides", None)]
    assert "# both for neighbours" in draft_of(page).text
    assert '{ operation = "glue up", batch = 1 }, # the clamps are borrowed' in draft_of(page).text


def test_a_day_that_cannot_be_is_told_and_the_plan_stays(
    open_page: Open, draft_of: Callable[[AppTest], Draft], small: str
) -> None:
    page = open_page("days", small + PLAN)
    before = draft_of(page).text
    (day,) = [one for one in page.date_input if one.label == "Not before"]
    page = day.set_value(dt.date(2020, 1, 13)).run()
    (hold,) = [one for one in page.button if one.label == "Hold it back to that day"]
    page = hold.click().run()
    assert "The plan is left as it was" in "\n".join(str(one.value) for one in page.error)
    assert draft_of(page).text == before


def test_a_file_under_a_named_rule_has_no_plan_to_change(open_page: Open) -> None:
    assert not [one for one in open_page("days").selectbox if one.label == "Which line"]
