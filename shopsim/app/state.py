"""What a browser session is working on: its draft, and what its controls were last set to.

A page asks here and nowhere else. Drafts outlive the session: a token that cannot be guessed stands
in the address of the page, and whoever opens that address again goes on where they were.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import streamlit as st

from shopsim.app.drafts import UNNAMED, Draft, edit_draft, make_draft, put_beside
from shopsim.app.faults import draw_faults, page_of
from shopsim.app.keeping import Keeper, default_folder, new_token
from shopsim.errors import Fault, InputError
from shopsim.scenario import Scenario

#: The query parameter that holds the token of a draft.
PARAMETER = "draft"
_TOKEN = "shopsim token"
_PAGES = "shopsim pages"
_LOG_BEFORE = "run log before"
#: What can be mended on each page.
_MEND = {"shop": "the shop", "piece": "the piece", "orders": "orders and batches", "start": "the file itself"}

__all__ = [
    "PARAMETER",
    "Draft",
    "begin_run_log",
    "change_beside",
    "change_draft",
    "current_draft",
    "drop_draft",
    "find_keeper",
    "find_log_file",
    "former_draft",
    "has_former_log",
    "link_to",
    "link_to_faults",
    "need_draft",
    "need_scenario",
    "open_session",
    "remember",
    "remember_all",
    "remembered",
    "replace_draft",
    "rewrite_draft",
    "set_pages",
    "take_back_former",
    "take_back_former_log",
]  # fmt: skip


@st.cache_resource(show_spinner=False)
def _keeper_of(folder: str) -> Keeper:
    return Keeper(Path(folder))


def find_keeper() -> Keeper:
    """Where drafts are kept; one for all sessions of this server."""
    return _keeper_of(str(default_folder()))


def open_session() -> None:
    """Find the draft that the address names, and keep its token in the address; once at the head of every run."""
    if _TOKEN not in st.session_state:
        asked = str(st.query_params.get(PARAMETER, ""))
        # a token nobody has kept anything under is not taken over: it may have been thought up by somebody else
        st.session_state[_TOKEN] = asked if asked and find_keeper().fetch(asked) is not None else new_token()
    _name_in_address()


def _token() -> str:
    if _TOKEN not in st.session_state:
        open_session()
    return str(st.session_state[_TOKEN])


def _name_in_address() -> None:
    token = st.session_state[_TOKEN]
    if st.query_params.get(PARAMETER) != token and find_keeper().fetch(token) is not None:
        st.query_params[PARAMETER] = token


def current_draft() -> Draft | None:
    """The draft of this session, None on a first visit."""
    kept = find_keeper().fetch(_token())
    return kept.draft if kept is not None else None


def _keep(draft: Draft) -> Draft:
    find_keeper().keep_draft(_token(), draft)
    _name_in_address()
    return draft


def replace_draft(text: str, name: str = UNNAMED, beside: Mapping[str, bytes] | None = None) -> Draft:
    """Put another text in the place of the draft, faults and all; the old one can be taken back once.

    What controls remember of the old one is let go.
    """
    draft = make_draft(text, name, beside)
    find_keeper().begin_draft(_token(), draft)
    _name_in_address()
    return draft


def former_draft() -> Draft | None:
    """The draft that was replaced last, None where none was."""
    kept = find_keeper().fetch(_token())
    return kept.former if kept is not None else None


def take_back_former() -> None:
    """Put the draft that was replaced last back in its place; the present one becomes the former."""
    find_keeper().take_back_former(_token())


def find_log_file() -> Path:
    """The file of the log of this draft's run, which need not be there yet; only ever added to, with ``append_row``."""
    return find_keeper().find_run_log(_token())


def begin_run_log(data: bytes) -> None:
    """Put a log in place of the one that there is, which can be taken back; raises InputError where it cannot be written."""
    remember(_LOG_BEFORE, find_keeper().begin_run_log(_token(), data) or "first")


