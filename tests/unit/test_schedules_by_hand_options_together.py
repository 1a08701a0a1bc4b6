"""Pieces with different options in one batch or run, worked out by hand: work for all of them waits for the right pieces only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import RunResult, run_once
from shopsim.scenario import parse_scenario

pytestmark = pytest.mark.usefixtures("each_floor")

#: Engraving and staining each come after cutting, in no order of their own; the stain is one task for the batch.
STAIN = """
{ name = "cut", work = "10 min" },
{ name = "stain", handful = "batch", after = ["cut"], work = "5 min" },
{ name = "engrave", after = ["cut"], work = "1 h" },
"""
DEEP = """
[[design.options]]
name = "deep"
change = [{ operation = "stain", after = ["engrave"] }]
"""


@pytest.fixture
def schedule(write_shop: Callable[..., str], tmp_path: Path) -> Callable[..., dict[str, str]]:
    """When each task starts, as ``{"cut 1": "08:00", "stain": "08:20"}``, for orders given as their options in turn."""

    def start(options: list[str], operations: str, more: str, lines: str = "") -> dict[str, str]:
        rows = [f"{chr(65 + n)},2027-01-04,{option}" for n, option in enumerate(options)]
        (tmp_path / "orders.csv").write_text("\n".join(["id,date,option", *rows]) + "\n")
        text = write_shop(operations, run=f'orders = "orders.csv"\n{lines}', more=more)
        run: RunResult = run_once(parse_scenario(text, folder=tmp_path), likely=True)
        assert run.check() == []
        tasks = run.tasks.fillna({"piece": 0})
        return {f"{row.operation} {row.piece or ''}".strip(): f"{row.start:%H:%M}" for row in tasks.itertuples()}

    return start


def test_work_of_the_whole_batch_waits_for_an_operation_only_where_the_option_puts_it_before(
    schedule: Callable[..., dict[str, str]],
) -> None:
    # 8:00 and 8:10 cutting; 8:20 the deep piece is engraved, an hour; the stain is then ready and stands first in
    # the file: 9:20, 2 x 5 min. The plain piece's engraving has no part in it: 9:30.
    assert schedule(["deep", ""], STAIN, DEEP) == {
        "cut 1": "08:00", "cut 2": "08:10", "engrave 1": "08:20", "stain": "09:20", "engrave 2": "09:30",
    }  # fmt: skip


def test_two_orders_of_the_same_operations_in_one_batch_both_go_through(
    schedule: Callable[..., dict[str, str]],
) -> None:
    more = f'{DEEP}[[design.options]]\nname = "light"\nchange = [{{ operation = "engrave", after = ["stain"] }}]\n'
    # the stain waits for piece 1, engraved until 9:20, and piece 2 is engraved on the stain, 9:20 + 10 min
    expected = {"cut 1": "08:00", "cut 2": "08:10", "engrave 1": "08:20", "stain": "09:20", "engrave 2": "09:30"}
    assert schedule(["deep", "light"], STAIN, more) == expected
    expected = {"cut 1": "08:00", "cut 2": "08:10", "engrave 2": "08:20", "stain": "09:20", "engrave 1": "09:30"}
    assert schedule(["light", "deep"], STAIN, more) == expected


def test_once_a_batch_waits_for_an_operation_only_where_the_option_puts_it_before(
    schedule: Callable[..., dict[str, str]],
) -> None:
    operations = STAIN.replace('handful = "batch"', 'per = "batch"')
    # as above with one stain of 5 min for both: 9:20 to 9:25
    assert schedule(["deep", ""], operations, DEEP) == {
        "cut 1": "08:00", "cut 2": "08:10", "engrave 1": "08:20", "stain": "09:20", "engrave 2": "09:25",
    }  # fmt: skip


def test_once_a_batch_does_not_wait_for_a_mate_that_goes_without_it(schedule: Callable[..., dict[str, str]]) -> None:
    operations = """
{ name = "stain", handful = "batch", after = ["cut"], work = "5 min" },
{ name = "cut", after = [], work = "10 min" },
"""
    raw = '[[design.options]]\nname = "raw"\ndrop = ["stain"]\n'
    # piece 1 is cut by 8:10, and the stain, which stands first in the file, is for it alone; piece 2 is cut after it
    assert schedule(["", "raw"], operations, raw) == {"cut 1": "08:00", "stain": "08:10", "cut 2": "08:15"}


def test_a_piece_that_waits_for_its_batch_waits_for_each_mate_by_that_mates_own_order(
    schedule: Callable[..., dict[str, str]],
) -> None:
    operations = STAIN.replace('handful = "batch"', 'wait_for = "batch"')
    # cut until 8:20, the deep piece engraved until 9:20: only now is each as far as its own stain asks
    assert schedule(["deep", ""], operations, DEEP) == {
        "cut 1": "08:00", "cut 2": "08:10", "engrave 1": "08:20", "stain 1": "09:20", "stain 2": "09:25",
        "engrave 2": "09:30",
    }  # fmt: skip


SANDED = """
{ name = "cut", work = "10 min" },
{ name = "sand", work = "20 min" },
{ name = "oil", work = "5 min", wait_for = "batch" },
"""


def test_a_mate_without_the_operation_is_waited_for_in_its_own_version_of_what_comes_before(
    schedule: Callable[..., dict[str, str]],
) -> None:
    more = '[[design.options]]\nname = "raw"\ndrop = ["oil"]\n'
    more += 'change = [{ operation = "sand", work = "20 min", cure = "2 h" }]\n'
    # cut until 8:20; what cures goes first: the raw piece is sanded 8:20 to 8:40 and may be touched at 10:40, the other
    # one 8:40 to 9:00 and could be oiled at once
    assert schedule(["", "raw"], SANDED, more) == {
        "cut 1": "08:00", "cut 2": "08:10", "sand 1": "08:40", "sand 2": "08:20", "oil 1": "10:40",
    }  # fmt: skip


def test_a_mate_without_what_comes_before_either_is_waited_for_as_far_as_it_goes(
    schedule: Callable[..., dict[str, str]],
) -> None:
    more = '[[design.options]]\nname = "raw"\ndrop = ["sand", "oil"]\n'
    more += 'change = [{ operation = "cut", work = "10 min", cure = "2 h" }]\n'
    # what cures goes first: the raw piece is cut 8:00 to 8:10 and may be touched at 10:10; until then it is not as far
    # as oil asks
    assert schedule(["", "raw"], SANDED, more) == {
        "cut 1": "08:10", "cut 2": "08:00", "sand 1": "08:20", "oil 1": "10:10",
    }  # fmt: skip


MIXED = """
{ name = "cut", work = "10 min" },
{ name = "mix", per = "run", after = ["cut"], work = "5 min" },
{ name = "engrave", after = ["cut"], work = "1 h" },
{ name = "brush", after = ["mix", "engrave"], work = "10 min" },
"""
FRESH = """
[[design.options]]
name = "fresh"
change = [{ operation = "mix", after = ["engrave"] }]
"""


def test_once_a_run_waits_for_an_operation_only_where_the_option_puts_it_before(
    schedule: Callable[..., dict[str, str]],
) -> None:
    # cut until 8:20; the fresh piece engraved until 9:20; mixed once for both 9:20 to 9:25, before the plain piece is
    # engraved 9:25 to 10:25; the brush stands behind it in the file: 10:25 and 10:35
    assert schedule(["fresh", ""], MIXED, FRESH) == {
        "cut 1": "08:00", "cut 2": "08:10", "engrave 1": "08:20", "mix": "09:20", "engrave 2": "09:25",
        "brush 1": "10:25", "brush 2": "10:35",
    }  # fmt: skip


def test_once_a_run_goes_through_for_options_in_opposite_order_over_two_batches(
    schedule: Callable[..., dict[str, str]],
) -> None:
    more = f'{FRESH}[[design.options]]\nname = "late"\nchange = [{{ operation = "engrave", after = ["mix"] }}]\n'
    # batches of one, both open: the late piece is cut 8:00, the fresh one 8:10 and engraved 8:20 to 9:20; mixed 9:20
    # to 9:25 for both; then the oldest batch: engraved 9:25, brushed 10:25; at last brush 2
    assert schedule(["late", "fresh"], MIXED, more, "batch = 1") == {
        "cut 1": "08:00", "cut 2": "08:10", "engrave 2": "08:20", "mix": "09:20", "engrave 1": "09:25",
        "brush 1": "10:25", "brush 2": "10:35",
    }  # fmt: skip


def test_what_only_one_option_does_once_a_run_holds_back_what_is_done_once_for_all(
    schedule: Callable[..., dict[str, str]],
) -> None:
    operations = '{ name = "jig", per = "run", work = "20 min" },\n{ name = "cut", work = "10 min" },'
    more = """
