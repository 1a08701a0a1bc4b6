"""Words to use: paragraphs that can be pasted as they are, rounded outward, each date said to be of shipping or arrival."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim.answers import Answer, forecast_delivery, write_words
from shopsim.answers.words import GENERAL
from shopsim.scenario import Scenario, parse_scenario

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
WEEK = '{ mon-fri = "08:00-16:00" }'
ONE_A_DAY = '{ name = "make", work = "8 h" }'
TODAY = dt.date(2027, 1, 6)


@pytest.fixture
def build(write_shop: Callable[..., str], tmp_path: Path) -> Callable[..., Scenario]:
    def make(run: str, book: str = "", operations: str = ONE_A_DAY, more: str = "", open: str = WEEK) -> Scenario:
        (tmp_path / "orders.csv").write_text(book)
        text = write_shop(operations, shop=CALM, run=run, more=more, open=open, start="2027-01-11")
        return parse_scenario(text, folder=tmp_path)

    return make


def words_of(scenario: Scenario, answer: Answer, **options: object) -> dict[tuple[str, str], str]:
    table = write_words(scenario, answer, today=TODAY, **options)  # type: ignore[arg-type]
    assert list(table.columns) == ["kind", "order", "text"]
    said = {(row.kind, row.order): row.text for row in table.itertuples()}
    for text in said.values():
        assert not re.search(r"[{}\[\]<>]|nan|None|\d{4}-\d\d|  |\n| 1 (orders|weeks|pieces|days|hours)\b", text), text
        assert text.endswith(".")
    return said


def ask(scenario: Scenario, **options: object) -> dict[tuple[str, str], str]:
    return words_of(scenario, forecast_delivery(scenario, replications=20, **options))  # type: ignore[arg-type]


def test_the_listing_gives_whole_weeks_and_says_what_it_counts_on(build: Callable[..., Scenario]) -> None:
    # orders 1 to 18 ship from Monday 11 January to Wednesday 3 February
    said = ask(build("orders = 18\nround_up_to = 4\nbatch = 5\norders_close = 2027-01-08"))
    assert said["listing", ""] == (
        "Trays are made to order. Orders close on 8 January 2027. Your order ships between Monday 11 January 2027 and "
        "Sunday 7 February 2027, within 5 weeks after orders close. That is when it leaves the workshop; the time on the "
        "way comes on top. This counts on 18 orders, on batches of 5 and on 40 hours a week in the workshop."
    )
    late = ask(build("orders = 3\nbatch = 1\norders_close = 2026-12-20"))
    assert "in the week of Monday 11 January 2027, 3 to 4 weeks after orders close." in late["listing", ""]
    assert "on pieces made one at a time" in late["listing", ""]


def test_each_buyer_is_told_their_order_batch_and_date(build: Callable[..., Scenario]) -> None:
    book = "id,date,quantity\nA3,2027-01-04,2\nA4,2027-01-05,1\n"
    said = ask(build('orders = "orders.csv"\nbatch = 2', book))
    assert said["buyer", "A3"] == (
        "Thank you for your order A3 of 4 January 2027: 2 trays, made in batch 1. I will ship them by 12 January 2027. "
        "That is the day they leave the workshop; the time on the way comes on top. This counts on batches of 2 and on 40 "
        "hours a week in the workshop."
    )
    assert said["buyer", "A4"].startswith(
        "Thank you for your order A4 of 5 January 2027: one tray, made in batch 2. I will ship it by 13 January 2027. "
        "That is the day it leaves the workshop"
    )
    assert list(said) == [("listing", ""), ("buyer", "A3"), ("buyer", "A4")]


def test_a_single_order_is_spoken_of_as_one(build: Callable[..., Scenario]) -> None:
    said = ask(build("orders = 1", open='{ mon = "08:00-09:00" }', operations='{ name = "make", work = "1 h" }'))
    assert (
        "This counts on 1 order, on pieces made one at a time and on 1 hour a week in the workshop."
        in said["listing", ""]
    )
    # nobody gave a closing date, so that none is told
    assert "Your order ships in the week of Monday 11 January 2027. That is when" in said["listing", ""]
    assert "close" not in said["listing", ""]
    assert said["buyer", "1"].startswith("Thank you for your order, number 1 in the queue: one tray, made in batch 1. ")


def test_making_and_carrying_are_told_apart(build: Callable[..., Scenario]) -> None:
    book = "id,date,destination\nnear,2027-01-04,here\nfar,2027-01-04,there\n"
    more = '[shipping]\ntransit = { here = "0 d", there = "2 / 4 / 9 d" }\n'
    said = ask(build('orders = "orders.csv"', book, more=more))
    assert "the carrier then takes about 0 to 9 business days." in said["listing", ""]
    assert "I will ship it by 11 January 2027. It can be with you on the day of shipping." in said["buyer", "near"]
    assert re.search(
        r"I will ship it by 12 January 2027\. That is the day it leaves the workshop; counting the carrier, expect it "
        r"with you by \d+ January 2027\.",
        said["buyer", "far"],
    )
    fetched = ask(build("orders = 1", more='[shipping]\ntransit = "0 d"\n'))
    assert "when you can fetch it" in fetched["listing", ""]


def test_an_expected_day_is_told_apart_from_the_promise_and_never_after_it(build: Callable[..., Scenario]) -> None:
    scenario = build("orders = 4", operations='{ name = "make", work = "3 / 6 / 14 h" }')
    answer = forecast_delivery(scenario, replications=200)
    said = words_of(scenario, answer)
    row = answer.rows.iloc[-1]
    expected, promise = (dt.date.fromisoformat(row[name]) for name in ("expected", "promise"))
    assert expected < promise
    assert (
        f"I expect to ship it about {expected:%-d %B %Y}, and will ship it by {promise:%-d %B %Y} at the latest."
        in said["buyer", "4"]
    )


def test_a_late_note_has_its_five_parts(build: Callable[..., Scenario]) -> None:
    book = "id,date,promised\nA,2027-01-04,2027-01-11\nB,2027-01-04,2027-01-11\nC,2027-01-04,\n"
    scenario = build('orders = "orders.csv"', book)
    answer = forecast_delivery(scenario, replications=20)
    assert answer.rows["late"].tolist() == [False, True, False]
    assert "Order B is forecast to miss the shipping date its buyer was told: tell them now." in answer.sentence
    said = words_of(scenario, answer)
    assert [order for kind, order in said if kind == "late note"] == ["B"]
    assert said["late note", "B"] == (
        "About your order B (one tray): when you ordered, I told you that it would ship by 11 January 2027. It will not be "
        "ready by then. My new shipping date is 12 January 2027, and I put the chance of keeping it at 100 %. The reason: "
        "the work before yours in the queue, and on your order, takes longer than I had counted on. You choose: answer "
        '"wait" and I will send it by the new date, or answer "refund" and I will cancel the order and pay back all that '
        "you have paid. You will hear from me again by 13 January 2027, whether or not anything has changed. I am sorry."
    )
    told = write_words(scenario, answer, reason="my saw broke down.")
    (note,) = [row.text for row in told.itertuples() if row.kind == "late note"]
    assert "The reason: my saw broke down. You choose" in note
    assert "within a week of this message" in note


def test_a_late_lumber_delivery_is_the_reason_given(build: Callable[..., Scenario]) -> None:
    lumber = '[[materials]]\nname = "oak boards"\nneeded_by = ["make"]\nlead = "5 d"\nrest = "2 d"\n'
    scenario = build("orders = 2\npromised = 2027-01-13", more=lumber)
    answer = forecast_delivery(scenario, replications=20)
    # ordered on Monday 11, there on the 16th, rested until Monday 18
    assert answer.rows["promise"].tolist() == ["2027-01-18", "2027-01-19"]
    assert answer.rows["told"].tolist() == ["2027-01-13"] * 2
    assert "Orders 1 and 2 are forecast to miss the shipping dates" in answer.sentence
    said = words_of(scenario, answer)
    assert "The reason: I have to wait for the oak boards, and cannot go on without." in said["late note", "1"]
    assert "My new shipping date is 18 January 2027" in said["late note", "1"]
    early = forecast_delivery(build("orders = 2\npromised = 2027-02-13", more=lumber), replications=20)
    assert "No order is forecast to miss" in early.sentence
    assert not early.rows["late"].any()


def test_before_orders_close_the_listing_covers_all_the_numbers_asked_about(build: Callable[..., Scenario]) -> None:
    said = ask(build("orders = 4\nbatch = 1"), orders=range(5, 11))
    assert list(said) == [("listing", "")]
    # the fifth order ships on Friday 15, the tenth on Friday 22
    assert "between Monday 11 January 2027 and Sunday 24 January 2027" in said["listing", ""]
    assert "This counts on 5 to 10 orders, on pieces made one at a time" in said["listing", ""]


def test_while_orders_are_open_the_next_buyer_is_told_their_number(build: Callable[..., Scenario]) -> None:
    scenario = build('demand = "2 / 4 / 6"\nbatch = 1\ncap = 6')
    said = words_of(scenario, forecast_delivery(scenario, so_far=3, replications=60))
    assert said["buyer", ""].startswith(
        "If you order now you will be number 4. I will ship your order by 14 January 2027. That is the day it leaves the "
        "workshop"
    )
    assert "This counts on at most 6 orders" in said["listing", ""]


def test_several_designs_are_all_named_in_the_listing(write_shop: Callable[..., str]) -> None:
    text = write_shop(ONE_A_DAY, shop=CALM, run="batch = 1", open=WEEK).replace("[design]", "[[designs]]")
    text += '\n[[designs]]\nname = "box"\noperations = [{ name = "make", work = "1 h" }]\n'
    text += '[[run.lines]]\ndesign = "tray"\norders = 1\n[[run.lines]]\ndesign = "box"\norders = 2\n'
    said = ask(parse_scenario(text))
    assert said["listing", ""].startswith("Trays and boxes are made to order.")
    assert "one box, made in batch" in said["buyer", "2"]


def test_an_always_open_shop_and_orders_made_as_they_come_are_said_as_such(build: Callable[..., Scenario]) -> None:
    book = "id,date\nA,2027-01-11\n"
    said = ask(build('orders = "orders.csv"\nrelease = "as ordered"', book, open='"always"'))
    assert "on the workshop running around the clock" in said["listing", ""]
    assert "orders close" not in said["listing", ""].casefold()


def test_beside_the_words_stands_what_is_usual_and_that_it_is_no_advice() -> None:
    said = " ".join(GENERAL)
    for part in (
        "can bind you",
        "30 days",
        "tell the buyer as soon as you know",
        "check local law",
        "not legal advice",
    ):
        assert part in said
