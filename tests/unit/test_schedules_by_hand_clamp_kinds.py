"""Schedules worked out by hand: which clamp serves which need, by reach and by kind.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays. A row reads: start - done.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

SHORT_AND_LONG = """clamps = [
  { name = "long", reach = "24 in", count = 2 },
  { name = "short", reach = "12 in", count = 2 },
]"""


def test_the_shortest_clamps_that_serve_are_taken_first(schedule: Schedule) -> None:
    # The base (12 in) takes the two short ones though the long stand first in the file, so the top (24 in) can
    # follow at once.
    operations = """
    { name = "glue base", after = [], work = "10 min", clamps = [{ count = 2, reach = "12 in" }], in_clamps = "2 h" },
    { name = "glue top", after = [], work = "10 min", clamps = [{ count = 2, reach = "24 in" }], in_clamps = "2 h" },
    """
    assert schedule(operations, shop=SHORT_AND_LONG) == {
        "glue base 1": "Mon 11 08:00 - Mon 11 10:10",
        "glue top 1": "Mon 11 08:10 - Mon 11 10:20",
    }


def test_longer_clamps_stand_in_for_shorter(schedule: Schedule) -> None:
    # Three bases of two 12 in clamps: short ones 8:00, long ones 8:10, the third waits for 10:10.
    operations = '{ name = "glue base", work = "10 min", clamps = [{ count = 2, reach = "12 in" }], in_clamps = "2 h" }'
    assert schedule(operations, shop=SHORT_AND_LONG, run="orders = 3") == {
        "glue base 1": "Mon 11 08:00 - Mon 11 10:10",
        "glue base 2": "Mon 11 08:10 - Mon 11 10:20",
        "glue base 3": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_one_glue_up_may_mix_short_and_long_clamps(schedule: Schedule) -> None:
    # Three of 12 in: both short and one long. The top needs two long, one is left: it waits until 10:10.
    operations = """
    { name = "glue base", after = [], work = "10 min", clamps = [{ count = 3, reach = "12 in" }], in_clamps = "2 h" },
    { name = "glue top", after = [], work = "10 min", clamps = [{ count = 2, reach = "24 in" }], in_clamps = "2 h" },
    """
    assert schedule(operations, shop=SHORT_AND_LONG) == {
        "glue base 1": "Mon 11 08:00 - Mon 11 10:10",
        "glue top 1": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_shorter_clamps_never_stand_in_for_longer(schedule: Schedule) -> None:
    # Two tops of two 24 in clamps: the second waits for 10:10 though both short clamps hang on the wall.
    operations = '{ name = "glue top", work = "10 min", clamps = [{ count = 2, reach = "24 in" }], in_clamps = "2 h" }'
    assert schedule(operations, shop=SHORT_AND_LONG, run="orders = 2") == {
        "glue top 1": "Mon 11 08:00 - Mon 11 10:10",
        "glue top 2": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_a_clamp_of_exactly_the_reach_serves_whatever_the_unit(schedule: Schedule) -> None:
    # 609.6 mm are 24 in.
    operations = (
        '{ name = "glue top", work = "10 min", clamps = [{ count = 2, reach = "609.6 mm" }], in_clamps = "1 h" }'
    )
    assert schedule(operations, shop=SHORT_AND_LONG)["glue top 1"] == "Mon 11 08:00 - Mon 11 09:10"


def test_a_need_for_a_kind_is_served_by_that_kind_alone(schedule: Schedule) -> None:
    # One band clamp: the second piece waits for it though four bar clamps are free.
    shop = SHORT_AND_LONG.replace("]", '  { name = "band clamp", count = 1 },\n]')
    operations = '{ name = "glue", work = "10 min", clamps = [{ count = 1, kind = "band clamp" }], in_clamps = "1 h" }'
    assert schedule(operations, shop=shop, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:10",
        "glue 2": "Mon 11 09:10 - Mon 11 10:20",
    }


def test_a_clamp_without_reach_serves_no_need_that_states_one(schedule: Schedule) -> None:
    # Two bar clamps and three band clamps; two glue-ups of two bar clamps cannot overlap.
    shop = """clamps = [
      { name = "band clamp", count = 3 },
      { name = "bar clamp", reach = "24 in", count = 2 },
    ]"""
    operations = '{ name = "glue", work = "10 min", clamps = [{ count = 2, reach = "1 in" }], in_clamps = "1 h" }'
    assert schedule(operations, shop=shop, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:10",
        "glue 2": "Mon 11 09:10 - Mon 11 10:20",
    }


def test_a_glue_up_takes_all_its_clamps_or_none(schedule: Schedule) -> None:
    # Frames need both bar clamps and a band clamp, rings the band clamp alone. Frame 1 has them all until 9:10.
    # At 8:10 the ring must wait; at 9:10 the frame of piece 2 (earlier in the file) takes all, the ring waits on.
    shop = """clamps = [
      { name = "bar clamp", reach = "24 in", count = 2 },
      { name = "band clamp", count = 1 },
    ]"""
    both = 'clamps = [{ count = 2, reach = "20 in" }, { count = 1, kind = "band clamp" }]'
    band = 'clamps = [{ count = 1, kind = "band clamp" }]'
    operations = f"""
    {{ name = "glue frame", after = [], work = "10 min", in_clamps = "1 h", {both} }},
    {{ name = "glue ring", after = [], work = "10 min", in_clamps = "1 h", {band} }},
    """
    assert schedule(operations, shop=shop, run="orders = 2") == {
        "glue frame 1": "Mon 11 08:00 - Mon 11 09:10",
        "glue frame 2": "Mon 11 09:10 - Mon 11 10:20",
        "glue ring 1": "Mon 11 10:20 - Mon 11 11:30",
        "glue ring 2": "Mon 11 11:30 - Mon 11 12:40",
    }


def test_a_need_by_reach_leaves_the_kind_that_another_need_names(schedule: Schedule) -> None:
    # One short, one long clamp. The first need (12 in) would take the short one, but the second names it: the long
    # one serves the first, and the glue-up starts at once.
    shop = """clamps = [
      { name = "short", reach = "12 in", count = 1 },
      { name = "long", reach = "24 in", count = 1 },
    ]"""
    needs = 'clamps = [{ count = 1, reach = "12 in" }, { count = 1, kind = "short" }]'
    operations = f'{{ name = "glue", work = "10 min", in_clamps = "1 h", {needs} }}'
    assert schedule(operations, shop=shop) == {"glue 1": "Mon 11 08:00 - Mon 11 09:10"}


def test_a_need_for_short_clamps_written_first_leaves_the_long_ones_to_the_need_for_long(schedule: Schedule) -> None:
    # One short, two long: one of 12 in takes the short, two of 24 in the long ones.
    shop = SHORT_AND_LONG.replace('reach = "12 in", count = 2', 'reach = "12 in", count = 1')
    needs = 'clamps = [{ count = 1, reach = "10 in" }, { count = 2, reach = "24 in" }]'
    operations = f'{{ name = "glue", work = "10 min", in_clamps = "1 h", {needs} }}'
    assert schedule(operations, shop=shop) == {"glue 1": "Mon 11 08:00 - Mon 11 09:10"}
