"""The parts of a piece: a name and a number for each."""

from __future__ import annotations

from typing import Any

import streamlit as st

from shopsim.app.cells import from_cell, to_cell
from shopsim.app.faults import draw_faults, drawn_anew, faults_at
from shopsim.app.page_style import side_by_side
from shopsim.app.single_fields import draw_cell
from shopsim.app.state import change_draft, need_draft
from shopsim.app.tables import EditedColumn
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.places import KeyPath, say_place


def edit_parts(where: KeyPath) -> None:
    """Draw the parts for editing; how many and new parts go into the draft at once, faults stand below."""
    draft = need_draft()
    data: Any = draft.data or {}
    parts = value_at(data, where)
    place = say_place(where, data)
    if parts is not None and not isinstance(parts, dict):
        draw_faults(faults_at(draft.faults, place))
        st.info("The parts are not written as a table; change them in the file itself, on the start page.")
        return
    st.caption("What a piece is made of, where an operation is done for each part. 0 takes a part out.")
    changes: dict[str, Any] = {}
    named = list((parts or {}).items())
    for place_there, (name, count) in zip(side_by_side(len(named), 3), named, strict=True):
        with place_there:
            cell = to_cell("whole", count)
            new = draw_cell(EditedColumn(name, name, "whole"), cell, f"part {place} {name}")
            meant = from_cell("whole", new)
            if new not in (cell, "") and to_cell("whole", meant) != cell:
                changes[place_text((*where, name))] = meant if meant != 0 else None
    with st.container(horizontal=True, vertical_alignment="bottom"):
        turn = st.session_state.get(f"new part {place}", 0)
        name = st.text_input(
            "A new part", max_chars=200, key=f"part name {place} {turn}", placeholder="like leg"
        ).strip()
        if st.button("Add this part", key=f"part add {place}") and name and name not in (parts or {}):
            changes[place_text((*where, name))] = 1
            st.session_state[f"new part {place}"] = turn + 1
    draw_faults(faults_at(draft.faults, place))
    if changes:
        with drawn_anew():
            change_draft(changes)
