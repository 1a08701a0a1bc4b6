"""Schedules worked out by hand: how many pieces may be under way at once, and which batch opens when.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim import load_scenario, run_once
from shopsim.engine.task_holdups import account_run
from shopsim.scenario import parse_scenario

pytestmark = pytest.mark.usefixtures("each_floor")

Shop = Callable[..., str]

ONE_CUT = '{ name = "cut", work = "1 h" }'
DESIGNS = """
[[designs]]
name = "tray"
operations = [{ name = "cut tray", work = "1 h" }]
[[designs]]
name = "stool"
operations = [{ name = "cut stool", work = "1 h" }]
[[designs]]
name = "box"
operations = [{ name = "cut box", work = "1 h" }]
"""


@pytest.fixture
def opened(write_shop: Shop) -> Callable[..., list[str]]:
    """When each batch opens, in turn, with likely times and no luck; every law of a record is held."""

    def read(operations: str = ONE_CUT, text: str = "", **parts: str) -> list[str]:
        run = run_once(parse_scenario(text or write_shop(operations, **parts)), likely=True)
        assert run.check() == []
        first: Any = run.pieces.drop_duplicates("batch").sort_values("batch")
        return [f"{moment:%a %d %H:%M}" for moment in first.opened]

    return read


@pytest.fixture
def several() -> Callable[[str], str]:
    """A whole file with the lines of its run."""

    def write(run: str) -> str:
        return f'[shop]\nopen = {{ mon-fri = "08:00-16:00" }}\n{DESIGNS}\n[run]\nstart = 2027-01-11\n{run}\n'

    return write


def test_each_piece_that_is_done_makes_room(opened: Callable[..., list[str]]) -> None:
    # Room for 3: pieces 1 and 2 are under way from midnight. At 9:00 one is done: 1 and 2 more are 3.
    # At 10:00 the other is: 2 under way. At 11:00 the third: 1 and 2 more are 3.
    assert opened(run="orders = 6\nbatch = 2\npieces_open = 3") == ["Mon 11 00:00", "Mon 11 09:00", "Mon 11 11:00"]


def test_without_a_word_there_is_room_for_twice_the_largest_batch(opened: Callable[..., list[str]]) -> None:
    # Room for 4: two batches at once; the next when two pieces are done, the last piece when one more is.
    assert opened(run="orders = 7\nbatch = 2") == ["Mon 11 00:00", "Mon 11 00:00", "Mon 11 10:00", "Mon 11 11:00"]


def test_a_batch_larger_than_the_room_opens_when_nothing_else_is_under_way(opened: Callable[..., list[str]]) -> None:
    # Three pieces of an hour each from 8:00: the second three open at 11:00, not when one or two are done.
    assert opened(run="orders = 6\nbatch = 3\npieces_open = 2") == ["Mon 11 00:00", "Mon 11 11:00"]


def test_standing_and_packing_take_no_room(opened: Callable[..., list[str]]) -> None:
    # Cut by 9:00; it stands until Tuesday, and the next is cut meanwhile.
    more = '[shipping]\npacking = "20 min"\nbefore_packing = "1 d"\n'
    assert opened(run="orders = 2\nbatch = 1\npieces_open = 1", more=more) == ["Mon 11 00:00", "Mon 11 09:00"]


def test_an_operation_of_a_design_that_is_called_packing_takes_room(opened: Callable[..., list[str]]) -> None:
    # No packing is asked for under shipping, so this one is the design's own: 8:00-9:00 and 9:00-9:30.
    steps = ONE_CUT + ',\n{ name = "packing", work = "30 min" }'
    assert opened(steps, run="orders = 2\nbatch = 1\npieces_open = 1") == ["Mon 11 00:00", "Mon 11 09:30"]


def test_work_for_the_whole_batch_keeps_all_its_pieces_under_way(opened: Callable[..., list[str]]) -> None:
    # Cut 8:00-9:00-10:00, oiled together 10:00-10:30 and dry at 14:30. With room for 3 the next two would fit
    # beside one piece, but both are under way until the oil is dry.
    oil = ',\n{ name = "oil", per = "batch", work = "30 min", cure = "4 h" }'
    assert opened(ONE_CUT + oil, run="orders = 4\nbatch = 2\npieces_open = 3") == ["Mon 11 00:00", "Mon 11 14:30"]


def test_work_beside_the_chain_counts_too(opened: Callable[..., list[str]]) -> None:
    # Two parts that nothing joins: a piece is under way until both are done, 8:00-9:00 and 9:00-9:45.
    steps = ONE_CUT + ',\n{ name = "turn", after = [], work = "45 min" }'
    assert opened(steps, run="orders = 2\nbatch = 1\npieces_open = 1") == ["Mon 11 00:00", "Mon 11 09:45"]


def test_work_once_a_run_that_is_all_a_piece_needs_holds_no_room(opened: Callable[..., list[str]]) -> None:
    # The jig is made 8:00-9:00 with the first batch; the pieces of the other batches need nothing more.
    steps = '{ name = "jig", per = "run", work = "1 h" }'
    assert opened(steps, run="orders = 3\nbatch = 1\npieces_open = 1") == ["Mon 11 00:00"] + ["Mon 11 09:00"] * 2


def test_work_once_a_run_keeps_every_piece_under_way(opened: Callable[..., list[str]]) -> None:
    # All four must be open for the show: room for 4, and what a line after it makes opens when the show is over.
    steps = ONE_CUT + ',\n{ name = "show", per = "run", work = "1 h" }'
    assert opened(steps, run="orders = 4\nbatch = 2\npieces_open = 4") == ["Mon 11 00:00", "Mon 11 00:00"]


def test_a_piece_whose_option_ends_sooner_makes_room_sooner(write_shop: Shop, tmp_path: Path) -> None:
    # A is raw: done when cut, 9:00. Then 1 under way and 2 more are 3. B is oiled with its batch until 10:30.
    (tmp_path / "orders.csv").write_text(
        "id,date,option\nA,2027-01-04,raw\nB,2027-01-04,\nC,2027-01-04,raw\nD,2027-01-04,\n"
    )
    oil = ',\n{ name = "oil", per = "batch", work = "30 min" }'
    more = '[[design.options]]\nname = "raw"\ndrop = ["oil"]\n'
    run = 'orders = "orders.csv"\nbatch = 2\npieces_open = 3'
    (tmp_path / "shop.toml").write_text(write_shop(ONE_CUT + oil, run=run, more=more))
    done = run_once(load_scenario(tmp_path / "shop.toml"), likely=True)
    assert done.check() == []
    assert [f"{moment:%H:%M}" for moment in done.pieces.sort_values("piece").opened] == ["00:00"] * 2 + ["09:00"] * 2


def test_all_lines_share_one_room_and_none_overtakes(
    opened: Callable[..., list[str]], several: Callable[[str], str]
) -> None:
    # Room for 3: one tray; two stools would fit, but come as a batch of 3, which waits until the tray is done at
    # 9:00. The box, for which there is room all the while, does not go before them.
    run = """pieces_open = 3
