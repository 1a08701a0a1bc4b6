"""It holds that what to buy and what is left have their pages, with the number of orders on a slider and files to keep."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft

Open = Callable[..., AppTest]
Words = Callable[[AppTest], str]

PRICED = """\
title = "Four trays"
[shop]
open = { mon-fri = "09:00-17:00" }
[design]
name = "tray"
price = 90
goods = [{ material = "slats", amount = 2 }]
[[design.operations]]
name = "make"
work = "60 / 90 / 150 min"
[[materials]]
name = "slats"
needed_by = "make"
lead = "1 / 3 / 7 d"
unit = "slat"
price = 4.25
[money]
currency = "EUR"
wage = 20
[run]
orders = 4
orders_close = 2027-01-04
start = 2027-01-11
"""


@pytest.fixture(autouse=True)
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers rest on fifty runs, so that a test is short."""
    for page in ("buying_page", "worth_page"):
        monkeypatch.setattr(f"shopsim.app.pages.{page}.USUAL", 50)


def finish(page: AppTest, slot: str) -> AppTest:
    """The page once its job has ended."""
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        job = page.session_state[f"shopsim job {slot}"].job
        if job.state != "running":
            return page.run()
        job.wait(1)
        page.run()
    raise AssertionError(f"the job of {slot} did not end")


def test_what_to_buy_is_a_page_with_its_list(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("buying", PRICED), "buying")
    assert not page.exception
    assert not page.error
    # four trays of two slats at 4.25
    assert "Buy 8 slats: that is enough with a chance of 90 %" in words_on(page)
    assert "EUR 34.00" in words_on(page)
    assert len([one for one in page.main if one.type == "plotly_chart"]) == 0


def test_the_number_of_orders_is_on_a_slider(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("worth", PRICED), "worth")
    assert not page.exception
    assert "4 orders bring EUR 360.00; costs take EUR 34.00" in words_on(page)
    assert len([one for one in page.main if one.type == "plotly_chart"]) == 2
    (slider,) = page.select_slider
    assert slider.value == 4
    page = slider.set_value(6).run()
    assert not page.exception
    # six trays at 90 less two slats each at 4.25: 540.00 - 51.00
    assert "EUR 489.00" in page.table[0].value.to_string()


def test_a_file_without_a_price_is_told_what_to_add(open_page: Open) -> None:
    page = open_page("worth", PRICED.replace("price = 90\n", ""))
    assert not page.exception
    assert "add price = 480 to its design" in " ".join(
        [
            *(one.value for one in page.error),
            *(one.value for one in page.markdown),
            *(one.value for one in page.warning),
        ]
    )


def test_prices_and_money_are_put_down_on_the_pages(open_page: Open, draft_of: Callable[[AppTest], Draft]) -> None:
    page = open_page("piece", PRICED)
    (price,) = [one for one in page.text_input if one.label == "Price of a piece"]
    page = price.set_value("95.50").run()
    assert not page.exception
    draft = draft_of(page)
    assert draft.data is not None
    assert draft.data["design"]["price"] == 95.5
    assert draft.scenario is not None
    page = open_page("orders", PRICED)
    (wage,) = [one for one in page.text_input if one.label == "An hour of your own is to bring"]
    page = wage.set_value("many").run()
    assert "is not an amount of money" in " ".join(one.value for one in (*page.markdown, *page.error, *page.caption))
