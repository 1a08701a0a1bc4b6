"""Whether more clamps would pay: what a better priority rule saves for nothing first, then each kind, then everything else."""

from __future__ import annotations

import streamlit as st

from shopsim.answers.break_even import PAYS_DAYS
from shopsim.answers.clamps_plan import MoreClamps
from shopsim.app.answer_view import draw_answer, draw_waiting
from shopsim.app.background import follow
from shopsim.app.comparison import draw_beside
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import need_scenario, remember, remembered
from shopsim.app.whatifs import draw_whatifs
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.say import say_plain
from shopsim.screens import screen_table


def show() -> None:
    """Draw the page."""
    whatif = draw_whatifs(need_scenario(), apart=("clamps",))
    scenario = whatif.scenario
    with st.container(horizontal=True, vertical_alignment="bottom"):
        worth = _draw_worth(any(kind.price is not None for kind in scenario.shop.clamps))
        seed, replications = draw_finer("clamps", MAX_SEARCH_REPLICATIONS, at_most=True)
    asked = dict(whatif.clamps or {})
    job = follow(
        "clamps",
        Asked(MoreClamps, scenario, {"threshold": worth[0], "day_worth": worth[1], "asked": asked}, seed, replications),
    )
    if job.result is None:
        draw_waiting("clamps", job)
        return
    draw_answer("clamps", job, job.result, scenario)
    said = (*whatif.said, *(f"{count} more {kind}" for kind, count in asked.items()))
    draw_beside("clamps", job.result.title, said, job.result.sentence, screen_table(job.result))


def _draw_worth(priced: bool) -> tuple[float, float | None]:
    """When a clamp pays: by days saved, or by what a day is worth where the file has prices."""
    days = st.number_input(
        f"A clamp pays if it saves, days (usually {say_plain(PAYS_DAYS)})", 0.01, 100.0,
        float(remembered("clamp pays", PAYS_DAYS)), 0.05, key="clamp pays", width=240,
        help="Days of the average order, for each clamp.",
    )  # fmt: skip
    money = 0.0
    if priced:
        money = st.number_input(
            "Or: what a day sooner is worth (0: not said)", 0.0, 1e6, float(remembered("day worth", 0.0)), 5.0,
            key="day worth", width=240, format="%.4g",
            help="In the money of your clamp prices. A step then pays if it costs less than the days it saves.",
        )  # fmt: skip
    remember("clamp pays", days if abs(days - PAYS_DAYS) > 1e-9 else None)
    remember("day worth", money or None)
    return days, money or None
