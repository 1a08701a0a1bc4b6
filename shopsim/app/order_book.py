"""How many are ordered: a number, or a book of orders as a CSV file."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from shopsim.app.faults import draw_faults, drawn_anew, is_under
from shopsim.app.file_view import draw_upload_beside
from shopsim.app.markdown_text import escape_markdown, file_name
from shopsim.app.single_fields import edit_field
from shopsim.app.state import Draft, change_beside, change_draft, need_draft
from shopsim.app.tables import EditedColumn
from shopsim.app.titles import TITLES
from shopsim.plurals import say_number_of
from shopsim.scenario import OrderBook
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.places import KeyPath

NUMBER, BOOK = "A number", "A book of orders"
#: Orders of a book that are listed on the page.
MAX_LISTED = 200


def edit_orders(where: KeyPath) -> None:
    """Draw the orders of the run for editing, faults of the book and of the field beside them."""
    draft = need_draft()
    value = value_at(draft.data or {}, where)
    is_book = isinstance(value, str) and value.lower().endswith(".csv")
    way = st.radio("How orders are given", (NUMBER, BOOK), int(is_book), key=f"orders given {is_book}", horizontal=True)
    if way == BOOK:
        _edit_book(draft, where, value if is_book else None)
    elif is_book:
        _turn_into_number(draft, where)
    else:
        edit_field(
            EditedColumn("orders", TITLES["run.orders"], "whole", help="Pieces that buyers have ordered."), where
        )


def _edit_book(draft: Draft, where: KeyPath, name: str | None) -> None:
    st.caption(
        "A CSV file with a line for each order: its date, and if you like its number, quantity, destination, option "
        "and the day it was promised for."
    )
    if name is None:
        file = st.file_uploader("The book of orders", key="order book", max_upload_size=5)
        if file is not None:
            called = file_name(file.name, "orders.csv")
            called = called if called.lower().endswith(".csv") else f"{called}.csv"
            with drawn_anew():
                change_beside(called, file.getvalue())
                change_draft({place_text(where): called})
        return
    draw_faults([fault for fault in draft.faults if fault.file == name or is_under(fault.place, "run.orders")])
    for remark in draft.reading.warnings:
        if remark.file == name and remark.place == "head":
            st.caption(escape_markdown(f"{remark.rule[:1].upper()}{remark.rule[1:]}."))
    draw_upload_beside(name, f"Another book of orders in place of {escape_markdown(name)}")
    if draft.scenario is not None:
        book = draft.scenario.run.orders
        if isinstance(book, OrderBook):
            _list_orders(book)


def _list_orders(book: OrderBook) -> None:
    count = sum(order.quantity for order in book.orders)
    orders, pieces = say_number_of(len(book.orders), "order"), say_number_of(count, "piece")
    st.write(f"{escape_markdown(book.path)}: {orders}, {pieces}.")
    table = pd.DataFrame(
        [
            {
                "order": order.id, "date": order.date.isoformat(), "pieces": order.quantity,
                "destination": order.destination or "", "option": order.option or "",
            }
            for order in book.orders[:MAX_LISTED]
        ]
    )  # fmt: skip
    st.dataframe(table, hide_index=True, width="stretch", key="orders listed", alt="The orders of the book")


def _turn_into_number(draft: Draft, where: KeyPath) -> None:
    book: Any = draft.scenario.run.orders if draft.scenario is not None else None
    pieces = sum(order.quantity for order in book.orders) if isinstance(book, OrderBook) else 1
    number = st.number_input(TITLES["run.orders"], 1, 10_000, max(1, pieces), key="orders instead of book")
    if st.button("Take this number in place of the book", key="drop book"):
        with drawn_anew():
            change_draft({place_text(where): int(number)})
