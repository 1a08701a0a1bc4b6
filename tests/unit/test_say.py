"""How values are said: a chance never better than it is, one way for tables, sentences and sheets."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pandas as pd
import pytest

from shopsim.say import (
    cut_chance,
    is_number,
    say_cell,
    say_chance,
    say_heading,
    say_level,
    say_share,
)


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (1.0, "100 %"), (0.9999, "99 %"), (0.9975, "99 %"), (0.945, "94 %"), (0.9499, "94 %"), (0.29, "29 %"),
        (0.01, "1 %"), (0.0099, "under 1 %"), (0.0, "0 %"), (float("nan"), ""),
    ],
)  # fmt: skip
def test_a_chance_is_cut_and_never_rounded_up_nor_down_to_never(chance: float, said: str) -> None:
    assert say_chance(chance) == said


def test_no_chance_is_said_to_be_better_than_it_is() -> None:
    for n in (7, 99, 200, 1537):
        for kept in range(n + 1):
            said = say_chance(kept / n)
            if said != "under 1 %":
                assert int(said.removesuffix(" %")) * n <= 100 * kept < (int(said.removesuffix(" %")) + 1) * n
            assert cut_chance(kept / n) <= kept / n


@pytest.mark.parametrize(
    ("share", "said"),
    [(1.0, "100 %"), (0.998, "99 %"), (0.994, "99 %"), (0.805, "81 %"), (0.004, "under 1 %"), (0.0, "0 %")],
)
def test_a_share_is_rounded_but_neither_to_all_nor_to_nothing(share: float, said: str) -> None:
    assert say_share(share) == said


def test_shares_that_add_up_to_all_within_noise_are_all_of_it() -> None:
    assert say_share(sum([0.1] * 10)) == "100 %"


def test_a_chance_that_is_asked_for_is_said_as_it_was_asked() -> None:
    assert [say_level(level) for level in (0.9, 0.55, 0.925, 0.999)] == ["90 %", "55 %", "92.5 %", "99.9 %"]


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("x", True, "yes"), ("x", None, "-"), ("x", [1, 2], "1, 2"), ("x", {"b", "a"}, "a, b"), ("x", 3.0, "3"),
        ("x", pd.NA, "-"), ("x", pd.NaT, "-"), ("x", float("inf"), "-"), ("x", np.float64(1234.5), "1,234.50"),
        ("x", "", "-"), ("work_min", 12.6, "13"), ("chance_kept", 0.945, "94 %"), ("chance_comes", 0.9975, "99 %"),
        ("all_chance_each", float("nan"), "-"), ("share", 0.002, "under 1 %"), ("x", pd.Timestamp("2027-01-05"), "2027-01-05"),
        ("x", pd.Timestamp("2027-01-05 08:30"), "2027-01-05 08:30"), ("x", dt.date(2027, 1, 5), "2027-01-05"),
    ],
)  # fmt: skip
def test_cells_are_said_as_a_reader_wants_them(column: str, value: Any, said: str) -> None:
    assert say_cell(column, value) == said


def test_headings_are_words_with_their_unit_set_off() -> None:
    assert [say_heading(name) for name in ("lead_days", "setup_h", "days", "chance_kept")] == [
        "lead, days", "setup, h", "days", "chance kept",
    ]  # fmt: skip


def test_numbers_stand_to_the_right_and_words_do_not() -> None:
    assert all(is_number(cell) for cell in ("-", "12", "1,234.50", "-4.3", "94 %", "under 1 %", "+4"))
    assert not any(is_number(cell) for cell in ("maker", "2027-01-05", "4 bar clamps", "under 1 day", ""))
