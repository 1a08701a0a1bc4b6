"""Two results side by side: one is kept under a name, and set beside what another setting gives."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd
import streamlit as st

from shopsim.app.answer_view import draw_table, keep_dates
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import remember, remembered

#: Results that are kept at once, and rows of the table of each.
MAX_KEPT, MAX_ROWS = 6, 40
_KEPT = "kept results"
_NOBODY = "nothing"


def draw_beside(slot: str, title: str, said: Sequence[str], sentence: str, table: pd.DataFrame) -> None:
    """Offer to keep a result, and set one that was kept beside it. ``title``: what it answers; ``said``: its what-ifs."""
    kept = [one for one in remembered(_KEPT, []) if isinstance(one, Mapping)]
    mine = {str(one["name"]): one for one in kept if one["title"] == title}
    with st.expander("Set two results side by side", expanded=bool(mine)):
        settings = ", ".join(said) or "as in the file"
        with st.container(horizontal=True, vertical_alignment="bottom"):
            name = st.text_input(
                "A name for this result", settings[:80], max_chars=80, key=f"{slot} keep name {settings}", width=300
            )
            if st.button("Keep this result", key=f"{slot} keep"):
                _keep(kept, title, name.strip() or settings, settings, sentence, table)
                st.rerun()
        if not mine:
            st.markdown("Keep this one, change a number above, and the two stand side by side here.")
            return
        with st.container(horizontal=True, vertical_alignment="bottom"):
            chosen = st.selectbox(
                "Set beside it", [*mine, _NOBODY], len(mine) - 1, key=f"{slot} beside {len(mine)} {list(mine)[-1]}",
                width=300,
            )  # fmt: skip
            if chosen != _NOBODY and st.button("Let it go", key=f"{slot} let go"):
                remember(_KEPT, [one for one in kept if not (one["title"] == title and one["name"] == chosen)] or None)
                st.rerun()
        if chosen == _NOBODY:
            return
        old = mine[chosen]
        here, there = st.columns(2)
        with here:
            _draw(f"Kept: {old['name']}", str(old["said"]), str(old["sentence"]), pd.DataFrame(old["rows"]))
        with there:
            _draw("Now", settings, sentence, table.head(MAX_ROWS))


def _draw(heading: str, settings: str, sentence: str, table: pd.DataFrame) -> None:
    st.markdown(f"## {escape_markdown(heading)}")
    st.caption(escape_markdown(settings))
    st.markdown(keep_dates(escape_markdown(sentence)))
    draw_table(table)


def _keep(
    kept: Sequence[Mapping[str, Any]], title: str, name: str, settings: str, sentence: str, table: pd.DataFrame
) -> None:
    """Keep a result in place of one of the same name; the oldest goes where there are too many."""
    others = [one for one in kept if not (one["title"] == title and one["name"] == name)]
    rows = [{str(key): str(value) for key, value in row.items()} for row in table.head(MAX_ROWS).to_dict("records")]
    new = {"title": title, "name": name, "said": settings, "sentence": sentence, "rows": rows}
    remember(_KEPT, [*others, new][-MAX_KEPT:])
