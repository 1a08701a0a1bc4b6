"""A run under way: each promise at the outset and now, those at risk first with the note to the buyer, and what is next on the bench."""

from __future__ import annotations

import datetime as dt
import hashlib

import streamlit as st

from shopsim.answers import Answer
from shopsim.answers.from_now import NEXT, NOTES, STANDS, UNDER_WAY, FromNow
from shopsim.answers.logged_run import RunLogReading, say_moment
from shopsim.answers.promise_policy import USUAL
from shopsim.app.answer_view import (
    draw_files,
    draw_next_pages,
    draw_notes,
    draw_sentence,
    draw_table,
    draw_waiting,
    say_stamp,
)
from shopsim.app.background import JobSnapshot, follow, watch
from shopsim.app.bench_log import log_name, read_log
from shopsim.app.faults import draw_faults
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.promises_view import draw_chances
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import link_to, need_scenario
from shopsim.columns import find_table
from shopsim.errors import DoubtfulLog, ScenarioError
from shopsim.report import build_section
from shopsim.say import say_day
from shopsim.scenario import Scenario
from shopsim.screen_tables import bench_table
from shopsim.screens import further_tables, screen_table

_MOMENT = "forecast moment"
#: Columns of the promises that come first on the page.
_FIRST = ("order", "due", "stands", "now", "at the outset", "last time")


def show() -> None:
    """Draw the page."""
    scenario = need_scenario()
    try:
        text = read_log()
        reading = RunLogReading(scenario, text, log_name())
    except ScenarioError as error:
        st.write("What the log of this run says cannot all be so. Mend it first.")
        draw_faults(error.faults)
        link_to("bench", "Mend it at the bench")
        return
    if not reading.rows:
        st.info("Nothing is logged of this run yet, so the forecast is still that of before.")
        link_to("bench", "Log what happens, at the bench")
        link_to("delivery", "The forecast of before: which date to promise?")
        return
    moment = _draw_moment(text, reading)
    believe = _ask_doubts(reading, moment)
    if believe is None:
        return
    with st.container(horizontal=True, vertical_alignment="bottom"):
        confidence, service_level = draw_chances()
        seed, replications = draw_finer("now", USUAL)
    options = {
        "log": text, "log_name": log_name(), "clock": moment, "confidence": confidence, "service_level": service_level, "believe": believe,
    }  # fmt: skip
    job = follow("now", Asked(FromNow, scenario, options, seed, replications))
    if job.result is None:
        draw_waiting("now", job)
        return
    _draw_answer(job, job.result, scenario)


def _draw_moment(text: str, reading: RunLogReading) -> dt.datetime:
    """The moment of the forecast: when this log was first looked at, so that the answer stays while it is read; a button makes it now."""
    mark = hashlib.sha256(text.encode()).hexdigest()
    held, moment = st.session_state.get(_MOMENT, ("", None))
    if held != mark or not isinstance(moment, dt.datetime):
        moment = _now()
        st.session_state[_MOMENT] = (mark, moment)
    with st.container(horizontal=True, vertical_alignment="center"):
        said = say_moment(reading.work, reading.choose_now(None, moment))
        st.markdown(escape_markdown(f"As things stand at {said}, by the log."), width="stretch")
        if st.button("Forecast again from now", key="forecast again", disabled=moment >= _now()):
            st.session_state[_MOMENT] = (mark, _now())
            st.rerun()
    return moment


def _now() -> dt.datetime:
    return dt.datetime.now().replace(second=0, microsecond=0)


def _ask_doubts(reading: RunLogReading, moment: dt.datetime) -> bool | None:
    """False where nothing in the log is far from what is believed, True once it is said to be right all the same, else None."""
    try:
        reading.at(reading.choose_now(None, moment), believe=False)
    except DoubtfulLog as error:
        for doubt in error.doubts:
            st.warning(escape_markdown(doubt))
        said = hashlib.sha256("\n".join(error.doubts).encode()).hexdigest()[:12]
        if st.checkbox("Yes, this log is right as it stands", key=f"believe {said}"):
            return True
        st.info(
            "Nothing is learned from a log that is so far from what is believed. Take rows back, or say that it is right."
        )
        link_to("bench", "Look at the log, at the bench")
        return None
    return False


def _draw_answer(job: JobSnapshot, answer: Answer, scenario: Scenario) -> None:
    """The sentence, the promises, the notes to buyers whose date is at risk, what is next, and files to keep."""
    draw_sentence(answer.sentence, say_stamp(answer, job))
    watch("now", job)
    tables = {"": screen_table(answer)} | further_tables(answer)
    told = [name for name in _FIRST if name in tables[""]]  # what a phone shows without being moved sideways
    draw_table(tables[""][[*told, *tables[""].columns.drop(told)]], "Each promise, at the outset and now")
    _draw_notes_to_buyers(answer)
    following = answer.tables[NEXT]
    if len(following):
        day = dt.date.fromisoformat(following["day"].iloc[0])
        alone = ["worker"] if following["worker"].nunique() == 1 else []
        draw_table(
            bench_table(following.drop(columns=["day", *alone])), f"Next on the bench, {say_day(day, weekday=True)}"
        )
    if len(answer.tables[UNDER_WAY]):
        draw_table(bench_table(answer.tables[UNDER_WAY]), find_table(UNDER_WAY).title)
    with st.expander(find_table(STANDS).title):
        draw_table(bench_table(answer.tables[STANDS]))
    draw_notes(answer.notes)
    draw_files(
        "now", answer.titled_tables(), [], lambda: [build_section(answer, tables)], scenario,
        {"version": answer.version, "seed": answer.seed, "replications": answer.replications},
    )  # fmt: skip
    link_to("bench", "At the bench: log what happens")
    draw_next_pages(answer.key)


def _draw_notes_to_buyers(answer: Answer) -> None:
    """What to write to the buyers of orders that are late or at risk."""
    notes = answer.tables[NOTES].to_dict("records")
    if not notes:
        return
    st.markdown("## Notes to buyers")
    for note in notes:
        st.markdown(f"**Order {escape_markdown(note['order'])}, {escape_markdown(note['stands'])}**")
        st.code(str(note["text"]), language=None, wrap_lines=True)
