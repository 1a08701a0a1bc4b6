"""Where the time of a piece goes, slice by slice, against accounts written by hand."""

from __future__ import annotations

from collections.abc import Callable

from shopsim import RunResult, parse_scenario, run_once
from shopsim.engine.task_holdups import account_piece

H = 60.0
DAY = 24 * H


def told(run: RunResult, piece: int = 0) -> list[tuple[str, float, float]]:
    """(part, since, until) of the slices of a piece, the earliest first."""
    return [(one.part, one.since, one.until) for one in reversed(account_piece(run.history, piece))]


def test_work_for_two_that_is_broken_off_waits_until_both_are_free_again(write_shop: Callable[..., str]) -> None:
    # The helper is there until noon, from 8 on Monday and from 9 later. Lifting, six hours for two: Monday 8-12. The
    # maker shapes meanwhile, eight hours: Monday 12-17, and being alone, Tuesday 8-11. Only then are both free:
    # Tuesday 11-12, Wednesday 9-10.
    text = write_shop(
        '{ name = "lift", hands = 2, work = "6 h" }, { name = "shape", after = [], work = "8 h" }',
        open='{ mon-fri = "08:00-17:00" }',
        shop="""
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
can = ["lift"]
open = { mon = "08:00-12:00", tue-fri = "09:00-12:00" }
""",
        run="orders = 1",
    )
    run = run_once(parse_scenario(text), likely=True)
    assert run.record.start.tolist() == [8 * H, 12 * H]
    assert run.record.done.tolist() == [2 * DAY + 10 * H, DAY + 11 * H]
    assert told(run) == [
        ("shop closed", 0.0, 8 * H),
        ("hands-on", 8 * H, 12 * H),
        ("worker", 12 * H, 17 * H),
        ("shop closed", 17 * H, DAY + 8 * H),
        ("worker", DAY + 8 * H, DAY + 11 * H),
        ("hands-on", DAY + 11 * H, DAY + 12 * H),
        ("worker", DAY + 12 * H, DAY + 17 * H),
        ("shop closed", DAY + 17 * H, 2 * DAY + 8 * H),
        ("worker", 2 * DAY + 8 * H, 2 * DAY + 9 * H),
        ("hands-on", 2 * DAY + 9 * H, 2 * DAY + 10 * H),
    ]


def test_what_waits_for_clamps_and_a_rack_at_once_waits_for_clamps(run_shop: Callable[..., RunResult]) -> None:
    # One clamp, one spot. The first piece is glued 8-9, in the clamp until 10 and on the rack until 12; the second waits for
    # the clamp until 10, then for the spot, is glued 12-13, in the clamp until 14 and cured at 16.
    run = run_shop(
        '{ name = "glue", work = "1 h", clamps = [{ count = 1, kind = "band" }], in_clamps = "1 h", cure = "3 h", rest = "rack" }',
        shop='clamps = [{ name = "band", count = 1 }]\nracks = [{ name = "rack", spots = 1 }]',
        run="orders = 2",
    )
    assert told(run, 1) == [
        ("shop closed", 0.0, 8 * H),
        ("clamps", 8 * H, 10 * H),
        ("rack", 10 * H, 12 * H),
        ("hands-on", 12 * H, 13 * H),
        ("in clamps", 13 * H, 14 * H),
        ("curing", 14 * H, 16 * H),
    ]


def test_what_a_longer_need_takes_is_missing_for_the_shorter_one(run_shop: Callable[..., RunResult]) -> None:
    # Two short clamps and a long one. Pressing takes a short one 8-11. Gluing needs one long and two short: the long one
    # could stand in for the second short one, but is needed itself, so gluing waits for the clamp until 11.
    run = run_shop(
        """
{ name = "press", work = "1 h", clamps = [{ count = 1, reach = "12 in" }], in_clamps = "2 h" },
{ name = "glue", after = [], work = "1 h", in_clamps = "30 min", clamps = [{ count = 1, reach = "24 in" }, { count = 2, reach = "12 in" }] },
""",
        shop='clamps = [{ name = "short", reach = "12 in", count = 2 }, { name = "long", reach = "24 in", count = 1 }]',
        run="orders = 1",
    )
    assert told(run) == [
        ("shop closed", 0.0, 8 * H),
        ("clamps", 8 * H, 11 * H),
        ("hands-on", 11 * H, 12 * H),
        ("in clamps", 12 * H, 12.5 * H),
    ]
