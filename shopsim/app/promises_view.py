"""What goes with a promise: how sure it is to be, the words to paste, and the sheet to pin up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import partial

import streamlit as st

from shopsim.answers.answer import Answer
from shopsim.answers.delivery_words import BINDING
from shopsim.answers.promise_policy import KEPT, WINDOW
from shopsim.answers.promise_sheet import SHEET
from shopsim.answers.words import GENERAL, write_words
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import remember, remembered
from shopsim.columns import find_table
from shopsim.export import file_name, format_workbook
from shopsim.scenario import Scenario
from shopsim.screens import words_heading, words_text

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def draw_chances() -> tuple[float, float]:
    """How sure windows are to be, and with what chance promises are to be kept; shares in 0..1."""
    window = _draw_chance("Window holds, % (usually {})", "window holds", WINDOW)
    service_level = _draw_chance("Promise kept, % (usually {})", "promise kept", KEPT)
    st.button(
        "As usual", key="usual chances", disabled=(window, service_level) == (WINDOW, KEPT), on_click=_usual_chances
    )
    return window, service_level


def _usual_chances() -> None:
    for key, usual in (("window holds", WINDOW), ("promise kept", KEPT)):
        st.session_state[key] = round(usual * 100)


def _draw_chance(label: str, key: str, usual: float) -> float:
    percent = round(usual * 100)
    value = st.number_input(
        label.format(percent), 50, 99, remembered(key, percent), 1, key=key, width=250,
        help="Of a hundred runs of luck, in so many.",
    )  # fmt: skip
    remember(key, int(value) if value != percent else None)
    return int(value) / 100


def draw_words(scenario: Scenario, answer: Answer, what_if: Sequence[str] = ()) -> None:
    """Paragraphs to paste, for the listing, each buyer and late notes, with what must be read beside them; and the sheet.

    ``what_if``: what was changed from the file, which every paragraph then says.
    """
    if SHEET in answer.tables:
        st.download_button(
            "Promise sheet, to print or pin up (XLSX)",
            partial(format_workbook, {find_table(SHEET).title: answer.tables[SHEET]}),
            file_name(SHEET, ".xlsx"), _XLSX, key="promise sheet", on_click="ignore",
        )  # fmt: skip
    with st.expander("Words to use: for your listing, for each buyer, and when one will be late"):
        reason = None
        if "late" in answer.rows and answer.rows["late"].any():
            reason = st.text_input(
                "Why orders are late (one true line; empty: what the forecast says)", remembered("late because", ""),
                max_chars=200, key="late because",
                help="A line that names a material or an option goes only to orders that need it.",
            )  # fmt: skip
            remember("late because", reason or None)
        hours = st.checkbox("Tell the hours a week in the workshop", remembered("tell hours", True), key="tell hours")
        remember("tell hours", None if hours else False)
        words = write_words(
            scenario, answer, today=dt.date.today(), reason=reason or None, hours=hours, what_if=what_if
        )
        for note in GENERAL:
            if note != BINDING:  # it stands above
                st.markdown(escape_markdown(note))
        st.download_button(
            "All of it as text", words_text(words).encode(), "words-to-use.txt", "text/plain", key="words file",
            on_click="ignore",
        )  # fmt: skip
        for row in words.to_dict("records"):
            plain = {str(key): value for key, value in row.items()}
            st.markdown(f"**{escape_markdown(words_heading(plain))}**")
            st.code(plain["text"], language=None, wrap_lines=True)
