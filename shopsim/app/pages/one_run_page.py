"""One run in detail: when everything is done, what to do on which day, and where the time goes."""

from __future__ import annotations

import streamlit as st

from shopsim.answers.one_run import OneRun, RunTables
from shopsim.app.answer_view import (
    draw_cautions,
    draw_charts,
    draw_files,
    draw_next_pages,
    draw_sentence,
    draw_table,
    draw_waiting,
)
from shopsim.app.background import JobSnapshot, follow
from shopsim.app.page_style import theme_name
from shopsim.app.question_jobs import Asked
from shopsim.app.run_views import VIEWS, view_day_plan
from shopsim.app.state import need_scenario, remember, remembered
from shopsim.app.whatifs import draw_whatifs
from shopsim.report import build_run_sections
from shopsim.scenario import Scenario
from shopsim.version import VERSION

LIKELY, WITH_LUCK = "As likely: nothing goes wrong", "With luck, good and bad"


def show() -> None:
    """Draw the page."""
    whatif = draw_whatifs(need_scenario())
    job = _follow_run(whatif.scenario)
    if job.result is None:
        draw_waiting("one run", job)
        return
    run: RunTables = job.result
    with_what = ", ".join(f"{key} {value}" for key, value in run.made_with.items())
    draw_sentence(f"{run.sentence}; for that see Delivery.", f"{with_what}, version {VERSION}.")
    draw_next_pages("one_run")
    view = st.radio("Show", list(VIEWS), horizontal=True, key="run view", index=_last_view())
    remember("run view", view)
    figures, tables = VIEWS[view](run, theme_name())
    draw_charts(f"one run {view}", figures)
    for title, table in tables.items():
        draw_table(table, title)
    draw_cautions(whatif.scenario, unfolded=VIEWS[view] is view_day_plan)
    draw_files(
        "one run", run.tables, figures, lambda: build_run_sections(run, f"{run.sentence}."), whatif.scenario,
        {"version": VERSION, **run.made_with},
    )  # fmt: skip


def _last_view() -> int:
    held = remembered("run view", "")
    return list(VIEWS).index(held) if held in VIEWS else 0


def _follow_run(scenario: Scenario) -> JobSnapshot:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        how = st.radio("Luck", [LIKELY, WITH_LUCK], int(remembered("run luck", False)), key="run luck", horizontal=True)
        likely = how == LIKELY
        number = st.number_input(
            "Which run of luck", 0, 1_000_000, remembered("run number", 0), 1, key="run number", width=158,
            disabled=likely, help="Each number is another run of luck, the same one each time you ask.",
        )  # fmt: skip
    remember("run luck", None if likely else True)
    remember("run number", int(number) or None)
    seed = int(remembered("seed", 1))
    replication = 0 if likely else int(number)
    return follow("one run", Asked(OneRun, scenario, {"replication": replication, "likely": likely}, seed))
