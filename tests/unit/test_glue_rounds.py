"""Rounds of glue-ups of three small shops, each worked out by hand with the sum in a comment.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays, with one maker, likely times and no luck.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.day_warnings import list_nights, list_no_fit, list_open_times
from shopsim.answers.glue_rounds import build_clamp_board, find_rounds, number_rounds

FOUR = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 4 }]\nworkers = [{ name = "maker" }]'
TWO_KINDS = """
clamps = [{ name = "short clamp", reach = "12 in", count = 2 }, { name = "long clamp", reach = "40 in", count = 2 }]
workers = [{ name = "maker" }]
"""


def said(rounds: pd.DataFrame) -> list[str]:
    """Each round on a line."""
    return [
        f"{row['round']}: {row['from']:%a %H:%M}-{row['until']:%H:%M} {row['glue_ups']} {row['clamps']}, "
        f"off {row['off_from']:%a %H:%M}-{row['off_until']:%a %H:%M}{', waited' if row['waited'] else ''}"
        for row in rounds.to_dict("records")
    ]


def test_two_glue_ups_a_round_while_four_clamps_last(run_shop: Callable[..., Any]) -> None:
    # 5 frames of 20 min, 2 clamps each, 2 h in clamps: 8:00 and 8:20 take all four; free at 10:20 and 10:40.
    # Frame 3 10:20-10:40, frame 4 10:40-11:00 (in clamps to 12:40 and 13:00), frame 5 12:40-13:00, off at 15:00.
    operations = '{ name = "glue", work = "20 min", clamps = [{ count = 2, reach = "20 in" }], in_clamps = "2 h" }'
    rounds = find_rounds(run_shop(operations, shop=FOUR, run="orders = 5"))
    assert said(rounds) == [
        "1: Mon 08:00-08:40 2 4 bar clamps, off Mon 10:20-Mon 10:40",
        "2: Mon 10:20-11:00 2 4 bar clamps, off Mon 12:40-Mon 13:00, waited",
        "3: Mon 12:40-13:00 1 2 bar clamps, off Mon 15:00-Mon 15:00, waited",
    ]
    assert rounds["what"].tolist() == [
        "glue, batch 1, pieces 1-2",
        "glue, batch 1, pieces 3-4",
        "glue, batch 1, piece 5",
    ]


def test_a_round_a_day_where_glue_sets_overnight(run_shop: Callable[..., Any]) -> None:
    # 3 boxes of 60 min with 4 clamps for 12 h: one a day, as the clamps of Monday 9:00 are free at 21:00 and nobody is
    # there before Tuesday 8:00. Each next begins at 8:00, when the last has come off.
    operations = '{ name = "glue", work = "1 h", clamps = [{ count = 4, reach = "20 in" }], in_clamps = "12 h" }'
    run = run_shop(operations, shop=FOUR, run="orders = 3")
    assert said(find_rounds(run)) == [
        "1: Mon 08:00-09:00 1 4 bar clamps, off Tue 08:00-Tue 08:00",
        "2: Tue 08:00-09:00 1 4 bar clamps, off Wed 08:00-Wed 08:00, waited",
        "3: Wed 08:00-09:00 1 4 bar clamps, off Thu 08:00-Thu 08:00, waited",
    ]
    nights = list_nights(run)
    assert [f"{row.day:%a} {row.what} {row.pieces} {row.until:%a %H:%M}" for row in nights.itertuples()] == [
        "Mon in clamps 1 Tue 08:00", "Tue in clamps 2 Wed 08:00", "Wed in clamps 3 Thu 08:00",
    ]  # fmt: skip
    board = build_clamp_board(run)
    assert board["taken"].tolist() == board["in_use"].tolist() == [4, 4, 4]
    assert board["all_out"].all()


def test_longer_clamps_stand_in_and_two_operations_share_a_round(run_shop: Callable[..., Any]) -> None:
    # Two lids (2 short clamps each) and one frame (1 long). Glue first, both early: lids of piece 1 8:00-8:30 with the short,
    # of piece 2 8:30-9:00 with the long ones, as no short is free; then the frame needs 1 long: free when piece 2's are
    # off, 9:00 + 3 h = 12:00. Frame 1 12:00-12:10 and frame 2 12:10-12:20, off at 15:10 and 15:20.
    operations = """
    { name = "glue lid", after = [], work = "30 min", clamps = [{ count = 2, reach = "10 in" }], in_clamps = "3 h" },
    { name = "glue frame", after = [], work = "10 min", clamps = [{ count = 1, reach = "30 in" }], in_clamps = "3 h" },
    """
    run = run_shop(operations, shop=TWO_KINDS, run="orders = 2")
    assert said(find_rounds(run)) == [
        "1: Mon 08:00-09:00 2 2 short clamps, 2 long clamps, off Mon 11:30-Mon 12:00",
        "2: Mon 12:00-12:20 2 2 long clamps, off Mon 15:10-Mon 15:20, waited",
    ]
    board = build_clamp_board(run)
    assert board[["kind", "taken", "in_use", "all_out"]].values.tolist() == [
        ["short clamp", 2, 2, True], ["long clamp", 2, 2, True], ["long clamp", 1, 1, False], ["long clamp", 1, 2, True],
    ]  # fmt: skip


def test_a_round_goes_on_until_the_first_of_its_clamps_are_off() -> None:
    assert number_rounds(np.array([0.0, 5.0, 10.0, 12.0]), np.array([10.0, 40.0, 50.0, 30.0])).tolist() == [1, 1, 2, 2]
    assert number_rounds(np.zeros(0), np.zeros(0)).tolist() == []


def test_what_does_not_fit_before_closing_is_named_on_its_day(run_shop: Callable[..., Any]) -> None:
    # Cut 8:00-13:00, then a coat of 4 h that may not be left half done: from 13:00 it would end at 17:00, after closing.
    operations = '{ name = "cut", work = "5 h" }, { name = "coat", work = "4 h", pausable = false }'
    found = list_no_fit(run_shop(operations, run="orders = 1"))
    assert [
        f"{row.day:%a} {row.operation} {row.pieces} {row._5:%H:%M} {row.work_min:g}" for row in found.itertuples()
    ] == ["Mon coat 1 13:00 240"]


def test_glue_that_is_likely_to_set_too_soon_is_told_with_what_mends_it(run_shop: Callable[..., Any]) -> None:
    # Four joints of 5 min in one task: 20 min of work against 10 min of open time. One joint of 5 min is well within it.
    operations = """
    { name = "glue four", per = "joint", work = "5 min", open_time = "10 min" },
    { name = "glue one", per = "joint", handful = 1, work = "5 min", open_time = "10 min" },
    """
    found = list_open_times(run_shop(operations, parts="joint = 4", run="orders = 1"), 1).set_index("operation")
    assert found["work_min"].tolist() == [20.0, 5.0]
    assert found["is_likely"].tolist() == [True, False]
    assert found["too_long_share"].tolist() == [1.0, 0.0]  # one number, which does not vary
    assert found.loc["glue four", "mend"].startswith("glue fewer joints at once (a smaller handful)")
