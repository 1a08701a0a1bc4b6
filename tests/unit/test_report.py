"""It holds that a report is one file that loads nothing, says what it was made with, and escapes what it is given."""

from __future__ import annotations

import datetime as dt
import html
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim.answers import Answer
from shopsim.answers.delivery_words import BINDING
from shopsim.charts import CONFIG, build_holdups
from shopsim.errors import InputError
from shopsim.report import MAX_ROWS, Section, build_section, format_report, format_table, write_report
from shopsim.scenario import load_scenario, parse_scenario

Command = Callable[..., tuple[int, str, str]]
NASTY = "</script><script>alert(1)</script><img src=x onerror=alert(2)>\"'&"
ROWS = pd.DataFrame(
    {"what": ["1 more bench", NASTY], "average_saved_days": [1.0, 2.0], "average_saved_days_low": [0.5, -1.0], "average_saved_days_high": [2.0, 3.0],
     "average_saved_days_unseen": [False, False], "cost": [10.0, np.nan]}
)  # fmt: skip


def an_answer(**changes: Any) -> Answer:
    said: dict[str, Any] = {
        "key": "what_holds_the_run_back", "title": "One more", "rows": ROWS, "sentence": "It helps.", "scenario": "Trays", "scenario_hash": "0" * 64,
        "version": "0.1.0", "seed": 7, "replications": 200, "notes": ("A note.", BINDING),
    }  # fmt: skip
    return Answer(**(said | changes))


def a_report(sections: list[Section] | None = None, **changes: Any) -> str:
    said: dict[str, Any] = {
        "title": "Trays", "scenario_text": 'title = "Trays"\n', "stamp": {"version": "0.1.0", "seed": 7},
        "date": dt.date(2027, 1, 5),
        "cautions": pd.DataFrame({"caution": ["dust"], "operations": ["sand"], "text": ["Collect it."]}),
    }  # fmt: skip
    return format_report([build_section(an_answer())] if sections is None else sections, **(said | changes))


