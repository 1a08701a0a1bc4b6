"""The days: a better plan, what to do on which day under it, and a way to take it into the file."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.answers import Answer, list_cautions
from shopsim.answers.plan_of_days import ROUNDS, chosen_rule, say_plan
from shopsim.app.asked_page import draw_asked
from shopsim.app.plan_editor import draw_plan_editor
from shopsim.app.state import change_draft, need_draft
from shopsim.calendar_file import CALENDAR, format_calendar
from shopsim.questions import find_kind
from shopsim.scenario import Scenario
from shopsim.scenario.plain import record_data
from shopsim.wall_sheet import WALL_SHEET, format_wall_sheet


def show() -> None:
    """Draw the page."""
    kind = find_kind("the_days")
    assert kind is not None
    answer, scenario, as_the_file = draw_asked(kind)
    if answer is not None:
        _draw_keep(answer, as_the_file)
        _draw_sheets(answer, scenario)
    draw_plan_editor(f"{kind.page} as_it_is")


def _draw_sheets(answer: Answer, scenario: Scenario) -> None:
    """The wall sheet and the calendar file to keep."""
    with st.container(horizontal=True):
        st.download_button(
            "Wall sheet to print",
            lambda: format_wall_sheet(answer.rows, scenario.title, list_cautions(scenario), say_plan(answer)),
            WALL_SHEET, "text/html", key="wall sheet", on_click="ignore",
            help="A week on a page, on A4 or Letter, with boxes to tick; it can be read on a phone as well.",
        )  # fmt: skip
        st.download_button(
            "Calendar file",
            lambda: format_calendar(
                answer.rows, answer.tables[ROUNDS], scenario.title, dt.datetime.now(dt.UTC)
            ),
            CALENDAR, "text/calendar", key="calendar file", on_click="ignore",
            help="Sessions in the shop, and when clamps may come off. A new file moves the entries of the one before it.",
        )  # fmt: skip


def _draw_keep(answer: Answer, as_the_file: bool) -> None:
    """A button that takes the plan into the draft; what to do with it then, in words. Not for a what-if, which the file does not say."""
    priority, plan = chosen_rule(answer)
    scenario = need_draft().scenario
    if scenario is None:
        return
    held = scenario.run
    if held.priority == priority and (plan is None or held.plan == plan):
        st.write(f'Your file says what comes first: "{priority}".')
        return
    if not as_the_file:
        st.write("This plan is for what you are trying out. Take that into your file first, and the plan after it.")
        return
    what = f"a plan of {len(plan.order)} lines" if plan is not None else f'the priority rule "{priority}"'
    st.write(
        f"It can go into your file as {what}."
        + (
            " There each line can be had earlier or later, or held back to a day, by buttons on this page."
            if plan
            else ""
        )
    )
    if st.button("Take this plan into my file", key="keep plan"):
        changes = {"run.priority": priority} | ({} if plan is None else {"run.plan": record_data(plan)})
        change_draft(changes)
        st.rerun()
