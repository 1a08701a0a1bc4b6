"""The pages of what it would take and of ways of making it, drawn without a browser: sliders, sets into the file, a file without ways."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft

Open = Callable[..., AppTest]


@pytest.fixture(autouse=True)
def _little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopsim.answers.reach.MOST_SETS", 30)
    monkeypatch.setattr("shopsim.study.reaching.CONFIRM_MORE", 1600)
    monkeypatch.setattr("shopsim.app.asked_page.MAX_SEARCH_REPLICATIONS", 40)


def finish(page: AppTest, slot: str) -> AppTest:
    deadline = time.monotonic() + 100
    while time.monotonic() < deadline:
        job = page.session_state[f"shopsim job {slot}"].job
        if job.state != "running":
            return page.run()
        job.wait(1)
        page.run()
    raise AssertionError("the job did not end")


def test_a_day_and_a_chance_are_searched_and_a_set_is_taken_into_the_file(
    open_page: Open, words_on: Callable[[AppTest], str], draft_of: Callable[[AppTest], Draft]
) -> None:
    page = open_page("reach")
    assert not page.exception
    assert "Set a day and a chance, and search" in words_on(page)
    page.slider[0].set_value(dt.date(2027, 1, 11))
    page.slider[1].set_value(60)
    (search,) = [one for one in page.button if one.label == "Search"]
    page = finish(search.click().run(), "reach")
    assert not page.exception
    assert not page.error
    words = words_on(page)
    assert "with a chance of 60 %" in words
    take = [one for one in page.button if one.label == "Take this into my file"]
    if not take:
        assert "Already reached" in words
        return
    before = draft_of(page).text
    page = take[0].click().run()
    draft = draft_of(page)
    assert draft.text != before
    assert draft.faults == ()


def test_a_file_without_ways_says_how_to_write_one(open_page: Open, words_on: Callable[[AppTest], str]) -> None:
    page = open_page("ways")
    assert not page.exception
    assert "the file knows no other way of making it" in " ".join([words_on(page), *(one.value for one in page.error)])
