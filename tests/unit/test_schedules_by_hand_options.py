"""Options, worked out by hand: what they change, add and drop, what waits for what, set-ups, materials and batches."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shopsim import RunResult, run_once
from shopsim.scenario import change_scenario, parse_scenario
from shopsim.study.order_queue import OrderQueue

pytestmark = pytest.mark.usefixtures("each_floor")

THREE = """
{ name = "cut", work = "30 min", setup = "10 min", station = "saw" },
{ name = "glue", work = "20 min" },
{ name = "oil", work = "10 min", setup = "30 min", cure = "12 h" },
"""
SAW = '[[shop.stations]]\nname = "saw"\n'
OPTIONS = """
[[design.options]]
name = "walnut"

[[design.options]]
name = "black"
change = [{ operation = "oil", work = "15 min" }]
add = [{ name = "stain", after = ["glue"], work = "25 min", cure = "1 h" }]

[[design.options]]
name = "raw"
drop = ["oil"]
"""
TIED = OPTIONS.replace('name = "walnut"', 'name = "walnut"\nmaterials = ["walnut boards"]')
WALNUT = """
[[materials]]
name = "walnut boards"
needed_by = ["cut"]
lead = "2 d"
"""


@pytest.fixture
def run_orders(write_shop: Callable[..., str], tmp_path: Path) -> Callable[..., RunResult]:
    """Runs a shop for orders given as their options, in turn: ``run_orders(["", "black"])``; likely times, no luck."""

    def run(
        options: list[str], operations: str = THREE, *, more: str = OPTIONS, lines: str = "", **shop: str
    ) -> RunResult:
        rows = [f"{chr(65 + n)},2027-01-04,{option}" for n, option in enumerate(options)]
        (tmp_path / "orders.csv").write_text("\n".join(["id,date,option", *rows]) + "\n")
        text = write_shop(operations, run=f'orders = "orders.csv"\n{lines}', more=more, **{"shop": SAW, **shop})
        made = run_once(parse_scenario(text, folder=tmp_path), likely=True)
        assert made.check() == []
        return made

    return run


def test_a_piece_goes_through_what_its_options_change_add_and_leave_out(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    schedule = read_run(run_orders(["", "black", "raw"], lines="pieces_open = 3"), "start", "work_min")
    assert schedule == {
        "cut 1": "Mon 11 08:00 - 30",
        "cut 2": "Mon 11 08:40 - 30",
        "cut 3": "Mon 11 09:10 - 30",
        # glue first: what dries goes before other work, and nothing of it is ready before a piece is glued
        "glue 1": "Mon 11 09:40 - 20",
        "oil 1": "Mon 11 10:00 - 10",
        "glue 2": "Mon 11 10:40 - 20",
        "stain 2": "Mon 11 11:00 - 25",
        "glue 3": "Mon 11 11:25 - 20",
        # stained at 11:25, dry at 12:25; oil for black is another version, so that it is set up anew
        "oil 2": "Mon 11 12:25 - 15",
    }


def test_the_same_operation_under_another_option_needs_no_new_set_up_and_a_changed_one_does(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    run = run_orders(["", "black", ""])
    assert read_run(run, "setup_min") == {
        "cut 1": "10", "cut 2": "0", "cut 3": "0", "glue 1": "0", "glue 2": "0", "glue 3": "0", "stain 2": "0",
        "oil 1": "30", "oil 3": "0", "oil 2": "30",
    }  # fmt: skip


def test_a_material_of_an_option_holds_back_only_its_pieces(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    run = run_orders(["walnut", "", "walnut + black"], more=TIED + WALNUT)
    starts = {task: said for task, said in read_run(run, "start").items() if task.startswith("cut")}
    # ordered on Monday 11, the day orders close, so there on Wednesday 13
    assert starts == {"cut 1": "Wed 13 08:00", "cut 2": "Mon 11 08:00", "cut 3": "Wed 13 08:30"}
    waited = run.tasks.set_index(["operation", "piece"])["waited_for"]
    assert waited["cut", 1].startswith("material: walnut boards 2880 min")
    assert "material" not in waited["cut", 2]


def test_a_material_that_no_option_names_holds_back_all(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    run = run_orders(["black", ""], more=OPTIONS + WALNUT)
    assert {said for task, said in read_run(run, "start").items() if task.startswith("cut")} == {
        "Wed 13 08:00", "Wed 13 08:40",
    }  # fmt: skip


@pytest.mark.parametrize("text", ["walnut + black", "black, walnut", "Black;WALNUT", " walnut /black "])
def test_several_options_are_read_from_every_way_of_writing_them(
    run_orders: Callable[..., RunResult], text: str
) -> None:
    quoted = f'"{text}"'
    assert run_orders([quoted]).pieces["option"].tolist() == ["walnut + black"]


def test_each_order_gets_the_first_piece_done_that_has_its_option(run_orders: Callable[..., RunResult]) -> None:
    queue = OrderQueue(run_orders(["black", "", "black", ""], lines="batch = 1").plan.scenario)
    assert [order.option for order in queue.orders] == ["black", "", "black", ""]
    assert [order.batches for order in queue.orders] == [(1,), (2,), (3,), (4,)]
    # the last two pieces are done on days 1 and 0, the first two on days 3 and 2
    done = np.array([3.0, 2.0, 1.0, 0.0]) * 1440 + 600
    assert queue.ship_days(done).tolist() == [1, 0, 3, 2]


def test_batches_by_option_hold_one_option_each_and_serve_those_first_whose_option_came_first(
    run_orders: Callable[..., RunResult],
) -> None:
    options = ["", "black", "", "black", "", "black", ""]
    received = run_orders(options, lines="batch = 3").pieces
    assert received["batch"].tolist() == [1, 1, 1, 2, 2, 2, 3]
    assert received["option"].tolist() == options
    grouped = run_orders(options, lines='batch = 3\nbatches_by = "option"').pieces
    assert grouped["batch"].tolist() == [1, 1, 1, 2, 3, 3, 3]
    assert grouped["option"].tolist() == ["", "", "", "", "black", "black", "black"]


def test_grouping_by_option_saves_the_set_ups_of_changed_operations(run_orders: Callable[..., RunResult]) -> None:
    options = ["", "black", "", "black"]
    setups = [
        float(run_orders(options, lines=f'batch = 2\nbatches_by = "{way}"').tasks["setup_min"].sum())
        for way in ("order received", "option")
    ]
    # cut once 10; oil once a batch and version at 30: 2 batches of both versions, against one of each
    assert setups == [10 + 4 * 30, 10 + 2 * 30]


def test_work_done_once_a_batch_is_done_once_for_the_pieces_that_have_it_alike(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    operations = """
{ name = "cut", work = "10 min" },
{ name = "mix", per = "batch", work = "5 min" },
{ name = "brush", work = "20 min" },
"""
    more = """
