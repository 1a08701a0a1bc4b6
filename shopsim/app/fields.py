"""Single fields: each shows what the file says, changes it at once, and has its faults below it."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping
from typing import Any

import streamlit as st

from shopsim.app.cells import Cell, from_cell, to_cell
from shopsim.app.faults import draw_faults, draw_problem
from shopsim.app.state import change_draft, need_draft
from shopsim.app.tables import Column
from shopsim.errors import InputError
from shopsim.scenario.places import Where, say_place

NOT_SAID = "(not said)"


def draw_cell(column: Column, cell: Cell, key: str) -> Any:
    """One labelled control for a cell; hands back the cell as it now is."""
    if column.kind == "yes" and isinstance(cell, bool):
        return st.checkbox(column.title, cell, key=key, help=column.help)
    if column.kind == "maybe" or column.choices:
        given = ["yes", "no"] if column.kind == "maybe" else list(column.choices)
        options = list(dict.fromkeys(["", *given, cell]))
        return st.selectbox(
            column.title, options, options.index(cell), key=key, help=column.help,
            format_func=lambda option: str(option) or NOT_SAID,
        )  # fmt: skip
    if column.kind == "whole" and (cell == "" or _is_whole(cell)) and not column.example:
        value = int(cell) if isinstance(cell, int) else None
        number = st.number_input(
            column.title, 0, 1_000_000, value, 1, key=key, help=column.help, placeholder=NOT_SAID
        )  # fmt: skip
        return "" if number is None else int(number)
    if column.kind == "date" and (cell == "" or isinstance(cell, dt.date)):
        day = st.date_input(
            column.title, cell if isinstance(cell, dt.date) else None, key=key, help=column.help, format="YYYY-MM-DD",
            min_value=dt.date(1990, 1, 1), max_value=dt.date(2200, 1, 1),
        )  # fmt: skip
        return day if isinstance(day, dt.date) else ""
    placeholder = f"like {column.example}" if column.example else None
    text = st.text_input(column.title, str(cell), 5000, key=key, help=column.help, placeholder=placeholder)
    return text.strip()


def _is_whole(cell: Any) -> bool:
    return isinstance(cell, int) and not isinstance(cell, bool) and 0 <= cell <= 1_000_000


def edit_field(column: Column, where: Where) -> None:
    """Draw one field of the draft and put what is typed into its text at once; faults of the field stand below it."""
    draft = need_draft()
    data: Any = draft.data or {}
    cell = to_cell(column.kind, value_at(data, where))
    place = say_place(where, data)
    new = draw_cell(column, cell, f"field {place} {_short_hash(cell)}")
    draw_faults([fault for fault in draft.faults if fault.place == place])
    if new != cell:
        meant = from_cell(column.kind, new)
        if meant is False and cell is False:
            return
        try:
            change_draft({_place_text(where): meant})
        except InputError as error:
            draw_problem(error)
            return
        st.rerun()


def value_at(data: Any, where: Where) -> Any:
    """The value at a place of plain data, None where there is none."""
    for step in where:
        if isinstance(data, Mapping):
            data = data.get(str(step))
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def _place_text(where: Where) -> str:
    return "".join(f"[{step}]" if isinstance(step, int) else f'."{step}"' for step in where).removeprefix(".")


def _short_hash(cell: Cell) -> str:
    return hashlib.sha256(repr(cell).encode()).hexdigest()[:12]
