"""The days: a better plan, what to do on which day under it, and a way to take it into the file."""

from __future__ import annotations

import streamlit as st

from shopsim.answers import Answer
from shopsim.answers.plan_of_days import chosen_rule
from shopsim.app.asked_page import draw_asked
from shopsim.app.state import change_draft, need_draft
from shopsim.questions import find_kind
from shopsim.scenario.plain import record_data


def show() -> None:
    """Draw the page."""
    kind = find_kind("the_days")
    assert kind is not None
    answer, as_the_file = draw_asked(kind)
    if answer is not None:
        _draw_keep(answer, as_the_file)


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
        f"It can go into your file as {what}. There you move a line up to have it earlier, down to have it later, or add "
        "not_before with a day to hold it back; then look at the days as the file stands."
    )
    if st.button("Take this plan into my file", key="keep plan"):
        changes = {"run.priority": priority} | ({} if plan is None else {"run.plan": record_data(plan)})
        change_draft(changes)
        st.rerun()
