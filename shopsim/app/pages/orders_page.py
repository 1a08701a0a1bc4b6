"""Orders and batches: how many are wanted, how they go through the shop, what must be bought, and how they leave."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import streamlit as st

from shopsim.app.editing import edit_table
from shopsim.app.order_book import edit_orders
from shopsim.app.page_parts import draw_next, editing_page, stands_elsewhere
from shopsim.app.page_style import side_by_side
from shopsim.app.single_fields import edit_field
from shopsim.app.state import Draft
from shopsim.app.tables import EditedColumn, explain, line_table, material_table
from shopsim.app.titles import LISTS, TITLES
from shopsim.priority import PRIORITY_NAMES
from shopsim.scenario import CAUTIONS, NONE_NEEDED, ProductionRun, Shipping
from shopsim.scenario.base_record import Record
from shopsim.scenario.key_paths import names_at
from shopsim.scenario.money_table import MoneyTable

_TITLE = EditedColumn("title", TITLES["title"], help="It stands above every answer.")
_RUN = (
    EditedColumn("round_up_to", TITLES["run.round_up_to"], "whole"),
    EditedColumn("batch", TITLES["run.batch"], "whole"),
    EditedColumn("pieces_open", TITLES["run.pieces_open"], "whole"),
    EditedColumn("orders_close", TITLES["run.orders_close"], "date"),
    EditedColumn("start", TITLES["run.start"], "date"),
    EditedColumn("promised", TITLES["run.promised"], "date"),
    EditedColumn("release", TITLES["run.release"], "choice", choices=("when orders close", "as ordered")),
    EditedColumn("priority", TITLES["run.priority"], "choice", choices=PRIORITY_NAMES),
    EditedColumn("batches_by", TITLES["run.batches_by"], "choice", choices=("order received", "option")),
)
_COMING = (
    EditedColumn("demand", TITLES["run.demand"], "text", "9 / 18 / 36"),
    EditedColumn("cap", TITLES["run.cap"], "whole"),
)
_SHIPPING = (
    EditedColumn("packing", TITLES["shipping.packing"], "text", "20 / 25 / 35 min"),
    EditedColumn("packing_station", TITLES["shipping.packing_station"], "choice"),
    EditedColumn("packing_hands", TITLES["shipping.packing_hands"], "whole"),
    EditedColumn("caution", TITLES["shipping.caution"], "cautions", choices=(*CAUTIONS, NONE_NEEDED)),
    EditedColumn("before_packing", TITLES["shipping.before_packing"], "text", "48 h"),
    EditedColumn("pick_up", TITLES["shipping.pick_up"], "names", "tue, fri"),
    EditedColumn("pick_up_at", TITLES["shipping.pick_up_at"], "text", "16:00"),
    EditedColumn("transit", TITLES["shipping.transit"], "transit", "1 / 4 / 7 d"),
)
_MONEY = (
    EditedColumn("currency", TITLES["money.currency"], "text", "EUR"),
    EditedColumn("wage", TITLES["money.wage"], "number"),
    EditedColumn("overhead_month", TITLES["money.overhead_month"], "number"),
    EditedColumn("overhead_hour", TITLES["money.overhead_hour"], "number"),
    EditedColumn("fees", TITLES["money.fees"], "text", "3 %"),
    EditedColumn("fee_order", TITLES["money.fee_order"], "number"),
    EditedColumn("deposit", TITLES["money.deposit"], "text", "50 %"),
    EditedColumn("in_hand", TITLES["money.in_hand"], "number"),
    EditedColumn("beside_the_bench", TITLES["money.beside_the_bench"], "text", "20 min"),
)


def show() -> None:
    """Draw the page."""
    with editing_page("orders") as draft:
        _edit_run(draft)
    draw_next("batches", "Next: which batch size?")


def _edit_run(draft: Draft) -> None:
    edit_field(_TITLE, ("title",))
    if not stands_elsewhere(draft, "run"):
        data: dict[str, Any] = draft.data or {}
        run = data.get("run")
        several = isinstance(run, dict) and "lines" in run
        st.header("Orders", anchor=False)
        if several or len(_design_names(data)) > 1:
            st.write("Each line is one design with its orders.")
            edit_table(line_table(_design_names(data)), ("run", "lines"))
        if not several:
            edit_orders(("run", "orders"))
        _draw_fields(_COMING, ProductionRun, "run")
        st.header("Batches and dates", anchor=False)
        _draw_fields(_RUN, ProductionRun, "run")
    st.header(LISTS["materials"][0], anchor=False)
    edit_table(material_table(), ("materials",))
    st.header("Packing and shipping", anchor=False)
    if not stands_elsewhere(draft, "shipping"):
        stations = tuple(names_at(draft.data or {}, ("shop", "stations")))
        _draw_fields(tuple(_with_stations(column, stations) for column in _SHIPPING), Shipping, "shipping")
    st.header("Money", anchor=False)
    if not stands_elsewhere(draft, "money"):
        _draw_fields(_MONEY, MoneyTable, "money")


def _with_stations(column: EditedColumn, stations: tuple[str, ...]) -> EditedColumn:
    return replace(column, choices=stations) if column.key == "packing_station" else column


def _draw_fields(columns: tuple[EditedColumn, ...], record: type[Record], table: str) -> None:
    for place_there, column in zip(side_by_side(len(columns), 2), explain(record, columns), strict=True):
        with place_there:
            edit_field(column, (table, column.key))


def _design_names(data: dict[str, Any]) -> list[str]:
    single = data.get("design")
    named = [single["name"]] if isinstance(single, dict) and isinstance(single.get("name"), str) else []
    return [*named, *names_at(data, ("designs",))]
