"""What it would take: a day and a chance on two sliders, the smallest sets of changes that reach it, and each into the file."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from typing import Any

import streamlit as st

from shopsim.answers import Answer
from shopsim.answers.reach import CHANCE, Reach
from shopsim.app.answer_view import draw_answer, draw_waiting
from shopsim.app.background import follow
from shopsim.app.faults import drawn_anew
from shopsim.app.question_jobs import Asked
from shopsim.app.state import change_draft, need_scenario, remember, remembered
from shopsim.rows import table_rows
from shopsim.scenario import Scenario
from shopsim.study.order_queue import OrderQueue

#: Days after orders close that the slider reaches, and at which it stands where nobody was told a day.
FURTHEST, USUAL_DAYS = 365, 90


def show() -> None:
    """Draw the page."""
    scenario = need_scenario()
    asked = _draw_sliders(scenario)
    if asked is None:
        st.markdown("Set a day and a chance, and search. It takes up to two minutes.")
        return
    job = follow("reach", Asked(Reach, scenario, asked))
    if job.result is None:
        draw_waiting("reach", job)
        return
    draw_answer("reach", job, job.result, scenario)
    if job.state != "running":
        _draw_taking(job.result)


def _draw_sliders(scenario: Scenario) -> Mapping[str, Any] | None:
    """The day and the chance that were searched last; None before there was a search."""
    close = OrderQueue(scenario).close
    held: dict[str, Any] = remembered("reach asked", {})
    last = close + dt.timedelta(days=FURTHEST)
    usual = scenario.run.promised or close + dt.timedelta(days=USUAL_DAYS)
    day = dt.date.fromisoformat(held["by"]) if held else usual
    with st.form("reach sliders"):
        by = st.slider(
            "All orders out by", close, last, min(max(day, close), last), format="YYYY-MM-DD", key=f"reach by {close}"
        )
        chance = st.slider("With a chance of, in percent", 50, 99, int(held.get("chance", CHANCE)), key="reach chance")
        if st.form_submit_button("Search"):
            held = {"by": by.isoformat(), "chance": float(chance)}
            remember("reach asked", held)
    return held or None


def _draw_taking(answer: Answer) -> None:
    """One of the sets that are listed, to be written into the file."""
    sets = {str(row["what"]): str(row["changes"]) for row in table_rows(answer.rows) if row["changes"]}
    if not sets:
        return
    chosen = st.selectbox("A set of changes", list(sets), key="reach set")
    taken = st.button(
        "Take this into my file", key="take set", help="Writes these values into the scenario; its comments stay."
    )
    if taken and chosen in sets:
        with drawn_anew():
            change_draft(json.loads(sets[chosen]))
