"""What the pages that describe the scenario begin and end with."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import streamlit as st

from shopsim.app.faults import begin_counting, draw_faults, not_drawn, page_of
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import Draft, link_to, link_to_faults, need_draft


@contextmanager
def editing_page(page: str) -> Iterator[Draft]:
    """The draft of an editing page; faults that no field of the page has shown are told at its head.

    Where the text is not TOML at all, that is said and the page ends.
    """
    draft = need_draft()
    if draft.data is None:
        st.write("The file cannot be read, so there is nothing to show here. Mend its text first.")
        draw_faults(draft.faults)
        link_to("start", "Mend the file itself")
        st.stop()
    title = escape_markdown(draft.scenario.title if draft.scenario is not None else draft.name)
    here = sum(page_of(fault) == page for fault in draft.faults)
    st.caption(f"{title}: {_say_count(len(draft.faults), here)}.")
    head = st.container()
    begin_counting()
    yield draft
    with head:
        draw_faults([fault for fault in not_drawn(draft.faults) if page_of(fault) == page])
        link_to_faults(draft.faults, but_not=page)


def _say_count(all_faults: int, here: int) -> str:
    if all_faults == 0:
        return "nothing is wrong"
    said = "one thing is wrong" if all_faults == 1 else f"{all_faults} things are wrong"
    if here == all_faults:
        return f"{said}, on this page"
    return f"{said}, {here or 'none'} on this page"


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
