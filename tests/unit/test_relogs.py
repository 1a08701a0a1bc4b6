"""A time is counted once: told again under another name, sorted otherwise, corrected, in parts, or with the run unnamed."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path

import pytest

from shopsim import load_scenario
from shopsim.answers.doubtful import find_doubts
from shopsim.answers.log_files import Logs, write_learned
from shopsim.errors import InputError
from shopsim.scenario import Scenario, parse_scenario, read_scenario
from shopsim.scenario.logs import TimeRow, read_times
from shopsim.study.beliefs import believe_times, list_loggable
from shopsim.study.taking_in import TakenIn, take_times

TIMES = {"cut": (44, 41, 49, 46, 38), "glue": (16, 21, 18, 15, 19), "sand": (21, 26, 19, 24, 30)}
ROWS = [f"{name},{piece},{minutes}" for name, some in TIMES.items() for piece, minutes in enumerate(some, start=1)]


def log_of(rows: list[str], run: str | None = "march", pieces: bool = True) -> str:
    head = ("run," if run else "") + ("operation,piece,minutes" if pieces else "operation,minutes")
    cells = [row.split(",") for row in rows]
    lines = [",".join(row if pieces else (row[0], row[2])) for row in cells]
    return "\n".join([head, *(f"{run},{line}" if run else line for line in lines)]) + "\n"


def read(scenario: Scenario, text: str, name: str) -> list[TimeRow]:
    rows, faults = read_times(text, name, list_loggable(scenario))
    assert faults == []
    return rows


def take(scenario: Scenario, text: str, name: str) -> tuple[Scenario, TakenIn]:
    taken = take_times(scenario, read(scenario, text, name), name)
    return scenario.model_copy(update={"learned": taken.learned}), taken


@pytest.fixture
def shop(trays: Path) -> Scenario:
    return load_scenario(trays)


def units_in(scenario: Scenario) -> int:
    return sum(cell.units for cell in scenario.learned.times)


@pytest.mark.parametrize("run", ["march", None])
@pytest.mark.parametrize("pieces", [True, False])
def test_the_same_times_under_another_name_and_sorted_otherwise_are_counted_once(
    shop: Scenario, run: str | None, pieces: bool
) -> None:
    first, _ = take(shop, log_of(ROWS, run, pieces), "march.csv")
    shuffled = random.Random(3).sample(ROWS, len(ROWS))
    for name in ("march.csv", "a copy.csv"):
        again, taken = take(first, log_of(shuffled, run, pieces), name)
        assert again.learned == first.learned
        assert taken.notes == (f'"{name}" has been taken in before, as "march.csv": nothing is counted twice.',)


@pytest.mark.parametrize("run", ["march", None])
@pytest.mark.parametrize("pieces", [True, False])
def test_one_value_corrected_under_another_name_takes_the_place_of_the_old_one(
    shop: Scenario, run: str | None, pieces: bool
) -> None:
    first, _ = take(shop, log_of(ROWS, run, pieces), "march.csv")
    mended = [row.replace("cut,3,49", "cut,3,39") for row in random.Random(4).sample(ROWS, len(ROWS))]
    second, taken = take(first, log_of(mended, run, pieces), "mended.csv")
    assert units_in(second) == units_in(first) == 15
    assert taken.notes == (
        '"mended.csv" tells again of 15 times known from "march.csv": 14 as they were, 1 corrected. None is counted twice.',
    )
    clean, _ = take(shop, log_of(mended, run, pieces), "mended.csv")
    assert believe_times(second) == believe_times(clean)
    assert [one.log for one in second.learned.logs] == ["mended.csv"]
    third, taken = take(second, log_of(mended, run, pieces), "mended.csv")
    assert third.learned == second.learned
    # and back again, by yet another name
    back, taken = take(second, log_of(ROWS, run, pieces), "third.csv")
    assert units_in(back) == 15
    assert believe_times(back) == believe_times(take(shop, log_of(ROWS, run, pieces), "third.csv")[0])


def test_a_log_of_some_pieces_corrects_those_and_leaves_the_others(shop: Scenario) -> None:
    first, _ = take(shop, log_of(ROWS), "march.csv")
    second, taken = take(first, log_of(["cut,3,39", "cut,6,40", "glue,1,16"]), "more.csv")
    assert taken.notes == (
        '"more.csv" tells again of 2 times known from "march.csv": 1 as they were, 1 corrected. None is counted twice.',
    )
    cut = {(cell.log, row.piece): row.minutes for cell in second.learned.times for row in cell.rows if cell.operation == "cut"}  # fmt: skip
    assert cut == {
        ("march.csv", "1"): 44, ("march.csv", "2"): 41, ("march.csv", "4"): 46, ("march.csv", "5"): 38,
        ("more.csv", "3"): 39, ("more.csv", "6"): 40,
    }  # fmt: skip
    assert units_in(second) == 16


def test_another_run_and_other_pieces_of_the_same_run_add(shop: Scenario) -> None:
    first, _ = take(shop, log_of(ROWS), "march.csv")
    other = [f"{name},{int(piece) + 5},{float(minutes) + 0.7}" for name, piece, minutes in (r.split(",") for r in ROWS)]
    assert units_in(take(first, log_of(other), "week two.csv")[0]) == 30
    assert units_in(take(first, log_of(other, None, False), "week two.csv")[0]) == 30
    assert units_in(take(first, log_of(other, "may"), "may.csv")[0]) == 30
    assert find_doubts(first, Logs(tuple(read(shop, log_of(other, "may"), "may.csv")), "may.csv")) == ()


def test_the_times_of_one_run_under_the_name_of_another_are_questioned(shop: Scenario) -> None:
    first, _ = take(shop, log_of(ROWS), "march.csv")
    (doubt,) = find_doubts(first, Logs(tuple(read(shop, log_of(ROWS, "may"), "b.csv")), "b.csv"))
    assert doubt == (
        'b.csv · run "may" · its times are those of run "march", taken in from "march.csv" · is it the same run? '
        'Then call it "march"'
    )


def test_where_nothing_says_which_piece_and_a_time_is_equal_it_is_refused(shop: Scenario) -> None:
    first, _ = take(shop, log_of(ROWS, "march", False), "march.csv")
    with pytest.raises(
        InputError, match="whether these are the same times cannot be told · name the piece of each row"
    ):
        take(first, log_of(["cut,1,41"], "march", False), "other.csv")


def test_what_was_taken_in_without_single_times_is_not_counted_twice(shop: Scenario) -> None:
    by_hand = '[learned]\ntimes = [{ operation = "cut", units = 5, mean = 0.3, run = "march" }]\n'
    old = shop.model_copy(update={"learned": parse_scenario(SMALL + by_hand).learned})
    with pytest.raises(
        InputError, match=r'"cut" of run "march" was taken in before, from "by hand", without its single'
    ):
        take(old, log_of(ROWS), "march.csv")


SMALL = """
[shop]
open = { mon-fri = "08:00-17:00" }
[design]
name = "tray"
operations = [{ name = "cut", work = "20 / 30 / 50 min" }]
[run]
orders = 2
start = 2027-01-11
"""


def test_single_times_are_written_as_short_text_and_read_back(shop: Scenario, trays: Path) -> None:
    text = "run,operation,piece,units,minutes\nmarch,cut,top: left,1,44.25\nmarch,cut,,3,90\nmarch,cut,2,1,41\n"
    known, _ = take(shop, text, "march.csv")
    write_learned(trays, known.learned, shop)
    (cell,) = tomllib.loads(trays.read_text(encoding="utf-8"))["learned"]["times"]
    assert cell["rows"] == ["top: left: 44.25", "90 for 3", "2: 41"]
    assert load_scenario(trays).learned == known.learned


@pytest.mark.parametrize(
    ("rows", "rule"),
    [
        ('["1: 44", "2: soon"]', '"2: soon" cannot be read as a logged time'),
        ('["1: 44", "2: 0"]', '"2: 0" is no time at all'),
        ('["1: 44"]', "1 rows tell of 2 times"),
    ],
)
def test_single_times_that_cannot_be_are_told(trays: Path, rows: str, rule: str) -> None:
    learned = f'times = [{{ operation = "cut", units = 2, mean = 0.1, rows = {rows} }}]'
    trays.write_text(f"{trays.read_text(encoding='utf-8')}\n[learned]\n{learned}\n", encoding="utf-8")
    (fault,) = read_scenario(trays).faults
    assert (fault.rule, bool(fault.mend)) == (rule, True)


def test_a_log_that_was_said_to_be_right_is_not_questioned_again(shop: Scenario) -> None:
    hours = [f"{name},{piece},{int(minutes) / 60:.3f}" for name, piece, minutes in (row.split(",") for row in ROWS)]
    logs = Logs(tuple(read(shop, log_of(hours), "march.csv")), "march.csv")
    assert len(find_doubts(shop, logs)) == 1
    known, _ = take(shop, log_of(hours), "march.csv")
    assert find_doubts(known, logs) == ()
