"""It holds that the commands that run many times print, tell and write the answers that the library gives."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim import load_scenario
from shopsim.answers import compare_batch_sizes, compare_clamps, decide, forecast_delivery
from shopsim.rows import table_rows

Command = Callable[..., tuple[int, str, str]]
STUDIES = ("decide", "batches", "clamps", "delivery")


def told(shopsim: Command, *words: object) -> dict[str, Any]:
    code, out, err = shopsim(*words, "--json", "--jobs", 1)
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert isinstance(answer, dict)
    return answer


def test_batches_tells_what_the_library_answers(shopsim: Command, trays: Path) -> None:
    answer = told(shopsim, "batches", trays, "--sizes", "1,4", "--replications", 12, "--seed", 3)
    own = compare_batch_sizes(load_scenario(trays), [1, 4], replications=12, seed=3)
    assert answer["rows"] == table_rows(own.rows)
    assert answer["sentence"] == own.sentence
    assert [row["batch"] for row in answer["rows"]] == [1, 2, 4]
    assert (answer["scenario"], answer["version"]) == ("Four trays", "0.1.0")
    assert (answer["seed"], answer["replications"], answer["partial"]) == (3, 12, False)


def test_clamps_tells_what_the_library_answers_and_leaves_out_adding_none(shopsim: Command, trays: Path) -> None:
    answer = told(shopsim, "clamps", trays, "--kind", "band clamp", "--add", "0,2,4", "--replications", 12)
    own = compare_clamps(load_scenario(trays), ["band clamp"], [2, 4], replications=12)
    assert answer["rows"] == table_rows(own.rows)
    assert answer["sentence"] == own.sentence
    assert [row["added"] for row in answer["rows"] if row["thing"] == "clamps"][:2] == [2, 4]


def test_delivery_tells_what_the_library_answers(shopsim: Command, trays: Path) -> None:
    answer = told(shopsim, "delivery", trays, "--confidence", 70, "--replications", 30)
    own = forecast_delivery(load_scenario(trays), confidence=0.7, replications=30)
    assert answer["rows"] == table_rows(own.rows)
    assert answer["sentence"] == own.sentence
    assert len(answer["rows"]) == 3
    assert all(row["chance_kept"] >= 0.7 for row in answer["rows"])


def test_delivery_for_another_number_of_orders_and_for_each_of_several(shopsim: Command, trays: Path) -> None:
    one = told(shopsim, "delivery", trays, "--orders", 5, "--replications", 30)
    assert [row["position"] for row in one["rows"]] == [1, 2, 3, 4, 5]
    several = told(shopsim, "delivery", trays, "--orders", "2..4", "--replications", 30)
    assert [(row["orders"], row["pieces"]) for row in several["rows"]] == [(2, 2), (3, 4), (4, 4)]


def test_decide_tells_three_answers_and_their_rows_tagged(shopsim: Command, trays: Path) -> None:
    answer = told(shopsim, "decide", trays, "--replications", 20)
    own = decide(load_scenario(trays), replications=20)
    assert [one["title"] for one in answer["answers"]] == ["Batch size", "More clamps", "Delivery window"]
    assert [one["sentence"] for one in answer["answers"]] == [one.sentence for one in own]
    assert answer["sentence"] == " ".join(one.sentence for one in own)
    assert [row["answer"] for row in answer["rows"]] == [one.key for one in own for _ in range(len(one.rows))]
    untagged = [{key: value for key, value in row.items() if key != "answer"} for row in answer["rows"]]
    assert untagged == [row for one in answer["answers"] for row in one["rows"]]
    assert untagged == [row for one in own for row in table_rows(one.rows)]


@pytest.mark.parametrize("command", STUDIES)
def test_text_has_the_sentence_the_table_and_the_notes(shopsim: Command, trays: Path, command: str) -> None:
    code, out, err = shopsim(command, trays, "--replications", 20, "--jobs", 1)
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    answer = told(shopsim, command, trays, "--replications", 20)
    for one in answer.get("answers", [answer]):
        assert one["sentence"] in said
        assert one["title"] in said
        for note in one["notes"]:
            assert note in said
    assert "\x1b" not in out
    assert all(line == line.rstrip() for line in out.splitlines())


@pytest.mark.parametrize("command", ["delivery", "decide"])
def test_wherever_a_date_to_promise_is_printed_its_weight_is_said(shopsim: Command, trays: Path, command: str) -> None:
    said = " ".join(shopsim(command, trays, "--replications", 20, "--jobs", 1)[1].split())
    assert "can bind you" in said
    assert "30 days" in said
    assert "general information, not legal advice" in said


@pytest.mark.parametrize("width", [60, 80, 100, 140])
@pytest.mark.parametrize("command", STUDIES)
def test_tables_keep_to_the_width_and_cut_no_cell(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch, command: str, width: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    out = shopsim(command, trays, "--replications", 20, "--jobs", 1)[1]
    assert max(len(line) for line in out.splitlines()) <= width
    assert "…" not in out
    answer = told(shopsim, command, trays, "--replications", 20)
    promises = {row["promise"] for row in answer["rows"] if row.get("promise")}
    assert all(promise in out for promise in promises)


def test_decide_names_the_cautions_of_the_work_it_plans(shopsim: Command, trays: Path) -> None:
    out = " ".join(shopsim("decide", trays, "--replications", 20, "--jobs", 1)[1].split())
    assert "Cautions for this work table saw; glue-up; dust; oily rags. shopsim once says what each means" in out


def test_every_table_of_decide_is_written_whole(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    folder = tmp_path / "answers"
    code, out, err = shopsim("decide", trays, "--replications", 20, "--jobs", 1, "--json", "--out", folder)
    assert code == 0
    files = [
        "batch-size.csv",
        "more-clamps.csv",
        "delivery-window.csv",
        "lead-time-by-order.csv",
        "best-for-each-wish.csv",
        "what-costs-nothing.csv",
        "all-orders-together.csv",
        "promise-sheet.csv",
        "report.html",
    ]
    assert err == f"written to {folder}: {', '.join(files)}\n"
    assert sorted(path.name for path in folder.iterdir()) == sorted([*files, ".shopsim-wrote.json"])
    for one, name in zip(json.loads(out)["answers"], ("batch-size", "more-clamps", "delivery-window"), strict=True):
        with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.reader(file))
        assert rows[0] == list(one["rows"][0])
        assert len(rows) == 1 + len(one["rows"])


def test_a_clamp_kind_that_is_not_in_the_file_is_told_with_the_nearest(shopsim: Command, trays: Path) -> None:
    code, out, err = shopsim("clamps", trays, "--kind", "band clmap")
    assert (code, out) == (2, "")
    assert err == '--kind · there is no clamp kind "band clmap" in the file · write "band clamp"\n'
    assert "the shop has band clamp" in shopsim("clamps", trays, "--kind", "zzz")[2]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("clamps", "--add", "0"), "add a number above 0"),
        (("batches", "--replications", "1"), "too few to compare"),
        (("delivery", "--replications", "3"), "3 replications cannot tell"),
        (("decide", "--replications", "1"), "replications"),
        (("batches", "--set", "run.bach=3"), 'write "batch"'),
    ],
)
def test_what_cannot_be_asked_is_told(shopsim: Command, trays: Path, words: tuple[str, ...], said: str) -> None:
    code, out, err = shopsim(words[0], trays, *words[1:])
    assert (code, out) == (2, "")
    assert said in err


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_a_study_that_is_stopped_prints_what_is_done_and_says_so(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Batches of 1, of 2 and of all 4, three other priority rules and half the room take turns: of 91 runs each has 13.
    asked = iter(range(10**6))
    monkeypatch.setattr("shopsim.cli.stopping.Stop.asked", lambda _self: next(asked) >= 91)
    code, out, err = shopsim("batches", trays, "--jobs", 1)
    assert code == 3
    assert "Batch size" in out
    assert err == "stopped before the end: rests on 13 replications\n"


def test_a_study_that_is_stopped_too_soon_says_that_there_is_nothing(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shopsim.cli.stopping.Stop.asked", lambda _self: True)
    code, out, err = shopsim("delivery", trays, "--jobs", 1)
    assert (code, out) == (3, "")
    assert err.startswith("stopped")


def test_ways_are_compared_from_the_command_line(
    shopsim: Command, tmp_path: Path, write_shop: Callable[..., str]
) -> None:
    way = '[[design.ways]]\nname = "sled"\nchange = [{ operation = "cut", work = "7 min" }]\nadd = [{ name = "make sled", after = [], before = ["cut"], per = "run", work = "30 min" }]\n'
    calm = 'interrupted = "0 %"\nlost_days = "0 %"\n'
    path = tmp_path / "boxes.toml"
    path.write_text(write_shop('{ name = "cut", work = "10 min" }', shop=calm, more=way, run="orders = 20"))
    code, out, _ = shopsim("ways", path, "--replications", 30, "--out", tmp_path / "out")
    assert code == 0
    assert "It pays in hours of work from 10 pieces on; this run makes 20." in " ".join(out.split())
    assert (tmp_path / "out" / "from-how-many-pieces-on.csv").exists()
    assert "It pays in hours of work from 10 pieces on" in (tmp_path / "out" / "report.html").read_text(
        encoding="utf-8"
    )
    code, _, said = shopsim("ways", path, "--together", "sled + jgi")
    assert code == 2
    assert 'there is no way "jgi"' in said
