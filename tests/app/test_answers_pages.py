"""It holds that every answer page says its sentence, follows its what-ifs, and keeps what it has when it is stopped."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.answers.holdups import Holdups
from shopsim.app.drafts import Draft

Open = Callable[..., AppTest]
Words = Callable[[AppTest], str]

#: The job of each page by the place it has there.
SLOTS = {
    "batches": "batches", "clamps": "clamps", "delivery": "delivery", "holdups": "holdups", "one_run": "one run",
    "times": "moves",
}  # fmt: skip


@pytest.fixture(autouse=True)
def few_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Answers rest on a hundred runs, so that a test is short."""
    for module in ("asked_page", "pages.batches_page", "pages.clamps_page"):
        monkeypatch.setattr(f"shopsim.app.{module}.MAX_SEARCH_REPLICATIONS", 100)
    monkeypatch.setattr("shopsim.app.pages.delivery_page.USUAL", 100)
    monkeypatch.setattr("shopsim.answers.what_moves.USUAL", 100)
    monkeypatch.setattr("shopsim.answers.learning.USUAL", 100)


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


def control(page: AppTest, label: str) -> Any:
    """The one number field whose label begins so."""
    (found,) = [one for one in page.number_input if one.label.replace("\\", "").startswith(label)]
    return found


def press(page: AppTest, label: str) -> AppTest:
    (found,) = [one for one in page.button if one.label == label]
    return found.click().run()


@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("batches", "The first tray is out soonest"),
        ("clamps", "Whether more clamps pay cannot be told yet"),
        ("delivery", "Of 2 orders, the first ships from"),
        ("holdups", "What costs nothing was tried first"),
        ("one_run", "One run with everything at its likely time"),
        ("times", "The day on which the last order ships"),
    ],
)
def test_every_answer_page_says_its_sentence_with_seed_and_version(
    open_page: Open, words_on: Words, name: str, begins: str
) -> None:
    page = finish(open_page(name, LUCKY), SLOTS[name])
    words = words_on(page)
    assert not page.exception
    assert not page.error
    assert begins in words
    assert "version 0." in words
    assert len([one for one in page.main if one.type == "plotly_chart"]) >= (0 if name == "times" else 1)


#: The small scenario, with luck enough that there is something to tell apart.
LUCKY = """\
title = "Four trays"

[shop]
open = { mon-fri = "09:00-17:00" }

[[shop.stations]]
name = "bench"

[[shop.clamps]]
name = "bar clamp"
reach = "24 in"
count = 2
price = 30.0

[design]
name = "tray"

[[design.operations]]
name = "cut"
station = "bench"
setup = "20 min"
work = "60 / 90 / 150 min"
caution = "table saw"

[[design.operations]]
name = "glue"
station = "bench"
work = "20 / 30 / 50 min"
clamps = [{ count = 2, reach = "18 in" }]
in_clamps = "3 h"

[[design.operations]]
name = "sand"
work = "60 / 90 / 150 min"

[run]
orders = 2
batch = 1
start = 2027-01-11
"""


def test_a_what_if_changes_the_answer_and_not_the_file(
    open_page: Open, words_on: Words, draft_of: Callable[[AppTest], Draft]
) -> None:
    page = finish(open_page("delivery", LUCKY), "delivery")
    assert "Of 2 orders" in words_on(page)
    control(page, "Orders").set_value(5).run()
    page = finish(page, "delivery")
    assert "Now: 5 orders." in words_on(page)
    assert "Of 5 orders" in words_on(page)
    assert draft_of(page).text == LUCKY


def test_back_to_today_puts_every_what_if_back(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("one_run", LUCKY), "one run")
    control(page, "Orders").set_value(4).run()
    control(page, "Hours a week").set_value(20.0).run()
    page = finish(page, "one run")
    assert "4 pieces" in words_on(page)
    page = finish(press(page, "Back to today"), "one run")
    assert control(page, "Orders").value == 2
    assert control(page, "Hours a week").value == 40.0
    assert "2 pieces" in words_on(page)
    assert "Now:" not in words_on(page)


def test_a_what_if_goes_into_the_file_only_when_asked_and_keeps_its_comments(
    open_page: Open, small: str, draft_of: Callable[[AppTest], Draft]
) -> None:
    page = finish(open_page("clamps", small), "clamps")
    control(page, "Add bar clamp").set_value(3).run()
    page = press(page, "Take this into my file")
    assert draft_of(page).text == small.replace("count = 4 # borrowed", "count = 7 # borrowed")
    assert control(page, "Add bar clamp (today 7)").value == 0


