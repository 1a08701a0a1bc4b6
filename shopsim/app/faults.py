"""Faults on the page, in the words of ``shopsim check``: all at once, beside what they are about."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

import streamlit as st

from shopsim.app.markdown_text import escape_markdown
from shopsim.app.titles import say_field, say_mend
from shopsim.errors import Fault, InputError

#: Faults that are drawn in one place before the rest is counted.
MAX_SHOWN = 50
_DRAWN = "faults drawn"
#: Pages on which the tables of a file are edited; whatever else is wrong is mended on the start page.
_PAGES = {
    "shop": "shop", "luck": "shop", "design": "piece", "designs": "piece",
    "run": "orders", "materials": "orders", "shipping": "orders", "money": "orders",
}  # fmt: skip


def faults_at(faults: Iterable[Fault], prefix: str = "") -> list[Fault]:
    """Those whose place begins with ``prefix`` and goes on with another step, or ends there; all for ""."""
    if not prefix:
        return list(faults)
    return [fault for fault in faults if is_under(fault.place, prefix)]


def is_under(place: str, prefix: str) -> bool:
    """Whether a place in words is ``prefix`` or stands within it."""
    return place == prefix or (place.startswith(prefix) and place[len(prefix)] in ". [·\"'")


def page_of(fault: Fault) -> str:
    """The page, by its name, on which a fault can be mended."""
    if fault.file.lower().endswith(".csv"):
        return "orders"
    return _PAGES.get(re.split(r"[. \[]", fault.place, maxsplit=1)[0], "start")


def begin_counting() -> None:
    """From here on it is remembered which faults are drawn."""
    st.session_state[_DRAWN] = set()


def not_drawn(faults: Iterable[Fault]) -> list[Fault]:
    """Those that have not been drawn since ``begin_counting``."""
    drawn = st.session_state.get(_DRAWN, set())
    return [fault for fault in faults if fault not in drawn]


def say_fault(fault: Fault) -> str:
    """One fault as a line of markdown: the field as its page calls it, what is wrong, what mends it, and the file's line."""
    where = f"{fault.file}, line {fault.line}" if fault.line is not None else fault.file
    what = " · ".join(part for part in (say_field(fault.place), fault.rule) if part)
    return f"{escape_markdown(what)}  \n**Mend:** {escape_markdown(say_mend(fault.mend))} ({escape_markdown(where)})"


def draw_faults(faults: Sequence[Fault]) -> bool:
    """Draw faults as one block; True if there are any."""
    if not faults:
        return False
    st.session_state.setdefault(_DRAWN, set()).update(faults)
    said = [f"- {say_fault(fault)}".replace("\n", "\n  ") for fault in faults[:MAX_SHOWN]]
    if len(faults) > MAX_SHOWN:
        said.append(f"- and {len(faults) - MAX_SHOWN:,} more")
    st.error("\n".join(said))
    return True


def draw_problem(error: Exception) -> None:
    """Draw one refusal, with its place and its mend as the error says them."""
    st.error("  \n".join(escape_markdown(line) for line in str(error).splitlines()))


@contextmanager
def drawn_anew() -> Iterator[None]:
    """What is changed in here shows on a page that is drawn anew at its end; a refusal is drawn, and the page goes on."""
    try:
        yield
    except InputError as error:
        draw_problem(error)
    else:
        st.rerun()