[[design.options]]
name = "red"
change = [{ operation = "mix", work = "15 min" }]

[[design.options]]
name = "long"
change = [{ operation = "brush", work = "30 min" }]
"""
    run = run_orders(["", "red", "long"], operations, more=more)
    tasks = run.tasks[["operation", "piece", "start", "work_min"]]
    mixes = tasks[tasks["operation"] == "mix"]
    assert mixes["work_min"].tolist() == [5.0, 15.0]  # one for the plain and the long piece, one for the red
    starts = {
        f"{row.operation} {row.piece}": f"{row.start:%H:%M}" for row in tasks.itertuples() if row.operation != "mix"
    }
    # cut 8:00-8:30; mix waits for its own pieces only: for the red one it could begin at 8:20, but the
    # oldest batch goes in the order of the file: mix plain at 8:30, red at 8:35, then brush
    assert [f"{start:%H:%M}" for start in mixes["start"]] == ["08:30", "08:35"]
    assert starts == {
        "cut 1": "08:00", "cut 2": "08:10", "cut 3": "08:20", "brush 1": "08:50", "brush 2": "09:10", "brush 3": "09:30",
    }  # fmt: skip


def test_an_operation_that_waits_for_the_batch_waits_for_mates_with_other_options(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    operations = """
{ name = "cut", work = "10 min" },
{ name = "oil", work = "10 min", wait_for = "batch" },
"""
    more = """
