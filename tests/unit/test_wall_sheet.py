"""The wall sheet: a week on a page, boxes to tick, letters as large as fit, names from a file shown as text."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from shopsim.answers import list_cautions
from shopsim.answers.day_plan import plan_days
from shopsim.wall_sheet import SIZES_PT, fit_size, format_wall_sheet

SHOP = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]\nworkers = [{ name = "maker" }]'
FRAME = """
{ name = "glue <b>", work = "30 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "12 h", caution = "glue-up" },
{ name = "sand", work = "2 h", caution = "dust" },
"""


def sheet_of(run: Any, title: str = "Frames & co") -> str:
    return format_wall_sheet(plan_days(run), title, list_cautions(run.plan.scenario), "As it is.")


def test_each_week_is_a_page_and_the_cautions_are_the_last(run_shop: Callable[..., Any]) -> None:
    # Frames glued one a day from Monday to Friday and on the next Monday: two weeks.
    text = sheet_of(run_shop(FRAME, shop=SHOP, run="orders = 6"))
    assert re.findall(r"<h1>(.*?)</h1>", text) == [
        "Frames &amp; co: week of 11 January 2027", "Frames &amp; co: week of 18 January 2027", "Cautions",
    ]  # fmt: skip
    assert "section { break-after: page; }" in text
    assert "2 cautions for this work" in text


def test_what_is_done_has_a_box_and_what_stays_overnight_has_none(run_shop: Callable[..., Any]) -> None:
    text = sheet_of(run_shop(FRAME, shop=SHOP, run="orders = 1"))
    items = re.findall(r"<li>(.*?)</li>", text)
    plain = [re.sub(r"<[^>]+>", " ", item).split() for item in items]
    assert [" ".join(words) for words in plain] == [
        "08:00 GLUE UP glue &lt;b&gt; (batch 1, piece 1); 2 bar clamps ! glue-up",
        "stays in clamps: glue &lt;b&gt; (batch 1, piece 1) until Tue 08:00",
        "08:00 sand (batch 1, piece 1) ! dust",
        "ships: tray (batch 1, piece 1)",
    ]
    assert ['class="box"' in item for item in items] == [True, False, True, True]
    assert "<b>" not in text


def test_letters_are_as_large_as_the_week_allows() -> None:
    assert fit_size([["sand"]]) == SIZES_PT[0]
    sizes = [fit_size([["sand the case"] * n] * 5) for n in (1, 4, 8, 12, 40)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[-1] == SIZES_PT[-1]
    assert sizes[1] >= 16


def test_the_sheet_names_no_other_file(run_shop: Callable[..., Any]) -> None:
    text = sheet_of(run_shop(FRAME, shop=SHOP, run="orders = 1"))
    assert not re.search(r"\b(src|href)=", text)
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in text
