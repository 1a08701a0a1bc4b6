"""When orders ship, which date to promise, and the words and the sheet to go with it."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.answers.answer import Answer
from shopsim.answers.delivery import delivery_question, run_question
from shopsim.answers.order_mix import PLAIN, OrderPlan
from shopsim.answers.promise_policy import USUAL
from shopsim.app.answer_view import draw_answer, draw_next_pages, draw_waiting
from shopsim.app.background import JobSnapshot, follow
from shopsim.app.comparison import draw_beside
from shopsim.app.faults import draw_problem
from shopsim.app.promises_view import draw_chances, draw_words
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import need_scenario, remember, remembered
from shopsim.app.whatifs import draw_whatifs
from shopsim.errors import InputError
from shopsim.limits import MAX_TYPED_COUNTS
from shopsim.say import say_level
from shopsim.scenario import Scenario
from shopsim.scenario.values import OrderBook
from shopsim.screens import screen_table

#: What can be asked.
OF_RUN, BY_COUNT, NEXT = (
    "These orders",
    "Before orders close: by number of orders",
    "While orders come in: the next buyer",
)
#: Numbers of orders that are looked at where nothing is said.
COUNTS = (5, 40)


def show() -> None:
    """Draw the page."""
    own = need_scenario()
    about = _draw_about(own)
    whatif = draw_whatifs(own, leave_out=() if about == OF_RUN else ("orders",))
    scenario = whatif.scenario
    with st.container(horizontal=True, vertical_alignment="bottom"):
        confidence, service_level = draw_chances()
        if about == BY_COUNT:
            job = _follow_counts(scenario, confidence, service_level)
        elif about == NEXT:
            job = _follow_next(scenario, confidence, service_level)
        else:
            seed, replications = draw_finer("delivery", USUAL)
            chances = {"confidence": confidence, "service_level": service_level}
            job = follow("delivery", Asked(run_question, scenario, chances, seed, replications))
    if job.result is None:
        draw_waiting("delivery", job)
        return
    answer: Answer = job.result
    draw_answer("delivery", job, answer, scenario)
    draw_words(scenario, answer, whatif.said)
    said = (*whatif.said, f"{say_level(confidence)} windows", f"promises kept in {say_level(service_level)}")
    draw_beside("delivery", answer.title, said, answer.sentence, screen_table(answer))
    draw_next_pages(answer.key)


def _draw_about(scenario: Scenario) -> str:
    """Which of the questions is asked; those that the scenario has no answer to are left out."""
    offered = [OF_RUN]
    if len(scenario.lines) == 1:
        offered += [BY_COUNT, *([NEXT] if scenario.run.demand is not None else [])]
    if len(offered) == 1:
        return OF_RUN
    held = remembered("delivery about", OF_RUN)
    about = st.radio(
        "What do you want to know?", offered, offered.index(held) if held in offered else 0, key="delivery about"
    )
    remember("delivery about", about if about != OF_RUN else None)
    return str(about)


def _follow_counts(scenario: Scenario, confidence: float, service_level: float) -> JobSnapshot:
    first = st.number_input(
        "From, orders", 1, 2_000, remembered("counts from", COUNTS[0]), 1, key="counts from", width=120
    )
    last = st.number_input("To, orders", 1, 2_000, remembered("counts to", COUNTS[1]), 1, key="counts to", width=120)
    ship_by = st.date_input(
        "All must ship by (if so)", remembered("keep by", None), key="keep by", format="YYYY-MM-DD", width=210,
        help="Says for each number of orders the chance that all have shipped by that day.",
    )  # fmt: skip
    remember("counts from", first if first != COUNTS[0] else None)
    remember("counts to", last if last != COUNTS[1] else None)
    by = ship_by if isinstance(ship_by, dt.date) else None
    remember("keep by", by)
    mix = _draw_mix(scenario)
    seed, replications = draw_finer("counts", USUAL)
    least, most = sorted((int(first), int(last)))
    step = -(-(most - least + 1) // MAX_TYPED_COUNTS)
    counts = list(dict.fromkeys([*range(least, most + 1, step), most]))
    options = {"orders": counts, "confidence": confidence, "service_level": service_level, "ship_by": by, "mix": mix}
    asked = None if replications == USUAL else replications  # fewer where there are many numbers
    return follow("delivery", Asked(delivery_question, scenario, options, seed, asked))


def _draw_mix(scenario: Scenario) -> str | None:
    """What is to come, where there is something to choose: the mix as it is typed, or None; the page ends here if it cannot be read."""
    plan = OrderPlan(scenario)
    if not plan.design.options and plan.one_each:
        return None
    usual = "as the list so far" if plan.book is not None else "all plain"
    names = [*(option.name for option in plan.design.options), PLAIN]
    mix = st.text_input(
        f"Mix of orders to come (empty: {usual})", remembered("mix to come", ""), max_chars=500, key="mix to come", width=260,
        help=f"Like: 6 {names[0]}, 4 {names[-1]}. Orders for several pieces like: 3 of 2 {names[0]}. Known: {', '.join(names)}.",
    )  # fmt: skip
    remember("mix to come", mix or None)
    if not mix:
        return None
    try:
        OrderPlan(scenario, mix)
    except InputError as error:
        draw_problem(error)
        st.stop()
    return str(mix)


def _follow_next(scenario: Scenario, confidence: float, service_level: float) -> JobSnapshot:
    so_far = None
    if not isinstance(scenario.lines[0].orders, OrderBook):
        so_far = int(st.number_input("Orders so far", 0, 2_000, remembered("so far", 0), 1, key="so far", width=158))
        remember("so far", so_far or None)
    mix = _draw_mix(scenario)
    seed, replications = draw_finer("next", USUAL)
    options = {"confidence": confidence, "service_level": service_level, "so_far": so_far, "mix": mix}
    return follow("delivery", Asked(delivery_question, scenario, options, seed, replications))