lines = [
  { design = "tray", orders = 1 },
  { design = "stool", orders = 3 },
  { design = "box", orders = 1 },
]"""
    assert opened(text=several(run)) == ["Mon 11 00:00", "Mon 11 09:00", "Mon 11 10:00"]


def test_twice_the_largest_batch_is_that_of_all_lines(
    opened: Callable[..., list[str]], several: Callable[[str], str]
) -> None:
    # The stools' batch of 3 makes room for 6: two trays, three stools and one box open at once, the other box at 9:00.
    run = """lines = [
  { design = "tray", orders = 2, batch = 1 },
  { design = "stool", orders = 3 },
  { design = "box", orders = 2, batch = 1 },
]"""
    assert opened(text=several(run)) == ["Mon 11 00:00"] * 4 + ["Mon 11 09:00"]


def test_batches_of_several_lines_open_by_the_date_from_which_they_may(
    opened: Callable[..., list[str]], several: Callable[[str], str]
) -> None:
    # The stool may open from Monday, the trays from Tuesday, the box on Tuesday after the trays, as the file has it.
    run = """pieces_open = 2
lines = [
  { design = "tray", orders = 2, start = 2027-01-12 },
  { design = "stool", orders = 1, start = 2027-01-11 },
  { design = "box", orders = 1, start = 2027-01-12 },
]"""
    assert opened(text=several(run)) == ["Mon 11 00:00", "Tue 12 00:00", "Tue 12 09:00"]


def test_pieces_that_are_made_as_ordered_have_room_without_limit(write_shop: Shop, tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text("id,date\n" + "".join(f"{n},2027-01-11\n" for n in range(9)))
    (tmp_path / "shop.toml").write_text(write_shop(ONE_CUT, run='orders = "orders.csv"\nrelease = "as ordered"'))
    done = run_once(load_scenario(tmp_path / "shop.toml"), likely=True)
    assert {f"{moment:%a %d %H:%M}" for moment in done.pieces.opened} == {"Mon 11 00:00"}


def test_the_time_of_a_run_goes_on_with_the_piece_that_made_room(write_shop: Shop) -> None:
    # One at a time, each cut 8:00-9:00, 9:00-10:00, 10:00-11:00: three hours of work after eight of a closed shop,
    # and nothing of the hour for which each stands before packing.
    text = write_shop(
        ONE_CUT,
        run="orders = 3\nbatch = 1\npieces_open = 1",
        more='[shipping]\nbefore_packing = "1 h"\npacking = "0 min"\n',
    )
    done = run_once(parse_scenario(text), likely=True)
    assert done.check() == []
    slices = [(one.part, one.piece, one.since / 60, one.until / 60) for one in reversed(account_run(done.history))]
    assert slices == [
        ("shop closed", 0, 0.0, 8.0),
        ("hands-on", 0, 8.0, 9.0),
        ("hands-on", 1, 9.0, 10.0),
        ("hands-on", 2, 10.0, 11.0),
        ("curing", 2, 11.0, 12.0),
    ]
