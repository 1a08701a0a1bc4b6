"""It holds that a happening is logged by a plain command that says what it wrote and what is next, and refuses what cannot be true."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., tuple[int, str, str]]
SHOP = """\
title = "Two trays"
[shop]
open = { mon-sun = "18:00-20:00" }
interrupted = "0 %"
lost_days = "0 %"
[[materials]]
name = "boards"
lead = "1 d"
needed_by = ["cut"]
[design]
name = "tray"
parts = { side = 2 }
[[design.operations]]
name = "cut"
per = "side"
work = "20 min"
[[design.operations]]
name = "oil"
work = "30 min"
cure = "12 h"
caution = "oily rags"
[run]
orders = 2
batch = 1
start = 2027-01-11
"""


@pytest.fixture
def trays_here(tmp_path: Path) -> Path:
    path = tmp_path / "trays.toml"
    path.write_text(SHOP)
    return path


def test_a_row_is_written_beside_the_scenario_and_what_is_next_is_said(shopsim: Command, trays_here: Path) -> None:
    code, out, err = shopsim("log", trays_here, "came", "boards", "--at", "2027-01-10T09:00")
    assert (code, err) == (0, "")
    code, out, err = shopsim(
        "log",
        trays_here,
        "done",
        "cut",
        "--batch",
        1,
        "--minutes",
        44,
        "--at",
        "2027-01-11T18:44",
        "--note",
        "a knot, cut out",
    )
    log = trays_here.with_name("trays-run-log.csv")
    assert (code, err) == (0, "")
    assert "".join(out.split()).startswith(
        "".join(f"written to {log}, row 3: done, cut, batch 1, minutes 44, 2027-01-11 18:44".split())
    )
    assert log.read_text().splitlines()[2] == '2027-01-11 18:44,done,cut,1,,,,,,,,,44,,"a knot, cut out"'
    assert "oil" in out.split("Next on the bench")[1].splitlines()[3]


def test_what_cannot_be_true_is_not_written(shopsim: Command, trays_here: Path) -> None:
    code, out, err = shopsim("log", trays_here, "done", "oil", "--batch", 1, "--at", "2027-01-11T18:44")
    assert (code, out) == (2, "")
    assert err == (
        'not written · "oil" · "oil" comes after cut, batch 1, piece 1, which is not done · log that as done first, or take this row '
        "back\n1 fault\n"
    )
    assert not trays_here.with_name("trays-run-log.csv").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("don", "cut"), '"don" is nothing that happens in a run · write "done"'),
        (("done", "cutt", "--batch", 1), 'not written · operation · there is no operation "cutt" · write "cut"'),
        (
            ("done", "cut", "--batch", 3),
            "not written · batch · there is no batch 3, the run has 2 · write a batch from 1 to 2",
        ),
        (
            ("done", "cut", "--pieces", "x"),
            'not written · pieces · "x" cannot be read as numbers · write them like 1-3, 5',
        ),
        (("shipped", "7"), 'not written · order · there is no order "7" · known are "1", "2"'),
        (("back", "5"), "not written · row · row 5 does not come before this one · name an earlier row"),
        (
            ("done", "cut", "--at", "today"),
            '--at · "today" is not a date · write it like 2027-01-08 (year, month, day)',
        ),
        (("done", "cut", "--log", "other.csv"), "--log · other.csv is not there · check the name, or leave it out"),
    ],
)
def test_slips_get_one_message_with_a_mend(
    shopsim: Command, trays_here: Path, words: tuple[object, ...], told: str
) -> None:
    at = () if "--at" in words else ("--at", "2027-01-11T18:44")
    code, _, err = shopsim("log", trays_here, *words, *at)
    assert code == 2
    assert err.startswith(told)


def test_a_row_taken_back_leaves_the_run_as_it_was(shopsim: Command, trays_here: Path) -> None:
    for words in (("done", "cut", "--pieces", 1), ("spoiled", "side", "--pieces", 1, "--units", 2), ("back", 3)):
        code, _, err = shopsim("log", trays_here, *words, "--at", "2027-01-11T18:44")
        assert (code, err) == (0, "")
    told = json.loads(shopsim("log", trays_here, "--json", "--at", "2027-01-11T18:50")[1])
    assert next(row["operation"] for row in told["next"]) == "oil"
    assert len(trays_here.with_name("trays-run-log.csv").read_text().splitlines()) == 4


def test_how_a_run_stands_is_said_without_writing(shopsim: Command, trays_here: Path) -> None:
    code, out, _ = shopsim("log", trays_here, "--at", "2027-01-11T18:00")
    assert code == 0
    assert "0 rows that stand; at 2027-01-11 18:00" in " ".join(out.split())
    assert not trays_here.with_name("trays-run-log.csv").exists()


def test_the_forecast_from_now_reads_the_log_beside_the_scenario(shopsim: Command, trays_here: Path) -> None:
    shopsim("log", trays_here, "done", "cut", "--pieces", 1, "--minutes", 40, "--at", "2027-01-11T18:40")
    words = ("now", trays_here, "--at", "2027-01-11T19:00", "--replications", 40)
    code, out, err = shopsim(*words)
    assert (code, err) == (0, "")
    assert "At 2027-01-11 19:00, 0 of 2 orders have shipped and 0 of 2 pieces are done." in " ".join(out.split())
    assert "Next on the bench" in out
    assert "oily rags" in out
    told = json.loads(shopsim(*words, "--json")[1])
    assert told["answer"] == "forecast_from_now"
    assert {"how_the_run_stands", "next_on_the_bench", "under_way", "notes_to_buyers"} == set(told["tables"])
    assert shopsim(*words, "--json")[1] == shopsim(*words, "--json")[1]


def test_a_folder_gets_the_tables_and_a_report(shopsim: Command, trays_here: Path, tmp_path: Path) -> None:
    code, _, _ = shopsim("now", trays_here, "--at", "2027-01-11T19:00", "--replications", 40, "--out", tmp_path / "out")
    assert code == 0
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"report.html", "forecast-from-now.csv", "next-on-the-bench.csv"} <= names
