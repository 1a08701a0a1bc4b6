"""It holds that the shop page shows what the file says, changes it with comments kept, and tells faults by the field."""

from __future__ import annotations

from collections.abc import Callable

from streamlit.testing.v1 import AppTest

from shopsim.app.drafts import Draft

from .hands import Hands

Open = Callable[..., AppTest]
DraftOf = Callable[[AppTest], Draft]
Words = Callable[[AppTest], str]


def test_it_shows_hours_for_each_day_and_a_table_for_each_list(open_page: Open, hands: Hands) -> None:
    page = open_page("shop")
    assert not page.exception
    assert [hands.field(page, day).value for day in ("Monday", "Friday", "Saturday")] == [
        "09:00-17:00",
        "09:00-17:00",
        "",
    ]
    assert [header.value for header in page.header] == [
        "When it is open", "Who works there", "Machines and benches", "Clamps", "Racks and shelves",
    ]  # fmt: skip
    assert "No rack or shelf is listed." in [caption.value for caption in page.caption]


def test_a_day_off_is_one_field_and_the_remark_beside_the_hours_stays(
    open_page: Open, hands: Hands, draft_of: DraftOf
) -> None:
    page = open_page("shop")
    hands.field(page, "Wednesday").set_value("").run()
    draft = draft_of(page)
    assert draft.data is not None
    assert draft.data["shop"]["open"] == {"mon": "09:00-17:00", "tue": "09:00-17:00", "thu": "09:00-17:00", "fri": "09:00-17:00"}  # fmt: skip
    assert "# hours to keep" in draft.text
    page.checkbox[0].check().run()
    assert draft_of(page).data["shop"]["open"] == "always"  # type: ignore[index]
    page.checkbox[0].uncheck().run()
    hands.field(page, "Sunday").set_value("10:00-12:00").run()
    assert draft_of(page).data["shop"]["open"] == {"sun": "10:00-12:00"}  # type: ignore[index]


def test_what_is_typed_wrong_is_told_below_the_field_and_goes_when_it_is_mended(
    open_page: Open, hands: Hands, draft_of: DraftOf, words_on: Words
) -> None:
    page = open_page("shop")
    hands.field(page, "Goes to other things").set_value("lots").run()
    hands.field(page, "Monday").set_value("9 to 5").run()
    faults = draft_of(page).faults
    assert len(faults) >= 2
    said = words_on(page)
    assert "things are wrong, on this page" in said
    for fault in faults:
        assert fault.rule in said
        assert fault.mend in said
    hands.field(page, "Goes to other things").set_value("5 / 10 / 25 %").run()
    hands.field(page, "Monday").set_value("09:00-17:00").run()
    assert not page.error
    assert draft_of(page).scenario is not None


def test_edits_of_a_table_wait_for_apply_and_keep_remarks(
    open_page: Open, hands: Hands, draft_of: DraftOf, words_on: Words
) -> None:
    page = open_page("shop")
    hands.edit_grid(page, "shop.clamps", {0: {"count": 6}})
    hands.edit_grid(page, "shop.clamps", {0: {"count": 6, "reach": "30 in"}})
    hands.edit_grid(page, "shop.clamps", {0: {"count": 6, "reach": "30 in", "price": 12.5}})
    assert "Not applied yet: 1 changed" in words_on(page).replace("**", "")
    assert draft_of(page).data["shop"]["clamps"][0]["count"] == 4  # type: ignore[index]
    page.button(key="apply shop.clamps").click().run()
    assert not page.exception
    draft = draft_of(page)
    assert draft.data["shop"]["clamps"] == [{"name": "bar clamp", "reach": "30 in", "count": 6, "price": 12.5}]  # type: ignore[index]
    assert "count = 6 # borrowed" in draft.text
    assert "Not applied yet" not in words_on(page)


def test_edits_can_be_undone_before_they_are_applied(
    open_page: Open, hands: Hands, draft_of: DraftOf, words_on: Words, small: str
) -> None:
    page = open_page("shop")
    hands.edit_grid(page, "shop.clamps", {0: {"count": 6}})
    page.button(key="undo shop.clamps").click().run()
    assert "Not applied yet" not in words_on(page)
    assert draft_of(page).text == small


