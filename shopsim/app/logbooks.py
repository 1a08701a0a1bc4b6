"""Logs that a maker keeps, handed over on the page: read with all their faults told, and taken into the draft when asked."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping

import streamlit as st

from shopsim.answers.doubtful import find_doubts
from shopsim.answers.learning import Lesson
from shopsim.answers.log_files import Logs, learned_changes, read_logs
from shopsim.app.faults import draw_faults, drawn_anew
from shopsim.app.markdown_text import escape_markdown, file_name
from shopsim.app.state import change_draft
from shopsim.errors import ScenarioError
from shopsim.limits import MAX_FILE_BYTES
from shopsim.scenario import Scenario

_HELD = "shopsim logs"
#: Each kind of log: what it is called, and its columns with an example.
KINDS = {
    "times": ("Times of work", "date, operation, units, minutes\n2027-01-12, mark joints, 5, 24"),
    "days": ("Days", "date, lost, open_share\n2027-01-12, no, 90 %"),
    "shipped": ("Orders that have shipped", "order, shipped\n1, 2027-02-26"),
}


def draw_uploads(scenario: Scenario) -> Logs | None:
    """Fields for the logs, and what they hold; None before there is one, or while there are faults, which are shown."""
    held: dict[str, tuple[str, bytes]] = st.session_state.setdefault(_HELD, {})
    st.write("A log is a table saved as CSV, with one line for each thing that you wrote down. One of these is enough.")
    for kind, (label, example) in KINDS.items():
        with st.container(border=True):
            file = st.file_uploader(
                f"{label} (CSV)", type=["csv", "txt"], key=f"log {kind}", max_upload_size=MAX_FILE_BYTES // 1_000_000
            )
            if file is not None:
                held[kind] = (_name_log(file_name(file.name, "log.csv"), kind, held), file.getvalue())
            elif kind in held:
                st.markdown("Handed over before, and still here.")
            with st.popover("What it looks like"):
                st.code(example, language=None)
    if not held:
        return None
    if st.button("Leave these logs aside", key="leave logs"):
        st.session_state[_HELD] = {}
        for kind in KINDS:
            st.session_state.pop(f"log {kind}", None)
        st.rerun()
    names = {kind: name for kind, (name, _) in held.items()}
    try:
        return read_logs(scenario, **names, held=dict(held.values()))
    except ScenarioError as error:
        draw_faults(error.faults)
        return None


def _name_log(name: str, kind: str, held: Mapping[str, tuple[str, bytes]]) -> str:
    """The file's own name, unless another log has it already: a run is called by it."""
    others = {taken for other, (taken, _) in held.items() if other != kind}
    return f"{kind} {name}" if name in others else name


def draw_doubts(scenario: Scenario, logs: Logs) -> bool | None:
    """What in the logs is far from what is believed, and the question whether it is right all the same.

    False where there is nothing to ask, True once it has been said that they are right, else None.
    """
    doubts = find_doubts(scenario, logs)
    if not doubts:
        return False
    for doubt in doubts:
        st.warning(escape_markdown(doubt))
    said = hashlib.sha256("\n".join(doubts).encode()).hexdigest()[:12]
    if st.checkbox("Yes, these logs are right as they stand", key=f"believe {said}"):
        return True
    st.info(
        "Nothing is taken in from logs that are so far from what is believed. Mend them, or say that they are right."
    )
    return None


def draw_taking(scenario: Scenario, lesson: Lesson, state: str) -> None:
    """Offer to put what was learned into the draft; only once all runs are done, so that what is written is final."""
    if lesson.learned == scenario.learned:
        st.info("There is nothing in these logs that the file does not know already.")
        return
    take = st.button(
        "Take this into my file", key="take lesson", disabled=state != "done", type="primary",
        help="Writes what was learned into the [learned] table of the scenario; its comments stay.",
    )  # fmt: skip
    if take:
        with drawn_anew():
            change_draft(learned_changes(scenario, lesson.learned))
