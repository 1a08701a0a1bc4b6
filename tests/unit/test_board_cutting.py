"""It holds that boards are cut with the least length bought: published instances, an independent solver, and what no plan may break."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim.errors import InputError
from shopsim.study import board_cutting
from shopsim.study.board_cutting import Cut, CuttingPlan, cut_boards


def cuts_of(*pairs: tuple[float, int]) -> list[Cut]:
    return [Cut(f"part {n}", length, count) for n, (length, count) in enumerate(pairs, 1)]


def check_plan(plan: CuttingPlan, lengths: Sequence[float], cuts: Sequence[Cut], saw_cut: float) -> None:
    """Every part is cut, exactly as often as asked, and what is cut from a board fits into it, saw cuts and all."""
    for n, cut in enumerate(plan.cuts):
        assert sum(board.boards * board.counts[n] for board in plan.boards) == cut.count
    for board in plan.boards:
        assert any(abs(board.length_mm - length) < 0.01 for length in lengths)
        parts = sum(board.counts)
        used = sum(count * cut.length_mm for count, cut in zip(board.counts, plan.cuts, strict=True))
        assert used + saw_cut * max(0, parts - 1) <= board.length_mm + 0.011 * (parts + 1)
    assert plan.bought_mm == pytest.approx(sum(board.boards * board.length_mm for board in plan.boards))
    assert plan.bound_mm <= plan.bought_mm + 1e-9


#: Master rolls of paper of 5600 mm, thirteen widths: the worked example that the encyclopaedias' page on the cutting stock
#: problem has; the best is 73 rolls (from memory; its page also says that no plan needs fewer, with 0.401 % waste).
PAPER = cuts_of(
    (1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20), (2000, 10), (2050, 12), (2100, 14),
    (2140, 16), (2150, 18), (2200, 20),
)  # fmt: skip


def test_the_paper_mill_needs_73_rolls() -> None:
    plan = cut_boards([5600], PAPER)
    check_plan(plan, [5600], PAPER, 0.0)
    assert plan.n_boards == 73
    assert plan.proven
    cut = sum(one.length_mm * one.count for one in PAPER)
    assert 1 - cut / plan.bought_mm == pytest.approx(0.00401, abs=5e-6)


def test_the_rolls_of_chvatals_book_need_453() -> None:
    """Chvatal, Linear Programming (1983), chapter 13: rolls of 100 in; 97 of 45 in, 610 of 36, 395 of 31, 211 of 14.

    From memory: the linear program asks for 452.25 rolls, and 453 do.
    """
    cuts = cuts_of((45, 97), (36, 610), (31, 395), (14, 211))
    plan = cut_boards([100], cuts)
    check_plan(plan, [100], cuts, 0.0)
    assert (plan.n_boards, plan.proven, plan.bound_mm) == (453, True, 45_300)


def test_columns_that_are_made_as_wanted_come_to_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(board_cutting, "MAX_WAYS", 5)
    cuts = cuts_of((45, 97), (36, 610), (31, 395), (14, 211))
    plan = cut_boards([100], cuts)
    check_plan(plan, [100], cuts, 0.0)
    assert plan.bound_mm == 45_300  # the linear program's 452.25 rolls, and no part of a roll is bought
    assert plan.n_boards in (453, 454)


def test_by_hand_a_saw_cut_can_cost_a_board() -> None:
    # four parts of 24 in come out of 8 ft without a saw cut; with one of 1/8 in only three do
    part = cuts_of((24 * 25.4, 4))
    assert cut_boards([96 * 25.4], part).n_boards == 1
    assert cut_boards([96 * 25.4], part, 3.2).n_boards == 2


def test_by_hand_two_lengths_waste_less_than_one() -> None:
    # three parts of 1.5 m and two of 2.4 m: 3 m boards take 2 x 1.5, 2.5 m boards take one of 2.4 (or one of 1.5)
    cuts = cuts_of((1500, 3), (2400, 2))
    plan = cut_boards([3000, 2500], cuts)
    check_plan(plan, [3000, 2500], cuts, 0.0)
    assert plan.bought_mm == 3000 + 2500 + 2 * 2500
    assert plan.proven


def test_nothing_to_cut_needs_no_board_and_what_is_too_long_is_told() -> None:
    assert cut_boards([3000], []).n_boards == 0
    with pytest.raises(InputError, match="part 1 · is longer than every board that is sold · cut it"):
        cut_boards([1000], cuts_of((1001, 1)))


def solve_by_trying(lengths: tuple[int, ...], sizes: tuple[int, ...], saw_cut: int) -> int:
    """The least length bought, by trying every set of parts for the board with the first part: no solver, no patterns."""

    @cache
    def least(left: tuple[int, ...]) -> int:
        if not left:
            return 0
        first, rest = left[0], left[1:]
        best = len(left) * max(lengths)
        for mask in range(1 << len(rest)):
            others = [rest[n] for n in range(len(rest)) if mask >> n & 1]
            used = first + sum(others) + saw_cut * len(others)
            fits = [length for length in lengths if length >= used]
            if fits:
                kept = tuple(rest[n] for n in range(len(rest)) if not mask >> n & 1)
                best = min(best, min(fits) + least(kept))
        return best

    return least(tuple(sorted(sizes, reverse=True)))


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.integers(5, 60), st.integers(1, 3)), min_size=1, max_size=4, unique_by=lambda one: one[0]),
    st.lists(st.integers(60, 130), min_size=1, max_size=3, unique=True), st.integers(0, 3),
)  # fmt: skip
def test_as_little_length_as_an_independent_solver_finds(
    pairs: list[tuple[int, int]], lengths: list[int], saw_cut: int
) -> None:
    cuts = cuts_of(*pairs)
    plan = cut_boards(lengths, cuts, saw_cut)
    check_plan(plan, lengths, cuts, saw_cut)
    sizes = tuple(size for size, count in pairs for _ in range(count))
    if len(sizes) <= 9:
        assert plan.bought_mm == pytest.approx(solve_by_trying(tuple(lengths), sizes, saw_cut))
    assert plan.proven
