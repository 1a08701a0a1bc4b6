"""It holds that the piece page edits operations and parts, draws what comes after what, and stands cautions beside them."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft
from shopsim.app.start_choices import EXAMPLES, example_text
from shopsim.scenario import CAUTIONS

from .hands import Hands

Open = Callable[..., AppTest]
DraftOf = Callable[[AppTest], Draft]
Words = Callable[[AppTest], str]

PLACE = "design.operations"


def drawn_names(page: AppTest) -> set[str]:
    """Operations that the drawing names."""
    figure = json.loads(page.get("plotly_chart")[0].proto.spec)
    return {note["text"].replace("<br>", " ") for note in figure["layout"]["annotations"] if "text" in note}


@pytest.mark.parametrize("name", list(EXAMPLES))
def test_every_example_is_shown_whole(open_page: Open, draft_of: DraftOf, name: str) -> None:
    page = open_page("piece", example_text(name), name)
    assert not page.exception
    assert not page.error
    scenario = draft_of(page).scenario
    assert scenario is not None
    names = {step.name for step in scenario.all_designs[0].operations}
    assert {str(text) for text in page.get("data_editor")[0].value["name"]} == names


def test_the_drawing_follows_edits_that_are_not_applied_yet(open_page: Open, hands: Hands) -> None:
    page = open_page("piece")
    assert {"cut sides", "glue up"} <= drawn_names(page)
    hands.edit_grid(page, PLACE, {1: {"name": "glue all up"}})
    assert "glue all up" in drawn_names(page)


def test_a_caution_stands_beside_its_operation_in_both_views(open_page: Open, hands: Hands, words_on: Words) -> None:
    page = open_page("piece")
    assert any(part.value.startswith("**glue up** (glue-up)") for part in page.markdown)
    assert CAUTIONS["glue-up"] in words_on(page)
    hands.edit_grid(page, PLACE, {0: {"caution": ["table saw", "dust"]}})
    assert CAUTIONS["table saw"] in words_on(page)
    hands.show_one_at_a_time(page, PLACE)
    assert any(CAUTIONS["table saw"] in warning.value.replace("\\", "") for warning in page.warning)


def test_suggested_cautions_are_put_there_or_silenced_and_reach_the_file_when_applied(
    open_page: Open, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    text = small.replace(
        'name = "cut sides" # by hand', 'name = "saw sides"\ndusty = true\ncaution = "mind the cat" # mine'
    )
    page = open_page("piece", text)
    assert "- saw sides: table saw, eye protection, dust" in words_on(page).replace("\\", "")
    assert any(part.value == "**saw sides** (mind the cat)" for part in page.markdown)
    page.button(key="add cautions").click().run()
    assert "To think of" not in words_on(page)
    assert CAUTIONS["dust"] in words_on(page)
    assert draft_of(page).data["design"]["operations"][0]["caution"] == "mind the cat"  # type: ignore[index]
    page.button(key=f"apply {PLACE}").click().run()
    draft = draft_of(page)
    wanted = ["mind the cat", "table saw", "eye protection", "dust"]
    assert draft.data["design"]["operations"][0]["caution"] == wanted  # type: ignore[index]
    assert "# mine" in draft.text
    again = open_page("piece", text)
    again.button(key="no cautions").click().run()
    again.button(key=f"apply {PLACE}").click().run()
    silenced = draft_of(again).data["design"]["operations"][0]["caution"]  # type: ignore[index]
    assert silenced == ["mind the cat", "none needed"]
    assert "To think of" not in words_on(again)


def test_three_edits_in_a_row_stay_through_other_columns_and_a_new_session(
    open_page: Open, draft_of: DraftOf, hands: Hands, words_on: Words
) -> None:
    page = open_page("piece")
    hands.edit_grid(page, PLACE, {0: {"work": "6 min"}})
    hands.edit_grid(page, PLACE, {0: {"work": "6 min", "setup": "1 min"}})
    hands.edit_grid(page, PLACE, {0: {"work": "6 min", "setup": "1 min"}, 1: {"work": "12 min"}})
    page.segmented_control(key=f"choose columns {PLACE}").set_value("Glue and drying").run()
    hands.edit_grid(page, PLACE, {1: {"cure": "24 h"}})
    assert "2 changed" in words_on(page)
    again = open_page("piece", None)
    again.session_state["shopsim token"] = page.session_state["shopsim token"]
    again.run()
    assert "2 changed" in words_on(again)
    again.button(key=f"apply {PLACE}").click().run()
    first, second = draft_of(again).data["design"]["operations"]  # type: ignore[index]
    assert (first["work"], first["setup"]) == ("6 min", "1 min")
    assert (second["work"], second["cure"]) == ("12 min", "24 h")
    assert "# by hand" in draft_of(again).text


def test_faults_of_an_operation_stand_below_their_fields(open_page: Open, hands: Hands, small: str) -> None:
    page = open_page("piece", small.replace('"45 min"', '"45 mni"').replace('"18 in"', '"1800 in"'))
    hands.show_one_at_a_time(page, PLACE)
    page.selectbox(key=f"row {PLACE} {page.session_state[f'generation {PLACE}']} 2").set_value(1).run()
    assert not page.exception
    said = [error.value.replace("\\", "") for error in page.error]
    assert any(
        '"mni"' in text and "In clamps for" in text for text in said[1:]
    )  # beside the field as well as above the table
    hands.field(page, "In clamps for").set_value("45 min").run()
    hands.field(page, "Clamps").set_value("2 of 18 in").run()
    page.button(key=f"apply {PLACE}").click().run()
    assert not page.error


def test_a_renamed_operation_is_called_so_by_those_that_come_after_it(
    open_page: Open, draft_of: DraftOf, hands: Hands, small: str
) -> None:
    page = open_page(
        "piece", small.replace('name = "glue up"\n', 'name = "glue up"\nafter = ["cut sides"] # at last\n')
    )
    hands.edit_grid(page, PLACE, {0: {"name": "saw sides"}})
    page.button(key=f"apply {PLACE}").click().run()
    draft = draft_of(page)
    assert draft.faults == ()
    assert draft.data["design"]["operations"][1]["after"] == ["saw sides"]  # type: ignore[index]
    assert "# at last" in draft.text


def test_parts_are_counted_added_and_taken_out(open_page: Open, draft_of: DraftOf, hands: Hands) -> None:
    page = open_page("piece")
    hands.field(page, "side").set_value(6).run()
    assert draft_of(page).data["design"]["parts"] == {"side": 6}  # type: ignore[index]
    hands.field(page, "A new part").set_value('top "x".y').run()
    page.button(key="part add design.parts").click().run()
    assert not page.error
    assert draft_of(page).data["design"]["parts"] == {"side": 6, 'top "x".y': 1}  # type: ignore[index]
    part = next(part for part in page.number_input if part.label.startswith("top"))
    part.set_value(0).run()
    assert draft_of(page).data["design"]["parts"] == {"side": 6}  # type: ignore[index]


def test_of_several_designs_one_is_chosen_and_renamed_in_its_line(
    open_page: Open, draft_of: DraftOf, hands: Hands, small: str
) -> None:
    start, end = small.index("[design]"), small.index("[run]")
    design = small[start:end].replace("[design]", "[[designs]]").replace("[[design.", "[[designs.")
    text = small[:start] + design + design.replace('"tray"', '"stool"') + '[run]\nstart = 2027-01-11\n[[run.lines]]\ndesign = "tray"\norders = 1\n[[run.lines]]\ndesign = "stool"\norders = 2\n'  # fmt: skip
    page = open_page("piece", text)
    assert not page.exception
    assert draft_of(page).faults == ()
    page.selectbox(key="which design").set_value(1).run()
    hands.field(page, "What the piece is called").set_value("counter stool").run()
    draft = draft_of(page)
    assert draft.faults == ()
    assert [line["design"] for line in draft.data["run"]["lines"]] == ["tray", "counter stool"]  # type: ignore[index]


def test_a_stranger_s_part_cannot_put_a_picture_or_a_link_on_the_page(open_page: Open, small: str) -> None:
    page = open_page("piece", small.replace('"side"', '"![x](https://example.org/x.png)"'))
    assert not page.exception
    assert all("![" not in part.label for part in page.number_input)