def test_what_ifs_go_with_the_maker_to_another_page(open_page: Open, words_on: Words) -> None:
    page = open_page("holdups", LUCKY)
    control(page, "Pieces in a batch").set_value(2).run()
    words = words_on(finish(page, "holdups"))
    assert "Now: batches of 2." in words
    from shopsim.app.state import find_keeper

    kept = find_keeper().fetch(page.session_state["shopsim token"])
    assert kept is not None
    assert kept.values["what if"] == {"batch": 2}


def test_a_shop_that_could_never_finish_is_told_and_not_run(open_page: Open, words_on: Words) -> None:
    text = LUCKY.replace('in_clamps = "3 h"', 'in_clamps = "3 h"\npausable = false').replace(
        "20 / 30 / 50", "60 / 70 / 80"
    )
    page = open_page("one_run", text)
    control(page, "Hours a week").set_value(2.0).run()
    assert "With these changes it cannot be run" in words_on(page)
    assert page.error
    assert [one for one in page.button if one.label == "Back to today" and not one.disabled]
    page = finish(press(page, "Back to today"), "one run")
    assert "One run with everything" in words_on(page)


def test_twelve_more_clamps_are_answered_first(open_page: Open, words_on: Words) -> None:
    page = open_page("clamps", LUCKY)
    control(page, "Add bar clamp").set_value(12).run()
    assert "With 12 more bar clamps, for 360, the average order ships" in words_on(finish(page, "clamps"))