class Page(HTMLParser):
    """Elements with their attributes, and the text outside scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.text = ""
        self.scripts: list[tuple[dict[str, str | None], str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in ("meta", "img", "br"):
            self.open.append(tag)
        if tag == "script":
            self.scripts.append((dict(attrs), ""))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "script":
            self.scripts[-1] = (self.scripts[-1][0], self.scripts[-1][1] + data)
        elif not self.open or self.open[-1] != "style":
            self.text += data


def test_a_report_loads_nothing_from_anywhere() -> None:
    text = a_report()
    page = Page(text)
    names = [tag for tag, _ in page.elements]
    assert not {"link", "img", "iframe", "object", "base", "form"} & set(names)
    assert all("src" not in attributes for _, attributes in page.elements)
    assert all(str(attributes.get("href", "#")).startswith("#") for _, attributes in page.elements)
    policy = next(attributes for _, attributes in page.elements if "http-equiv" in attributes)
    assert str(policy["content"]).startswith("default-src 'none';")
    assert page.open == []


def test_the_drawing_library_stands_in_it_once_and_every_chart_has_its_data() -> None:
    page = Page(a_report([build_section(an_answer()), build_section(an_answer(title="Again"))]))
    assert sum("plotly.js v" in text[:200] for _, text in page.scripts) == 1
    charts = [
        (attributes["data-chart"], json.loads(text)) for attributes, text in page.scripts if "data-chart" in attributes
    ]
    assert [name for name, _ in charts] == ["chart-0", "chart-1"]
    assert charts[0][1]["layout"]["title"]["text"] == "What each change would save"
    places = [attributes for tag, attributes in page.elements if tag == "div" and attributes.get("role") == "img"]
    assert [place["id"] for place in places] == ["chart-0", "chart-1"]
    assert all("What each change would save." in str(place["aria-label"]) for place in places)


def test_a_report_without_charts_needs_no_library() -> None:
    assert len(a_report([Section("Pieces", "All done.")])) < 10_000


def test_it_says_what_it_was_made_with_and_when() -> None:
    text = Page(a_report()).text
    assert "Made on 2027-01-05: version 0.1.0, seed 7." in text
    for said in ("It helps.", "A note.", 'title = "Trays"', "Collect it.", "dust (sand)", "1 more bench"):
        assert said in text


def test_the_note_on_binding_dates_stands_in_every_report_once() -> None:
    for sections in ([build_section(an_answer())], [Section("Pieces", "All done.")]):
        assert Page(a_report(sections)).text.count(BINDING) == 1


def test_every_caution_stands_in_a_report_words_of_ones_own_without_a_text() -> None:
    said = {
        "caution": ["dust", "noise", "mind the cat"],
        "operations": ["sand"] * 3,
        "text": ["Collect it.", "Loud.", ""],
    }
    page = Page(a_report(cautions=pd.DataFrame(said)))
    lines = [line for line in page.text.splitlines() if line.strip()]
    at = lines.index("Cautions")
    assert lines[at + 1 : at + 6] == ["dust (sand)", "Collect it.", "noise (sand)", "Loud.", "mind the cat (sand)"]
    assert sum(tag == "dd" for tag, _ in page.elements) == 2


def test_nothing_that_it_is_given_becomes_markup() -> None:
    answer = an_answer(title=NASTY, sentence=NASTY, notes=(NASTY,))
    cautions = pd.DataFrame({"caution": [NASTY], "operations": [NASTY], "text": [NASTY]})
    text = a_report(
        [build_section(answer), Section(NASTY, NASTY, (), {NASTY: ROWS.rename(columns={"what": NASTY})}, (NASTY,))],
        title=NASTY, scenario_text=NASTY, stamp={NASTY: NASTY}, cautions=cautions,
    )  # fmt: skip
    page = Page(text)
    assert "alert" in page.text
    assert not any(tag == "img" for tag, _ in page.elements)
    assert not any(script.strip().startswith("alert") for _, script in page.scripts)
    data = json.loads(next(script for attributes, script in page.scripts if "data-chart" in attributes))
    assert "<img" not in json.dumps(data)


def test_the_same_arguments_give_the_same_bytes(tmp_path: Path) -> None:
    assert a_report() == a_report()
    target = write_report(
        tmp_path / "report.html", [Section("Pieces", "All done.")], title="Trays", scenario_text="", stamp={},
        date=dt.date(2027, 1, 5), cautions=pd.DataFrame({"caution": [], "operations": [], "text": []}),
    )  # fmt: skip
    assert target.read_text(encoding="utf-8").startswith("<!doctype html>\n")
    assert [path.name for path in tmp_path.iterdir()] == ["report.html"]


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        write_report(
            tmp_path, [], title="", scenario_text="", stamp={}, date=dt.date(2027, 1, 5),
            cautions=pd.DataFrame({"caution": [], "operations": [], "text": []}),
        )  # fmt: skip


def test_a_table_has_headings_in_words_and_numbers_to_the_right() -> None:
    table = pd.DataFrame(
        {"lead_days": [12, 3], "chance_kept": [0.812, 1.0], "who": ["maker", ""], "cost": [1234.5, np.nan],
         "day": pd.to_datetime(["2027-01-05 00:00", "2027-01-05 08:30"])}
    )  # fmt: skip
    said = format_table(table)
    assert '<th scope="col" class="n">lead, days</th>' in said
    assert re.findall(r"<td[^>]*>([^<]*)</td>", said) == [
        "12", "81 %", "maker", "1,234.50", "2027-01-05", "3", "100 %", "-", "-", "2027-01-05 08:30",
    ]  # fmt: skip


def test_a_long_table_is_cut_and_counted() -> None:
    said = format_table(pd.DataFrame({"n": range(MAX_ROWS + 5)}))
    assert said.count("<tr>") == MAX_ROWS + 1
    assert "5 more rows stand in the CSV file." in said
    assert format_table(pd.DataFrame({"n": []})) == '<p class="stamp">No rows.</p>'


def test_no_maker_of_the_library_is_advertised() -> None:
    assert CONFIG["displaylogo"] is False
    assert json.dumps(CONFIG, sort_keys=True) in a_report()


def test_a_dark_report_has_dark_charts_and_a_dark_page() -> None:
    section = build_section(an_answer(), theme="dark")
    text = a_report([section], theme="dark")
    assert "color-scheme: dark" in text
    ground = build_holdups(ROWS, "dark").layout.template.layout.paper_bgcolor
    assert f"background: {ground}" in text
    assert section.figures[0].layout.meta["theme"] == "dark"


def test_the_commands_write_a_report_that_can_be_run_again(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    code, _, _ = shopsim(
        "decide", trays, "--replications", 20, "--jobs", 1, "--set", "run.orders=4", "--out", tmp_path / "out"
    )
    assert code == 0
    text = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    page = Page(text)
    ran = html.unescape(re.search(r"<pre>(.*?)</pre>", text, flags=re.DOTALL)[1])  # type: ignore[index]
    assert parse_scenario(ran) == load_scenario(trays, {"run.orders": 4})
    for said in ("Four trays", "seed 1, replications 20", "Batch size", "More clamps", "Delivery window", BINDING):
        assert said in page.text
    for sentence in json.loads(
        shopsim("decide", trays, "--replications", 20, "--jobs", 1, "--set", "run.orders=4", "--json")[1]
    )["answers"]:
        assert sentence["sentence"] in page.text
    titles = [
        json.loads(script)["layout"]["title"]["text"]
        for attributes, script in page.scripts
        if "data-chart" in attributes
    ]
    assert titles[0] == "Lead time by order position"
    assert "Ship window of each order" in titles


def test_one_run_has_its_report_with_timeline_use_and_waiting(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    assert shopsim("once", trays, "--replication", 3, "--out", tmp_path / "out")[0] == 0
    page = Page((tmp_path / "out" / "report.html").read_text(encoding="utf-8"))
    titles = [
        json.loads(script)["layout"]["title"]["text"]
        for attributes, script in page.scripts
        if "data-chart" in attributes
    ]
    assert titles == [
        "One run, by piece", "Where the time of each piece goes", "One run, by worker",
        "Hands and shop while open", "Hands and shop, day and night", "In use over time: band clamp",
    ]  # fmt: skip
    assert "seed 1, replication 3" in page.text
    assert "sanding dust with drying oil" in page.text
