"""It holds that one run is told as tables, as JSON and as a plan of what to do on which day, cautions beside it."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import load_scenario, run_once

Command = Callable[..., tuple[int, str, str]]


def test_json_is_one_object_with_the_stamp_rows_and_sentence(shopsim: Command, trays: Path) -> None:
    code, out, err = shopsim("once", trays, "--likely", "--json")
    told = json.loads(out)
    assert (code, err) == (0, "")
    assert told["scenario"] == "Four trays"
    assert told["version"] == "0.1.0"
    assert (told["seed"], told["replications"], told["replication"], told["likely"]) == (1, 1, 0, True)
    assert told["rows"] == told["pieces"]
    assert told["sentence"].startswith("One run with everything at its likely time")


def test_json_has_a_row_for_every_task_with_local_times_and_null_for_what_is_not(shopsim: Command, trays: Path) -> None:
    # Cut: 8:00 with 10 min of set-up and 30 of work. Glue of piece 1 at 8:40 (glue first), 15 min, then 16 h in the
    # clamp: 0:55, nobody there, so off at 8:00 on the next day.
    told = json.loads(shopsim("once", trays, "--likely", "--json")[1])
    cut, glue = [row for row in told["tasks"] if row["piece"] == 1 and row["operation"] in ("cut", "glue")]
    assert {key: cut[key] for key in ("task", "batch", "ready", "start", "setup_min", "work_min", "done")} == {
        "task": 1,
        "batch": 1,
        "ready": "2027-01-11T00:00:00",
        "start": "2027-01-11T08:00:00",
        "setup_min": 10.0,
        "work_min": 30.0,
        "done": "2027-01-11T08:40:00",
    }
    assert (cut["in_clamps_until"], cut["station"], cut["worker"]) == (None, None, "maker")
    assert (glue["start"], glue["in_clamps_until"]) == ("2027-01-11T08:40:00", "2027-01-12T08:00:00")
    assert (glue["station"], glue["clamps"]) == ("bench", "1 band clamp")
    assert len(told["tasks"]) == 16


def test_json_pieces_ship_on_days_and_the_parts_of_their_time_sum_to_the_whole(shopsim: Command, trays: Path) -> None:
    told = json.loads(shopsim("once", trays, "--likely", "--json")[1])
    run = run_once(load_scenario(trays), likely=True)
    assert [row["ships"] for row in told["pieces"]] == [f"{day:%Y-%m-%d}" for day in run.pieces["ships"]]
    assert sum(row["share"] for row in told["time"]) == pytest.approx(1.0)
    elapsed_days = sum(row["elapsed_min"] for row in told["pieces"]) / 1440 / len(told["pieces"])
    assert sum(row["days"] for row in told["time"]) == pytest.approx(elapsed_days)


def test_the_same_seed_gives_the_same_run_and_another_replication_another(shopsim: Command, trays: Path) -> None:
    first = shopsim("once", trays, "--seed", 5, "--replication", 3, "--json")[1]
    assert shopsim("once", trays, "--seed", 5, "--replication", 3, "--json")[1] == first
    assert shopsim("once", trays, "--seed", 5, "--replication", 4, "--json")[1] != first
    drawn = run_once(load_scenario(trays), seed=5, replication=3).tasks["work_min"].tolist()
    assert [row["work_min"] for row in json.loads(first)["tasks"]] == drawn


def test_text_tells_day_by_day_what_to_glue_and_what_stays_in_clamps_overnight(
    shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    # Two band clamps: pieces 1 and 2 on Monday, off on Tuesday at 8:00, when pieces 3 and 4 follow.
    code, out, _ = shopsim("once", trays, "--likely")
    assert code == 0
    lines = out.splitlines()
    monday, tuesday = lines.index("Mon 11 Jan 2027"), lines.index("Tue 12 Jan 2027")
    day = " ".join(" ".join(lines[monday:tuesday]).split())
    assert "GLUE UP: glue, batch 1, pieces 1-2; begin at 08:40, 09:25; 1 band clamp each; bench" in day
    assert "night stays in clamps: glue, batch 1, pieces 1-2, until Tue 12 Jan 08:00; 2 band clamp" in day
    assert "GLUE UP: glue, batch 2" in " ".join(lines[tuesday:])
    assert any(" ".join(line.split()).startswith("ships tray, batch 1, piece") for line in lines)


def test_cautions_stand_beside_the_work_and_their_text_once_below(shopsim: Command, trays: Path) -> None:
    text = trays.read_text(encoding="utf-8")
    several = text.replace('caution = "table saw"', 'caution = ["table saw", "eye protection", "keep the cat out"]')
    trays.write_text(several, encoding="utf-8")
    out = " ".join(shopsim("once", trays, "--likely")[1].split())
    assert "oil, batch 1, pieces 1-2; maker" in out
    assert "! oily rags" in out
    assert "! table saw; eye protection" in out
    assert (
        out.count(
            "oily rags (oil): Rags, paper, steel wool and sanding dust with drying oil on them heat up by themselves"
        )
        == 1
    )
    assert (
        out.count("Local codes, the manufacturers' own instructions and qualified advice come first.") == 5
    )  # once for each key
    assert out.count("keep the cat out (cut)") == 1
    assert "keep the cat out (cut):" not in out


def test_every_table_is_written_and_what_was_written_is_said(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out" / "run"
    code, _, err = shopsim("once", trays, "--likely", "--out", folder)
    assert code == 0
    names = ["pieces", "tasks", "day-plan", "where-the-time-goes", "hold-ups", "use", "hours-by-use", "cautions"]
    files = [*(f"{name}.csv" for name in names), "report.html"]
    assert err == f"written to {folder}: {', '.join(files)}\n"
    assert sorted(path.name for path in folder.iterdir()) == sorted([*files, ".shopsim-wrote.json"])
    with (folder / "tasks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows == [
        {key: "" if value is None else str(value) for key, value in row.items()}
        for row in json.loads(shopsim("once", trays, "--likely", "--json")[1])["tasks"]
    ]


def test_a_long_plan_is_cut_with_a_line_that_says_how_to_see_all(shopsim: Command, trays: Path) -> None:
    code, out, _ = shopsim("once", trays, "--likely", "--set", "run.orders=80")
    assert code == 0
    said = " ".join(out.split())
    assert "... and 20 more rows: --out DIR writes all of them, --json prints them." in said
    assert "more days: --out DIR writes all of them, --json prints them." in said
    assert len(json.loads(shopsim("once", trays, "--likely", "--set", "run.orders=80", "--json")[1])["pieces"]) == 80


def test_out_refuses_a_file_before_anything_runs(shopsim: Command, trays: Path) -> None:
    code, out, err = shopsim("once", trays, "--out", trays)
    assert (code, out) == (2, "")
    assert err == f"{trays} · is a file, so tables cannot be written into it · name a folder\n"


def test_names_in_a_file_cannot_steer_the_screen(shopsim: Command, trays: Path) -> None:
    text = trays.read_text(encoding="utf-8").replace(
        'title = "Four trays"', r'title = "a\u001b[31mb [bold]c[/] :smile:"'
    )
    trays.write_text(text, encoding="utf-8")
    out = shopsim("once", trays, "--likely")[1]
    assert "\x1b" not in out
    assert "[bold]c[/] :smile:" in out
