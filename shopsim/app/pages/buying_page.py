"""What to buy, how much of it and by which day to order it, with the list to keep."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.answers.buying import USUAL
from shopsim.app.asked_page import draw_asked
from shopsim.buying_list import BUYING_LIST, format_buying_list
from shopsim.calendar_file import ORDER_DAYS, format_order_days
from shopsim.questions import find_kind


def show() -> None:
    """Draw the page."""
    kind = find_kind("what_to_buy")
    assert kind is not None
    answer, scenario, _ = draw_asked(kind, USUAL)
    if answer is None:
        return
    with st.container(horizontal=True):
        st.download_button(
            "List to print",
            lambda: format_buying_list(answer.rows, answer.tables, scenario.title, answer.sentence),
            BUYING_LIST, "text/html", key="buying list", on_click="ignore",
            help="With boxes to tick, by the day to order, and how boards are cut.",
        )  # fmt: skip
        st.download_button(
            "Days for the calendar",
            lambda: format_order_days(answer.rows, scenario.title, dt.datetime.now(dt.UTC)),
            ORDER_DAYS, "text/calendar", key="order days", on_click="ignore",
            help="The last day on which to order each material. A new file moves the entries of the one before it.",
        )  # fmt: skip
