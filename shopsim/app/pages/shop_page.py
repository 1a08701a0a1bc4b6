"""The shop: when it is open, who works there, and what it owns."""

from __future__ import annotations

import streamlit as st

from shopsim.app.editing import edit_table
from shopsim.app.hours_editor import edit_hours
from shopsim.app.page_parts import draw_next, editing_page, stands_elsewhere
from shopsim.app.page_style import side_by_side
from shopsim.app.single_fields import edit_field
from shopsim.app.state import Draft
from shopsim.app.tables import EditedColumn, clamp_table, explain, rack_table, station_table, worker_table
from shopsim.app.titles import LISTS, TITLES
from shopsim.scenario import Luck

#: The values of luck that are asked for, in this order.
_LUCK = (
    "bias", "bias_spread", "pace_spread", "guess_widening", "timed_widening", "guess_spread", "timed_spread", "hand_spread",
    "machine_spread",
)  # fmt: skip


def show() -> None:
    """Draw the page."""
    with editing_page("shop") as draft:
        if not stands_elsewhere(draft, "shop"):
            _edit_shop()
        with st.expander("How far things vary"):
            _edit_luck(draft)
    draw_next("piece", "Next: the piece")


def _edit_shop() -> None:
    st.header(TITLES["shop.open"], anchor=False)
    edit_hours(("shop", "open"), "Hours on each day, like 08:30-12:30, 13:30-17:30; empty means closed.")
    edit_field(
        EditedColumn("closed", TITLES["shop.closed"], "days", "2027-02-15..2027-02-21, 2027-03-26",
               help="Holidays and days away: dates, or first..last, with commas between."),
        ("shop", "closed"),
    )  # fmt: skip
    left, right = st.columns(2)
    with left:
        edit_field(
            EditedColumn("interrupted", TITLES["shop.interrupted"], "text", "5 / 10 / 25 %",
                   help="Share of each open day that callers, errands and looking for things take: low / likely / high."),
            ("shop", "interrupted"),
        )  # fmt: skip
    with right:
        edit_field(
            EditedColumn("lost_days", TITLES["shop.lost_days"], "text", "2 / 4 / 8 %",
                   help="Chance that an open day is lost to illness, family or a broken machine: low / likely / high."),
            ("shop", "lost_days"),
        )  # fmt: skip
    st.header(LISTS["shop.workers"][0], anchor=False)
    edit_table(worker_table(), ("shop", "workers"))
    st.header(LISTS["shop.stations"][0], anchor=False)
    edit_table(station_table(), ("shop", "stations"))
    st.header(LISTS["shop.clamps"][0], anchor=False)
    edit_table(clamp_table(), ("shop", "clamps"))
    st.header(LISTS["shop.racks"][0], anchor=False)
    edit_table(rack_table(), ("shop", "racks"))


def _edit_luck(draft: Draft) -> None:
    st.write("Guesses are held to be too hopeful and too narrow. Leave these empty for the cautious values.")
    if stands_elsewhere(draft, "luck"):
        return
    columns = explain(Luck, [EditedColumn(key, TITLES[f"luck.{key}"], "number") for key in _LUCK])
    for place_there, column in zip(side_by_side(len(columns), 2), columns, strict=True):
        with place_there:
            edit_field(column, ("luck", column.key))
