"""The pages of the app in the order of a maker's questions, and what stands around each of them."""

from __future__ import annotations

import functools
import importlib
from importlib.util import find_spec

import streamlit as st

from shopsim.answers.from_now import FROM_NOW
from shopsim.app.faults import draw_problem
from shopsim.app.page_style import dress_page
from shopsim.app.state import open_session, set_pages
from shopsim.errors import ShopSimError
from shopsim.questions import KINDS

#: Pages by name, which with ``_page`` behind it is that of a module in ``pages/``, with the title a maker reads.
START = {"start": "Start"}
#: The first page once a scenario is there.
GLANCE = {"glance": "The run at a glance"}
DESCRIBE = {
    "shop": "The shop",
    "piece": "The piece",
    "orders": "Orders and batches",
}
#: Those of a run under way, beside the forecast from now.
UNDER_WAY = {"bench": "At the bench"}
#: Those of questions; one whose page has no module is drawn from its entry.
ANSWERS = {kind.page: kind.page_title for kind in KINDS if kind.page and kind.key != FROM_NOW}
NOW = {kind.page: kind.page_title for kind in KINDS if kind.key == FROM_NOW}
PAGES = {**START, **GLANCE, **DESCRIBE, **ANSWERS, **UNDER_WAY, **NOW}


def show_app() -> None:
    """Draw the app: the menu, and the page that the address names."""
    st.set_page_config(page_title="Small batches", layout="wide", initial_sidebar_state="auto")
    open_session()
    pages = {
        name: st.Page(functools.partial(draw_page, name), title=title, url_path=name, default=name == "start")
        for name, title in PAGES.items()
    }
    set_pages(pages)
    # one list without headings: the headings of this menu are lists that a screen reader cannot follow
    page = st.navigation(list(pages.values()), expanded=True)
    dress_page()
    page.run()


def draw_page(name: str) -> None:
    """Draw one page by its name; whatever the user's file causes is told in words."""
    open_session()
    st.title(PAGES[name], anchor=False)
    try:
        if find_spec(f"shopsim.app.pages.{name}_page") is not None:
            importlib.import_module(f"shopsim.app.pages.{name}_page").show()
        else:
            importlib.import_module("shopsim.app.asked_page").show(next(kind for kind in KINDS if kind.page == name))
    except ShopSimError as error:
        draw_problem(error)
    except MemoryError:
        st.error("There is not enough memory for this. Ask for fewer runs, orders or pieces.")
