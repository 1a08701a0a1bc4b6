"""The bench page, drawn without a browser: every tap is one row of the log, what cannot be true is not written, nothing is lost."""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable
from pathlib import Path

from streamlit.testing.v1 import AppTest

from shopsim.app.state import find_keeper
from shopsim.scenario.appending import append_row
from shopsim.scenario.happenings import RUN_COLUMNS

Open = Callable[..., AppTest]
Words = Callable[[AppTest], str]
TODAY = dt.date.today()
#: Three trays with two sides each; the run began ten days ago, and the shop is never closed.
TRAYS = f"""\
title = "Trays"
[shop]
open = "always"
interrupted = "0 %"
lost_days = "0 %"
workers = [{{ name = "maker" }}]
clamps = [{{ name = "bar clamp", count = 6 }}]
stations = [{{ name = "saw" }}]
[[materials]]
name = "boards"
lead = "1 d"
needed_by = ["cut"]
[design]
name = "tray"
parts = {{ side = 2 }}
[[design.operations]]
name = "cut"
per = "side"
station = "saw"
setup = "10 min"
work = "5 min"
[[design.operations]]
name = "glue"
work = "10 min"
clamps = [{{ kind = "bar clamp", count = 2 }}]
in_clamps = "12 h"
[run]
orders = 3
batch = 3
start = {TODAY - dt.timedelta(days=10)}
"""


def log_of(page: AppTest) -> Path:
    return find_keeper().find_run_log(page.session_state["shopsim token"])


def rows_of(page: AppTest) -> list[dict[str, str]]:
    """The rows of the log without their moment, empty cells left out."""
    if not log_of(page).exists():
        return []
    head, *lines = log_of(page).read_text(encoding="utf-8").splitlines()
    assert head == ",".join(RUN_COLUMNS)
    cells = [dict(zip(RUN_COLUMNS, _split(line), strict=True)) for line in lines]
    return [{key: value for key, value in row.items() if value and key != "when"} for row in cells]


def _split(line: str) -> list[str]:
    return next(csv.reader([line]))


def tap(page: AppTest, label: str, which: int = 0) -> AppTest:
    found = [button for button in page.button if button.label == label]
    page = found[which].click().run()
    assert not page.exception
    return page


def test_what_is_next_is_begun_paused_gone_on_with_and_done_by_taps(open_page: Open, words_on: Words) -> None:
    page = open_page("bench", TRAYS)
    assert "still to come" not in words_on(page)
    assert "**cut**, batch 1, pieces 1-3" in words_on(page)
    for label in ("Begin", "Pause", "Go on", "Done"):
        page = tap(page, label)
    cut = {"operation": "cut", "batch": "1", "pieces": "1-3"}
    assert rows_of(page) == [{"what": what, **cut} for what in ("begun", "paused", "begun", "done")]
    (written,) = page.success
    assert "Written, row 5: done, cut, batch 1, pieces 1-3" in str(written.value).replace("\\", "")
    assert "**glue**, batch 1" in words_on(page)
    page = tap(page, "Take it back")
    assert rows_of(page)[4:] == [{"what": "taken back", "row": "5"}]
    assert "In hand" in words_on(page)  # the work goes on as if the row were not there


def test_only_some_are_done_and_clamps_come_off(open_page: Open, words_on: Words) -> None:
    page = tap(open_page("bench", TRAYS), "Begin")
    (pieces,) = [one for one in page.button_group if one.label == "Which pieces"][:1]
    page = pieces.set_value([0, 2]).run()
    page = tap(page, "These are done")
    assert rows_of(page)[1] == {"what": "done", "operation": "cut", "batch": "1", "pieces": "1, 3"}
    assert "**cut**, batch 1, pieces 2" in words_on(page)
    assert "**glue**, batch 1, pieces 1, 3" in words_on(page)  # the second one has to wait for its sides
    glued = next(at for at, one in enumerate(page.button) if one.key.startswith("next 0 Done already"))
    page = page.button[glued].click().run()
    assert "In clamps since" in words_on(page)
    page = tap(page, "Clamps are off")
    assert [row["what"] for row in rows_of(page)] == ["begun", "done", "done", "clamps off"]


def test_days_material_and_spoiled_parts_are_logged_from_what_is_folded(open_page: Open, words_on: Words) -> None:
    page = tap(open_page("bench", TRAYS), "Here now: boards")
    assert rows_of(page) == [{"what": "material came", "material": "boards"}]
    assert not [one for one in page.button if one.label == "Here now: boards"]
    page = tap(page, "Begin")
    (days,) = [one for one in page.button_group if one.label == "Which days"]
    lost = [TODAY - dt.timedelta(days=back) for back in (3, 4)]
    page = tap(days.set_value(lost).run(), "Lost altogether")
    assert [row["what"] for row in rows_of(page)[2:]] == ["day lost", "day lost"]
    text = log_of(page).read_text(encoding="utf-8")
    assert f"\n{lost[0]},day lost" in text
    (days,) = [one for one in page.button_group if one.label == "Which days"]
    page = tap(days.set_value([TODAY - dt.timedelta(days=2)]).run(), "1 hour shorter")
    assert rows_of(page)[4] == {"what": "day shortened", "minutes": "60"}
    pieces, part = [
        one for one in page.button_group if one.label in ("Which pieces", "A part, or else the whole piece")
    ][-2:]
    pieces.set_value([1])
    page = part.set_value("side").run()
    page = tap(page, "Spoiled: side")
    assert rows_of(page)[5] == {"what": "spoiled", "batch": "1", "pieces": "2", "part": "side"}