def has_former_log() -> bool:
    """Whether a log was put in place of another one."""
    return remembered(_LOG_BEFORE) is not None


def take_back_former_log() -> None:
    """Go back to the log that was there before the last one was put in its place."""
    mark = remembered(_LOG_BEFORE)
    if mark is not None:
        find_keeper().choose_run_log(_token(), "" if mark == "first" else str(mark))
        remember(_LOG_BEFORE, None)


def change_draft(changes: Mapping[str, Any]) -> Draft:
    """Change values in the text of the draft, ``{"run.batch": 5}``, comments kept; None takes a key out.

    Faults that this brings in stay in the draft. Raises InputError where there is no draft, where a
    place is not there, or where it cannot be changed alone.
    """
    return _keep(edit_draft(_need_any(), changes))


def rewrite_draft(text: str) -> Draft:
    """Put a new text under the same name, with the same files beside it and the controls as they are."""
    draft = _need_any()
    return _keep(make_draft(text, draft.name, draft.beside))


def change_beside(name: str, data: bytes | None) -> Draft:
    """Add or replace a file beside the draft, or (None) take it away; raises InputError for too many or too much."""
    return _keep(put_beside(_need_any(), name, data))


def drop_draft() -> None:
    """Forget the draft and everything remembered with it, in memory and on the disk."""
    find_keeper().forget(_token())
    st.session_state[_TOKEN] = new_token()
    st.query_params.pop(PARAMETER, None)


def _need_any() -> Draft:
    draft = current_draft()
    if draft is None:
        raise InputError("there is no scenario yet · start from an example, a file or a blank one")
    return draft


def need_draft() -> Draft:
    """The draft, faults and all; where there is none the start page is offered, and the page ends here."""
    draft = current_draft()
    if draft is None:
        st.info("There is no scenario yet. Start from an example, a file of your own, or a blank one.")
        link_to("start", "Go to the start")
        st.stop()
    return draft


def need_scenario() -> Scenario:
    """The scenario, for pages that run it; where it has faults they are shown, and the page ends here."""
    draft = need_draft()
    if draft.scenario is None:
        count = len(draft.faults)
        st.header("First mend what is wrong")
        st.write(
            f"{'One thing' if count == 1 else f'{count} things'} in the scenario cannot be so. "
            "Answers are worked out as soon as it is mended."
        )
        draw_faults(draft.faults)
        link_to_faults(draft.faults)
        st.stop()
    return draft.scenario


def link_to_faults(faults: Iterable[Fault], but_not: str = "") -> None:
    """Links to the pages on which faults can be mended, each with how many there are; none to the page ``but_not``."""
    counts = Counter(page_of(fault) for fault in faults)
    pages = [page for page in _MEND if counts[page] and page != but_not]
    if pages:
        with st.container(horizontal=True):
            for page in pages:
                link_to(page, f"Mend {_MEND[page]} ({counts[page]})")


def remembered(key: str, default: Any = None) -> Any:
    """What was last remembered under a key with this draft; it survives page changes, reloads and restarts."""
    kept = find_keeper().fetch(_token())
    return kept.values.get(key, default) if kept is not None else default


def remember(key: str, value: Any) -> None:
    """Keep a plain value (text, number, date, list or table of them) with the draft; None forgets it."""
    remember_all({key: value})


def remember_all(values: Mapping[str, Any]) -> None:
    """Keep several values at once."""
    find_keeper().keep_values(_token(), values)
    _name_in_address()


def set_pages(pages: Mapping[str, Any]) -> None:
    """Tell by name where the pages of the app are, so that any page can lead to another."""
    st.session_state[_PAGES] = dict(pages)


def link_to(page: str, label: str) -> None:
    """A link to a page of the app by its name, as ``main.py`` lists them; nothing where a page stands alone."""
    pages = st.session_state.get(_PAGES, {})
    if page in pages:
        st.page_link(pages[page], label=label)
