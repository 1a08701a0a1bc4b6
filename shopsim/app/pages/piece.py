"""The piece: its operations as a table, its parts, what comes after what, and the cautions that go with it."""

from __future__ import annotations

from typing import Any

import streamlit as st

from shopsim.app.editing import edit_table
from shopsim.app.fields import edit_field
from shopsim.app.look import theme_name
from shopsim.app.page_parts import begin_page, draw_next, stands_elsewhere
from shopsim.app.parts import edit_parts
from shopsim.app.state import Draft, remember, remembered
from shopsim.app.steps import cautions_of, network_nodes
from shopsim.app.tables import Column, Row, names_at, operation_table
from shopsim.app.texts import escape_markdown
from shopsim.charts.looks import how_to_read
from shopsim.charts.network import build_network
from shopsim.scenario import CAUTIONS
from shopsim.scenario.places import Where


def show() -> None:
    """Draw the page."""
    draft = begin_page()
    where = _choose_design(draft)
    if where is None:
        return
    data: dict[str, Any] = draft.data or {}
    edit_field(
        Column("name", "What the piece is called", help="As orders and lines of the run name it."), (*where, "name")
    )
    st.header("Operations", anchor=False)
    st.write(
        "Each step of the work, in a sensible order. A time is one number with its unit, or low / likely / high, such as "
        "8 / 10 / 16 min: one time in ten it is under the low, one in ten over the high."
    )
    parts = names_at(data, (*where, "parts"))
    rows = edit_table(operation_table(names_at(data, ("shop", "stations")), parts), (*where, "operations"))
    st.header("Parts", anchor=False)
    edit_parts((*where, "parts"))
    left, right = st.columns(2, gap="large")
    with left:
        _draw_cautions(rows)
    with right:
        _draw_order(rows)
    draw_next("orders", "Next: orders and batches")


def _choose_design(draft: Draft) -> Where | None:
    """The place of the design that is shown, None where it stands in another file."""
    data: dict[str, Any] = draft.data or {}
    places: dict[str, Where] = {}
    if "design" in data:
        if stands_elsewhere(draft, "design"):
            return None
        name = data["design"].get("name") if isinstance(data["design"], dict) else None
        places[str(name or "the piece")] = ("design",)
    if isinstance(data.get("designs"), list):
        for number, design in enumerate(data["designs"]):
            if isinstance(design, dict):
                places[f"{number + 1}. {design.get('name', 'unnamed')}"] = ("designs", number)
    if len(places) < 2:
        return next(iter(places.values()), ("design",))
    last = remembered("design shown")
    names = list(places)
    chosen = st.selectbox("Which design", names, names.index(last) if last in names else 0, key="which design")
    remember("design shown", chosen)
    return places[chosen]


def _draw_order(rows: list[Row]) -> None:
    """What comes after what, as a drawing."""
    if not rows:
        return
    st.header("What comes after what", anchor=False)
    figure = build_network(network_nodes(rows), theme_name())
    st.caption(how_to_read(figure))
    st.plotly_chart(figure, width="stretch", theme=None, key="network", config={"displayModeBar": False})


def _draw_cautions(rows: list[Row]) -> None:
    """The cautions, each beside the operations that need it."""
    needed = cautions_of(rows)
    if not needed:
        return
    st.header("Take care", anchor=False)
    for key, names in needed.items():
        st.markdown(f"**{escape_markdown(', '.join(names))}** ({key}): {escape_markdown(CAUTIONS[key])}")
