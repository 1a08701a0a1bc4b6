"""The first page: what the tool does, what to start from, and the scenario's file itself."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.app.drafts import read_upload
from shopsim.app.editing import pending_tables
from shopsim.app.faults import draw_faults, drawn_anew
from shopsim.app.file_view import draw_file_itself, draw_files_beside
from shopsim.app.markdown_text import escape_markdown, file_name
from shopsim.app.start_choices import BLANK_NAME, EXAMPLES, blank_text, example_text
from shopsim.app.state import (
    Draft,
    current_draft,
    drop_draft,
    find_keeper,
    former_draft,
    link_to,
    replace_draft,
    take_back_former,
)
from shopsim.limits import MAX_DRAFT_DAYS, MAX_FILE_BYTES


def show() -> None:
    """Draw the page."""
    st.write(
        "Say what your shop has, what a piece takes, and how many are ordered. The program runs that shop many "
        "times over, with good luck and bad, and tells you which batch size to make, whether more clamps would "
        "pay, and which date you can promise."
    )
    draft = current_draft()
    if draft is None:
        _draw_beginnings(None)
    else:
        _draw_draft(draft)
        with st.expander("Start from something else"):
            _draw_beginnings(draft)
    _draw_keeping(draft)


def _draw_draft(draft: Draft) -> None:
    st.header(f"You are working on {escape_markdown(draft.name)}", anchor=False)
    if draft.scenario is not None:
        st.write(f"{escape_markdown(draft.scenario.title)}. Nothing is wrong with it.")
        with st.container(horizontal=True):
            link_to("shop", "Look at the shop")
            link_to("glance", "The run at a glance")
            link_to("batches", "Which batch size?")
            link_to("clamps", "More clamps?")
            link_to("delivery", "Which date to promise?")
    else:
        count = len(draft.faults)
        st.write(f"{'One thing is' if count == 1 else f'{count} things are'} wrong with it:")
        draw_faults(draft.faults)
    for place in pending_tables():
        st.warning(f"Not applied yet: edits of {escape_markdown(place)}.")
    st.download_button(
        "Download the file", draft.text.encode(), draft.name, "application/toml", key="download file", on_click="ignore",
        help="The scenario as a TOML file, your comments kept. Upload it again to go on, on any computer.",
    )  # fmt: skip
    draw_files_beside(draft)
    with st.expander("The file itself", expanded=draft.scenario is None):
        draw_file_itself(draft)


def _draw_beginnings(draft: Draft | None) -> None:
    if draft is not None:
        st.write("This takes the place of what you work on now, which you can take back once.")
    st.header("An example", anchor=False)
    chosen = st.radio("Which example", list(EXAMPLES), format_func=lambda name: EXAMPLES[name], key="example")
    if st.button("Start from this example", type="primary" if draft is None else "secondary", key="take example"):
        _begin(example_text(chosen), chosen)
    st.header("A file of your own", anchor=False)
    file = st.file_uploader(
        "A scenario file you have", key="scenario upload", max_upload_size=5,
        help=f"A TOML file of at most {MAX_FILE_BYTES // 1_000_000} MB, such as one downloaded here.",
    )  # fmt: skip
    if file is not None:
        name = file_name(file.name)
        mark = f"{file.file_id}"
        if st.session_state.get("upload taken") != mark:
            with drawn_anew():
                replace_draft(read_upload(file.getvalue(), name), name)
                st.session_state["upload taken"] = mark
    st.header("Blank", anchor=False)
    if st.button("Start with a blank one", key="take blank"):
        _begin(blank_text(dt.date.today()), BLANK_NAME)


def _begin(text: str, name: str) -> None:
    replace_draft(text, name)
    st.rerun()


def _draw_keeping(draft: Draft | None) -> None:
    keeper = find_keeper()
    former = former_draft()
    if former is not None and st.button(f"Take back {escape_markdown(former.name)}, as it was before", key="take back"):
        take_back_former()
        st.rerun()
    if keeper.trouble:
        st.warning(
            f"Drafts are held in memory alone, and lost when the program ends: {escape_markdown(keeper.trouble)}. "
            "Download the file before you stop."
        )
    st.caption(
        f"What you do here is kept on this computer, in {escape_markdown(str(keeper.folder))}, until {MAX_DRAFT_DAYS} days "
        "after the last change. The address of this page leads back to it: keep it as a bookmark, and do not give it "
        "to others. Nothing is sent anywhere."
    )
    if draft is None:
        return
    with st.popover("Forget this draft"):
        st.write("This removes it from this computer for good, with what it took the place of.")
        if st.button("Yes, forget it", key="forget"):
            drop_draft()
            st.rerun()
