"""It holds that a maker can start from an example, a file or a blank one, and gets back what was put in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft
from shopsim.app.start_choices import EXAMPLES, example_text

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"

Open = Callable[..., AppTest]
DraftOf = Callable[[AppTest], Draft]
Words = Callable[[AppTest], str]


def test_a_first_visit_says_what_it_is_for_and_offers_three_ways(open_page: Open, words_on: Words) -> None:
    page = open_page("start", None)
    assert not page.exception
    assert "which date you can promise" in words_on(page)
    assert [button.label for button in page.button] == ["Start from this example", "Start with a blank one"]
    assert page.get("file_uploader")[0].label == "A scenario file you have"


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_every_example_is_taken_as_it_stands(open_page: Open, draft_of: DraftOf, number: int) -> None:
    page = open_page("start", None)
    name = list(EXAMPLES)[number]
    page.radio(key="example").set_value(name)
    page.button(key="take example").click().run()
    assert not page.exception
    draft = draft_of(page)
    assert (draft.name, draft.text) == (name, (SCENARIOS / name).read_text(encoding="utf-8"))
    assert draft.faults == ()


def test_the_examples_of_the_app_are_those_of_the_scenarios_folder() -> None:
    for name in EXAMPLES:
        assert example_text(name) == (SCENARIOS / name).read_text(encoding="utf-8"), f"copy scenarios/{name} again"


def test_a_blank_one_has_nothing_wrong_and_starts_on_a_monday_to_come(open_page: Open, draft_of: DraftOf) -> None:
    page = open_page("start", None)
    page.button(key="take blank").click().run()
    scenario = draft_of(page).scenario
    assert scenario is not None
    assert scenario.day0.weekday() == 0


def test_an_uploaded_file_becomes_the_draft_letter_for_letter(open_page: Open, draft_of: DraftOf, small: str) -> None:
    page = open_page("start", None)
    page.get("file_uploader")[0].set_value(("my trays.toml", small.encode(), "application/toml")).run()
    draft = draft_of(page)
    assert (draft.name, draft.text) == ("my trays.toml", small)
    first = draft.fingerprint
    page.get("file_uploader")[-1].set_value(("again.toml", draft.text.encode(), "application/toml")).run()
    assert draft_of(page).fingerprint == first


def test_a_faulty_upload_shows_every_fault_with_its_line_and_its_text_to_mend(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    faulty = small.replace('"45 min"', '"45 mni"').replace("count = 4", "count = 1")
    page = open_page("start", None)
    page.get("file_uploader")[0].set_value(("trays.toml", faulty.encode(), "application/toml")).run()
    assert not page.exception
    said = words_on(page)
    for fault in draft_of(page).faults:
        assert fault.rule in said
        assert fault.mend in said
        assert f"line {fault.line}" in said
    assert len(draft_of(page).faults) == 2
    assert page.text_area[0].value == faulty
    page.text_area[0].set_value(small).run()
    page.button(key="apply text").click().run()
    assert draft_of(page).faults == ()
    assert "Nothing is wrong with it" in words_on(page)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is an empty file"),
        (b"\x00\x01\x02", "NUL byte"),
        (b"\x89PNG\r\n\x1a\n\xff", "is no text"),
        (b"title = '\xe9t\xe9'\n", "UTF-8"),
        (b"a = 1\n" * 200_000, "is larger than"),
    ],
)
def test_what_is_no_scenario_text_is_refused_in_words_and_nothing_is_taken(
    open_page: Open, words_on: Words, data: bytes, said: str
) -> None:
    page = open_page("start", None)
    page.get("file_uploader")[0].set_value(("thing.toml", data, "application/octet-stream")).run()
    assert not page.exception
    assert said in words_on(page)
    assert "You are working on" not in words_on(page)


def test_text_that_is_no_toml_is_kept_to_be_mended(open_page: Open, draft_of: DraftOf, words_on: Words) -> None:
    page = open_page("start", "this is no file\n")
    assert not page.exception
    assert "a key has no = after it" in words_on(page)
    assert page.text_area[0].value == "this is no file\n"
    assert draft_of(page).fingerprint == ""


def test_text_that_is_not_applied_stays_and_is_said_to(open_page: Open, draft_of: DraftOf, words_on: Words) -> None:
    page = open_page("start")
    page.text_area[0].set_value("half done").run()
    assert draft_of(page).text != "half done"
    assert "Not applied yet" in words_on(page)
    page.run()
    assert page.text_area[0].value == "half done"
    page.button(key="undo text").click().run()
    assert page.text_area[0].value == draft_of(page).text


def test_the_draft_before_can_be_taken_back(open_page: Open, draft_of: DraftOf, small: str) -> None:
    page = open_page("start")
    page.button(key="take blank").click().run()
    assert draft_of(page).text != small
    page.button(key="take back").click().run()
    assert (draft_of(page).name, draft_of(page).text) == ("trays.toml", small)


def test_a_file_that_the_scenario_names_can_be_put_beside_it(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    text = small.replace("orders = 2", 'orders = "orders.csv"')
    page = open_page("start", text)
    assert "other files are not read here" in words_on(page)
    book = b"order,date,quantity\n1,2027-01-04,1\n2,2027-01-05,2\n"
    page.get("file_uploader")[0].set_value(("whatever.csv", book, "text/csv")).run()
    assert not page.exception
    draft = draft_of(page)
    assert dict(draft.beside) == {"orders.csv": book}
    assert draft.scenario is not None


def test_forgetting_a_draft_leaves_nothing_on_the_disk(open_page: Open, draft_folder: Path, words_on: Words) -> None:
    page = open_page("start")
    assert len(list(draft_folder.glob("*.json"))) == 1
    page.button(key="forget").click().run()
    assert list(draft_folder.glob("*.json")) == []
    assert "You are working on" not in words_on(page)


def test_names_and_titles_of_a_stranger_stay_text(open_page: Open, words_on: Words) -> None:
    page = open_page("start", 'title = "<b>**x** :red[y] $z$</b>"\n[shop]\nopen = "always"\n', "*n*.toml")
    assert not page.exception
    assert any(r"\*n\*" in header.value for header in page.header)
