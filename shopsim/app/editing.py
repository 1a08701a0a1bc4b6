"""Tables that a maker edits: as a grid, or one row at a time; nothing reaches the file before "Apply".

Edits that are not applied are remembered with the draft, so that neither another page nor a reload loses them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import streamlit as st

from shopsim.app.cells import list_cell
from shopsim.app.faults import draw_faults, drawn_anew, faults_at
from shopsim.app.grid import draw_grid
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.page_style import side_by_side
from shopsim.app.renames import follow_renames
from shopsim.app.single_fields import draw_cell
from shopsim.app.state import Draft, need_draft, remember, remembered, rewrite_draft
from shopsim.app.tables import ROW, EditedTable, Row, count_edits, find_edits, new_row, read_rows, rebase
from shopsim.errors import Fault
from shopsim.limits import MAX_EDITED_ROWS
from shopsim.scenario import CAUTIONS
from shopsim.scenario.key_paths import value_at
from shopsim.scenario.lines import parse_toml
from shopsim.scenario.list_edits import edit_list
from shopsim.scenario.places import KeyPath, say_place
from shopsim.scenario.writing import edit_text

GRID, ONE = "As a table", "One at a time"
_EDITED = "edited tables"


def pending_tables() -> list[str]:
    """The places of tables with edits that are not applied yet."""
    return [place for place in remembered(_EDITED, []) if remembered(f"not applied {place}") is not None]


def edit_table(table: EditedTable, where: KeyPath) -> list[Row]:
    """Draw one table of the draft for editing, its faults above it; hand back its rows as they stand on the page."""
    draft = need_draft()
    data: Any = draft.data or {}
    items = value_at(data, where)
    place = say_place(where, data)
    if items is None and (len(where) == 1 or isinstance(value_at(data, where[:-1]), dict | None)):
        items = []
    draw_faults(faults_at(draft.faults, place))
    if not isinstance(items, list) or len(items) > MAX_EDITED_ROWS:
        what = f"has {len(items):,} rows" if isinstance(items, list) else "does not stand as a table in this file"
        st.info(f"This {what}; change it in the file itself, on the start page.")
        return []
    return _Editor(table, where, place, read_rows(table, items), draft).draw()


def put_rows(table: EditedTable, where: KeyPath, rows: list[Row]) -> None:
    """Have a table that is on the page drawn anew with these rows, not applied to the file yet."""
    draft = need_draft()
    base = read_rows(table, value_at(draft.data or {}, where) or [])
    place = say_place(where, draft.data or {})
    _Editor(table, where, place, base, draft).put(rows)


@dataclass(frozen=True)
class _Editor:
    """One table on the page; ``base``: its rows as the file has them."""

    table: EditedTable
    where: KeyPath
    place: str
    base: list[Row]
    draft: Draft

    def draw(self) -> list[Row]:
        rows = self._rows_now()
        if not rows:
            if self.table.empty:
                st.caption(self.table.empty)
            if st.button(f"Add a {self.table.word}", key=f"Add one below {self.place}"):
                self._begin_anew([new_row(self.table)], 0)
        else:
            view = self._choose("view", f"Show each {self.table.word}", (GRID, ONE))
            if view == GRID:
                rows = self._draw_grid(rows)
            rows = self._draw_tools(rows, closely=view == ONE)
        self._keep(rows)
        self._draw_apply(rows)
        return rows

    def put(self, rows: list[Row]) -> None:
        """Draw the table anew with these rows, the same one chosen."""
        self._begin_anew(rows, int(remembered(f"row {self.place}", 0)))

    # ---- what is remembered ----

    def _rows_now(self) -> list[Row]:
        kept = remembered(f"not applied {self.place}")
        if not isinstance(kept, dict):
            return self.base
        rows = rebase(self.base, kept["base"], kept["rows"])
        if rows is None:
            remember(f"not applied {self.place}", None)
            st.warning("Edits here that were not applied no longer fit the file, which has changed; they are let go.")
            return self.base
        return rows

    def _keep(self, rows: list[Row]) -> None:
        remember(f"not applied {self.place}", None if rows == self.base else {"base": self.base, "rows": rows})
        places = remembered(_EDITED, [])
        if rows != self.base and self.place not in places:
            remember(_EDITED, [*places, self.place])

    @property
    def _generation(self) -> int:
        """Goes up when the widgets of the table are to begin anew."""
        return int(st.session_state.get(f"generation {self.place}", 0))

    def _begin_anew(self, rows: list[Row], chosen: int) -> None:
        """Have the table drawn anew with these rows."""
        self._keep(rows)
        remember(f"row {self.place}", chosen)
        st.session_state[f"generation {self.place}"] = self._generation + 1
        st.session_state.pop(f"source {self.place}", None)
        st.rerun()

    # ---- the grid, and one row closely ----

    def _choose(self, what: str, label: str, options: tuple[str, ...]) -> str:
        key = f"{what} {self.place}"
        last = remembered(key, options[0])
        chosen = st.segmented_control(label, options, default=last, key=f"choose {key}") or last
        remember(key, chosen)
        return str(chosen)

    def _draw_grid(self, rows: list[Row]) -> list[Row]:
        group = self._choose("columns", "Columns", self.table.groups) if self.table.groups else ""
        key = f"grid {self.place} {self._generation}"
        source = st.session_state.get(f"source {self.place}")
        drawn = (self.base, self.table.columns, group)  # a grid drawn otherwise forgets what was typed into it
        if source is None or key not in st.session_state or source["drawn"] != drawn:
            st.session_state[f"generation {self.place}"] = self._generation + 1
            key = f"grid {self.place} {self._generation}"
            source = {"drawn": drawn, "rows": rows}
            st.session_state[f"source {self.place}"] = source
        return draw_grid(self.table, source["rows"], group, key)

    def _draw_one(self, row: Row, at: int) -> Row:
        """The fields of one row, each with its faults below it; ``at``: where the row stands on the page."""
        new = dict(row)
        number = int(row[ROW])
        for group in ("", *self.table.groups):
            columns = [column for column in self.table.columns if column.group == group]
            if group:
                st.markdown(f"**{group}**")
            for place_there, column in zip(side_by_side(len(columns), 2), columns, strict=True):
                with place_there:
                    key = f"cell {self.place} {at} {column.key} {self._generation}"
                    new[column.key] = draw_cell(column, row[column.key], key)
                    draw_faults(self._faults_of(number, column.key))
        for caution in list_cell(new.get("caution", "")) or ():
            if caution in CAUTIONS:
                st.warning(f"**Take care ({caution}):** {escape_markdown(CAUTIONS[caution])}")
        return new

    def _faults_of(self, number: int, key: str) -> list[Fault]:
        if number < 0:
            return []
        place = say_place((*self.where, number, key), self.draft.data)
        return faults_at(self.draft.faults, place)

    def _draw_tools(self, rows: list[Row], closely: bool) -> list[Row]:
        """Choose a row; see it closely; move it, take it out, or add one below it."""
        with st.container(horizontal=True, vertical_alignment="bottom"):
            chosen = self._choose_row(rows)
            pressed = {
                what: st.button(what, key=f"{what} {self.place}", disabled=off)
                for what, off in (
                    ("Add one below", False),
                    ("Move up", chosen == 0),
                    ("Move down", chosen == len(rows) - 1),
                    ("Take out", False),
                )
            }
        if closely:
            drawn = self._draw_one(rows[chosen], chosen)
            called = self.table.columns[0].key
            is_renamed = drawn[called] != rows[chosen][called]
            rows = [*rows[:chosen], drawn, *rows[chosen + 1 :]]
            if is_renamed:  # the list to choose from, drawn above, is to say so
                self._keep(rows)
                st.rerun()
        if pressed["Add one below"]:
            fresh = new_row(self.table, [str(row.get("name", "")) for row in rows])
            self._begin_anew([*rows[: chosen + 1], fresh, *rows[chosen + 1 :]], chosen + 1)
        if pressed["Move up"]:
            self._begin_anew(_swapped(rows, chosen - 1), chosen - 1)
        if pressed["Move down"]:
            self._begin_anew(_swapped(rows, chosen), chosen + 1)
        if pressed["Take out"]:
            self._begin_anew([*rows[:chosen], *rows[chosen + 1 :]], max(0, chosen - 1))
        return rows

    def _choose_row(self, rows: list[Row]) -> int:
        name = self.table.columns[0].key
        last = min(int(remembered(f"row {self.place}", 0)), len(rows) - 1)
        chosen = st.selectbox(
            f"Which {self.table.word}",
            range(len(rows)),
            last,
            key=f"row {self.place} {self._generation} {len(rows)}",
            format_func=lambda number: f"{number + 1}. {rows[number][name]}",
            width=320,
        )
        remember(f"row {self.place}", chosen)
        return int(chosen)

    # ---- into the file ----

    def _draw_apply(self, rows: list[Row]) -> None:
        said = count_edits(self.base, rows)
        if not said:
            return
        with st.container(border=True):
            st.markdown(f"**Not applied yet:** {said}.")
            with st.container(horizontal=True):
                if st.button("Apply to the file", type="primary", key=f"apply {self.place}"):
                    self._apply(rows)
                if st.button("Undo these edits", key=f"undo {self.place}"):
                    self._begin_anew(self.base, int(remembered(f"row {self.place}", 0)))

    def _apply(self, rows: list[Row]) -> None:
        draft = self.draft
        with drawn_anew():
            text = edit_list(draft.text, self.where, find_edits(self.table, self.base, rows), draft.name)
            changes = follow_renames(parse_toml(text), self.where, self._renames(rows))
            rewrite_draft(edit_text(text, changes, draft.name) if changes else text)
            remember(f"not applied {self.place}", None)
            st.session_state[f"generation {self.place}"] = self._generation + 1
            st.session_state.pop(f"source {self.place}", None)
            st.toast(f"Applied to {escape_markdown(draft.name)}.")

    def _renames(self, rows: list[Row]) -> dict[str, str]:
        names = {str(row.get("name", "")) for row in rows}
        pairs = [(str(self.base[row[ROW]].get("name", "")), str(row.get("name", ""))) for row in rows if row[ROW] >= 0]
        return {old: new for old, new in pairs if old and new and old != new and old not in names}


def _swapped(rows: list[Row], number: int) -> list[Row]:
    return [*rows[:number], rows[number + 1], rows[number], *rows[number + 2 :]]
