"""The shop: when it is open, who works there, and what it owns."""

from __future__ import annotations

import streamlit as st

from shopsim.app.editing import edit_table
from shopsim.app.fields import edit_field
from shopsim.app.hours import edit_hours
from shopsim.app.look import side_by_side
from shopsim.app.page_parts import begin_page, draw_next, stands_elsewhere
from shopsim.app.tables import Column, clamp_table, rack_table, station_table, worker_table
from shopsim.scenario import Luck


def show() -> None:
    """Draw the page."""
    draft = begin_page()
    if stands_elsewhere(draft, "shop"):
        return
    st.header("When it is open", anchor=False)
    edit_hours(("shop", "open"), "Hours on each day, like 08:30-12:30, 13:30-17:30; empty means closed.")
    edit_field(
        Column("closed", "Closed on", "days", "2027-02-15..2027-02-21, 2027-03-26",
               help="Holidays and days away: dates, or first..last, with commas between."),
        ("shop", "closed"),
    )  # fmt: skip
    left, right = st.columns(2)
    with left:
        edit_field(
            Column("interrupted", "Goes to other things", "text", "5 / 10 / 25 %",
                   help="Share of each open day that callers, errands and looking for things take: low / likely / high."),
            ("shop", "interrupted"),
        )  # fmt: skip
    with right:
        edit_field(
            Column("lost_days", "Days lost altogether", "text", "2 / 4 / 8 %",
                   help="Chance that an open day is lost to illness, family or a broken machine: low / likely / high."),
            ("shop", "lost_days"),
        )  # fmt: skip
    st.header("Who works there", anchor=False)
    edit_table(worker_table(), ("shop", "workers"))
    st.header("Machines and benches", anchor=False)
    edit_table(station_table(), ("shop", "stations"))
    st.header("Clamps", anchor=False)
    edit_table(clamp_table(), ("shop", "clamps"))
    st.header("Racks and shelves", anchor=False)
    edit_table(rack_table(), ("shop", "racks"))
    with st.expander("How far things vary"):
        _edit_luck()
    draw_next("piece", "Next: the piece")


def _edit_luck() -> None:
    st.write("Guesses are held to be too hopeful and too narrow. Leave these empty for the cautious values.")
    for place_there, (key, title) in zip(side_by_side(len(_LUCK), 2), _LUCK.items(), strict=True):
        field = Luck.model_fields[key]
        with place_there:
            edit_field(Column(key, title, "number", str(field.default), help=str(field.description)), ("luck", key))


_LUCK = {
    "bias": "Actual over likely time",
    "bias_spread": "How unsure that is",
    "pace_spread": "Pace between runs",
    "guess_widening": "Guesses too narrow by",
    "timed_widening": "Timed values too narrow by",
    "guess_spread": "Least error of a guess",
    "timed_spread": "Least error of a timed value",
    "hand_spread": "Unit to unit, hand work",
    "machine_spread": "Unit to unit, machine work",
}
