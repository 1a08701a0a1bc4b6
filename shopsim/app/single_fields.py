"""Single fields: each shows what the file says, changes it at once, and has its faults below it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import Any

import streamlit as st

from shopsim.app.cells import Cell, from_cell, list_cell, to_cell
from shopsim.app.faults import draw_faults, drawn_anew, faults_at
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import change_draft, need_draft
from shopsim.app.tables import EditedColumn
from shopsim.limits import MAX_FIELD_LETTERS
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.places import KeyPath, say_place

#: Shown where a key is not in the file and nothing general holds instead.
NOT_SAID = "(not said)"
#: Days that a calendar to choose from reaches; others are typed.
_FIRST_DAY, _LAST_DAY = dt.date(1990, 1, 1), dt.date(2200, 1, 1)


def draw_cell(column: EditedColumn, cell: Cell, key: str) -> Any:
    """One labelled control for a cell; hands back the cell as it now is.

    The control keeps what is typed for as long as it has the same ``key``; where ``cell`` has changed since it was
    last drawn, it shows that.
    """
    draw, value = _control(column, cell)
    key = f"{key} {draw.__name__}"
    _show_what_is_new(key, cell, value)
    new = draw(column, cell, value, key)
    st.session_state[f"gave {key}"] = repr(new)
    return new


_Draw = Callable[[EditedColumn, Cell, Any, str], Any]


def _control(column: EditedColumn, cell: Cell) -> tuple[_Draw, Any]:
    """How a cell is drawn, and the value of its control."""
    if column.kind == "yes" and isinstance(cell, bool):
        return _tick, cell
    if column.kind == "cautions":
        texts = list_cell(cell)
        return (_type, str(cell)) if texts is None else (_choose_several, texts)
    if column.kind == "maybe" or column.choices:
        return _choose, cell
    if column.kind == "whole" and not column.example and (cell == "" or _is_whole(cell)):
        return _count, None if cell == "" else cell
    if column.kind == "date" and (cell == "" or (isinstance(cell, dt.date) and _FIRST_DAY <= cell <= _LAST_DAY)):
        return _pick_day, None if cell == "" else cell
    return _type, str(cell)


def _show_what_is_new(key: str, cell: Cell, value: Any) -> None:
    seen, gave = st.session_state.get(f"seen {key}"), st.session_state.get(f"gave {key}")
    # what came from this control itself is not put back into it: more may have been typed meanwhile
    if key in st.session_state and repr(cell) not in (seen, gave):
        st.session_state[key] = value
    st.session_state[f"seen {key}"] = repr(cell)


def _first(key: str, value: Any, without: Any) -> Any:
    """What a control begins with; what it already holds comes before that."""
    return without if key in st.session_state else value


def _tick(column: EditedColumn, _cell: Cell, value: Any, key: str) -> Any:
    return st.checkbox(escape_markdown(column.title), _first(key, value, False), key=key, help=column.help)


def _choose(column: EditedColumn, cell: Cell, value: Any, key: str) -> Any:
    given = ["yes", "no"] if column.kind == "maybe" else list(column.choices)
    options = list(dict.fromkeys(["", *given, cell]))
    return st.selectbox(
        escape_markdown(column.title), options, _first(key, options.index(value), 0), key=key, help=column.help,
        format_func=lambda option: str(option) or _say_empty(column),
    )  # fmt: skip


def _choose_several(column: EditedColumn, _cell: Cell, value: Any, key: str) -> Any:
    options = list(dict.fromkeys([*column.choices, *value, *st.session_state.get(key, ())]))
    chosen = st.multiselect(
        escape_markdown(column.title), options, _first(key, value, None), key=key, help=column.help,
        accept_new_options=True, placeholder="choose, or write your own words",
    )  # fmt: skip
    return to_cell(column.kind, [text.strip() for text in chosen if text.strip()])


def _count(column: EditedColumn, _cell: Cell, value: Any, key: str) -> Any:
    number = st.number_input(
        escape_markdown(column.title), 0, 1_000_000, _first(key, value, None), 1, key=key, help=column.help,
        placeholder=_say_empty(column),
    )  # fmt: skip
    return "" if number is None else int(number)


def _pick_day(column: EditedColumn, _cell: Cell, value: Any, key: str) -> Any:
    day = st.date_input(
        escape_markdown(column.title), _first(key, value, None), _FIRST_DAY, _LAST_DAY, key=key, help=column.help,
        format="YYYY-MM-DD",
    )  # fmt: skip
    return day if isinstance(day, dt.date) else ""


def _type(column: EditedColumn, _cell: Cell, value: Any, key: str) -> Any:
    placeholder = f"like {column.example}" if column.example else None
    if column.usual:
        placeholder = column.usual if column.kind == "text" else _say_empty(column)
    text = st.text_input(
        escape_markdown(column.title), _first(key, value, ""), max(MAX_FIELD_LETTERS, len(value)), key=key,
        help=column.help, placeholder=placeholder,
    )  # fmt: skip
    return text.strip()


def _say_empty(column: EditedColumn) -> str:
    return f"(not said: {column.usual})" if column.usual else NOT_SAID


def _is_whole(cell: Any) -> bool:
    return isinstance(cell, int) and not isinstance(cell, bool) and 0 <= cell <= 1_000_000


def edit_field(
    column: EditedColumn,
    where: KeyPath,
    follow: Callable[[Mapping[str, Any], Any, Any], Mapping[str, Any]] | None = None,
) -> None:
    """Draw one field of the draft and put what is typed into its text at once; faults of the field stand below it.

    ``follow(data, old, new)``: what else changes with it.
    """
    draft = need_draft()
    data: Any = draft.data or {}
    value = value_at(data, where)
    cell = to_cell(column.kind, value)
    place = say_place(where, data)
    new = draw_cell(column, cell, f"field {place_text(where)}")
    draw_faults(faults_at(draft.faults, place))
    meant = from_cell(column.kind, new)
    if new == cell or new == str(cell).strip() or to_cell(column.kind, meant) == cell:
        return  # what is only shown, as text where no control holds it, is left as the file has it
    changes = {place_text(where): meant, **(follow(data, value, meant) if follow is not None else {})}
    with drawn_anew():
        change_draft(changes)
