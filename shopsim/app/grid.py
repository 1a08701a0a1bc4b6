"""A table as a grid to edit: rows of cells made a frame, and the edited frame made rows of cells again."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from shopsim.app.cells import WHOLE, list_cell, to_cell
from shopsim.app.tables import ROW, EditedColumn, EditedTable, Row

#: Heights in pixels, and the rows that are shown before the grid scrolls.
ROW_PX, HEAD_PX, MAX_SHOWN = 35, 38, 14


def draw_grid(table: EditedTable, rows: list[Row], group: str, key: str) -> list[Row]:
    """Draw rows for editing and hand back what they have become.

    ``rows`` must stay the same from run to run while the grid has the same ``key``, or edits would be lost.
    """
    frame = make_frame(table, rows)
    edited = st.data_editor(
        frame,
        key=key,
        num_rows="fixed",
        hide_index=True,
        width="stretch",
        height=min(len(rows), MAX_SHOWN) * ROW_PX + HEAD_PX,
        row_height=ROW_PX,
        placeholder="",
        column_order=[column.key for column in table.columns if column.group in ("", group)],
        column_config={
            column.key: _configure(column, frame[column.key], number == 0 and bool(table.groups))
            for number, column in enumerate(table.columns)
        },
        alt=f"Table to edit: a row for each {table.word}",
    )
    return read_frame(table, edited, rows)


def make_frame(table: EditedTable, rows: list[Row]) -> pd.DataFrame:
    """Rows as a frame: whole numbers, amounts, ticks, and text; a column with anything else in it is text."""
    frame = pd.DataFrame({ROW: pd.Series([int(row[ROW]) for row in rows], dtype="int64")})
    for column in table.columns:
        cells = [row[column.key] for row in rows]
        values, dtype = _typed(column, cells)
        frame[column.key] = pd.Series(values, dtype=dtype)
    return frame


def _typed(column: EditedColumn, cells: list[Any]) -> tuple[list[Any], Any]:
    if column.kind == "yes" and all(isinstance(cell, bool) for cell in cells):
        return cells, "bool"
    if column.kind == "cautions":
        lists = [list_cell(cell) for cell in cells]
        if None not in lists:
            return lists, "object"
    numbers = [None if cell == "" else cell for cell in cells]
    whole = all(number is None or (isinstance(number, int) and not isinstance(number, bool)) for number in numbers)
    if column.kind == "whole" and whole:
        return numbers, "Int64"
    if column.kind == "number" and (
        whole or all(number is None or isinstance(number, float | int) for number in numbers)
    ):
        return numbers, "Float64"
    return [("yes" if cell else "") if isinstance(cell, bool) else str(cell) for cell in cells], "str"


def read_frame(table: EditedTable, frame: pd.DataFrame, rows: list[Row]) -> list[Row]:
    """A frame as rows of cells again; ``rows``: those it was made of, whose cells stay where nothing was typed."""
    read = [dict(row) for row in rows]
    shown = make_frame(table, rows)
    for column in table.columns:
        pairs = zip(shown[column.key].tolist(), frame[column.key].tolist(), strict=True)
        for row, (was, now) in zip(read, pairs, strict=True):
            if _is_missing(now) != _is_missing(was) or (not _is_missing(now) and now != was):
                row[column.key] = _cell(column, now)
    return read


def _is_missing(value: Any) -> bool:
    return value is None or value is pd.NA or (isinstance(value, float) and value != value)


def _cell(column: EditedColumn, value: Any) -> Any:
    if _is_missing(value):
        return False if column.kind == "yes" else ""
    if isinstance(value, bool):
        return value
    if isinstance(value, list):
        return to_cell(column.kind, value)
    if isinstance(value, int | float):
        return int(value) if float(value).is_integer() else float(value)
    text = str(value).strip()
    if column.kind == "yes" and text.casefold() in ("", "yes", "no"):
        return text.casefold() == "yes"
    if column.kind in (*WHOLE, "number") and text.isascii() and text.isdigit() and len(text) < 13:
        return int(text)
    return text


def _configure(column: EditedColumn, cells: pd.Series[Any], first: bool) -> Any:
    kind = str(cells.dtype)
    if kind == "bool":
        return st.column_config.CheckboxColumn(column.title, help=column.help)
    if kind in ("Int64", "Float64"):
        step = 1 if kind == "Int64" else 0.01
        return st.column_config.NumberColumn(column.title, help=column.help, min_value=0, step=step)
    if kind == "object":
        return st.column_config.MultiselectColumn(
            column.title, help=column.help, options=column.choices, accept_new_options=True, width="medium"
        )
    if column.choices or column.kind == "maybe":
        given = column.choices or ("yes", "no")
        options = list(dict.fromkeys([*given, *(str(cell) for cell in cells if cell)]))
        return st.column_config.SelectboxColumn(column.title, help=column.help, options=options)
    return st.column_config.TextColumn(column.title, help=column.help, pinned=first, max_chars=2000)
