"""Ways of making it, worked out by hand: what they change, add, drop and bring, alone, together, and under buyers' options."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import RunResult, parse_scenario, run_once
from shopsim.engine.plan import build_plan
from shopsim.engine.refitting import refit_plan
from shopsim.scenario import change_scenario

pytestmark = pytest.mark.usefixtures("each_floor")

THREE = """
{ name = "cut", work = "30 min", setup = "10 min", station = "saw" },
{ name = "glue", work = "20 min" },
{ name = "oil", work = "10 min", cure = "12 h" },
"""
SAW = '[[shop.stations]]\nname = "saw"\n'
WAYS = """
[[design.ways]]
name = "sled"
change = [{ operation = "cut", work = "20 min", setup = "0 min" }]
add = [{ name = "make sled", after = [], before = ["cut"], per = "run", work = "1 h" }]
price = 12.5

[[design.ways]]
name = "second saw"
stations = [{ name = "saw" }]

[[design.ways]]
name = "bought glued"
drop = ["glue"]
materials = ["glued blanks"]
"""
BLANKS = '[[materials]]\nname = "glued blanks"\nneeded_by = ["cut"]\nlead = "2 d"\n'


@pytest.fixture
def run_ways(write_shop: Callable[..., str], read_run: Callable[..., dict[str, str]]) -> Callable[..., dict[str, str]]:
    """The schedule of two pieces, one by one, with these ways in use; likely times, no luck."""

    def run(*ways: str, more: str = WAYS + BLANKS, lines: str = "", shop: str = SAW) -> dict[str, str]:
        said = f"orders = 2\nbatch = 1\norders_close = 2027-01-08\nways = {list(ways)}\n{lines}"
        made = run_once(parse_scenario(write_shop(THREE, run=said, more=more, shop=shop)), likely=True)
        assert made.check() == []
        return read_run(made, "start", "work_min")

    return run


PLAIN = {
    # ten minutes of set-up, then cut; the saw is set for the next piece, which therefore goes first
    "cut 1": "Mon 11 08:00 - 30",
    "cut 2": "Mon 11 08:40 - 30",
    "glue 1": "Mon 11 09:10 - 20",
    "oil 1": "Mon 11 09:30 - 10",
    "glue 2": "Mon 11 09:40 - 20",
    "oil 2": "Mon 11 10:00 - 10",
}


def test_a_way_that_is_not_in_use_changes_nothing(run_ways: Callable[..., dict[str, str]]) -> None:
    assert run_ways() == PLAIN
    assert run_ways(more="") == PLAIN


def test_a_jig_is_made_once_and_saves_at_every_piece(run_ways: Callable[..., dict[str, str]]) -> None:
    assert run_ways("sled") == {
        "make sled": "Mon 11 08:00 - 60",  # once for the run, before anything is cut
        "cut 1": "Mon 11 09:00 - 20",
        "cut 2": "Mon 11 09:20 - 20",
        "glue 1": "Mon 11 09:40 - 20",
        "oil 1": "Mon 11 10:00 - 10",
        "glue 2": "Mon 11 10:10 - 20",
        "oil 2": "Mon 11 10:30 - 10",
    }


def test_what_a_way_drops_is_bridged_and_its_material_holds_back_only_where_it_is_in_use(
    run_ways: Callable[..., dict[str, str]],
) -> None:
    # ordered on Friday the 8th, 2 days: here on Sunday, before work begins; without the way nothing waits for it either
    bought = run_ways("bought glued")
    assert "glue 1" not in bought
    assert bought["oil 1"] == "Mon 11 09:10 - 10"
    late = BLANKS.replace("2 d", "4 d")  # here on Tuesday at midnight
    assert run_ways("bought glued", more=WAYS + late)["cut 1"] == "Tue 12 08:00 - 30"
    assert run_ways(more=WAYS + late) == PLAIN


def test_a_station_that_comes_with_a_way_is_one_more_where_the_shop_has_it(
    run_ways: Callable[..., dict[str, str]],
) -> None:
    two = '[[shop.workers]]\nname = "a"\n[[shop.workers]]\nname = "b"\n'
    alone = run_ways(lines="pieces_open = 2", shop=SAW + two)
    assert (alone["cut 1"], alone["cut 2"]) == ("Mon 11 08:00 - 30", "Mon 11 08:40 - 30")
    both = run_ways("second saw", lines="pieces_open = 2", shop=SAW + two)
    assert (both["cut 1"], both["cut 2"]) == ("Mon 11 08:00 - 30", "Mon 11 08:00 - 30")


def test_ways_go_together_in_the_order_of_the_file_however_the_run_names_them(
    run_ways: Callable[..., dict[str, str]],
) -> None:
    both = run_ways("bought glued", "Sled")  # capitals do not tell names apart
    assert both == run_ways("sled", "bought glued")
    assert both == {
        "make sled": "Mon 11 08:00 - 60",
        "cut 1": "Mon 11 09:00 - 20",
        "cut 2": "Mon 11 09:20 - 20",
        "oil 1": "Mon 11 09:40 - 10",
        "oil 2": "Mon 11 09:50 - 10",
    }


def test_options_apply_to_what_the_ways_in_use_make_of_the_design(
    write_shop: Callable[..., str], read_run: Callable[..., dict[str, str]], tmp_path: Path
) -> None:
    option = '[[design.options]]\nname = "wide"\nchange = [{ operation = "cut", work = "40 min" }]\n'
    (tmp_path / "orders.csv").write_text("id,date,option\nA,2027-01-04,\nB,2027-01-04,wide\n")
    text = write_shop(
        THREE, run='orders = "orders.csv"\nbatch = 1\nways = ["sled"]\n', more=option + WAYS + BLANKS, shop=SAW
    )
    made: RunResult = run_once(parse_scenario(text, folder=tmp_path), likely=True)
    assert made.check() == []
    schedule = read_run(made, "start", "work_min")
    assert schedule["cut 1"] == "Mon 11 09:00 - 20"  # the way's
    assert schedule["cut 2"] == "Mon 11 09:50 - 40"  # the option's time, and still no set-up, as the way has it


def test_a_plan_at_hand_is_not_taken_for_another_way(write_shop: Callable[..., str]) -> None:
    text = write_shop(THREE, run="orders = 2\nbatch = 1\n", more=WAYS + BLANKS, shop=SAW)
    plain = parse_scenario(text)
    sled = change_scenario(plain, {"run.ways": ["sled"]})
    assert refit_plan(build_plan(plain), sled) is None
    again = refit_plan(build_plan(sled), change_scenario(sled, {"run.priority": "oldest batch"}))
    assert again is not None
    assert again.worklist.n_tasks == 7
