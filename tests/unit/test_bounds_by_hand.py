"""Lower bounds on the last finish at likely times, against sums by hand in shops where the bound can be reached.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays. A bound lies a little below its sum, so that no rounding
lifts it above what can be done.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import RunResult
from shopsim.engine.lower_bound import find_lower_bound

H = 60.0
OPENS = 8 * H
TWO_STEPS = '{ name = "cut", work = "60 min" }, { name = "sand", work = "30 min" }'


def bound_of(run: RunResult) -> float:
    """The bound, minutes from midnight, of a run that reaches it."""
    last = float(run.record.done.max())
    bound = find_lower_bound(run.plan, last).minutes
    assert bound <= last
    return bound


def test_one_pair_of_hands_is_done_with_all_there_is_to_do_at_the_earliest(run_shop: Callable[..., RunResult]) -> None:
    # 2 x (60 + 30) min of work from 8:00 on: 11:00
    run = run_shop(TWO_STEPS, run="orders = 2")
    assert bound_of(run) == pytest.approx(OPENS + 3 * H, abs=0.1)
    assert run.record.done.max() == OPENS + 3 * H


def test_interruptions_stretch_the_work_in_the_bound_as_on_the_floor(run_shop: Callable[..., RunResult]) -> None:
    # a quarter of each day goes to other things: 180 / 0.75 = 240 min, so 12:00
    run = run_shop(TWO_STEPS, shop='interrupted = "25 %"', run="orders = 2")
    assert run.draws.days is not None
    assert bound_of(run) == pytest.approx(OPENS + 4 * H, abs=0.1)


def test_clamps_are_free_for_the_last_glue_up_when_all_others_have_come_off(run_shop: Callable[..., RunResult]) -> None:
    # one set of clamps: 3 x (30 min of work + 2 h) from 8:00 on: 15:30
    run = run_shop(
        '{ name = "glue", work = "30 min", clamps = [{ count = 2, kind = "bar" }], in_clamps = "2 h" }',
        shop='clamps = [{ name = "bar", count = 3 }]', run="orders = 3",
    )  # fmt: skip
    assert bound_of(run) == pytest.approx(OPENS + 7.5 * H, abs=0.1)


def test_the_longest_chain_of_one_piece_bounds_a_shop_with_hands_enough(run_shop: Callable[..., RunResult]) -> None:
    # an hour of work, a cure of a day, and half an hour from 9:00 on Tuesday: 9:30
    run = run_shop('{ name = "oil", work = "60 min", cure = "24 h" }, { name = "wax", work = "30 min" }')
    assert bound_of(run) == pytest.approx(24 * H + OPENS + 1.5 * H, abs=0.1)
