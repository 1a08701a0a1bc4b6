"""The wall sheet printed by a real browser: a week on a page, on A4 and on Letter."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from shopsim import load_scenario, run_once
from shopsim.answers import list_cautions
from shopsim.answers.day_plan import plan_days
from shopsim.wall_sheet import format_wall_sheet

from .conftest import PHONE, TOP

pytestmark = pytest.mark.slow


@pytest.mark.parametrize("example", ["serving-trays", "wall-cabinets", "counter-stools"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_week_takes_a_page_on_either_paper(browser: Browser, tmp_path: Path, example: str, paper: str) -> None:
    run = run_once(load_scenario(TOP / "scenarios" / f"{example}.toml"), likely=True)
    plan, cautions = plan_days(run), list_cautions(run.plan.scenario)
    weeks = len({(day.isocalendar().year, day.isocalendar().week) for day in plan["day"]})
    page = browser.new_page()
    printed = []
    for of_cautions in (cautions, cautions.head(0)):  # with the pages of cautions, and without
        file = tmp_path / "sheet.html"
        file.write_text(format_wall_sheet(plan, run.plan.scenario.title, of_cautions, "As likely."), encoding="utf-8")
        page.goto(file.as_uri())
        printed.append(len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=paper))))
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert printed[1] == weeks
    assert weeks < printed[0] <= weeks + 3
    assert wide <= PHONE[0]
