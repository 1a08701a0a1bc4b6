"""The run at a glance: what to promise, which batch size, whether to buy clamps, what holds it back, and its weeks."""

from __future__ import annotations

import re
from collections.abc import Mapping

import pandas as pd
import streamlit as st

from shopsim.answers.answer import Answer
from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.clamps_plan import MoreClamps
from shopsim.answers.delivery import run_question
from shopsim.answers.holdups import Holdups
from shopsim.answers.one_run import OneRun, RunTables
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.app.answer_view import draw_charts, draw_table, keep_dates
from shopsim.app.background import LOOK_S, JobSnapshot, follow, start_again
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.page_style import theme_name
from shopsim.app.question_jobs import Asked
from shopsim.app.run_views import view_day_plan
from shopsim.app.state import link_to, need_scenario
from shopsim.charts.sessions_chart import build_sessions
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.say import say_chance, say_day
from shopsim.scenario import Scenario

#: What each line is about, its page, what leads there, and how the sentence of the answer that is its verdict begins.
LINES = {
    "The date to promise": ("delivery", "Every order's date", ()),
    "The batch size": ("batches", "All batch sizes", ("The average ",)),
    "Whether to buy clamps": ("clamps", "Each kind of clamp", ()),
    "What holds the run back": ("holdups", "Everything that was tried", ("Of all ", "Nothing ")),
}
_END = re.compile(r"(?<=[.!?]) (?=[A-Z0-9\"])")


def show() -> None:
    """Draw the page."""
    scenario = need_scenario()
    jobs = {page: follow(f"glance {page}", asked) for page, asked in _questions(scenario).items()}
    run = follow("glance run", Asked(OneRun, scenario, {"replication": 0, "likely": True}))
    for title, (page, link, begins) in LINES.items():
        with st.container(border=True, key=f"glance-{page}"):
            st.subheader(title, anchor=False)
            _draw_line(page, jobs[page], begins)
            link_to(page, link)
    _look_again([*jobs.values(), run])
    st.header("The weeks, if all goes as likely", anchor=False)
    _draw_weeks(run)


def _questions(scenario: Scenario) -> Mapping[str, Asked]:
    """What is asked for each page, of the file as it stands and with nothing set."""
    most = MAX_SEARCH_REPLICATIONS
    return {
        "delivery": Asked(run_question, scenario),
        "batches": Asked(BatchSizes, scenario, {"sizes": tuple(usual_sizes(scenario))}, replications=most),
        "clamps": Asked(MoreClamps, scenario, replications=most),
        "holdups": Asked(Holdups, scenario, replications=most),
    }


def _draw_line(page: str, job: JobSnapshot, begins: tuple[str, ...]) -> None:
    """The verdict once it is final, with how sure it is; before that only that it is being counted."""
    if job.state == "running":
        st.markdown("Still counting.")
        st.caption("The answer stands here once it no longer changes.")
    elif job.state == "done":
        verdict, sure = say_verdict(job.result, begins)
        st.markdown(f"**{keep_dates(escape_markdown(verdict))}**")
        st.caption(escape_markdown(sure))
    else:
        st.warning(escape_markdown(job.message or "Stopped before the end."))
        if st.button("Try again", key=f"glance {page} again"):
            start_again(f"glance {page}")
            st.rerun()


def say_verdict(answer: Answer, begins: tuple[str, ...]) -> tuple[str, str]:
    """One line of an answer, and how sure it is. ``begins``: how its sentence begins, default the first."""
    parts = _END.split(answer.sentence)
    sure = next((part for part in parts if part.startswith("Ranges hold")), f"From {answer.runs_each} runs.")
    if answer.key == "delivery_window":
        latest = answer.rows[answer.rows["promise_day"] == answer.rows["promise_day"].max()]
        day = say_day(pd.Timestamp(str(latest["promise"].iloc[0])).date(), weekday=True)
        kept = (
            f"Orders with this date ship by then in at least {say_chance(float(latest['chance_kept'].min()))} of runs."
        )
        return f"{day} is the latest date to promise; no order needs a later one.", f"{kept} {sure}"
    return next((part for part in parts if part.startswith(begins)), parts[0]) if begins else parts[0], sure


def _look_again(jobs: list[JobSnapshot]) -> None:
    """Draw the page again when one of these has ended."""
    if any(job.state == "running" for job in jobs):

        def look() -> None:
            if any(job.job.state != job.state for job in jobs):
                st.rerun()

        st.fragment(look, run_every=LOOK_S)()


def _draw_weeks(job: JobSnapshot) -> None:
    if job.result is None:
        st.markdown("Still counting." if job.state == "running" else escape_markdown(job.message))
        return
    run: RunTables = job.result
    figure = build_sessions(run.spans, run.closed, run.pieces, theme_name())
    if figure is None:
        st.markdown("Nobody has anything to do with their hands.")
        return
    draw_charts("glance", [figure])
    with st.expander("Who does what on which day, in words"):
        for title, table in view_day_plan(run, theme_name())[1].items():
            draw_table(table, title)
    link_to("one_run", "This run in detail")
