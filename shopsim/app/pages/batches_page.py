"""How many pieces in a batch, and in which order to work: each compared on the same luck."""

from __future__ import annotations

import streamlit as st

from shopsim.answers.batch_size import BatchSizes
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.app.answer_view import draw_answer, draw_waiting
from shopsim.app.background import follow
from shopsim.app.comparison import draw_beside
from shopsim.app.question_jobs import Asked
from shopsim.app.run_settings import draw_finer
from shopsim.app.state import need_scenario, remember, remembered
from shopsim.app.whatifs import draw_whatifs
from shopsim.limits import MAX_SEARCH_REPLICATIONS, MAX_TYPED_SIZES
from shopsim.scenario import Scenario
from shopsim.scenario.batches import pieces_of_lines, rules_to_compare
from shopsim.screens import screen_table


def show() -> None:
    """Draw the page."""
    whatif = draw_whatifs(need_scenario(), apart=("batch",))
    scenario = whatif.scenario
    made = max(pieces_of_lines(scenario))
    with st.container(horizontal=True, vertical_alignment="bottom"):
        sizes, strange, all_orders = _draw_choices(scenario)
        seed, replications = draw_finer("batches", MAX_SEARCH_REPLICATIONS, at_most=True)
    if strange:
        st.warning(f"Left out: {', '.join(strange)}. Write whole numbers from 1 to {made}, at most {MAX_TYPED_SIZES}.")
    chosen = sorted({min(size, made) for size in sizes} | ({min(whatif.batch, made)} if whatif.batch else set()))
    orders = rules_to_compare(scenario) if all_orders else None
    options = {"sizes": tuple(chosen), "priority_rules": orders}
    job = follow("batches", Asked(BatchSizes, scenario, options, seed, replications))
    if job.result is None:
        draw_waiting("batches", job)
        return
    draw_answer("batches", job, job.result, scenario)
    draw_beside("batches", job.result.title, whatif.said, job.result.sentence, screen_table(job.result))


def _draw_choices(scenario: Scenario) -> tuple[list[int], list[str], bool]:
    """The sizes to compare, as they were last typed, with what cannot be a size, and whether every priority rule is to be tried."""
    usual = ", ".join(str(size) for size in usual_sizes(scenario))
    text = st.text_input(
        "Batch sizes to compare", remembered("batch sizes", usual), key="batch sizes", max_chars=60, width=240,
        help="Numbers of pieces, with commas between. Today's size is always among them.",
    )  # fmt: skip
    every = st.toggle(
        "Each under every rule of what comes first", remembered("every priority rule", False), key="every priority rule"
    )
    remember("batch sizes", text if text.strip() and text != usual else None)
    remember("every priority rule", every or None)
    return *read_sizes(text or usual), every


def read_sizes(text: str) -> tuple[list[int], list[str]]:
    """Numbers with commas between them: those that can be batch sizes, and what cannot."""
    sizes: list[int] = []
    strange = []
    for part in text.replace(";", ",").split(","):
        plain = part.strip()
        if plain.isascii() and plain.isdigit() and 1 <= int(plain) <= 10_000 and len(sizes) < MAX_TYPED_SIZES:
            sizes.append(int(plain))
        elif plain:
            strange.append(plain)
    return sizes, strange
