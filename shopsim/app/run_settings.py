"""Finer settings of an answer: how many runs it rests on, and which luck they have."""

from __future__ import annotations

import streamlit as st

from shopsim.app.state import remember, remembered
from shopsim.limits import MAX_PAGE_REPLICATIONS, MAX_TYPED_SEED


def draw_finer(slot: str, usual: int, least: int = 1, at_most: bool = False) -> tuple[int, int]:
    """Seed and number of runs of each alternative; ``usual``: how many where nothing is said;
    ``least``: fewer are not offered; ``at_most``: runs end earlier where enough is known."""
    offered = {count for count in (50, 100, 200, 500, 1000, 2000, 5000) if least <= count <= MAX_PAGE_REPLICATIONS}
    choices = sorted(offered | {usual})
    with st.popover("How sure, and which luck"):
        held = remembered(f"runs {slot}", usual)
        count = st.selectbox(
            f"Runs of each{', at most' if at_most else ''} (usually {usual:,})", choices, choices.index(held if held in choices else usual),
            key=f"runs {slot}", format_func=lambda number: f"{number:,}",
            help="Runs go on until it can be told which is better, or that it hardly matters."
            if at_most
            else "Four times as many runs make the ranges half as wide, and take four times as long.",
        )  # fmt: skip
        seed = st.number_input(
            "Seed of the luck", 0, MAX_TYPED_SEED, remembered("seed", 1), 1, key="seed",
            help="The same seed gives the same luck, today and on any other computer.",
        )  # fmt: skip
        if st.button("As usual", key=f"usual {slot}"):
            for key in (f"runs {slot}", "seed"):
                remember(key, None)
                del st.session_state[key]
            st.rerun()
    remember(f"runs {slot}", count if count != usual else None)
    remember("seed", int(seed) if seed != 1 else None)
    return int(seed), int(count)
