"""What moves the date, and so what to time first; and what your own logs of times and days teach."""

from __future__ import annotations

import streamlit as st

from shopsim.answers import learning, what_moves
from shopsim.app.answer_view import draw_answer, draw_waiting
from shopsim.app.background import follow
from shopsim.app.logbooks import draw_doubts, draw_taking, draw_uploads
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import need_scenario
from shopsim.screen_tables import lesson_screen, what_moves_screen

MOVES, LESSON = "What should I time first?", "What do my logs teach?"


def show() -> None:
    """Draw the page."""
    scenario = need_scenario()
    about = st.radio("What do you want to know?", [MOVES, LESSON], horizontal=True, key="times about")
    if about == MOVES:
        seed, replications = draw_finer("moves", what_moves.USUAL, what_moves.MIN_REPLICATIONS)
        job = follow("moves", Asked(what_moves.WhatMoves, scenario, {}, seed, replications))
        if job.result is None:
            draw_waiting("moves", job)
            return
        draw_answer("moves", job, job.result, scenario, what_moves_screen(job.result))
        return
    logs = draw_uploads(scenario)
    if logs is None:
        return
    believe = draw_doubts(scenario, logs)
    if believe is None:
        return
    seed, replications = draw_finer("lesson", learning.USUAL)
    asked = Asked(learning.LessonOfLogs, scenario, {"logs": logs, "believe": believe}, seed, replications)
    job = follow("lesson", asked)
    if job.result is None:
        draw_waiting("lesson", job)
        return
    draw_taking(scenario, job.result, job.state)
    for flag in job.result.flags:
        st.warning(escape_markdown(flag))
    draw_answer("lesson", job, job.result.answer, scenario, lesson_screen(job.result.answer))
