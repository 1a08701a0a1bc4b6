"""What a maker does, done in a real browser from the first click to the answer."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from .conftest import PATIENCE_MS, PHONE, begin_with, go_to, main_text, press, settle, write_file

pytestmark = pytest.mark.slow

Open = Callable[..., Page]
TRAYS, STOOLS, CABINETS = "Serving trays:", "Counter stools:", "Wall cabinets:"
FAULTY = """\
title = "Trays with mistakes"
[shop]
open = { sat = "09:00-13:00" }
[[shop.clamps]]
name = "band clamp"
count = 2
[design]
name = "tray"
[[design.operations]]
name = "glue"
werk = "6 min"
clamps = [{ kind = "band clamp", count = 3 }]
[run]
orders = 4
start = 2027-03-06
"""
MENDED = FAULTY.replace("werk", "work").replace("count = 3", "count = 2")


def sentence(page: Page) -> Locator:
    return page.locator(".st-key-answer-sentence")


def wait_for_answer(page: Page, words: str | re.Pattern[str]) -> str:
    """The sentence of the answer once it holds these words."""
    expect(sentence(page)).to_contain_text(words, timeout=PATIENCE_MS)
    settle(page)
    return sentence(page).inner_text()


def wait_for_end(page: Page) -> None:
    """Until nothing is being worked out any more."""
    expect(page.get_by_role("button", name="Stop here")).to_have_count(0, timeout=PATIENCE_MS)
    settle(page)


def set_number(page: Page, label: str, value: int) -> None:
    box = page.get_by_role("spinbutton", name=re.compile(re.escape(label)))
    box.fill(str(value))
    box.press("Enter")
    settle(page)


def test_from_the_first_visit_to_the_first_answer_in_three_clicks(new_page: Open) -> None:
    page = new_page()
    page.get_by_text(TRAYS).first.click()
    press(page, "Start from this example")
    page.get_by_role("link", name="Which date to promise?").click()
    said = wait_for_answer(page, re.compile(r"Of 8 orders, the first ships from"))
    assert re.search(r"\d{4}.\d{2}.\d{2}", said)
    text = main_text(page)
    assert "A date you state can bind you" in text
    expect(page.get_by_test_id("stPlotlyChart").first).to_be_visible(timeout=PATIENCE_MS)


def test_nothing_is_lost_on_reload_or_between_pages(new_page: Open) -> None:
    page = new_page()
    begin_with(page, CABINETS)
    go_to(page, "Orders and batches")
    set_number(page, "How many are ordered", 9)
    go_to(page, "Clamps")
    page.reload()
    settle(page)
    go_to(page, "Orders and batches")
    expect(page.get_by_role("spinbutton", name=re.compile("How many are ordered"))).to_have_value("9")
    go_to(page, "Start")
    expect(page.get_by_role("heading", name="You are working on wall-cabinets.toml")).to_be_visible()


def cell(page: Page, column: int, row: int) -> Locator:
    return page.get_by_test_id("stDataFrame").first.get_by_test_id(f"glide-cell-{column}-{row}")


def type_into_cell(page: Page, column: int, row: int, text: str) -> None:
    """Open a cell of the first table with the keyboard, as one does in any table of cells, and write into it.

    The table may be drawn anew while a key is pressed; whoever sees that nothing was written writes it again. What was
    written and seen has to stay.
    """
    for _ in range(3):
        _try_cell(page, column, row, text)
        if cell(page, column, row).inner_text() == text:
            return
    expect(cell(page, column, row)).to_have_text(text)


def _try_cell(page: Page, column: int, row: int, text: str) -> None:
    grid = page.get_by_test_id("stDataFrame").first
    canvas = grid.get_by_test_id("data-grid-canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 40, box["y"] + 50)
    for _ in range(row):
        page.keyboard.press("ArrowDown")
    for _ in range(column):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.locator("#portal input, #portal textarea").first.wait_for()
    page.keyboard.press("Control+a")
    page.keyboard.type(text, delay=15)
    page.keyboard.press("Enter")
    page.wait_for_timeout(400)
    settle(page)


def test_three_edits_of_the_operations_in_a_row_stay(new_page: Open, tmp_path: Path) -> None:
    page = new_page()
    begin_with(page, TRAYS)
    go_to(page, "The piece")
    heads = page.get_by_test_id("stDataFrame").first.locator("th")
    heads.filter(has_text="Hands-on").wait_for(state="attached")
    page.wait_for_timeout(2000)  # the table of cells is still being laid out when its heads are there
    titles = heads.all_inner_texts()
    hands_on = next(place for place, title in enumerate(titles) if "Hands-on" in title)
    first = int(page.get_by_test_id("stDataFrame").first.locator("th").first.get_attribute("aria-colindex") or "1")
    assert first == 1
    wanted = {
        "mill boards": "9 / 13 / 19 min",
        "cut mitres and fit bottom": "14 / 21 / 36 min",
        "oil tray": "3 / 5 / 9 min",
    }
    rows = {"mill boards": 0, "cut mitres and fit bottom": 1, "oil tray": 4}
    for name, text in wanted.items():
        type_into_cell(page, hands_on, rows[name], text)
    press(page, "Apply to the file")
    go_to(page, "Start")
    with page.expect_download() as download:
        page.get_by_role("button", name="Download the file").click()
    kept = tmp_path / "kept.toml"
    download.value.save_as(kept)
    text = kept.read_text(encoding="utf-8")
    found = {operation["name"]: operation["work"] for operation in tomllib.loads(text)["design"]["operations"]}
    assert {name: found[name] for name in wanted} == wanted
    assert "# a published glue table, white or yellow glue" in text  # the remarks of the file are kept


def test_twelve_clamps_more_and_the_answer_is_read(new_page: Open) -> None:
    page = new_page()
    begin_with(page, CABINETS)
    go_to(page, "Clamps")
    wait_for_answer(page, "long clamp")
    set_number(page, "Add long clamp (today 8)", 12)
    said = wait_for_answer(page, "With 12 more long clamps")
    assert re.search(r"the average order ships [\d.]+ days sooner \([\d.]+ to [\d.]+\)", said)
    assert page.get_by_role("button", name="Back to today").is_enabled()
    press(page, "Back to today")
    expect(page.get_by_role("spinbutton", name=re.compile("Add long clamp"))).to_have_value("0")


def test_a_faulty_file_is_shown_with_all_its_faults_and_can_be_mended(new_page: Open, tmp_path: Path) -> None:
    page = new_page()
    faulty = tmp_path / "faulty.toml"
    faulty.write_text(FAULTY, encoding="utf-8")
    page.locator('input[type="file"]').first.set_input_files(faulty)
    page.get_by_role("heading", name="You are working on faulty.toml").wait_for()
    settle(page)
    text = main_text(page)
    assert "2 things are wrong" in text
    assert 'write "work"' in text
    assert "3 band clamp" in text or "needs 3" in text
    go_to(page, "Delivery")
    text = main_text(page)
    assert 'write "work"' in text
    assert sentence(page).count() == 0  # nothing is run on it
    go_to(page, "Start")
    write_file(page, MENDED)
    assert "Nothing is wrong with it" in main_text(page)


def test_a_file_that_is_no_scenario_is_refused_in_words(new_page: Open, tmp_path: Path) -> None:
    page = new_page()
    for name, data in (("picture.toml", b"\x89PNG\r\n\x1a\n" + bytes(2000)), ("empty.toml", b"")):
        file = tmp_path / name
        file.write_bytes(data)
        page.locator('input[type="file"]').first.set_input_files(file)
        settle(page)
        text = main_text(page)
        assert name in text
        assert "Traceback" not in text
        page.goto(page.url)
        settle(page)


def test_a_long_study_is_cancelled_and_another_is_begun(new_page: Open) -> None:
    page = new_page()
    begin_with(page, STOOLS)
    go_to(page, "What holds the run back")
    expect(page.get_by_role("button", name="Stop here")).to_be_visible(timeout=PATIENCE_MS)
    page.get_by_role("button", name="Stop here").click()
    wait_for_end(page)
    expect(page.get_by_role("button", name="Go on")).to_be_visible(timeout=PATIENCE_MS)
    go_to(page, "Batch size")
    wait_for_answer(page, "The first counter stool is out soonest")


def test_a_what_if_never_blocks_the_page(new_page: Open) -> None:
    page = new_page()
    begin_with(page, STOOLS)
    go_to(page, "Delivery")
    wait_for_answer(page, "Of 18 orders")
    set_number(page, "Orders (today 18)", 12)  # while the first answer is still being refined
    wait_for_answer(page, "Of 12 orders")
    set_number(page, "Pieces in a batch (today 5)", 10)
    expect(page.locator(".st-key-what-ifs")).to_contain_text("10")
    press(page, "Back to today")
    wait_for_answer(page, "Of 18 orders")


def test_two_people_at_once_stay_apart(new_page: Open) -> None:
    one, other = new_page(), new_page()
    begin_with(one, TRAYS)
    begin_with(other, STOOLS)
    go_to(one, "Delivery")
    go_to(other, "Delivery")
    wait_for_answer(one, "Of 8 orders")
    wait_for_answer(other, "Of 18 orders")
    assert one.url.split("draft=")[1] != other.url.split("draft=")[1]
    assert "stool" not in main_text(one).lower()
    assert "tray" not in main_text(other).lower()


def test_an_address_that_was_made_up_opens_nothing(new_page: Open) -> None:
    page = new_page("delivery?draft=" + "A" * 43)
    assert "Of " not in main_text(page)
    assert "tart" in main_text(page)


def test_the_whole_answer_is_there_to_keep(new_page: Open, tmp_path: Path) -> None:
    page = new_page()
    begin_with(page, TRAYS)
    go_to(page, "Delivery")
    wait_for_answer(page, "Of 8 orders")
    wait_for_end(page)
    page.get_by_text("Files to keep").click()
    settle(page)
    kept = {}
    for button in page.get_by_test_id("stDownloadButton").locator("button").all():
        label = button.inner_text().strip()
        if not button.is_visible():
            continue
        with page.expect_download() as download:
            button.click()
        file = tmp_path / download.value.suggested_filename
        download.value.save_as(file)
        kept[label] = file
    endings = {file.suffix for file in kept.values()}
    assert {".csv", ".xlsx", ".html"} <= endings
    report = max((file for file in kept.values() if file.suffix == ".html"), key=lambda file: file.stat().st_size)
    assert "Of 8 orders" in report.read_text(encoding="utf-8")


def test_the_main_journey_on_a_phone_needs_no_sideways_scrolling(new_page: Open) -> None:
    page = new_page(size=PHONE)
    begin_with(page, TRAYS)
    for title in (
        "The shop",
        "The piece",
        "Orders and batches",
        "Batch size",
        "Clamps",
        "Delivery",
        "One run in detail",
    ):
        go_to(page, title)
        if title in ("Batch size", "Clamps", "Delivery"):
            expect(sentence(page)).to_be_visible(timeout=PATIENCE_MS)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, title
        inner = page.evaluate(
            "(() => { const main = document.querySelector('[data-testid=stMain]'); return main.scrollWidth - main.clientWidth; })()"
        )
        assert inner <= 1, title


TRAYS_UNDER_WAY = """\
title = "Trays under way"
[shop]
open = "always"
workers = [{ name = "maker" }]
clamps = [{ name = "band clamp", count = 4 }]
[design]
name = "tray"
[[design.operations]]
name = "cut"
work = "20 / 30 / 50 min"
[[design.operations]]
name = "glue"
work = "6 / 10 / 20 min"
clamps = [{ kind = "band clamp", count = 1 }]
in_clamps = "30 / 45 / 90 min"
[run]
orders = 4
batch = 4
start = START
"""


def targets_of(page: Page) -> dict[str, tuple[float, float]]:
    """Width and height of everything on the bench that can be tapped and is seen, by its words."""
    found = page.evaluate(
        """[...document.querySelectorAll('.st-key-bench button, .st-key-bench summary')].filter(one => one.offsetParent
        && one.getBoundingClientRect().top >= 0 && one.innerText.trim())
        .map(one => [one.innerText, one.getBoundingClientRect().width, one.getBoundingClientRect().height])"""
    )
    return {str(words).strip(): (float(width), float(height)) for words, width, height in found}


def follow_link(page: Page, label: str, title: str) -> None:
    page.get_by_role("link", name=label).click()
    page.get_by_role("heading", name=title, level=1, exact=True).wait_for()
    settle(page)


def test_days_are_planned_printed_logged_by_taps_on_a_phone_and_forecast_again(new_page: Open, tmp_path: Path) -> None:
    page = new_page()
    start = dt.date.today() - dt.timedelta(days=1)
    file = tmp_path / "under-way.toml"
    file.write_text(TRAYS_UNDER_WAY.replace("START", f"{start}"), encoding="utf-8")
    page.locator('input[type="file"]').first.set_input_files(file)
    page.get_by_role("heading", name="You are working on under-way.toml").wait_for()
    settle(page)
    go_to(page, "The days")
    wait_for_answer(page, re.compile("The plan found|The search found"))  # a first look was there before
    wait_for_end(page)
    with page.expect_download() as download:
        page.get_by_role("button", name="Wall sheet to print").click()
    sheet = tmp_path / "sheet.html"
    download.value.save_as(sheet)
    assert "cut" in sheet.read_text(encoding="utf-8")

    page = new_page(f"now?draft={page.url.split('draft=')[1]}", size=PHONE)  # the same, on the phone at the bench
    assert "Nothing is logged of this run yet" in main_text(page)
    follow_link(page, "Log what happens, at the bench", "At the bench")
    page.get_by_text("It happened earlier").click()
    settle(page)
    for label in ("1 hour earlier", "30 min earlier"):
        press(page, label)
    small = {words: size for words, size in targets_of(page).items() if size[1] < 44 or size[0] < 44}
    assert small == {}
    narrow = {words: size[0] for words, size in targets_of(page).items() if words in ("Begin", "Done already", "Now")}
    assert set(narrow) == {"Begin", "Done already", "Now"}
    assert min(narrow.values()) > 320
    press(page, "Begin")
    expect(page.get_by_test_id("stAlert").get_by_text("Written, row 2: begun, cut")).to_be_visible()
    press(page, "Done")
    expect(page.get_by_test_id("stAlert").get_by_text("Written, row 3: done, cut")).to_be_visible()
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    assert wide <= 0

    follow_link(page, "What does this mean for the promises?", "Now")
    before = wait_for_answer(page, "0 of 4 pieces are done")
    wait_for_end(page)
    follow_link(page, "At the bench: log what happens", "At the bench")
    for _ in range(8):  # whatever is next, until the first tray is done
        if page.get_by_text("In clamps since").count():
            break
        press(page, "Done already")
    press(page, "Clamps are off")
    follow_link(page, "What does this mean for the promises?", "Now")
    after = wait_for_answer(page, re.compile(r"[1-4] of 4 pieces are done"))
    assert after != before
    follow_link(page, "At the bench: log what happens", "At the bench")
    page.reload()  # nothing is lost
    settle(page)
    assert "Last in the log, row" in main_text(page)
    assert "clamps off" in main_text(page)


def test_the_keyboard_alone_leads_to_an_answer(new_page: Open) -> None:
    page = new_page()

    def tab_to(wanted: str, limit: int = 80) -> None:
        for _ in range(limit):
            page.keyboard.press("Tab")
            held = str(page.evaluate("document.activeElement.innerText || document.activeElement.ariaLabel || ''"))
            if held.strip() == wanted:
                return
        raise AssertionError(f"{wanted} is not reached with the Tab key")

    tab_to("Start from this example")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="You are working on").wait_for()
    settle(page)
    tab_to("Which batch size?")
    page.keyboard.press("Enter")
    wait_for_answer(page, "out soonest")
