"""Lower bounds on the last finish at likely times, against sums by hand in shops where the bound can be reached.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays. A bound lies a little below its sum, so that no rounding
lifts it above what can be done.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import RunResult
from shopsim.engine.lower_bound import find_lower_bound
from shopsim.engine.presence import Presence

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


def test_a_batch_opens_when_the_clamps_have_let_those_before_be_made(run_shop: Callable[..., RunResult]) -> None:
    # room for two, one set of clamps: glued 8:00 and 10:30, the second trimmed 13:00 to 14:00; then the next two: glued 14:00 and,
    # as clamps come off when somebody is there, Tuesday 8:00 to 8:30, off 10:30, trimmed by 11:30
    run = run_shop(
        '{ name = "glue", work = "30 min", clamps = [{ count = 2, kind = "bar" }], in_clamps = "2 h" }, '
        '{ name = "trim", work = "60 min" }',
        shop='clamps = [{ name = "bar", count = 3 }]', run="orders = 4\nbatch = 2\npieces_open = 2",
    )  # fmt: skip
    assert bound_of(run) == pytest.approx(24 * H + OPENS + 3.5 * H, abs=0.1)


def test_a_batch_opens_when_hands_have_made_those_before_and_their_coat_is_dry(
    run_shop: Callable[..., RunResult],
) -> None:
    # room for two: 2 x (3 h + 30 min) from Monday 8:00 on, the last dry on Tuesday at 15:00; the next two take an hour of Tuesday
    # and six of Wednesday, and are dry on Thursday at 14:00
    run = run_shop(
        '{ name = "cut", work = "3 h" }, { name = "oil", work = "30 min", cure = "24 h" }',
        run="orders = 4\nbatch = 2\npieces_open = 2",
    )  # fmt: skip
    assert bound_of(run) == pytest.approx(3 * 24 * H + OPENS + 6 * H, abs=0.1)


def test_a_night_lets_one_glue_up_stand_and_no_longer_than_it_stays() -> None:
    # 8-12 and 13-17: 240 min, the noon hour, 240 min, then 90 of the night: 630; so 600 min end with the night's beginning, and
    # 700 at 9:10 of the second day
    day = [(8 * H, 12 * H), (13 * H, 17 * H)]
    presence = Presence([day + [(since + 24 * H, until + 24 * H) for since, until in day]])
    assert presence.after_gaps(8 * H, 600, 90) == 17 * H
    assert presence.after_gaps(7 * H, 700, 90) == pytest.approx(24 * H + 9 * H + 10)


def test_glue_ups_of_unlike_length_share_one_set_of_clamps(run_shop: Callable[..., RunResult]) -> None:
    # three tops that stay 6 h and three bases that stay 2 h in one set, half an hour of work each: 27 h. The last stays 6 h at the
    # most: 21 h before its work ends, 8 of them on Monday, 6 in the night, so 7 on Tuesday: 15:00; its clamps come off when
    # somebody is there again, on Wednesday at 8:00
    run = run_shop(
        '{ name = "top", work = "30 min", clamps = [{ count = 2, kind = "bar" }], in_clamps = "6 h" }, '
        '{ name = "base", work = "30 min", after = [], clamps = [{ count = 2, kind = "bar" }], in_clamps = "2 h" }',
        shop='clamps = [{ name = "bar", count = 3 }]', run="orders = 3",
    )  # fmt: skip
    assert bound_of(run) == pytest.approx(2 * 24 * H + OPENS, abs=0.1)