[[design.options]]
name = "carved"
add = [{ name = "carve", after = ["cut"], work = "1 h" }]
"""
    schedule = read_run(run_orders(["", "carved"], operations, more=more), "start")
    assert schedule == {
        "cut 1": "Mon 11 08:00", "cut 2": "Mon 11 08:10", "carve 2": "Mon 11 08:20", "oil 1": "Mon 11 09:20",
        "oil 2": "Mon 11 09:30",
    }  # fmt: skip
    run = run_orders(["", "carved"], operations, more=more)
    held = run.holdups[(run.holdups["piece"] == 1) & (run.holdups["part"] == "batch-mates")]
    assert held["minutes"].sum() == 70.0  # cut at 8:10, carved at 9:20


def test_work_of_the_whole_batch_takes_the_units_that_have_it_alike(run_orders: Callable[..., RunResult]) -> None:
    operations = '{ name = "cut", work = "10 min" },\n{ name = "glue", handful = "batch", work = "6 min" },'
    more = '[[design.options]]\nname = "thick"\nchange = [{ operation = "glue", work = "9 min" }]\n'
    tasks = run_orders(["", "thick", "", "thick", ""], operations, more=more).tasks
    glue = tasks[tasks["operation"] == "glue"]
    assert glue["units"].tolist() == [3, 2]
    assert glue["work_min"].tolist() == [18.0, 18.0]


def test_work_done_once_a_run_stands_in_the_first_batch_that_has_it(run_orders: Callable[..., RunResult]) -> None:
    operations = '{ name = "jig", per = "run", work = "20 min" },\n{ name = "cut", work = "10 min" },'
    more = '[[design.options]]\nname = "curved"\nadd = [{ name = "second jig", per = "run", after = ["jig"], work = "40 min" }]\n'
    lines = 'batch = 2\nbatches_by = "option"\npieces_open = 4'
    run = run_orders(["", "", "curved", "curved"], operations, more=more, lines=lines)
    starts = {f"{row.operation}": f"{row.start:%H:%M}" for row in run.tasks.itertuples() if "jig" in row.operation}
    assert starts == {"jig": "08:00", "second jig": "08:40"}
    cuts = run.tasks[run.tasks["operation"] == "cut"].set_index("piece")["start"]
    assert [f"{cuts[piece]:%H:%M}" for piece in (1, 2, 3, 4)] == ["08:20", "08:30", "09:20", "09:30"]


def test_packing_comes_after_whatever_an_option_does_last(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    more = '[[design.options]]\nname = "branded"\nadd = [{ name = "brand", after = ["cut"], work = "15 min" }]\n'
    more += '[shipping]\npacking = "5 min"\n'
    schedule = read_run(run_orders(["", "branded"], '{ name = "cut", work = "10 min" },', more=more), "start")
    assert schedule == {
        "cut 1": "Mon 11 08:00", "cut 2": "Mon 11 08:10", "brand 2": "Mon 11 08:20", "packing 1": "Mon 11 08:35",
        "packing 2": "Mon 11 08:40",
    }  # fmt: skip


def test_learning_goes_by_the_pieces_that_have_the_operation_in_the_order_they_are_cut(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    operations = '{ name = "cut", work = "10 min" },\n{ name = "carve", work = "60 min", learning = "50 %" },'
    more = '[[design.options]]\nname = "plain"\ndrop = ["carve"]\n'
    run = run_orders(["plain", "", "plain", "", ""], operations, more=more)
    carved = {task: said for task, said in read_run(run, "work_min").items() if task.startswith("carve")}
    # first, second and third unit: 60, 60 x 1/2, 60 x 3^(-1)
    assert carved == {"carve 2": "60", "carve 4": "30", "carve 5": "20"}


def test_spare_pieces_have_the_options_that_are_ordered_most(run_orders: Callable[..., RunResult]) -> None:
    run = run_orders(["", "black", "black"], lines="round_up_to = 5\nbatch = 5")
    assert run.pieces["option"].tolist() == ["", "black", "black", "black", "black"]
    (spare,) = OrderQueue(run.plan.scenario).spare
    assert (spare.option, spare.quantity, spare.batch) == ("black", 2, 1)


def test_options_nobody_orders_change_nothing(
    run_orders: Callable[..., RunResult], read_run: Callable[..., dict[str, str]]
) -> None:
    with_options, without = run_orders(["", "", ""]), run_orders(["", "", ""], more="")
    assert read_run(with_options, "start", "done", "setup_min") == read_run(without, "start", "done", "setup_min")


def test_what_an_option_leaves_alone_keeps_its_luck(run_orders: Callable[..., RunResult]) -> None:
    operations = """
{ name = "cut", work = "20 / 30 / 50 min" },
{ name = "glue", work = "10 / 20 / 40 min" },
{ name = "oil", work = "5 / 10 / 20 min" },
"""
    scenario = run_orders(["", "black", "raw"], operations).scenario
    plain = change_scenario(scenario, {"run.orders": 3})
    grouped = change_scenario(scenario, {"run.batches_by": "option", "run.batch": 1})

    def luck(of: Any) -> dict[tuple[str, int], float]:
        run = run_once(of, seed=5, replication=3)
        assert run.check() == []
        key = run.plan.worklist.task_key_unit
        return {(row.operation, key[n]): row.work_min for n, row in enumerate(run.tasks.itertuples())}

    mixed, alone, apart = luck(scenario), luck(plain), luck(grouped)
    for piece in range(3):
        assert mixed["cut", piece] == alone["cut", piece] == apart["cut", piece]
        assert mixed["glue", piece] == alone["glue", piece] == apart["glue", piece]
    assert mixed["oil", 0] == alone["oil", 0]
    assert mixed["stain", 1] == apart["stain", 1]
    assert mixed["oil", 1] == pytest.approx(15.0)  # taken at its word
    assert ("oil", 2) not in mixed