def test_a_long_study_is_stopped_and_what_is_there_stays(
    open_page: Open, words_on: Words, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shopsim.app.pages.delivery_page.USUAL", 1_000_000)
    page = open_page("delivery", LUCKY)
    job = page.session_state["shopsim job delivery"].job
    job.wait_for_first(30)
    page.run()
    page = press(page, "Stop here")
    page = finish(page, "delivery")
    assert job.state == "cancelled"
    assert "Stopped before the end" in words_on(page)
    assert "Of 2 orders, the first ships from" in words_on(page)
    page = press(page, "Go on")
    assert page.session_state["shopsim job delivery"].job is not job
    page.session_state["shopsim job delivery"].job.cancel()


def test_a_refused_question_is_told_in_words(open_page: Open, words_on: Words, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopsim.app.pages.delivery_page.USUAL", 50)
    page = open_page("delivery", LUCKY)
    control(page, "Promise kept").set_value(99).run()
    page = finish(page, "delivery")
    assert not page.exception
    (error,) = page.error
    assert "50 replications cannot tell a chance of 0.99" in error.value
    assert "take at least 99" in error.value


def test_two_results_stand_side_by_side(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("delivery", LUCKY), "delivery")
    page = press(page, "Keep this result")
    control(page, "Orders").set_value(4).run()
    page = finish(page, "delivery")
    words = words_on(page)
    assert "Kept: " in words
    assert "Of 2 orders" in words
    assert "Of 4 orders" in words
    page = press(page, "Let it go")
    assert "Of 2 orders" not in words_on(page)


def test_the_promise_page_carries_its_note_and_words_to_paste(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("delivery", LUCKY), "delivery")
    assert "A date you state can bind you." in words_on(page)
    pasted = [one.value for one in page.code]
    assert any(text.startswith("Trays are made to order.") for text in pasted)
    assert any("I will ship it by" in text or "at the latest" in text for text in pasted)


def test_numbers_of_orders_are_answered_before_orders_close(open_page: Open, words_on: Words) -> None:
    page = open_page("delivery", LUCKY)
    page.radio(key="delivery about").set_value("Before orders close: by number of orders").run()
    control(page, "From, orders").set_value(2).run()
    control(page, "To, orders").set_value(4).run()
    page = finish(page, "delivery")
    words = words_on(page)
    assert "With 2 orders the last ships from" in words
    assert "With 4 orders the last ships from" in words
    assert not [one for one in page.number_input if one.label.startswith("Orders (today")]


def test_the_next_buyer_is_answered_where_the_file_states_demand(open_page: Open, words_on: Words) -> None:
    page = open_page("delivery", LUCKY.replace("orders = 2", 'demand = "2 / 3 / 5"'))
    page.radio(key="delivery about").set_value("While orders come in: the next buyer").run()
    page = finish(page, "delivery")
    assert "The next buyer would be number 1" in words_on(page)


def test_batch_sizes_that_are_none_are_named_and_left_out(open_page: Open, words_on: Words) -> None:
    page = open_page("batches", LUCKY)
    page.text_input(key="batch sizes").set_value("1, two, 2").run()
    assert "Left out: two." in words_on(page)
    assert not finish(page, "batches").exception


@pytest.mark.parametrize(
    ("view", "shows"),
    [
        ("What to do on which day", "GLUE UP: glue"),
        ("Hands and shop", "Hours by use"),
        ("Where the time goes", "Average of all pieces"),
        ("Clamps over time", "In use over time: bar clamp"),
        ("Every task", "Every task"),
    ],
)
def test_one_run_is_seen_from_every_side_with_its_cautions(
    open_page: Open, words_on: Words, view: str, shows: str
) -> None:
    page = finish(open_page("one_run", LUCKY), "one run")
    page.radio(key="run view").set_value(view).run()
    assert not page.exception
    charts = [one.proto.spec for one in page.main if one.type == "plotly_chart"]
    assert shows in words_on(page) + "".join(charts)
    assert "Guard and riving knife on" in words_on(page)


def test_another_run_of_luck_is_another_run(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("one_run", LUCKY), "one run")
    page.radio(key="run luck").set_value("With luck, good and bad").run()
    control(page, "Which run of luck").set_value(3).run()
    assert "the luck of seed 1, replication 3" in words_on(finish(page, "one run"))


def test_names_from_a_file_cannot_dress_up_the_page(open_page: Open) -> None:
    page = finish(
        open_page("holdups", LUCKY.replace('"tray"', '"**tray** <b>"').replace('"bench"', '"[x](y)"')), "holdups"
    )
    said = "\n".join(str(one.value) for one in page.markdown)
    assert "**tray** <b>" not in said
    assert "[x](y)" not in said


@pytest.mark.parametrize("name", list(SLOTS))
def test_a_faulty_file_is_told_in_words_and_nothing_is_run(open_page: Open, words_on: Words, name: str) -> None:
    page = open_page(name, LUCKY.replace('station = "bench"', 'station = "bunch"').replace("orders = 2", "orders = -2"))
    words = words_on(page)
    assert not page.exception
    assert "First mend what is wrong" in words
    assert "bunch" in words
    assert "-2" in words
    assert f"shopsim job {SLOTS[name]}" not in page.session_state


@pytest.mark.parametrize("name", list(SLOTS))
def test_without_a_file_the_way_to_the_start_is_shown(open_page: Open, words_on: Words, name: str) -> None:
    page = open_page(name, None)
    assert not page.exception
    assert "There is no scenario yet" in words_on(page)


def test_chances_go_back_to_the_usual_ones(open_page: Open, words_on: Words) -> None:
    page = finish(open_page("delivery", LUCKY), "delivery")
    assert page.button(key="usual chances").disabled
    control(page, "Window holds").set_value(60).run()
    assert "in at least 60 % of runs" in words_on(finish(page, "delivery"))
    page = finish(page.button(key="usual chances").click().run(), "delivery")
    assert control(page, "Window holds").value == 80
    assert "in at least 80 % of runs" in words_on(page)


def test_cautions_stand_open_beside_the_work_of_the_day(open_page: Open) -> None:
    page = finish(open_page("one_run", LUCKY), "one run")
    folded = [one for one in page.expander if one.label.startswith("Cautions for this work (")]
    assert [one.proto.expanded for one in folded] == [False]
    page.radio(key="run view").set_value("What to do on which day").run()
    (shown,) = [one for one in page.expander if one.label.startswith("Cautions for this work (")]
    assert shown.proto.expanded


def test_a_fault_of_the_program_is_told_without_a_traceback(open_page: Open, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_down(*_: object) -> None:
        raise KeyError("secret place")

    monkeypatch.setattr(Holdups, "answer", break_down)
    page = finish(open_page("holdups", LUCKY), "holdups")
    assert not page.exception
    (error,) = page.error
    assert "server's log" in error.value
    assert "secret place" not in error.value


@pytest.mark.parametrize("name", ["batches", "delivery", "holdups", "one_run"])
def test_several_designs_in_a_shop_that_never_closes_are_answered_too(open_page: Open, name: str) -> None:
    text = LUCKY.replace('open = { mon-fri = "09:00-17:00" }', 'open = "always"').replace("[[design.", "[[designs.")
    text = text.replace("[design]", "[[designs]]").replace(
        "[run]\norders = 2\nbatch = 1\n",
        '[[designs]]\nname = "box"\n\n[[designs.operations]]\nname = "nail"\nwork = "20 / 30 / 50 min"\n\n[run]\nlines = '
        '[{ design = "tray", orders = 2, batch = 1 }, { design = "box", orders = 3 }]\n',
    )
    page = finish(open_page(name, text), SLOTS[name])
    assert not page.exception
    assert not page.error
    labels = [one.label for one in page.number_input]
    assert "Pieces in a batch (today by line)" in labels
    assert not [label for label in labels if label.startswith(("Orders (", "Hours a week"))]
