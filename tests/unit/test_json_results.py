"""JSON results: each says what it was made with, nothing missing is anything but null, and commands agree on their rows."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from shopsim.answers.answer import Answer
from shopsim.columns import TABLES
from shopsim.scenario import load_scenario
from shopsim.screens import screen_table
from shopsim.study.fingerprint import hash_scenario

Command = Callable[..., tuple[int, str, str]]
COMMANDS = {
    "decide": ("--replications", 20), "batches": ("--replications", 20), "clamps": ("--replications", 20),
    "holdups": ("--replications", 20, "--accounted", 1), "delivery": ("--replications", 20), "times": ("--replications", 99),
    "once": (),
}  # fmt: skip


@pytest.fixture
def told(shopsim: Command, trays: Path) -> Callable[..., dict[str, Any]]:
    def ask(command: str) -> dict[str, Any]:
        jobs = () if command == "once" else ("--jobs", 1)
        code, out, _ = shopsim(command, trays, *COMMANDS[command], "--seed", 3, *jobs, "--json")
        assert code == 0
        found = json.loads(out)
        assert isinstance(found, dict)
        return found

    return ask


def values_of(data: Any) -> Iterator[Any]:
    """Every value of plain data that holds no others."""
    if isinstance(data, dict | list):
        for item in data.values() if isinstance(data, dict) else data:
            yield from values_of(item)
    else:
        yield data


@pytest.mark.parametrize("command", COMMANDS)
def test_every_result_says_what_it_was_made_with_and_leaves_nothing_empty(
    told: Callable[..., dict[str, Any]], trays: Path, command: str
) -> None:
    result = told(command)
    scenario = load_scenario(trays)
    assert result["scenario"] == scenario.title
    assert result["scenario_hash"] == hash_scenario(scenario)
    assert result["version"] == version("shopsim")
    assert result["seed"] == 3
    assert result["replications"] == next((n for n in COMMANDS[command] if isinstance(n, int)), 1)
    assert result["rows"]
    assert result["sentence"]
    assert not [value for value in values_of(result) if value in ("", "nan", "NaT", "<NA>", "None")]
    for one in result.get("answers", [result] if command != "once" else []):
        assert TABLES[one["answer"]].title == one["title"]
        assert set(one["tables"]) <= set(TABLES)


STAMP = ("scenario", "scenario_hash", "version", "seed", "replications", "partial")


def test_what_decide_tells_is_what_the_commands_of_its_questions_tell(told: Callable[..., dict[str, Any]]) -> None:
    batches, clamps, delivery = told("decide")["answers"]
    for one, command in ((batches, "batches"), (delivery, "delivery")):
        assert one == told(command)
    own = told("clamps")
    assert [*clamps] == [*own]
    assert [clamps[key] for key in STAMP] == [own[key] for key in STAMP]
    # decide tries fewer steps, so that its intervals, which hold together, are narrower; means and costs are the same
    means = ("owned", "average_ship_day", "average_saved_days", "last_ship_day", "last_saved_days", "days_to_pay")
    tried = {(row["thing"], row["kind"], row["under"], row["added"]): row for row in own["rows"]}
    shared = [(row, tried.get((row["thing"], row["kind"], row["under"], row["added"]))) for row in clamps["rows"]]
    assert all([*row] == [*of_own] for row, of_own in shared if of_own)
    both = [([row[key] for key in means], [of_own[key] for key in means]) for row, of_own in shared if of_own]
    assert len(both) > 3
    assert [row for row, _ in both] == [of_own for _, of_own in both]


def test_a_title_is_for_people_and_may_be_any() -> None:
    rows = pd.DataFrame([{"batches_by": "option", "is_now": True, "batches": 2, "setup_h": 1.0}])
    for name in ("first_ship_day", "average_ship_day", "last_ship_day"):
        rows[name] = 3.0
    for end, value in (("", 0.0), ("_low", 0.0), ("_high", 0.0), ("_unseen", False)):
        rows[f"average_saved_days{end}"] = value
    answer = Answer("batches_by_order_received_or_by_option", "Any other title", rows, "", "", "", "", 1, 1)
    assert screen_table(answer)["batches by"].tolist() == ["option (now)"]
