"""The scenario's file itself as text to edit, and the files that it names."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import streamlit as st

from shopsim.app.drafts import Draft, read_upload
from shopsim.app.faults import draw_problem, drawn_anew
from shopsim.app.markdown_text import escape_markdown, file_name
from shopsim.app.state import change_beside, remember, remembered, rewrite_draft
from shopsim.errors import InputError
from shopsim.limits import MAX_FILE_BYTES
from shopsim.scenario.source import LISTS, TABLES


def draw_file_itself(draft: Draft) -> None:
    """The text of the file, or of one beside it, to edit; nothing is read before "Apply"."""
    names = [draft.name, *draft.beside]
    name = st.selectbox("Which file", names, key=f"which file {len(names)}") if len(names) > 1 else draft.name
    held = draft.text if name == draft.name else draft.beside[name].decode("utf-8", "replace")
    held = held.replace("\r\n", "\n")
    key = f"file text {name}"
    text = st.text_area(
        f"Text of {escape_markdown(name)}", remembered(key, held), 480, MAX_FILE_BYTES,
        key=f"{key} {hashlib.sha256(held.encode()).hexdigest()[:12]} {st.session_state.get(f'anew {key}', 0)}",
    )  # fmt: skip
    try:
        remember(key, text if text != held else None)
    except InputError as error:
        draw_problem(error)
    with st.container(horizontal=True):
        if st.button("Apply this text", key="apply text", type="primary" if text != held else "secondary"):
            with drawn_anew():
                _apply(draft, name, text)
                remember(key, None)
        if text != held and st.button("Undo", key="undo text"):
            remember(key, None)
            st.session_state[f"anew {key}"] = st.session_state.get(f"anew {key}", 0) + 1
            st.rerun()
    if text != held:
        st.caption("Not applied yet.")


def _apply(draft: Draft, name: str, text: str) -> None:
    if name == draft.name:
        rewrite_draft(read_upload(text.encode(), name))
    else:
        change_beside(name, text.encode())


def named_files(data: Mapping[str, Any]) -> list[str]:
    """The files that a scenario names: tables of their own, and orders."""
    named = [data.get(key) for key in TABLES]
    for key in LISTS:
        items = data.get(key)
        named += items if isinstance(items, list) else [items]
    run = data.get("run")
    if isinstance(run, Mapping):
        lines = run.get("lines")
        named.append(run.get("orders"))
        named += [line.get("orders") for line in lines if isinstance(line, Mapping)] if isinstance(lines, list) else []
    return list(
        dict.fromkeys(name for name in named if isinstance(name, str) and name.lower().endswith((".csv", ".toml")))
    )


def draw_files_beside(draft: Draft) -> None:
    """The files that the scenario names: those that are here to download, and a place to upload those that are not."""
    wanted = named_files(draft.data or {})
    for name in dict.fromkeys([*wanted, *draft.beside]):
        if name in draft.beside:
            with st.container(horizontal=True):
                st.download_button(
                    f"Download {escape_markdown(name)}",
                    draft.beside[name],
                    file_name(name),
                    key=f"download {name}",
                    on_click="ignore",
                )
                if name not in wanted and st.button(f"Take {escape_markdown(name)} away", key=f"drop {name}"):
                    change_beside(name, None)
                    st.rerun()
        draw_upload_beside(
            name,
            f"{'Another' if name in draft.beside else 'The file'} {escape_markdown(name)}, which the scenario names",
        )


def draw_upload_beside(name: str, label: str) -> None:
    """A place to upload the file that the scenario calls ``name``, whatever it is called elsewhere."""
    file = st.file_uploader(label, key=f"upload {name}", max_upload_size=5)
    if file is None or st.session_state.get(f"taken {name}") == file.file_id:
        return
    with drawn_anew():
        change_beside(name, file.getvalue())
        st.session_state[f"taken {name}"] = file.file_id
        st.toast(f"{escape_markdown(name)} is taken.")
