"""Pages of the app, drawn without a browser: each with a draft of its own in a folder of the test's own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft
from shopsim.app.keeping import FOLDER_VARIABLE
from shopsim.app.state import find_keeper

from .hands import Hands

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"

#: A small scenario that is quick to read and to run.
SMALL = """\
title = "Two trays" # a remark to keep

[shop]
open = { mon-fri = "09:00-17:00" } # hours to keep

[[shop.workers]]
name = "maker"

[[shop.stations]]
name = "bench" # oak, old

[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 4 # borrowed

[design]
name = "tray"
parts = { "side" = 4 }

[[design.operations]]
name = "cut sides" # by hand
per = "side"
station = "bench"
work = "5 min"

[[design.operations]]
name = "glue up"
station = "bench"
work = "10 min"
clamps = [{ count = 2, reach = "18 in" }]
in_clamps = "45 min"
caution = "glue-up"

[run]
orders = 2 # both for neighbours
batch = 2
start = 2027-01-11
"""


def _draw(page: str, text: str | None, name: str, beside: dict[str, bytes]) -> None:
    import streamlit

    from shopsim.app.main import draw_page
    from shopsim.app.state import open_session, replace_draft

    open_session()
    if text is not None and "begun" not in streamlit.session_state:
        streamlit.session_state["begun"] = True
        replace_draft(text, name, beside)
    draw_page(page)


@pytest.fixture(autouse=True)
def draft_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Drafts of a test are kept in a folder of its own."""
    folder = tmp_path / "drafts"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


@pytest.fixture
def small() -> str:
    """The text of a small scenario with comments."""
    return SMALL


@pytest.fixture
def open_page() -> Callable[..., AppTest]:
    """Draws one page in a new session: ``open_page("shop", text)``, or without a text as on a first visit."""

    def draw(page: str, text: str | None = SMALL, name: str = "trays.toml", **beside: bytes) -> AppTest:
        files = {key.replace("_csv", ".csv").replace("_toml", ".toml"): data for key, data in beside.items()}
        return AppTest.from_function(_draw, args=(page, text, name, files), default_timeout=30).run()

    return draw


@pytest.fixture
def draft_of() -> Callable[[AppTest], Draft]:
    """The draft that a drawn page works on."""

    def fetch(page: AppTest) -> Draft:
        kept = find_keeper().fetch(page.session_state["shopsim token"])
        assert kept is not None
        assert kept.draft is not None
        return kept.draft

    return fetch


@pytest.fixture
def words_on() -> Callable[[AppTest], str]:
    """All text that a page shows, fault blocks included, without what escapes markup."""

    def read(page: AppTest) -> str:
        said: list[Any] = [*page.markdown, *page.caption, *page.error, *page.warning, *page.info, *page.header]
        return "\n".join(str(part.value) for part in said).replace("\\", "")

    return read


@pytest.fixture
def hands() -> Hands:
    """What finds and changes things on a page."""
    return Hands()
