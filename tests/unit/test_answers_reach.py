"""What it would take, in shops whose answer can be worked out by hand: without luck every chance is nothing or all."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import Answer, InputError, Scenario, change_scenario, find_reach, parse_scenario
from shopsim.answers.reach_levers import list_reach_levers
from shopsim.charts.for_answers import build_for_answer
from shopsim.scenario import read_scenario_text

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
#: One maker, Mondays to Wednesdays 8 to 16: eight pieces of four hours each are two a day, the last two on Monday the 18th.
STEP = '{ name = "carve", work = "4 h", station = "bench" }'
OPEN = '{ mon-wed = "08:00-16:00" }'
BENCH = '[[shop.stations]]\nname = "bench"\n'
FREE = "priority rule, room, batch size, material"


@pytest.fixture
def carving(write_shop: Callable[..., str]) -> Scenario:
    return parse_scenario(write_shop(STEP, open=OPEN, shop=CALM + BENCH, run="orders = 8\nbatch = 1\npieces_open = 8"))


_KEPT: dict[str, Answer] = {}


@pytest.fixture
def answer(carving: Scenario) -> Answer:
    """By Wednesday the 13th, three days of 8 h, 24 h, where 32 h are asked; asked once for all tests."""
    if not _KEPT:
        _KEPT["answer"] = find_reach(carving, "2027-01-13", lock=FREE, replications=30)
    return _KEPT["answer"]


def sets(scenario: Scenario, by: str, lock: str = FREE, **more: float) -> list[str]:
    answer = find_reach(scenario, by, lock=lock, replications=30, **more)  # type: ignore[arg-type]
    return [row["what"] for row in answer.rows.to_dict("records")[1:] if row["stands"] == "reaches"]


def test_what_is_kept_already_is_told_with_its_room(carving: Scenario) -> None:
    answer = find_reach(carving, "2027-01-20", replications=30)
    assert answer.sentence == (
        "Already reached, with room of 2 days: as things stand all orders are out by 2027-01-20 in 100 % of runs, and the day "
        "with a chance of 90 % is 2027-01-18."
    )
    assert len(answer.rows) == 1
    assert "with no day to spare" in find_reach(carving, "2027-01-18", replications=30).sentence


def test_the_smallest_sets_are_those_worked_out_by_hand(answer: Answer) -> None:
    # two orders fewer are 24 h; one fewer is 28 h, and two hours more on two of the three days are 28 h; a helper of 8 h on
    # one of the days, who needs a bench of his own; without either, two hours more on all three days are 30 h and not 32
    reached = answer.rows[answer.rows["stands"] == "reaches"]
    assert list(reached["what"]) == [
        "6 orders instead of 8",
        "7 orders instead of 8, 2 hours more on Mondays and 2 hours more on Tuesdays",
        "7 orders instead of 8, 2 hours more on Mondays and 2 hours more on Wednesdays",
        "7 orders instead of 8, 2 hours more on Tuesdays and 2 hours more on Wednesdays",
        "one more bench and a helper on Mondays who can do everything",
        "one more bench and a helper on Tuesdays who can do everything",
        "one more bench and a helper on Wednesdays who can do everything",
    ]
    assert len(reached) == len(answer.rows) - 1
    assert "7 sets in all reach it." in answer.sentence
    asked = "That all orders are out by 2027-01-13 with a chance of 90 % takes 6 orders instead of 8 (100 %); or "
    assert answer.sentence.startswith(asked)


def test_what_no_three_levers_reach_is_told_with_the_nearest(carving: Scenario) -> None:
    answer = find_reach(carving, "2027-01-11", lock=f"{FREE}, orders, hours", replications=30)
    assert "is not reached by anything tried; as things stand the chance is 0 %. Nearest is " in answer.sentence
    (nearest,) = answer.rows.to_dict("records")[1:]
    assert nearest["stands"] == "falls short"
    assert nearest["reached_by"] in answer.sentence


def test_one_order_alone_is_asked_for_by_its_id_and_keeps_its_buyer(carving: Scenario) -> None:
    # the sixth piece is done on Wednesday the 13th at 16:00; the fifth at noon
    assert find_reach(carving, "2027-01-13", order="6", replications=30).sentence.startswith(
        "Already reached, with no day"
    )
    answer = find_reach(carving, "2027-01-12", order="5", lock=FREE, replications=30)
    assert not answer.rows["what"].str.contains("orders").any()
    assert 'That order "5" is out by 2027-01-12' in answer.sentence
    with pytest.raises(InputError, match='order · there is no order "9"'):
        find_reach(carving, "2027-01-12", order="9")


def test_a_price_above_the_budget_is_left_out_and_what_is_locked_in_the_file_stays(
    write_shop: Callable[..., str],
) -> None:
    jig = '[[design.ways]]\nname = "jig"\nchange = [{ operation = "carve", work = "3 h" }]\nprice = 50.0\n'
    text = write_shop(STEP, open=OPEN, shop=CALM + BENCH, run="orders = 8\nbatch = 1\npieces_open = 8", more=jig)
    scenario = parse_scenario(text)
    calm = f"{FREE}, hours, helper"
    assert sets(scenario, "2027-01-13", calm) == ["6 orders instead of 8", 'the way "jig"']  # 24 hours either way
    assert sets(scenario, "2027-01-13", calm, budget=49.0) == ["6 orders instead of 8"]
    assert len(sets(scenario, "2027-01-13", calm, budget=50.0)) == 2
    locked = change_scenario(scenario, {"run.locked": ["way", "orders"]})
    assert {lever.thing for lever in list_reach_levers(locked, locked.run.locked)}.isdisjoint({"way", "orders"})
    assert sets(locked, "2027-01-13", f"{FREE}, hours")[0].startswith("one more bench")
    faults = read_scenario_text(text.replace("orders = 8", 'orders = 8\nlocked = ["helpr"]'), "a.toml").faults
    assert [str(fault).split(" · ", 1)[1] for fault in faults] == [
        'run.locked[0] · there is no sort of lever "helpr" · write "helper"'
    ]


def test_the_changes_of_a_set_make_the_shop_that_was_run(carving: Scenario, answer: Answer) -> None:
    for row in answer.rows.to_dict("records")[1:]:
        changed = change_scenario(carving, json.loads(row["changes"]))
        assert find_reach(changed, "2027-01-13", replications=30).sentence.startswith("Already reached")


def test_same_seed_same_answer_and_a_stop_keeps_what_there_is(carving: Scenario) -> None:
    lock = f"{FREE}, hours"
    first, second = (find_reach(carving, "2027-01-13", lock=lock, seed=5) for _ in range(2))
    assert first.rows.equals(second.rows)
    assert first.tables["what_was_searched"].equals(second.tables["what_was_searched"])
    ended = find_reach(carving, "2027-01-13", lock=FREE, seconds=0.001)
    assert ended.partial
    assert "Ended after 0.001 seconds" in " ".join(ended.notes)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"by": None}, "by · is missing · say by which day, like 2027-04-30"),
        ({"by": "soon"}, 'by · "soon" is not a date · write it like 2027-04-30'),
        ({"by": "2026-01-01"}, "by · 2026-01-01 is before orders close on 2027-01-11 · ask for a later day"),
        (
            {"by": "2027-01-13", "chance": 100},
            "chance · 100 is no chance in percent · write one from 1 to 99.9, like 90",
        ),
        ({"by": "2027-01-13", "lock": "hour"}, 'lock · there is no sort of lever "hour" · write "hours"'),
    ],
)
def test_what_cannot_be_asked_is_told_with_its_mend(carving: Scenario, asked: dict[str, object], said: str) -> None:
    with pytest.raises(InputError) as told:
        find_reach(carving, **asked)  # type: ignore[arg-type]
    assert str(told.value) == said


def test_the_command_tells_and_writes_what_the_library_answers(
    shopsim: Callable[..., tuple[int, str, str]], write_shop: Callable[..., str], tmp_path: Path
) -> None:
    path = tmp_path / "carving.toml"
    path.write_text(write_shop(STEP, open=OPEN, shop=CALM + BENCH, run="orders = 8\nbatch = 1\npieces_open = 8"))
    code, out, _ = shopsim(
        "reach", path, "--by", "2027-01-13", "--chance", "90", "--lock", f"{FREE},helper", "--out", tmp_path / "out"
    )
    assert code == 0
    assert "takes 6 orders instead of 8 (100 %)" in " ".join(out.split())
    report = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "6 orders instead of 8 (100 %)" in report
    assert "Chance by day" in report
    assert (tmp_path / "out" / "chance-by-day.csv").exists()
    code, _, said = shopsim("reach", path, "--by", "May")
    assert (code, 'by · "May" is not a date' in said) == (2, True)


def test_the_chart_has_a_line_for_today_and_each_set(answer: Answer) -> None:
    (figure,) = build_for_answer(answer.key, answer.rows, answer.tables)
    names = [trace.name for trace in figure.data if trace.name]
    assert names[:2] == ["as today", "6 orders instead of 8"]
    today = figure.data[0]
    assert dict(zip(today.x, today.y, strict=True))["2027-01-18"] == 100
    assert dict(zip(today.x, today.y, strict=True))["2027-01-13"] == 0
