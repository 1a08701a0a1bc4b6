"""It holds that ``holdups`` tells what the library answers, that runs can be kept and gone on with, and choices asked for."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim import load_scenario
from shopsim.answers import compare_batch_sizes, compare_clamps, find_holdups
from shopsim.rows import table_rows
from shopsim.study import open_study

Command = Callable[..., tuple[int, str, str]]
QUESTIONS = ("batches", "clamps", "holdups", "delivery")


def told(shopsim: Command, *words: object, err: str = "") -> dict[str, Any]:
    code, out, complaints = shopsim(*words, "--json", "--jobs", 1)
    assert (code, complaints) == (0, err)
    answer = json.loads(out)
    assert isinstance(answer, dict)
    return answer


def test_holdups_tells_what_the_library_answers(shopsim: Command, trays: Path) -> None:
    answer = told(shopsim, "holdups", trays, "--replications", 5, "--accounted", 2, "--seed", 3)
    own = find_holdups(load_scenario(trays), replications=5, seed=3, accounted=2)
    assert answer["rows"] == table_rows(own.rows)
    assert answer["sentence"] == own.sentence
    assert answer["tables"] == {title: table_rows(table) for title, table in own.tables.items()}
    assert (answer["title"], answer["seed"], answer["replications"]) == ("What holds the run back", 3, 5)


def test_holdups_prints_both_numbers_and_where_the_time_goes(shopsim: Command, trays: Path) -> None:
    code, out, err = shopsim("holdups", trays, "--replications", 5, "--accounted", 2, "--jobs", 1)
    assert (code, err) == (0, "")
    said = " ".join(out.split())
    assert "What a piece waits for and what would be saved are two numbers" in said
    for heading in ("average sooner, days", "waited, days", "cost", "Where the time of a piece goes", "together"):
        assert heading in said or all(word in said for word in heading.split())
    assert "one more person like the maker" in said
    assert "100 %" in said


def test_holdups_writes_every_table(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    folder = tmp_path / "holdups"
    shopsim("holdups", trays, "--replications", 5, "--accounted", 1, "--jobs", 1, "--out", folder)
    assert {
        "what-holds-the-run-back.csv", "where-the-time-of-a-piece-goes.csv", "where-the-time-of-the-run-goes.csv",
        "time-by-batch.csv", "time-by-piece.csv", "time-by-operation.csv",
    } <= {path.name for path in folder.iterdir()}  # fmt: skip


@pytest.mark.parametrize("command", QUESTIONS)
def test_runs_that_were_kept_and_gone_on_with_give_the_answer_of_one_go(
    shopsim: Command, trays: Path, tmp_path: Path, command: str
) -> None:
    kept = tmp_path / "kept.study"
    shopsim(command, trays, "--replications", 20, "--seed", 8, "--save", kept, "--jobs", 1)
    longer = told(
        shopsim, command, trays, "--replications", 30, "--from", kept, "--save", kept, err=f"runs kept in {kept}\n"
    )
    assert longer == told(shopsim, command, trays, "--replications", 30, "--seed", 8)
    assert open_study(kept).replications == 30


def test_without_a_number_as_many_runs_as_were_kept_count(shopsim: Command, trays: Path, tmp_path: Path) -> None:
    kept = tmp_path / "kept.study"
    first = told(shopsim, "clamps", trays, "--replications", 11, "--save", kept, err=f"runs kept in {kept}\n")
    assert told(shopsim, "clamps", trays, "--from", kept) == first


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "{kept}", "--set", "run.batch=1"), "holds no runs of this scenario as it stands"),
        (("--from", "{kept}", "--seed", "5"), "was made with seed 8"),
        (("--from", "{trays}"), "no study file"),
        (("--from", "{folder}/none.study"), "cannot be read"),
        (("--save", "{folder}"), "is a folder"),
        (("--save", "{folder}/nowhere/a.study"), "its folder does not exist"),
        (("--matters", "0"), "above 0"),
        (("--priority", "glue frist"), 'write "glue first"'),
    ],
)
def test_what_cannot_be_used_is_told_before_anything_is_run(
    shopsim: Command, trays: Path, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    kept = tmp_path / "kept.study"
    shopsim("batches", trays, "--replications", 3, "--seed", 8, "--save", kept, "--jobs", 1)
    filled = [word.format(kept=kept, trays=trays, folder=tmp_path) for word in words]
    code, out, err = shopsim("batches", trays, *filled)
    assert (code, out) == (2, "")
    assert said in err


@pytest.mark.usefixtures("simpy_only")  # that makes one run at a time
def test_a_study_that_is_stopped_is_kept_as_far_as_it_came(
    shopsim: Command, trays: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = tmp_path / "kept.study"
    with monkeypatch.context() as patch:
        asked = iter(range(10**6))
        patch.setattr("shopsim.cli.stopping.Stop.asked", lambda _self: next(asked) >= 30)
        assert shopsim("batches", trays, "--save", kept, "--jobs", 1)[0] == 3
    assert not open_study(kept).complete
    whole = told(shopsim, "batches", trays, "--replications", 40)
    assert told(shopsim, "batches", trays, "--replications", 40, "--from", kept) == whole


def test_every_priority_rule_can_be_compared(shopsim: Command, trays: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "140")
    answer = told(shopsim, "batches", trays, "--sizes", 2, "--priority", "all", "--replications", 5)
    assert [row["priority"] for row in answer["rows"]] == [
        "glue first",
        "oldest batch",
        "longest tail",
        "nearest done",
    ]
    two = told(shopsim, "batches", trays, "--sizes", 2, "--priority", "glue first, longest tail", "--replications", 5)
    assert [row["priority"] for row in two["rows"]] == ["glue first", "longest tail"]
    text = shopsim("batches", trays, "--sizes", 2, "--priority", "all", "--replications", 5, "--jobs", 1)[1]
    assert re.search(r"^2\s+nearest done\s+\d", text, re.MULTILINE)


def test_lead_times_by_order_stand_under_the_batch_sizes(shopsim: Command, trays: Path) -> None:
    out = shopsim("batches", trays, "--sizes", "1,2", "--replications", 10, "--jobs", 1)[1]
    assert "Lead time by order, days: 10 % / 50 % / 90 %" in out
    answer = told(shopsim, "batches", trays, "--sizes", "1,2", "--replications", 10)
    rows = answer["tables"]["lead_time_by_order"]
    assert [row["position"] for row in rows] == [1, 2, 3, 1, 2, 3]
    first = rows[0]
    assert f"{first['lead_days_p10']:.0f} / {first['lead_days_p50']:.0f} / {first['lead_days_p90']:.0f}" in out


def test_the_makers_own_thresholds_reach_the_answer(shopsim: Command, trays: Path) -> None:
    scenario = load_scenario(trays)
    for words, options in (
        (("--worth-days", 0.5), {"threshold": 0.5}),
        (("--worth-money", 40), {"day_worth": 40.0}),
        (("--matters", 0.5), {"matters_days": 0.5}),
    ):
        answer = told(shopsim, "clamps", trays, "--replications", 12, "--jobs", 1, *words)
        own = compare_clamps(scenario, replications=12, **options)  # type: ignore[arg-type]
        assert answer["rows"] == table_rows(own.rows)
        assert answer["notes"] == list(own.notes)
    sure = told(shopsim, "batches", trays, "--sizes", "1,2,4", "--matters", 1.5, "--jobs", 1)
    assert sure["sentence"] == compare_batch_sizes(scenario, (1, 2, 4), matters_days=1.5).sentence


def test_a_threshold_is_either_of_days_or_of_money(shopsim: Command, trays: Path) -> None:
    code, _, err = shopsim("clamps", trays, "--worth-days", 1, "--worth-money", 1)
    assert code == 2
    assert "not allowed with" in err
