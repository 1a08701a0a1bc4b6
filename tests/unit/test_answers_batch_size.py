"""Batch sizes: known truths, honest ties, and what the table and sentence promise."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest

from shopsim.answers import compare_batch_sizes
from shopsim.answers.levers import list_levers
from shopsim.answers.usual_sizes import usual_sizes
from shopsim.errors import Cancelled, InputError
from shopsim.scenario import Scenario, parse_scenario
from shopsim.screens import screen_table
from shopsim.study import run_study

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'
DAILY = '{ mon-sun = "08:00-16:00" }'
SAW = '[[shop.stations]]\nname = "saw"\n'
#: Each piece is cut and shaped at the same saw, which must be set for each: batches of one set it twice a piece.
TWO_SETTINGS = """
{ name = "cut", work = "1 h", setup = "1 h", station = "saw" },
{ name = "shape", work = "1 h", setup = "1 h", station = "saw" },
"""


@pytest.fixture
def build(write_shop: Callable[..., str]) -> Callable[..., Scenario]:
    def make(operations: str, run: str, shop: str = "", open: str = DAILY) -> Scenario:
        return parse_scenario(write_shop(operations, shop=CALM + shop, run=run, open=open))

    return make


def test_set_ups_make_small_batches_slow_overall_and_quick_for_the_first(build: Callable[..., Scenario]) -> None:
    # room for one piece: singles go one after the other, and a batch of 8, larger than that, has the shop to itself
    scenario = build(TWO_SETTINGS, "orders = 8\nbatch = 8\npieces_open = 1", SAW)
    answer = compare_batch_sizes(scenario, sizes=(1, 8), replications=3)
    one, eight = answer.rows.to_dict("records")
    # nothing varies: 2 h of work and 2 h of set-up for each single piece; one batch of 8 is set up once for each step
    assert (one["hands_on_h_a_piece"], eight["hands_on_h_a_piece"]) == (4, 2.25)
    assert (one["setup_h"], eight["setup_h"]) == (16, 2)
    assert (one["first_ship_day"], one["last_ship_day"]) == (0, 3)  # two a day
    # 1 + 8 h, 1 h set-up, then one an hour from the 10th working hour: day 1 from 10:00 on
    assert (eight["first_ship_day"], eight["last_ship_day"]) == (1, 2)
    assert one["last_saved_days"] == one["last_saved_days_low"] == one["last_saved_days_high"] == -1
    assert "first tray is out soonest with batches of 1, by 1.0 days over one batch of all 8." in answer.sentence
    assert "All trays are out soonest with one batch of all 8, by 1.0 days over" in answer.sentence
    assert "fewest hours a piece are spent with one batch of all 8, by about 105 minutes over" in answer.sentence


def test_sizes_that_make_no_difference_are_said_to_come_to_the_same(build: Callable[..., Scenario]) -> None:
    answer = compare_batch_sizes(
        build('{ name = "make", work = "2 / 3 / 5 h" }', "orders = 6\nbatch = 6"), (2, 3), replications=20
    )
    assert answer.sentence.count("any of them: they came to the same in every run") == 4
    assert " by " not in answer.sentence.split("What else costs nothing")[0]
    for column in ("first_saved_days", "last_saved_days", "hands_on_saved_h"):
        assert (answer.rows[column] == 0).all()
        assert answer.rows[f"{column}_unseen"].tolist() == [True, True, False]  # the third is today's own
        assert (answer.rows[f"{column}_high"][:2] > 0).all()  # 20 runs leave something open
    assert answer.rows[[name for name in answer.rows if name.startswith("may_be_best")]].to_numpy().all()


def test_what_chance_hides_cannot_be_told_apart_yet(build: Callable[..., Scenario]) -> None:
    steps = """
    { name = "cut", work = "1 / 2 / 4 h", setup = "1 min", station = "saw" },
    { name = "shape", work = "1 / 2 / 4 h", setup = "1 min", station = "saw" },
    """
    scenario = build(steps, "orders = 12\nbatch = 4", SAW)
    answer = compare_batch_sizes(scenario, (4, 6), replications=2)
    assert (
        "The first tray is out soonest with batches of 6 or batches of 4: these cannot be told apart yet"
        in answer.sentence
    )


def test_a_size_above_the_pieces_is_one_batch_of_all_and_no_row_of_its_own(build: Callable[..., Scenario]) -> None:
    scenario = build(TWO_SETTINGS, "orders = 7\nround_up_to = 4\nbatch = 4", SAW)
    answer = compare_batch_sizes(scenario, (4, 8, 20), replications=2)
    rows = answer.rows.set_index("batch")
    assert rows.index.tolist() == [4, 8]
    assert rows.loc[8, "batches"] == 1
    assert "A batch of 20 is more than the 8 to make: it is one batch of all, and adds no piece." in answer.notes
    assert any("7 pieces ordered, 8 made whatever the batch size: 1 is spare." in note for note in answer.notes)


def test_one_piece_leaves_nothing_to_compare(build: Callable[..., Scenario]) -> None:
    answer = compare_batch_sizes(build(TWO_SETTINGS, "orders = 1", SAW), replications=2)
    assert answer.sentence == (
        "There is nothing to compare: every size that can be run comes to one batch of all 1. "
        "What else costs nothing (what comes first): none of it is surely better by a quarter of a day."
    )


def test_the_scenarios_own_size_is_among_the_rows_and_the_others_differ_from_it(
    build: Callable[..., Scenario],
) -> None:
    answer = compare_batch_sizes(build(TWO_SETTINGS, "orders = 8\nbatch = 3", SAW), (8,), replications=2)
    assert answer.rows["batch"].tolist() == [3, 8]
    assert answer.rows["is_now"].tolist() == [True, False]
    assert answer.rows["last_saved_days"].tolist()[0] == 0


def test_a_size_that_could_never_finish_stays_with_its_reason(build: Callable[..., Scenario]) -> None:
    steps = '{ name = "coat", handful = "batch", work = "10 min", cure = "1 h", rest = "rack" }'
    rack = '[[shop.racks]]\nname = "rack"\nspots = 4\n'
    answer = compare_batch_sizes(build(steps, "orders = 8\nbatch = 4", rack), (2, 8), replications=2)
    worst = answer.rows.set_index("batch").loc[8]
    assert worst["remark"].startswith("cannot be run: ")
    assert "rack" in worst["remark"]
    assert np.isnan(worst["last_ship_day"])
    assert not worst["may_be_best: last_ship_day"]
    assert any("A batch of 8: cannot be run" in note for note in answer.notes)
    json.dumps(answer.to_dict(), allow_nan=False)


def test_sizes_can_be_compared_under_several_priority_rules(build: Callable[..., Scenario]) -> None:
    scenario = build(TWO_SETTINGS, "orders = 4\nbatch = 2", SAW)
    answer = compare_batch_sizes(scenario, (2, 4), replications=2, priority_rules=("glue first", "nearest done"))
    assert answer.rows[["priority", "batch"]].to_numpy().tolist() == [
        ["glue first", 2], ["glue first", 4], ["nearest done", 2], ["nearest done", 4],
    ]  # fmt: skip
    assert answer.rows["is_now"].tolist() == [True, False, False, False]


def test_every_line_of_a_run_takes_the_size(build: Callable[..., Scenario], write_shop: Callable[..., str]) -> None:
    text = write_shop(TWO_SETTINGS, shop=CALM + SAW, run="round_up_to = 1\npieces_open = 3", open=DAILY)
    text += '\n[[run.lines]]\ndesign = "tray"\norders = 3\nbatch = 1\n\n[[run.lines]]\ndesign = "tray"\norders = 6\n'
    answer = compare_batch_sizes(parse_scenario(text), (2, 20), replications=2)
    rows = answer.rows.set_index("batch")
    assert rows.loc[2, "batches"] == 2 + 3
    assert rows.loc[6, "said"].tolist() == ["1 and 6", "6"]  # what it has now, then 20 as one batch of all
    assert rows.loc[6, "batches"].tolist() == [3 + 1, 1 + 1]
    assert rows.loc[6, "is_now"].tolist() == [True, False]
    assert "1 and 6 (now)" in set(screen_table(answer)["batch"])
    assert "A batch of 20 is more than any line makes: it is one batch of all, and adds no piece." in answer.notes
    assert "one batch for each line" in answer.sentence


@pytest.mark.parametrize("sizes", [(), (0,), (-5,), (2.5,), (True,), ("5",)])
def test_sizes_that_are_no_numbers_of_pieces_are_refused(build: Callable[..., Scenario], sizes: tuple) -> None:  # type: ignore[type-arg]
    with pytest.raises(InputError, match="batch"):
        compare_batch_sizes(build(TWO_SETTINGS, "orders = 2", SAW), sizes, replications=2)


def test_an_unknown_priority_rule_is_refused_with_those_that_are_known(build: Callable[..., Scenario]) -> None:
    with pytest.raises(InputError, match=r"fastest.*glue first, oldest batch"):
        compare_batch_sizes(build(TWO_SETTINGS, "orders = 2", SAW), (1,), replications=2, priority_rules=("fastest",))


def test_one_replication_is_refused(build: Callable[..., Scenario]) -> None:
    with pytest.raises(InputError, match="at least 2"):
        compare_batch_sizes(build(TWO_SETTINGS, "orders = 2", SAW), (1,), replications=1)


@pytest.mark.usefixtures("simpy_only")  # whose runs are made one at a time
def test_an_answer_that_was_stopped_says_so(build: Callable[..., Scenario]) -> None:
    scenario = build(TWO_SETTINGS, "orders = 8\nbatch = 2", SAW)
    runs: list[int] = []
    answer = compare_batch_sizes(
        scenario,
        (2, 4),
        replications=50,
        on_progress=lambda done, total: runs.append(done),
        should_stop=lambda: len(runs) >= 35,  # two sizes, two rooms and three priority rules take turns
    )
    assert answer.partial
    assert answer.replications == 5
    assert answer.notes[0] == "Stopped early: 5 of 50 replications were finished."
    assert "5 replications" in answer.sentence


def test_stopping_too_soon_is_cancelled(build: Callable[..., Scenario]) -> None:
    with pytest.raises(Cancelled, match="stopped after 0 of 50"):
        compare_batch_sizes(build(TWO_SETTINGS, "orders = 2", SAW), (1, 2), replications=50, should_stop=lambda: True)


def test_runs_at_hand_are_used_and_change_nothing(build: Callable[..., Scenario]) -> None:
    steps = TWO_SETTINGS.replace('work = "1 h"', 'work = "30 / 60 / 120 min"')
    scenario = build(steps, "orders = 6\nbatch = 2", SAW)
    fresh = compare_batch_sizes(scenario, (2, 6), replications=30, seed=4)
    held = run_study({"anything": scenario}, replications=50, seed=4)
    runs: list[int] = []
    shared = compare_batch_sizes(
        scenario, (2, 6), replications=30, reuse=held, on_progress=lambda done, total: runs.append(done)
    )
    others = 1 + len(list_levers(scenario, leave_out=("batch size",)))
    assert sorted({*runs})[-2] == 30 * others  # only the other size and what else costs nothing; then the end is told
    assert shared.rows.equals(fresh.rows)
    assert shared.sentence == fresh.sentence


def test_an_answer_says_what_it_was_made_with(build: Callable[..., Scenario]) -> None:
    answer = compare_batch_sizes(build(TWO_SETTINGS, "orders = 4", SAW), (2,), replications=3, seed=7)
    said = json.loads(json.dumps(answer.to_dict(), allow_nan=False))
    assert {"scenario", "version", "seed", "replications", "rows", "sentence", "notes", "title", "partial"} <= set(said)
    assert (said["seed"], said["replications"], said["partial"]) == (7, 3, False)
    assert [row["batch"] for row in said["rows"]] == [2, 4]
    assert said["rows"][0]["is_now"] is False


def test_every_size_has_the_room_that_the_shop_has_today(build: Callable[..., Scenario]) -> None:
    # Nothing is set up, so singles are no slower: with twice their own size as room, each would wait for the one before.
    steps = '{ name = "glue", work = "1 h", cure = "24 h" }'
    answer = compare_batch_sizes(build(steps, "orders = 8\nbatch = 4"), (1, 2, 4), replications=2)
    assert answer.rows["pieces_open"].tolist() == [8, 8, 8]
    assert answer.rows["last_ship_day"].tolist() == [1, 1, 1]
    said = "That is of those tried: batches of 1, 2 or 4, all with room for 8 pieces under way at once."
    assert said in answer.sentence


@pytest.mark.parametrize(
    ("run", "sizes"),
    [
        ("orders = 18\nround_up_to = 4\nbatch = 5", (1, 2, 4, 5, 10, 20)),
        ("orders = 9\nbatch = 4", (1, 3, 4, 5, 9)),
        ("orders = 60\nbatch = 12", (1, 2, 5, 10, 12, 20, 60)),
        ("orders = 7", (1, 4, 5, 7)),
        ("orders = 1", (1,)),
    ],
)
def test_sizes_that_divide_the_run_and_smaller_ones_are_tried_unasked(
    build: Callable[..., Scenario], run: str, sizes: tuple[int, ...]
) -> None:
    assert usual_sizes(build(TWO_SETTINGS, run, SAW)) == sizes


def test_means_of_sizes_that_were_run_more_or_less_often_differ_by_what_is_said_of_them(
    build: Callable[..., Scenario],
) -> None:
    varied = TWO_SETTINGS.replace('work = "1 h"', 'work = "30 / 60 / 300 min"')
    scenario = build(varied, "orders = 6\nbatch = 2", SAW, open='{ mon-sun = "08:00-12:00" }')
    answer = compare_batch_sizes(scenario, (2, 3), replications=230)
    assert answer.rows["replications"].nunique() > 1
    now = answer.rows[answer.rows["is_now"]].iloc[0]
    for measure, saved in (("average_ship_day", "average_saved_days"), ("last_ship_day", "last_saved_days")):
        assert (now[measure] - answer.rows[measure]).to_numpy() == pytest.approx(answer.rows[saved].to_numpy())
