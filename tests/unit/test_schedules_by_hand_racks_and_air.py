"""Schedules worked out by hand: racks that fill up, and dust that must keep away from a wet finish.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

TWO = 'workers = [{ name = "maker", can = ["cut", "coat"] }, { name = "helper", can = ["sand"] }]'


def rack(spots: int) -> str:
    return f'racks = [{{ name = "rack", spots = {spots} }}]'


def test_a_full_rack_holds_back_the_next_coat(schedule: Schedule) -> None:
    # One spot, taken until 10:10.
    operations = '{ name = "coat", work = "10 min", cure = "2 h", rest = "rack" }'
    assert schedule(operations, shop=rack(1), run="orders = 2") == {
        "coat 1": "Mon 11 08:00 - Mon 11 10:10",
        "coat 2": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_two_spots_take_two_pieces_and_the_third_waits_for_the_first(schedule: Schedule) -> None:
    operations = '{ name = "coat", work = "10 min", cure = "2 h", rest = "rack" }'
    assert schedule(operations, shop=rack(2), run="orders = 3") == {
        "coat 1": "Mon 11 08:00 - Mon 11 10:10",
        "coat 2": "Mon 11 08:10 - Mon 11 10:20",
        "coat 3": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_every_unit_of_a_task_needs_its_spots(schedule: Schedule) -> None:
    # A piece has two shelves of two spots: four. Five spots hold one piece; 2 x 10 min of work and 2 h: 10:20.
    operations = '{ name = "coat", per = "shelf", work = "10 min", cure = "2 h", rest = { rack = "rack", spots = 2 } }'
    assert schedule(operations, shop=rack(5), parts='"shelf" = 2', run="orders = 2") == {
        "coat 1": "Mon 11 08:00 - Mon 11 10:20",
        "coat 2": "Mon 11 10:20 - Mon 11 12:40",
    }


def test_units_coated_one_by_one_fill_the_rack_one_by_one(schedule: Schedule) -> None:
    # Five spots hold two shelves of two; the third starts at 10:10.
    operations = (
        '{ name = "coat", per = "shelf", handful = 1, work = "10 min", cure = "2 h", '
        'rest = { rack = "rack", spots = 2 } }'
    )
    assert schedule(operations, ("start",), shop=rack(5), parts='"shelf" = 2', run="orders = 2") == {
        "coat 1.1": "Mon 11 08:00",
        "coat 1.2": "Mon 11 08:10",
        "coat 2.1": "Mon 11 10:10",
        "coat 2.2": "Mon 11 10:20",
    }


def test_a_rack_empties_at_night(schedule: Schedule) -> None:
    # Coat 8:00-8:10, 12 h: done 20:10. The second coat starts when the maker comes, Tuesday 8:00, done 20:10.
    operations = '{ name = "coat", work = "10 min", cure = "12 h", rest = "rack" }'
    assert schedule(operations, shop=rack(1), run="orders = 2") == {
        "coat 1": "Mon 11 08:00 - Mon 11 20:10",
        "coat 2": "Tue 12 08:00 - Tue 12 20:10",
    }


def test_a_rack_shared_by_two_operations_is_full_for_both(schedule: Schedule) -> None:
    # Coat until 9:10 on the only spot. Staining shares the rack: 9:10.
    operations = """
    { name = "coat", after = [], work = "10 min", cure = "1 h", rest = "rack" },
    { name = "stain", after = [], work = "20 min", rest = "rack" },
    { name = "label", after = [], work = "5 min" },
    """
    assert schedule(operations, ("start",), shop=rack(1)) == {
        "coat 1": "Mon 11 08:00",
        "label 1": "Mon 11 08:10",
        "stain 1": "Mon 11 09:10",
    }


def test_nothing_dusty_starts_while_a_finish_is_wet(schedule: Schedule) -> None:
    # Coat 8:00-8:10, wet until 9:10. Labelling makes no dust: 8:10-8:30. Sanding at 9:10.
    operations = """
    { name = "coat", after = [], work = "10 min", wet = "1 h" },
    { name = "sand", after = [], work = "30 min", dusty = true },
    { name = "label", after = [], work = "20 min" },
    """
    assert schedule(operations, ("start",)) == {
        "coat 1": "Mon 11 08:00",
        "label 1": "Mon 11 08:10",
        "sand 1": "Mon 11 09:10",
    }


def test_nothing_dusty_starts_while_the_coat_is_being_put_on(schedule: Schedule) -> None:
    # The coat takes 30 min and is wet for 1 h after it: the helper sands from 9:30.
    operations = """
    { name = "coat", after = [], work = "30 min", wet = "1 h" },
    { name = "sand", after = [], work = "20 min", dusty = true },
    """
    shop = TWO.replace('"cut", ', "")
    assert schedule(operations, ("start",), shop=shop) == {"coat 1": "Mon 11 08:00", "sand 1": "Mon 11 09:30"}


def test_no_wet_coat_is_begun_while_dust_flies(schedule: Schedule) -> None:
    # The helper sands 8:00-9:00; the maker cuts 8:00-8:20, and coats only from 9:00.
    operations = """
    { name = "cut", after = [], work = "20 min" },
    { name = "coat", after = ["cut"], work = "10 min", wet = "1 h" },
    { name = "sand", after = [], work = "60 min", dusty = true },
    """
    assert schedule(operations, ("start",), shop=TWO) == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Mon 11 08:00",
        "coat 1": "Mon 11 09:00",
    }


def test_a_finish_wet_overnight_keeps_dust_away_in_the_morning(schedule: Schedule) -> None:
    # Cut 8:00-15:00, coat 15:00-15:30, wet for 18 h: Tuesday 9:30. Sanding then.
    operations = """
    { name = "cut", work = "7 h" },
    { name = "coat", work = "30 min", wet = "18 h" },
    { name = "sand", after = ["cut"], work = "20 min", dusty = true },
    """
    assert schedule(operations, ("start",)) == {
        "cut 1": "Mon 11 08:00",
        "coat 1": "Mon 11 15:00",
        "sand 1": "Tue 12 09:30",
    }


def test_one_coat_may_follow_another_while_it_is_wet(schedule: Schedule) -> None:
    operations = '{ name = "coat", work = "10 min", wet = "1 h" }'
    assert schedule(operations, ("start",), run="orders = 2") == {"coat 1": "Mon 11 08:00", "coat 2": "Mon 11 08:10"}


def test_the_last_wet_coat_decides_when_dust_may_fly(schedule: Schedule) -> None:
    # Coats 8:00-8:10 and 8:10-8:20; the second is wet until 9:20.
    operations = """
    { name = "coat", after = [], work = "10 min", wet = "1 h" },
    { name = "sand", after = [], work = "20 min", dusty = true },
    """
    assert schedule(operations, ("start",), run="orders = 2") == {
        "coat 1": "Mon 11 08:00",
        "coat 2": "Mon 11 08:10",
        "sand 1": "Mon 11 09:20",
        "sand 2": "Mon 11 09:40",
    }


def test_two_dusty_jobs_do_not_mind_each_other(schedule: Schedule) -> None:
    shop = 'workers = [{ name = "maker" }, { name = "helper" }]'
    operations = '{ name = "sand", work = "20 min", dusty = true }'
    assert schedule(operations, ("start",), shop=shop, run="orders = 2") == {
        "sand 1": "Mon 11 08:00",
        "sand 2": "Mon 11 08:00",
    }


def test_a_wet_finish_of_one_batch_keeps_the_dust_of_another_away(schedule: Schedule) -> None:
    # Batch 1: sand 8:00-8:20, coat 8:20-8:30, wet until 9:30. Batch 2 is sanded only then, coated 9:50.
    # Without the wait it would be sanded at 8:30.
    operations = """
    { name = "sand", work = "20 min", dusty = true },
    { name = "coat", work = "10 min", wet = "1 h" },
    """
    assert schedule(operations, ("start",), run="orders = 2\nbatch = 1") == {
        "sand 1": "Mon 11 08:00",
        "coat 1": "Mon 11 08:20",
        "sand 2": "Mon 11 09:30",
        "coat 2": "Mon 11 09:50",
    }


def test_each_of_several_racks_has_spots_of_its_own(schedule: Schedule) -> None:
    # A shelf lies on the last of three racks, a top on the first. 8:00 shelf 1, 8:10 top 1; shelf 2 waits for the last
    # rack until 10:10, top 2 for the first until 10:20.
    operations = (
        '{ name = "shelf", work = "10 min", cure = "2 h", rest = "far" }, '
        '{ name = "top", after = [], work = "10 min", cure = "2 h", rest = "near" }'
    )
    racks = ", ".join(f'{{ name = "{name}", spots = 1 }}' for name in ("near", "middle", "far"))
    assert schedule(operations, shop=f"racks = [{racks}]", run="orders = 2\nbatch = 2") == {
        "shelf 1": "Mon 11 08:00 - Mon 11 10:10",
        "shelf 2": "Mon 11 10:10 - Mon 11 12:20",
        "top 1": "Mon 11 08:10 - Mon 11 10:20",
        "top 2": "Mon 11 10:20 - Mon 11 12:30",
    }