def test_a_first_row_a_further_one_a_moved_one_and_one_taken_out(open_page: Open, draft_of: DraftOf) -> None:
    page = open_page("shop")
    page.button(key="Add one below shop.racks").click().run()
    page.button(key="Add one below shop.racks").click().run()
    page.button(key="apply shop.racks").click().run()
    assert draft_of(page).data["shop"]["racks"] == [  # type: ignore[index]
        {"name": "drying rack", "spots": 10}, {"name": "drying rack 2", "spots": 10},
    ]  # fmt: skip
    page.button(key="Move up shop.racks").click().run()
    page.button(key="apply shop.racks").click().run()
    names = [rack["name"] for rack in draft_of(page).data["shop"]["racks"]]  # type: ignore[index]
    assert names == ["drying rack 2", "drying rack"]
    page.button(key="Take out shop.racks").click().run()
    page.button(key="apply shop.racks").click().run()
    assert [rack["name"] for rack in draft_of(page).data["shop"]["racks"]] == ["drying rack"]  # type: ignore[index]


def test_rows_can_be_filled_in_one_at_a_time_and_two_new_ones_stay_apart(
    open_page: Open, hands: Hands, draft_of: DraftOf
) -> None:
    page = open_page("shop")
    place = "shop.stations"
    hands.show_one_at_a_time(page, place)
    for name in ("saw", "press"):
        page.button(key=f"Add one below {place}").click().run()
        (name_field, *_) = [part for part in page.text_input if part.key.startswith(f"cell {place}")]
        assert name_field.value.startswith("bench")
        name_field.set_value(name).run()
    page.button(key=f"apply {place}").click().run()
    assert not page.exception
    assert [row["name"] for row in draft_of(page).data["shop"]["stations"]] == ["bench", "saw", "press"]  # type: ignore[index]
    assert 'name = "bench" # oak, old' in draft_of(page).text


def test_a_renamed_station_is_called_so_by_its_operations(open_page: Open, hands: Hands, draft_of: DraftOf) -> None:
    page = open_page("shop")
    hands.edit_grid(page, "shop.stations", {0: {"name": "long bench"}})
    page.button(key="apply shop.stations").click().run()
    draft = draft_of(page)
    assert draft.faults == ()
    assert {step["station"] for step in draft.data["design"]["operations"]} == {"long bench"}  # type: ignore[index]


def test_a_fault_without_a_field_is_told_at_the_head_of_its_page(open_page: Open, words_on: Words, small: str) -> None:
    page = open_page("shop", small.replace("[shop]\n", "[shop]\nopne = 5\n").replace("orders = 2", "orders = -2"))
    said = words_on(page)
    assert "2 things are wrong, 1 on this page" in said
    assert '"opne"' in said or "shop.opne" in said
    assert "run.orders" not in said


def test_a_shop_in_a_file_of_its_own_is_pointed_to(open_page: Open, words_on: Words, small: str) -> None:
    start = small.index("[shop]")
    end = small.index("[design]")
    text = small.replace(small[start:end], "", 1).replace(
        'title = "Two trays"', 'title = "Two trays"\nshop = "shop.toml"'
    )
    page = open_page("shop", text, shop_toml=small[start:end].encode())
    assert not page.exception
    assert "file of its own, shop.toml" in words_on(page)


def test_how_far_things_vary_shows_what_holds_unless_said(open_page: Open, hands: Hands, draft_of: DraftOf) -> None:
    page = open_page("shop")
    bias = hands.field(page, "Actual over likely time")
    assert bias.placeholder == "(not said: 1.2)"
    bias.set_value("1.5").run()
    assert draft_of(page).data["luck"] == {"bias": 1.5}  # type: ignore[index]
    hands.field(page, "Actual over likely time").set_value("").run()
    assert "bias" not in draft_of(page).text
