"""What is left for an hour worked, the number of orders on a slider."""

from __future__ import annotations

from typing import Any

import streamlit as st

from shopsim.answers import Answer
from shopsim.answers.worth import USUAL
from shopsim.app.asked_page import draw_asked
from shopsim.app.state import remember, remembered
from shopsim.questions import find_kind
from shopsim.rows import table_rows
from shopsim.say import say_chance, say_money


def show() -> None:
    """Draw the page."""
    kind = find_kind("what_is_left")
    assert kind is not None
    above = st.container()  # the slider stands first, and is filled once there is an answer
    answer, scenario, _ = draw_asked(kind, USUAL)
    if answer is not None:
        with above:
            _draw_counts(answer, scenario.money.currency)


def _draw_counts(answer: Answer, currency: str) -> None:
    """Each number of orders that was tried, on a slider: what it makes, leaves and ties up."""
    rows = {int(row["orders"]): row for row in table_rows(answer.rows)}
    now = next(count for count, row in rows.items() if row["is_now"])
    if len(rows) < 2:
        return
    st.header("How many orders to commit to", anchor=False)
    held = remembered("worth count", now)
    count = st.select_slider(
        "Number of orders", sorted(rows), held if held in rows else now, key="worth count",
        help="Those that were tried; the file's own number to begin with.",
    )  # fmt: skip
    remember("worth count", count if count != now else None)
    row = rows[count]

    def money(key: str) -> str:
        return say_money(round(float(row[key]) * 100), currency)

    shown: list[tuple[str, Any]] = [
        ("Pieces made", f"{row['pieces_made']}, {row['spare']} of them spare"),
        ("Left, in the mean", money("left")),
        ("For an hour, half of the runs", money("left_an_hour_p50")),
        ("For an hour, 8 runs in 10", f"{money('left_an_hour_p10')} to {money('left_an_hour_p90')}"),
        ("Tied up in spares", money("spare_cost")),
    ]
    if row.get("wage_chance") is not None:
        shown.append(("The wage assumed is reached", f"in {say_chance(row['wage_chance'])} of runs"))
    st.table({"": [name for name, _ in shown], f"{count} orders": [value for _, value in shown]})
