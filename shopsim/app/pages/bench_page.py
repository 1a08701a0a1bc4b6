"""The bench: what happened is logged by taps, with one hand; first what is under way and what is next, then the rest folded away."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.answers.logged_run import RunLogReading, say_moment
from shopsim.app.bench_cards import Bench, draw_next, draw_under_way
from shopsim.app.bench_log import (
    draw_faulty,
    draw_log,
    draw_not_begun,
    draw_told,
    log_name,
    mark_of,
    read_log,
    standing_rows,
)
from shopsim.app.bench_moment import draw_moment
from shopsim.app.bench_more import draw_more
from shopsim.app.faults import draw_problem
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import link_to, need_scenario, remember, remembered
from shopsim.errors import ScenarioError
from shopsim.scenario import Scenario
from shopsim.study.going_on import GoingOn

_STYLE = """
<style>
  .st-key-bench {max-width: 44rem;}
  .st-key-bench :is([data-testid="stButton"], [data-testid="stDownloadButton"]) button {min-height: 3rem;}
  .st-key-bench :is([data-testid="stExpander"] summary, [data-testid="stButtonGroup"] button, [data-baseweb="select"]) {min-height: 3rem;}
  .st-key-bench [data-testid="stButtonGroup"] button {min-width: 3rem; padding: 0 1rem;}
  .st-key-bench [data-testid="stExpander"] summary {align-items: center;}
</style>
"""


def show() -> None:
    """Draw the page."""
    scenario = need_scenario()
    st.html(_STYLE)
    with st.container(key="bench"):
        _draw(scenario)


def _draw(scenario: Scenario) -> None:
    try:
        text = read_log()
    except ScenarioError as error:
        draw_problem(error)
        return
    rows, mark = standing_rows(text), mark_of(text)
    draw_told(rows, mark)
    try:
        reading = RunLogReading(scenario, text, log_name())
    except ScenarioError as error:
        draw_faulty(error.faults, text)
        return
    if reading.minutes_at(dt.datetime.now()) < 0:
        draw_not_begun(reading.work.day0)
    when = draw_moment(scenario)
    now_min = reading.choose_now(when, dt.datetime.now())
    if when is None and reading.minutes_at(dt.datetime.now()) < now_min > 0:
        st.caption(f"The log knows of something later; things stand as of {say_moment(reading.work, now_min)}.")
    run = reading.at(now_min)
    going = GoingOn(run.known, run.state, run.run_name)
    bench = Bench(going, going.run_likely(), when, _draw_who(scenario), mark)
    for remark in (*run.remarks, *going.start.remarks):
        st.caption(escape_markdown(remark))
    for name in going.list_awaited():
        st.caption(escape_markdown(f"{name} should be here by now: if it is, tap so below, under Material has come."))
    draw_under_way(bench)
    draw_next(bench)
    st.header("Something else", anchor=False)
    draw_more(bench)
    with st.expander("What is in the log, and the log as a file"):
        draw_log(text, rows, mark)
    link_to("now", "What does this mean for the promises?")


def _draw_who(scenario: Scenario) -> str:
    """Who is at work, where there are several: their names as a row has them, "" where nobody is chosen."""
    names = [worker.name for worker in scenario.shop.workers]
    if len(names) < 2:
        return ""
    held = [name for name in remembered("at the bench", []) if name in names]
    chosen = st.pills("Who is at the bench", names, selection_mode="multi", default=held, key="who")
    remember("at the bench", list(chosen) or None)
    return " + ".join(chosen)
