"""The days: the plan that is found against the named rules, what is said where it is not sure, and the plan put into the file."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import InputError, Scenario, find_days, load_scenario, parse_scenario, run_once
from shopsim.answers.plan_of_days import LINES, PLANS, WEEKS, Days, chosen_rule
from shopsim.answers.question import look
from shopsim.charts.clamp_board_chart import build_clamp_board
from shopsim.charts.weeks_chart import build_weeks
from shopsim.study import plan_search
from shopsim.study.execution import Execution

#: Labels stand before the cut in the file, so every named rule but one does them first; a tray then misses its evening.
#: Cut first, each tray is glued and free the next morning.
LABELS = """
title = "Trays and labels"
[shop]
open = { mon-fri = "08:00-16:00" }
lost_days = "0 %"
workers = [{ name = "maker" }]
clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]
[design]
name = "tray"
operations = [
  { name = "write labels", after = [], work = "3 h" },
  { name = "cut", after = [], work = "170 / 180 / 200 min" },
  { name = "glue", after = ["cut"], work = "30 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "12 h" },
  { name = "finish", after = ["write labels", "glue"], work = "1 h" },
]
[run]
orders = 4
batch = 1
start = 2027-01-11
pieces_open = 4
"""
#: One operation: every order of work is the same.
PLAIN = """
[shop]
open = "always"
[design]
name = "tray"
operations = [{ name = "cut", work = "1 h" }]
[run]
orders = 2
start = 2027-01-11
"""


@pytest.fixture(autouse=True)
def _little(monkeypatch: pytest.MonkeyPatch) -> None:
    """So little is looked at that no time limit is met."""
    monkeypatch.setattr(plan_search, "TASKS_A_SECOND", 1_000)


@pytest.fixture
def labels() -> Scenario:
    return parse_scenario(LABELS)


def test_the_best_named_rule_is_the_plan_where_nothing_is_surely_better() -> None:
    answer = find_days(parse_scenario(PLAIN), seconds=60, replications=20)
    assert answer.sentence.startswith('The search found no plan that is surely better than "glue first"')
    # 2 h of work, one after the other: done at 2:00, which is the bound.
    assert answer.sentence.endswith("on Mon 11 Jan 2027, as early as any order of work can.")
    assert chosen_rule(answer) == ("glue first", None)
    assert answer.tables[LINES].empty
    assert answer.tables[PLANS]["above_bound_share"].tolist() == pytest.approx([0.0] * 5, abs=1e-3)


def test_the_days_as_the_file_stands_are_not_searched(labels: Scenario) -> None:
    answer = find_days(labels, as_it_is=True, replications=20)
    assert answer.tables[PLANS]["under"].tolist() == ["glue first"]
    assert answer.sentence.startswith('The days as the file stands, under "glue first": at likely times its last piece')
    # 4 x (3 h + 3 h + 30 min + 1 h) = 30 h of work, days of 8 h, one glue-up a day at most.
    weeks = answer.tables[WEEKS]
    assert weeks["hands_on_h"].sum() == pytest.approx(30.0)
    assert weeks["glue_ups"].sum() == 4


def test_numbers_of_the_sentence_stand_in_the_table(labels: Scenario) -> None:
    answer = find_days(labels, "average", 120, replications=60)
    plans = answer.tables[PLANS]
    chosen = plans[plans["is_chosen"]].iloc[0]
    gain = re.search(r"order (-?[0-9.]+) days? \(", answer.sentence)
    if gain is not None:  # the plan found is surely better
        assert float(gain[1]) == round(chosen["average_saved_days"], 1)
        assert chosen["under"] == "the plan found"
        assert chosen["average_saved_days_low"] > 0
    else:
        assert chosen["under"] in answer.sentence
    gap = re.search(r"([0-9]+) % later than a proven bound", answer.sentence)
    assert gap is None or int(gap[1]) == round(100 * chosen["above_bound_share"])
    assert (plans["likely_end_days"] >= plans["bound_days"]).all()


def test_the_same_seed_gives_the_same_days(labels: Scenario) -> None:
    one, again = (find_days(labels, "last", 120, seed=4, replications=20) for _ in range(2))
    assert one.sentence == again.sentence
    assert one.rows.equals(again.rows)
    assert one.tables[LINES].equals(again.tables[LINES])


def test_work_of_one_kind_stands_on_one_line_a_day(labels: Scenario) -> None:
    rows = find_days(labels, as_it_is=True, replications=20).rows
    assert not rows.duplicated(["day", "do", "operation", "batch"]).any()


def test_wishes_and_times_that_there_are_not_are_refused(labels: Scenario) -> None:
    with pytest.raises(InputError, match='there is no wish "soon" · choose one of average, last, idle'):
        find_days(labels, "soon")
    with pytest.raises(InputError, match="a search of 0 seconds cannot be made"):
        find_days(labels, seconds=0)


def test_charts_draw_what_stands_in_their_tables(labels: Scenario) -> None:
    answer = find_days(labels, as_it_is=True, replications=20)
    board = answer.tables["clamp_board"]
    figure = build_clamp_board(board)
    assert figure is not None
    assert sum(len(bars.x) for bars in figure.data) == len(board) == 4
    assert {float(height) for bars in figure.data for height in bars.width} == {0.84}  # each takes both clamps
    weeks = build_weeks(answer.tables[WEEKS])
    assert weeks is not None
    words = [text for trace in weeks.data if trace.type == "scatter" for text in trace.text]
    assert sum(text.count("1g") for text in words) == 4
    assert build_clamp_board(board.head(0)) is None
    assert build_weeks(answer.tables[WEEKS].head(0)) is None


def test_keep_puts_the_plan_into_the_file_and_the_days_follow_it(
    shopsim: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    file = tmp_path / "trays.toml"
    file.write_text("# my trays\n" + LABELS, encoding="utf-8")
    code, _, err = shopsim("days", str(file), "--time", "60", "--replications", "60", "--keep")
    assert code == 0, err
    text = file.read_text(encoding="utf-8")
    assert text.startswith("# my trays\n")
    scenario = load_scenario(file)
    if scenario.run.plan is not None:
        assert scenario.run.priority == "as planned"
        assert f"has a plan of {len(scenario.run.plan.order)} lines now" in err
        assert scenario.run.plan.seed == 1
    assert run_once(scenario, likely=True).check() == []
    code, _, err = shopsim("days", str(file), "--keep", "--set", "run.start=2027-01-11")
    assert code == 2
    assert "--keep · the plan would be for values that --set puts in place of the file's" in err


def test_a_first_look_shows_the_best_named_rule_while_the_search_is_still_to_come(labels: Scenario) -> None:
    execution = Execution(80, 1, first_tasks=1)
    first, last = look(Days(labels, "last", seconds=60), execution)
    assert first.sentence.startswith("A better plan is being searched; so far, of the rules that there are,")
    assert "ships the last order soonest, on the mean of 12 runs" in first.sentence
    rows = first.tables[PLANS]
    best = rows.loc[rows["last_ship_day"].idxmin(), "under"]
    assert rows.loc[rows["is_chosen"], "under"].tolist() == [best]
    assert f'"{best}"' in first.sentence
    assert len(first.rows)
    assert last.to_dict() == find_days(labels, "last", seconds=60, replications=80).to_dict()
