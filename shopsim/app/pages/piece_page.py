"""The piece: its operations as a table, its parts, what comes after what, and the cautions that go with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from shopsim.app.editing import edit_table, put_rows
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.operation_views import cautions_of, network_nodes, suggested_cautions, with_cautions
from shopsim.app.page_parts import draw_next, editing_page, stands_elsewhere
from shopsim.app.page_style import side_by_side, theme_name
from shopsim.app.parts_editor import edit_parts
from shopsim.app.renames import follow_renames
from shopsim.app.single_fields import edit_field
from shopsim.app.state import Draft, remember, remembered
from shopsim.app.tables import EditedColumn, EditedTable, Row, explain, operation_table
from shopsim.app.titles import LISTS, TITLES
from shopsim.charts.chart_style import how_to_read
from shopsim.charts.network_chart import build_network
from shopsim.scenario import CAUTIONS, NONE_NEEDED
from shopsim.scenario.design import Design
from shopsim.scenario.key_paths import names_at
from shopsim.scenario.places import KeyPath

_NAME = EditedColumn("name", TITLES["design.name"], help="As orders and lines of the run name it.")
_PRICES = (
    EditedColumn("price", TITLES["design.price"], "number"),
    EditedColumn("shipping_paid", TITLES["design.shipping_paid"], "number"),
    EditedColumn("shipping_cost", TITLES["design.shipping_cost"], "number"),
)


def show() -> None:
    """Draw the page."""
    with editing_page("piece") as draft:
        where = _choose_design(draft)
        if where is not None:
            _edit_design(draft.data or {}, where)
    draw_next("orders", "Next: orders and batches")


def _edit_design(data: dict[str, Any], where: KeyPath) -> None:
    edit_field(_NAME, (*where, "name"), _call_it_everywhere)
    for place, column in zip(side_by_side(len(_PRICES), 3), explain(Design, _PRICES), strict=True):
        with place:
            edit_field(column, (*where, column.key))
    st.header(TITLES["design.parts"], anchor=False)
    edit_parts((*where, "parts"))
    st.header(LISTS["design.operations"][0], anchor=False)
    st.write(
        "Each step of the work, in a sensible order. A time is one number with its unit, or low / likely / high, such as "
        "8 / 10 / 16 min: one time in ten it is under the low, one in ten over the high."
    )
    table = operation_table(names_at(data, ("shop", "stations")), names_at(data, (*where, "parts")))
    rows = edit_table(table, (*where, "operations"))
    _offer_cautions(table, (*where, "operations"), rows)
    options = names_at(data, (*where, "options"))
    if options:
        st.caption(
            f"Buyers may choose: {escape_markdown(', '.join(options))}. What each option changes stands in the file "
            "itself, on the start page."
        )
    left, right = st.columns(2, gap="large")
    with left:
        _draw_order(rows)
    with right:
        _draw_cautions(rows)


def _call_it_everywhere(data: Mapping[str, Any], old: Any, new: Any) -> dict[str, Any]:
    """Lines of the run and logged times call a design by its name."""
    if not isinstance(old, str) or not isinstance(new, str):
        return {}
    return follow_renames(data, ("designs",), {old: new})


def _choose_design(draft: Draft) -> KeyPath | None:
    """The place of the design that is shown, None where it stands in another file."""
    data: dict[str, Any] = draft.data or {}
    places: dict[str, KeyPath] = {}
    if "design" in data:
        if stands_elsewhere(draft, "design"):
            return None
        name = data["design"].get("name") if isinstance(data["design"], dict) else None
        places[str(name or "the piece")] = ("design",)
    if isinstance(data.get("designs"), list):
        for number, design in enumerate(data["designs"]):
            if isinstance(design, dict):
                places[f"{number + 1}. {design.get('name', 'unnamed')}"] = ("designs", number)
    elif stands_elsewhere(draft, "designs"):
        return None
    if len(places) < 2:
        return next(iter(places.values()), ("design",))
    last = remembered("design shown")
    names = list(places)
    shown = last if isinstance(last, int) and 0 <= last < len(names) else 0
    at = st.selectbox(
        "Which design", range(len(names)), shown,
        format_func=lambda number: names[number], key="which design",
    )  # fmt: skip
    remember("design shown", at)
    return places[names[at]]


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
    for caution, names in needed.items():
        is_key = caution in CAUTIONS
        said = f"{caution}): {escape_markdown(CAUTIONS[caution])}" if is_key else f"{escape_markdown(caution)})"
        st.markdown(f"**{escape_markdown(', '.join(names))}** ({said}")


def _offer_cautions(table: EditedTable, where: KeyPath, rows: list[Row]) -> None:
    """Cautions that steps suggest and do not carry, and a way to put them there or to say that none is needed."""
    offers = [(str(row["name"]), missing) for row in rows if (missing := suggested_cautions(row))]
    if not offers:
        return
    with st.container(border=True):
        st.markdown("**To think of:** a step's name, station or kind suggests cautions that it does not carry.")
        st.markdown("\n".join(f"- {escape_markdown(name)}: {', '.join(missing)}" for name, missing in offers))
        with st.container(horizontal=True):
            if st.button("Put these cautions there", key="add cautions"):
                put_rows(table, where, with_cautions(rows))
            if st.button("None needed", key="no cautions", help="These steps are not asked about again."):
                put_rows(table, where, with_cautions(rows, NONE_NEEDED))