def test_an_order_that_is_all_done_is_shipped_by_a_tap(open_page: Open, words_on: Words) -> None:
    page = open_page("bench", TRAYS)
    assert "No order can ship yet" in words_on(page)
    page = tap(tap(page, "Done already"), "Done already")
    page = tap(page, "Order 2 has shipped (tray)")
    assert rows_of(page)[-1] == {"what": "shipped", "order": "2"}
    assert "Nothing is left to be begun by hand" in words_on(page)


def test_what_cannot_be_true_is_told_and_not_written(open_page: Open, words_on: Words) -> None:
    page = open_page("bench", TRAYS)
    (operation,) = [one for one in page.selectbox if one.label == "Which operation"]
    page = tap(operation.set_value("glue").run(), "Begun")
    words = words_on(page)
    assert "Nothing is written, because it cannot be so" in words
    assert "comes after cut, batch 1, piece 1, which is not done" in words
    assert rows_of(page) == []


def test_two_taps_in_a_row_on_one_button_write_one_row(open_page: Open) -> None:
    page = open_page("bench", TRAYS)
    button = next(one for one in page.button if one.label == "Here now: boards")
    button.click()
    page.run()
    button.click()  # a second tap that was under way when the page was drawn anew
    page.run()
    assert len(rows_of(page)) == 1


def test_a_second_tab_and_the_command_lose_nothing(open_page: Open, words_on: Words) -> None:
    page = tap(open_page("bench", TRAYS), "Begin")
    append_row(log_of(page), {"when": f"{TODAY} 00:00", "what": "material came", "material": "boards"})
    page = tap(page, "Done")  # the page was drawn before
    assert [row["what"] for row in rows_of(page)] == ["begun", "material came", "done"]


def test_it_happened_earlier_by_steps(open_page: Open, words_on: Words) -> None:
    page = open_page("bench", TRAYS)
    for label in ("1 day earlier", "30 min earlier", "15 min earlier"):
        page = tap(page, label)
    wanted = dt.datetime.now() - dt.timedelta(days=1, minutes=45)
    page = tap(page, "Begin")
    (line,) = log_of(page).read_text(encoding="utf-8").splitlines()[1:]
    written = dt.datetime.fromisoformat(line.split(",")[0])
    assert abs(written - wanted) < dt.timedelta(minutes=3)
    assert "until you say now again" in words_on(page)  # who catches up stays on that day
    page = tap(page, "Now")
    assert "written as of **now**" in words_on(page)


def test_a_run_that_is_still_to_come_is_told_in_one_line_and_can_begin_today(open_page: Open, words_on: Words) -> None:
    start = TODAY + dt.timedelta(days=40)
    page = open_page("bench", TRAYS.replace(str(TODAY - dt.timedelta(days=10)), str(start)))
    assert f"This run begins on {start:%A}, {start}, which is still to come" in words_on(page)
    page = tap(page, "Begin")
    assert "is before the run begins" in words_on(page)
    assert rows_of(page) == []
    page = tap(page, "Let the run begin today")
    assert "still to come" not in words_on(page)
    assert rows_of(tap(page, "Begin"))[0]["what"] == "begun"


def test_a_log_with_faults_is_told_by_row_and_mended_by_taps(open_page: Open, words_on: Words) -> None:
    page = tap(open_page("bench", TRAYS), "Begin")
    append_row(log_of(page), {"when": f"{TODAY} 00:01", "what": "done", "operation": "polish"})
    page.run()
    words = words_on(page)
    assert 'there is no operation "polish"' in words
    assert "trays-run-log.csv, line 3" in words
    page = tap(page, "Take row 3 back")
    assert "polish" not in words_on(page)
    assert "In hand" in words_on(page)


def test_a_log_that_is_handed_over_is_taken_or_its_faults_are_told_and_the_old_one_comes_back(
    open_page: Open, words_on: Words
) -> None:
    page = tap(open_page("bench", TRAYS), "Begin")
    old = log_of(page)
    (upload,) = [one for one in page.file_uploader if one.label.startswith("A log that you have")]
    page = upload.upload("mine.csv", f"when,what,operation\n{TODAY} 00:00,done,polish\n".encode()).run()
    assert "This log is not taken" in words_on(page)
    assert 'there is no operation "polish"' in words_on(page)
    assert log_of(page) == old
    (upload,) = [one for one in page.file_uploader if one.label.startswith("A log that you have")]
    page = upload.upload("mine.csv", f"when,what,operation\n{TODAY} 00:00,done,cut\n".encode()).run()
    assert log_of(page) != old
    assert "**glue**, batch 1" in words_on(page)
    page = tap(tap(page, "Begin"), "Take it back")  # columns that it did not have are there
    assert log_of(page).read_text(encoding="utf-8").splitlines()[3].split(",")[1:3] == ["taken back", ""]
    page = tap(page, "Go back to the log before it")
    assert log_of(page) == old
    assert rows_of(page)[0]["what"] == "begun"


def test_another_scenario_begins_with_an_empty_log_and_the_old_one_comes_back_with_its_log(open_page: Open) -> None:
    page = tap(open_page("bench", TRAYS), "Begin")
    token, keeper = page.session_state["shopsim token"], find_keeper()
    kept = keeper.fetch(token)
    assert kept is not None
    assert kept.draft is not None
    keeper.begin_draft(token, kept.draft)
    assert rows_of(page) == []
    keeper.take_back_former(token)
    assert len(rows_of(page)) == 1
    keeper.forget(token)
    assert not list(keeper.folder.iterdir())
