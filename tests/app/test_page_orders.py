"""It holds that orders, batches, materials and shipping are put down on one page, and every fault stands by its field."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft
from shopsim.app.start_choices import EXAMPLES, example_text
from shopsim.app.titles import say_field

from .hands import Hands

Open = Callable[..., AppTest]
DraftOf = Callable[[AppTest], Draft]
Words = Callable[[AppTest], str]


def run_of(draft: Draft) -> dict[str, Any]:
    """The table of the run as the file has it."""
    assert draft.data is not None
    return dict(draft.data["run"])


@pytest.mark.parametrize("name", list(EXAMPLES))
def test_every_example_is_shown_without_a_change(open_page: Open, draft_of: DraftOf, name: str) -> None:
    page = open_page("orders", example_text(name), name)
    page.run()
    assert not page.exception
    assert not page.error
    assert draft_of(page).text == example_text(name)


def test_numbers_days_and_choices_go_into_the_file_at_once(open_page: Open, draft_of: DraftOf, hands: Hands) -> None:
    page = open_page("orders")
    hands.field(page, "How many are ordered").set_value(9).run()
    hands.field(page, "Pieces in a batch").set_value(3).run()
    hands.field(page, "Orders close on").set_value(dt.date(2027, 1, 8)).run()
    hands.field(page, "What comes first when somebody is free").set_value("oldest batch").run()
    hands.field(page, "What this run is called").set_value("Nine trays").run()
    hands.field(page, "The carrier comes on").set_value("tue, fri").run()
    draft = draft_of(page)
    assert draft.faults == ()
    assert run_of(draft) == {
        "orders": 9, "batch": 3, "start": dt.date(2027, 1, 11), "orders_close": dt.date(2027, 1, 8),
        "priority": "oldest batch",
    }  # fmt: skip
    assert draft.data is not None
    assert (draft.data["title"], draft.data["shipping"]["pick_up"]) == ("Nine trays", ["tue", "fri"])
    assert "orders = 9 # both for neighbours" in draft.text
    assert 'title = "Nine trays" # a remark to keep' in draft.text


def test_a_number_that_cannot_be_is_shown_as_the_file_has_it_and_called_by_its_field(
    open_page: Open, draft_of: DraftOf, hands: Hands
) -> None:
    text = example_text("serving-trays.toml").replace("[run]", "[run]\nround_up_to = -2")
    page = open_page("orders", text)
    page.run()
    assert draft_of(page).text == text, "looking at a page changes nothing"
    assert "Round up to a multiple of" in page.error[0].value
    assert "run.round" not in page.error[0].value
    hands.field(page, "Round up to a multiple of").set_value("-3").run()
    assert run_of(draft_of(page))["round_up_to"] == -3
    hands.field(page, "Round up to a multiple of").set_value("4").run()
    assert draft_of(page).faults == ()


def test_an_emptied_field_leaves_the_file_and_says_what_then_holds(
    open_page: Open, draft_of: DraftOf, hands: Hands
) -> None:
    page = open_page("orders")
    hands.field(page, "Round up to a multiple of").set_value(4).run()
    assert run_of(draft_of(page))["round_up_to"] == 4
    hands.field(page, "Round up to a multiple of").set_value(None).run()
    assert "round_up_to" not in run_of(draft_of(page))
    assert hands.field(page, "Round up to a multiple of").placeholder == "(not said: 1)"


def test_a_field_shows_what_the_file_says_after_it_has_changed_elsewhere(
    open_page: Open, draft_of: DraftOf, hands: Hands, small: str
) -> None:
    from shopsim.app.drafts import make_draft
    from shopsim.app.state import find_keeper

    page = open_page("orders")
    hands.field(page, "Pieces in a batch").set_value(1).run()
    find_keeper().keep_draft(page.session_state["shopsim token"], make_draft(small.replace("batch = 2", "batch = 7")))
    page.run()
    assert hands.field(page, "Pieces in a batch").value == 7
    assert run_of(draft_of(page))["batch"] == 7


def test_all_faults_are_told_each_below_its_field(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    faulty = (
        small.replace("batch = 2", 'batch = "few"')
        .replace("orders = 2", "orders = -1")
        .replace("2027-01-11", "1066-10-14")
    )
    page = open_page("orders", faulty)
    assert not page.exception
    faults = draft_of(page).faults
    assert len(faults) == 3
    blocks = [error.value.replace("\\", "") for error in page.error]
    assert len(blocks) == 3
    for fault in faults:
        assert any(fault.rule in block and fault.mend in block and say_field(fault.place) in block for block in blocks)
    assert "3 things are wrong, on this page" in words_on(page)


def test_a_book_of_orders_is_uploaded_listed_and_turned_back_into_a_number(
    open_page: Open, draft_of: DraftOf, words_on: Words
) -> None:
    page = open_page("orders")
    page.radio[0].set_value("A book of orders").run()
    book = b"order,date,quantity\nA1,2027-01-04,1\nA2,2027-01-05,2\n"
    page.get("file_uploader")[0].set_value(("my orders.csv", book, "text/csv")).run()
    assert not page.exception
    draft = draft_of(page)
    assert run_of(draft)["orders"] == "my orders.csv"
    assert "2 orders, 3 pieces" in words_on(page)
    assert list(page.dataframe[0].value["order"]) == ["A1", "A2"]
    page.radio[0].set_value("A number").run()
    assert next(part for part in page.number_input if part.key == "orders instead of book").value == 3
    page.button(key="drop book").click().run()
    assert run_of(draft_of(page))["orders"] == 3


def test_faults_in_the_book_are_told_with_its_rows(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    text = small.replace("orders = 2", 'orders = "book.csv"')
    page = open_page("orders", text, book_csv=b"order,date,quantity\n1,2027-01-04,none\n2,someday,1\n")
    assert not page.exception
    assert len(draft_of(page).faults) == 2
    for fault in draft_of(page).faults:
        assert fault.rule in words_on(page)


def test_an_uploaded_file_cannot_read_other_files(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    secret = tmp_path_factory.mktemp("secret") / "secret.csv"
    secret.write_text("order,date,quantity\nsecret-order,2027-01-04,1\n")
    for name in (str(secret), f"../{secret.name}", "/etc/hostname.csv"):
        page = open_page("orders", small.replace("orders = 2", f'orders = "{name}"'))
        assert not page.exception
        assert draft_of(page).scenario is None
        assert "secret-order" not in words_on(page)


def test_materials_are_a_table(open_page: Open, draft_of: DraftOf, hands: Hands) -> None:
    page = open_page("orders")
    page.button(key="Add one below materials").click().run()
    hands.edit_grid(page, "materials", {0: {"needed_by": "cut sides, glue up"}})
    page.button(key="apply materials").click().run()
    draft = draft_of(page)
    assert draft.faults == ()
    assert draft.data["materials"] == [  # type: ignore[index]
        {"name": "boards", "needed_by": ["cut sides", "glue up"], "lead": "1 / 3 / 7 d"}
    ]


def test_without_a_scenario_the_way_to_the_start_is_shown(open_page: Open, words_on: Words) -> None:
    for name in ("shop", "piece", "orders"):
        page = open_page(name, None)
        assert not page.exception
        assert "There is no scenario yet" in words_on(page)
