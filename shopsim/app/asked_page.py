"""The page of a question that has none of its own: what-ifs, its options, its answer, two answers side by side, what to ask next."""

from __future__ import annotations

from typing import Any

import streamlit as st

from shopsim.answers import Answer
from shopsim.app.answer_view import draw_answer, draw_next_pages, draw_waiting
from shopsim.app.background import follow
from shopsim.app.comparison import draw_beside
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import need_scenario, remember, remembered
from shopsim.app.whatifs import draw_whatifs
from shopsim.limits import MAX_SEARCH_REPLICATIONS
from shopsim.questions import AMOUNT, SWITCH, WHOLE, WHOLES, Kind, QuestionOption
from shopsim.scenario import Scenario
from shopsim.screens import screen_table

#: Width of a control in pixels.
_WIDE = 240


def show(kind: Kind) -> None:
    """Draw the page."""
    draw_asked(kind)


def draw_asked(kind: Kind, usual: int | None = None) -> tuple[Answer | None, Scenario, bool]:
    """Draw the page of a question; (its answer, None while it is worked out, after a first look too; what it is about; whether that is
    the file as it stands). ``usual``: runs of each where nothing is said; default as many as a search may take."""
    scenario = need_scenario()
    whatif = draw_whatifs(scenario)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        options = {option.name: _draw_option(kind.page, option) for option in kind.options if option.label}
        seed, replications = draw_finer(kind.page, usual or MAX_SEARCH_REPLICATIONS, at_most=usual is None)
    said = {name: value for name, value in options.items() if value is not None}
    job = follow(kind.page, Asked(kind.make, whatif.scenario, said, seed, replications))
    if job.result is None:
        draw_waiting(kind.page, job)
        return None, whatif.scenario, False
    draw_answer(kind.page, job, job.result, whatif.scenario)
    draw_beside(kind.page, job.result.title, whatif.said, job.result.sentence, screen_table(job.result))
    draw_next_pages(kind.key)
    return job.result if job.state != "running" else None, whatif.scenario, whatif.scenario == scenario


def _draw_option(page: str, option: QuestionOption) -> Any:
    """The control of an option and what it says, as it was last set; None where it is left alone."""
    name = f"{page} {option.name}"
    held = remembered(name, None)
    value: Any
    if option.kind == SWITCH:
        value = st.toggle(option.label, bool(held), key=name) or None
    elif option.kind in (WHOLE, AMOUNT):
        whole = option.kind == WHOLE
        value = st.number_input(
            option.label, option.least if whole else 1e-6, option.most if whole else 1e6, held, key=name, width=_WIDE,
            placeholder=option.example or None,
        )  # fmt: skip
    else:
        value = (
            st.text_input(
                option.label, held or "", key=name, max_chars=200, width=_WIDE, placeholder=option.example
            ).strip()
            or None
        )
    remember(name, value)
    return _read_wholes(option, value) if option.kind == WHOLES and value is not None else value


def _read_wholes(option: QuestionOption, text: str) -> list[int] | None:
    """Whole numbers with commas between them; the page says which part is none, and leaves it out."""
    parts = [part.strip() for part in text.split(",") if part.strip()]
    good = [int(part) for part in parts if part.isascii() and part.isdigit() and len(part) < 9]
    numbers = [number for number in good if option.least <= number <= option.most]
    if len(numbers) < len(parts):
        st.warning(
            f"{option.label}: write whole numbers from {option.least:,} to {option.most:,}, with commas between."
        )
    return numbers or None
