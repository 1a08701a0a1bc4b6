"""Priority rules of one's own, and runs that cannot be carried through: what is said, with time, task and mend."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import Waiting, parse_scenario, run_once
from shopsim.errors import RunError, StalledShop
from shopsim.priority import RULES
from shopsim.scenario import change_scenario

Text = Callable[..., str]
Rows = Callable[..., dict[str, str]]

BUSY = """
{ name = "cut", station = "saw", setup = "6 min", work = "20 / 30 / 50 min" },
{ name = "glue", station = "bench", work = "8 / 12 / 20 min", clamps = [{ count = 2, kind = "bar clamp" }], in_clamps = "90 min" },
{ name = "turn", after = ["cut"], per = "leg", handful = 2, work = "5 / 9 / 14 min" },
{ name = "assemble", after = ["glue", "turn"], station = "bench", work = "15 / 25 / 40 min" },
{ name = "oil", work = "5 / 8 / 12 min", wet = "1 h", cure = "12 h" },
"""
SHOP = """
stations = [{ name = "saw" }, { name = "bench" }]
clamps = [{ name = "bar clamp", count = 4 }]
"""


@pytest.mark.parametrize("name", RULES)
def test_a_built_in_order_handed_in_as_a_rule_is_the_same_order(write_shop: Text, read_run: Rows, name: str) -> None:
    # The built-in orders are sorted once for whole entries of the queue, a rule is asked task by task: two ways.
    text = write_shop(BUSY, shop=SHOP, parts='"leg" = 4', run="orders = 7\nbatch = 2\npieces_open = 6")
    scenario = change_scenario(parse_scenario(text), {"run.priority": name})
    for seed in range(3):
        built_in, own = run_once(scenario, seed=seed), run_once(scenario, seed=seed, rule=RULES[name].key)
        assert read_run(own) == read_run(built_in)
        assert own.check() == []


#: Three orders, told the 20th, the 13th, and nothing; a fourth piece is spare.
BOOK = "id,date,promised\na,2027-01-04,2027-01-20\nb,2027-01-05,2027-01-13\nc,2027-01-06,\n"
TOLD = 'orders = "orders.csv"\nround_up_to = 4\npieces_open = 4\npriority = "due first"\nbatch = '
DAY = 24 * 60.0


@pytest.mark.parametrize("size", [1, 2])
def test_due_first_handed_in_as_a_rule_is_the_same_order(
    write_shop: Text, read_run: Rows, tmp_path: Path, size: int
) -> None:
    (tmp_path / "orders.csv").write_text(BOOK, encoding="utf-8")
    text = write_shop(BUSY, shop=SHOP, parts='"leg" = 4', run=f"{TOLD}{size}")
    scenario = parse_scenario(text, folder=tmp_path)
    for seed in range(3):
        built_in, own = run_once(scenario, seed=seed), run_once(scenario, seed=seed, rule=RULES["due first"].key)
        assert read_run(own) == read_run(built_in)


def test_a_rule_sees_when_a_batch_may_open_and_when_it_is_due(write_shop: Text, tmp_path: Path) -> None:
    # From Monday the 11th: the 13th ends after 3 days, the 20th after 10. Work for the whole run is due with the first.
    (tmp_path / "orders.csv").write_text(BOOK + "d,2027-01-12 09:30,2027-01-14\n", encoding="utf-8")
    operations = '{ name = "lay out", per = "run", work = "10 min" }, { name = "carve", work = "1 h" }'
    run = 'orders = "orders.csv"\nrelease = "as ordered"\nbatch = 1\nround_up_to = 5\npromised = 2027-01-31'
    seen: dict[str, Waiting] = {}

    def keep(task: Waiting) -> int:
        seen[f"{task.operation} {task.batch}"] = task
        return task.batch

    run_once(parse_scenario(write_shop(operations, run=run), folder=tmp_path), rule=keep, likely=True)
    assert {name: task.due_min / DAY for name, task in seen.items()} == {
        "lay out 1": 3, "carve 1": 10, "carve 2": 3, "carve 3": 21, "carve 4": 4, "carve 5": math.inf,
    }  # fmt: skip
    assert [seen[f"carve {n}"].opens_min for n in (1, 2, 3, 4)] == [0, 0, 0, DAY + 9 * 60 + 30]


def test_a_rule_sees_what_stands_in_the_file_and_how_far_the_task_is(write_shop: Text) -> None:
    # Piece 1 of batch 1, legs 3 and 4: two of 9 min, 36 min after 8:00. Still to come on them: 18 + 25 (assemble) + 8 + 720 min (oil).
    seen: list[Waiting] = []

    def keep(task: Waiting) -> int:
        seen.append(task)
        return len(seen)

    text = write_shop(BUSY, shop=SHOP, parts='"leg" = 4', run="orders = 2\nbatch = 1\npieces_open = 1")
    run_once(parse_scenario(text), rule=keep, likely=True)
    (legs,) = [task for task in seen if (task.operation, task.batch, task.unit) == ("turn", 1, 3)]
    assert legs == Waiting(
        design="tray", operation="turn", batch=1, step=2, piece=1, unit=3, early=False,
        likely_min=18.0, tail_min=18.0 + 25 + 8 + 720, opens_min=0.0, due_min=math.inf, ready_min=8 * 60 + 36.0,
    )  # fmt: skip
    (glue,) = [task for task in seen if (task.operation, task.batch) == ("glue", 2)]
    assert (glue.early, glue.piece, glue.likely_min) == (True, 2, 12.0)


def test_later_tasks_first_is_an_order_of_ones_own(write_shop: Text, read_run: Rows) -> None:
    # Three pieces of an hour each, the last one first: 8, 9, 10 o'clock for pieces 3, 2, 1.
    text = write_shop('{ name = "carve", work = "1 h" }', run="orders = 3")
    run = run_once(parse_scenario(text), rule=lambda task: -task.piece, likely=True)
    assert read_run(run, "start") == {
        "carve 1": "Mon 11 10:00",
        "carve 2": "Mon 11 09:00",
        "carve 3": "Mon 11 08:00",
    }


def test_a_run_that_cannot_go_on_names_the_moment_the_task_and_what_it_needs(write_shop: Text) -> None:
    # A file whose clamps never suffice is refused; here they are taken away after it was checked.
    text = write_shop(BUSY, shop=SHOP, parts='"leg" = 4')
    sound = parse_scenario(text)
    (clamp,) = sound.shop.clamps
    few = sound.model_copy(
        update={"shop": sound.shop.model_copy(update={"clamps": (clamp.model_copy(update={"count": 1}),)})}
    )
    with pytest.raises(StalledShop) as told:
        run_once(few, likely=True)
    # Cut 8:00-8:36 with its set-up; legs two by two 8:36-8:54-9:12; gluing never starts, and the rest waits for it.
    assert str(told.value) == (
        "at 2027-01-11 09:12 nothing can go on and 3 tasks are open: glue, batch 1, piece 1 needs 1 hands, bench, "
        "2 of bar clamp; still under way: nothing · look at what it needs, and at a priority rule of your own"
    )


def test_a_run_that_cannot_go_on_names_a_rack_but_no_station_where_the_task_has_none(write_shop: Text) -> None:
    shop = '[[shop.stations]]\nname = "saw"\n[[shop.racks]]\nname = "beam"\nspots = 3\n'
    shop += '[[shop.racks]]\nname = "shelf"\nspots = 3\n'
    text = write_shop('{ name = "oil", work = "5 min", cure = "1 h", rest = { rack = "shelf", spots = 2 } }', shop=shop)
    sound = parse_scenario(text)
    beam, rack = sound.shop.racks
    full = sound.model_copy(
        update={"shop": sound.shop.model_copy(update={"racks": (beam, rack.model_copy(update={"spots": 1}))})}
    )
    with pytest.raises(StalledShop) as told:
        run_once(full, likely=True)
    assert "oil, batch 1, piece 1 needs 1 hands, 2 spots of shelf; still under way: nothing" in str(told.value)


def test_a_run_of_more_than_twenty_years_is_given_up_and_says_how_far_it_came(write_shop: Text) -> None:
    # A high that is a slip of the pen: 2,000 h for 20. At likely times it is 1,800 h; with luck a unit in ten takes a year.
    text = write_shop('{ name = "carve", work = "1 / 2 / 2000 h" }', run="orders = 900")
    with pytest.raises(RunError) as told:
        run_once(parse_scenario(text))
    said = str(told.value)
    years, rest = said.split(": by ")
    assert years == "the run takes more than 20 years from 2027-01-11"
    assert 2028 < int(rest[:4]) <= 2047
    assert re.search(
        r"\d+ of 900 tasks are still open; the longest time in it is .*, the work of carve, batch 1, piece \d+ ", rest
    )
    assert said.endswith(" · check the times and their units, open the shop for longer or make fewer pieces")


def test_one_time_of_more_than_twenty_years_is_not_put_into_figures(write_shop: Text) -> None:
    text = write_shop('{ name = "lay", hands = 0, work = "1 h", cure = "90 / 100 / 80000 h" }', run="orders = 40")
    with pytest.raises(
        RunError, match=r"the longest time in it is longer than that, the cure of lay, batch 1, piece \d+ "
    ):
        run_once(parse_scenario(text))