[[design.options]]
name = "curved"
add = [{ name = "template", per = "run", after = [], before = ["jig"], work = "40 min" }]
"""
    # the jig is one for both pieces, and for the curved one it comes after the template: 8:00 + 40 min, + 20 min
    assert schedule(["", "curved"], operations, more) == {
        "jig": "08:40", "template": "08:00", "cut 1": "09:00", "cut 2": "09:10",
    }  # fmt: skip


FINISHED = """
{ name = "cut", work = "10 min" },
{ name = "sand", work = "20 min", cure = "1 h" },
{ name = "oil", work = "30 min" },
{ name = "label", after = ["cut"], work = "5 min" },
{ name = "wrap", after = ["oil", "label"], work = "3 min" },
"""
RAW = '[[design.options]]\nname = "raw"\ndrop = ["oil"]\n'
NEAT = '[[design.options]]\nname = "neat"\nchange = [{ operation = "label", after = ["oil"] }]\n'
WAXED = '[[design.options]]\nname = "waxed"\nadd = [{ name = "wax", after = ["oil"], work = "15 min" }]\n'


@pytest.mark.parametrize("more", [RAW + NEAT, NEAT + RAW], ids=["drop first", "drop last"])
def test_what_comes_after_a_dropped_operation_comes_after_what_that_came_after(
    schedule: Callable[..., dict[str, str]], more: str
) -> None:
    # without oil the label comes after sanding: 8:30, and an hour until it may be touched: 9:30
    assert schedule(["raw + neat"], FINISHED, more) == {
        "cut 1": "08:00", "sand 1": "08:10", "label 1": "09:30", "wrap 1": "09:35",
    }  # fmt: skip


@pytest.mark.parametrize("more", [RAW + WAXED, WAXED + RAW], ids=["drop first", "drop last"])
def test_what_is_added_after_a_dropped_operation_takes_its_place(
    schedule: Callable[..., dict[str, str]], more: str
) -> None:
    # wax comes after sanding, 9:30 as above, and wrapping, which came after oil, after wax; the label while it dries
    assert schedule(["raw + waxed"], FINISHED, more) == {
        "cut 1": "08:00", "sand 1": "08:10", "label 1": "08:30", "wax 1": "09:30", "wrap 1": "09:45",
    }  # fmt: skip


STAINED = """
[[design.options]]
name = "stained"
add = [{ name = "stain", after = ["cut"], before = ["oil"], work = "1 h", cure = "90 min" }]
"""


@pytest.mark.parametrize("more", [RAW + STAINED, STAINED + RAW], ids=["drop first", "drop last"])
def test_what_is_added_before_a_dropped_operation_holds_back_what_came_after_that(
    schedule: Callable[..., dict[str, str]], more: str
) -> None:
    # the stain is put in behind cutting: 8:10 to 9:10, dry at 10:40; sanded 9:10 to 9:30, touchable at 10:30; wrapping,
    # which came after oil, waits for the stain
    assert schedule(["raw + stained"], FINISHED, more) == {
        "cut 1": "08:00", "stain 1": "08:10", "sand 1": "09:10", "label 1": "09:30", "wrap 1": "10:40",
    }  # fmt: skip
