"""What several pages begin and end with."""

from __future__ import annotations

import streamlit as st

from shopsim.app.faults import draw_faults
from shopsim.app.state import Draft, link_to, need_draft
from shopsim.app.texts import escape_markdown


def begin_page() -> Draft:
    """The draft of an editing page; where its text is not TOML at all, that is said and the page ends."""
    draft = need_draft()
    if draft.data is None:
        st.write("The file cannot be read, so there is nothing to show here. Mend its text first.")
        draw_faults(draft.faults)
        link_to("start", "Mend the file itself")
        st.stop()
    title = escape_markdown(draft.scenario.title if draft.scenario is not None else draft.name)
    count = len(draft.faults)
    left = "nothing is wrong" if count == 0 else "one thing is wrong" if count == 1 else f"{count} things are wrong"
    st.caption(f"{title}: {left}." + (" Below, each stands beside what it is about." if count else ""))
    return draft


def stands_elsewhere(draft: Draft, key: str) -> bool:
    """Whether a table stands in a file of its own; then that is said, and where it can be changed."""
    name = (draft.data or {}).get(key)
    if not isinstance(name, str):
        return False
    st.info(f"This stands in a file of its own, {escape_markdown(name)}. Change it there, on the start page.")
    link_to("start", "Go to the start page")
    return True


def draw_next(page: str, label: str) -> None:
    """The way on to the next page."""
    st.divider()
    link_to(page, label)
