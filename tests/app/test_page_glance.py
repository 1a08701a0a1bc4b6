"""The run at a glance, drawn without a browser: still counting, four verdicts in their order, then the weeks."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.pages.glance_page import LINES
from shopsim.charts.sessions_chart import build_sessions
from shopsim.scenario import parse_scenario
from shopsim.study.once import run_once
from shopsim.study.spans import list_closed, list_spans

SLOTS = ("delivery", "batches", "clamps", "holdups", "run")


@pytest.fixture(autouse=True)
def _little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopsim.app.pages.glance_page.MAX_SEARCH_REPLICATIONS", 40)


def test_verdicts_stand_in_their_order_and_only_once_they_are_final(
    open_page: Callable[..., AppTest], words_on: Callable[[AppTest], str]
) -> None:
    page = open_page("glance")
    assert not page.exception
    jobs = [page.session_state[f"shopsim job glance {slot}"].job for slot in SLOTS]
    deadline = time.monotonic() + 100
    while any(job.state == "running" for job in jobs) and time.monotonic() < deadline:
        jobs[0].wait(0.2)
        time.sleep(0.2)
    assert [job.state for job in jobs] == ["done"] * len(SLOTS)
    jobs[1].state = "running"  # as if its last look had not come yet
    page.run()
    assert words_on(page).count("Still counting") == 1
    jobs[1].state = "done"
    page.run()
    assert not page.exception
    assert "Still counting" not in words_on(page)
    assert [one.value for one in page.subheader] == list(LINES)
    assert "is the latest date to promise" in words_on(page)
    assert page.get("plotly_chart")


def test_a_night_in_clamps_is_tied_to_the_next_session(small: str) -> None:
    run = run_once(parse_scenario(small.replace('in_clamps = "45 min"', 'in_clamps = "20 h"')), likely=True)
    figure = build_sessions(list_spans(run), list_closed(run), run.pieces)
    assert figure is not None
    assert "in clamps overnight" in {trace.name for trace in figure.data}
    assert any("opens 1" in note.text for note in figure.layout.annotations)
    short = run_once(parse_scenario(small), likely=True)
    figure = build_sessions(list_spans(short), list_closed(short), short.pieces)
    assert figure is not None
    assert "in clamps overnight" not in {trace.name for trace in figure.data}
