"""Opening hours as a field for each day of the week."""

from __future__ import annotations

from typing import Any

import streamlit as st

from shopsim.app.faults import draw_faults, drawn_anew, faults_at
from shopsim.app.page_style import side_by_side
from shopsim.app.single_fields import draw_cell
from shopsim.app.state import change_draft, need_draft
from shopsim.app.tables import EditedColumn
from shopsim.dates import DAY_NAMES
from shopsim.scenario.key_paths import place_text, value_at
from shopsim.scenario.places import KeyPath, say_place

_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def hours_by_day(value: Any) -> dict[str, str] | None:
    """The hours of each weekday as the file writes them, spans like ``mon-fri`` taken apart; None where they cannot be."""
    if value is None:
        return dict.fromkeys(DAY_NAMES, "")
    if not isinstance(value, dict):
        return None
    hours = dict.fromkeys(DAY_NAMES, "")
    names = list(DAY_NAMES)
    for key, text in value.items():
        first, _, last = str(key).lower().partition("-")
        if not isinstance(text, str) or first not in names or (last and last not in names):
            return None
        start = names.index(first)
        for step in range((names.index(last) - start) % 7 + 1 if last else 1):
            day = names[(start + step) % 7]
            if hours[day]:
                return None
            hours[day] = text
    return hours


def join_days(hours: dict[str, str]) -> dict[str, str]:
    """Hours by day as a file writes them: days without hours left out, three or more alike in a row as one span."""
    joined: dict[str, str] = {}
    names = list(DAY_NAMES)
    at = 0
    while at < len(names):
        end = at
        while end + 1 < len(names) and hours[names[end + 1]] == hours[names[at]]:
            end += 1
        if hours[names[at]]:
            if end - at >= 2:
                joined[f"{names[at]}-{names[end]}"] = hours[names[at]]
            else:
                joined |= {names[day]: hours[names[day]] for day in range(at, end + 1)}
        at = end + 1
    return joined


def edit_hours(where: KeyPath, help_text: str) -> None:
    """Draw the hours of a week for editing; a change goes into the draft at once, its faults stand below."""
    draft = need_draft()
    data: Any = draft.data or {}
    value = value_at(data, where)
    place = say_place(where, data)
    always = draw_cell(
        EditedColumn("always", "Always open, day and night", "yes"), value == "always", f"always {place}"
    )
    new: Any = value
    if always:
        new = "always"
    else:
        hours = hours_by_day(value) if value != "always" else dict.fromkeys(DAY_NAMES, "")
        if hours is None:
            st.info("The hours are written in a way that has no fields here; change them in the file itself.")
        else:
            st.caption(help_text)
            typed = _draw_days(hours, place)
            if typed != hours or value == "always":
                new = join_days(typed)
    draw_faults(faults_at(draft.faults, place))
    if new != value:
        with drawn_anew():
            change_draft({place_text(where): new})


def _draw_days(hours: dict[str, str], place: str) -> dict[str, str]:
    typed = {}
    for place_there, day, title in zip(side_by_side(7, 3), DAY_NAMES, _DAYS, strict=True):
        with place_there:
            typed[day] = draw_cell(EditedColumn(day, title, usual="closed"), hours[day], f"hours {place} {day}")
    return typed
