"""Schedules worked out by hand: stations, what they were last set for, and set-up paid, kept and lost.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

SAW = 'stations = [{ name = "saw" }]'
SAW_AND_BENCH = 'stations = [{ name = "saw" }, { name = "bench" }]'
WITH_SETUP = ("start", "setup_min", "done")
ONE_BY_ONE = "batch = 1\npieces_open = 1"
RIP_AND_CROSSCUT = """
{ name = "rip", station = "saw", setup = "10 min", work = "5 min" },
{ name = "crosscut", station = "saw", setup = "10 min", work = "5 min" },
"""


def test_carrying_on_with_the_same_operation_pays_its_set_up_once(schedule: Schedule) -> None:
    # 8:00 + 10 + 5 = 8:15, then 5 min each.
    operations = '{ name = "rip", station = "saw", setup = "10 min", work = "5 min" }'
    assert schedule(operations, WITH_SETUP, shop=SAW, run="orders = 3") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "rip 2": "Mon 11 08:15 - 0 - Mon 11 08:20",
        "rip 3": "Mon 11 08:20 - 0 - Mon 11 08:25",
    }


def test_two_pieces_in_one_batch_pay_each_set_up_once(schedule: Schedule) -> None:
    # Both ripped 8:00-8:20, both crosscut 8:20-8:40: 2 set-ups of 10 and 4 cuts of 5 = 40 min.
    assert schedule(RIP_AND_CROSSCUT, WITH_SETUP, shop=SAW, run="orders = 2") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "rip 2": "Mon 11 08:15 - 0 - Mon 11 08:20",
        "crosscut 1": "Mon 11 08:20 - 10 - Mon 11 08:35",
        "crosscut 2": "Mon 11 08:35 - 0 - Mon 11 08:40",
    }


def test_two_batches_one_after_the_other_pay_every_set_up_again(schedule: Schedule) -> None:
    # The saw is set for crosscutting when piece 2 comes to be ripped: 4 set-ups of 10 and 4 cuts of 5 = 60 min.
    assert schedule(RIP_AND_CROSSCUT, WITH_SETUP, shop=SAW, run=f"orders = 2\n{ONE_BY_ONE}") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "crosscut 1": "Mon 11 08:15 - 10 - Mon 11 08:30",
        "rip 2": "Mon 11 08:30 - 10 - Mon 11 08:45",
        "crosscut 2": "Mon 11 08:45 - 10 - Mon 11 09:00",
    }


def test_a_station_stays_set_while_work_goes_on_at_another(schedule: Schedule) -> None:
    # Rip 8:00-8:15, sand at the bench 8:15-8:35, rip 8:35-8:40 with the saw still set, sand until 9:00.
    operations = """
    { name = "rip", station = "saw", setup = "10 min", work = "5 min" },
    { name = "sand", station = "bench", work = "20 min" },
    """
    assert schedule(operations, WITH_SETUP, shop=SAW_AND_BENCH, run=f"orders = 2\n{ONE_BY_ONE}") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "sand 1": "Mon 11 08:15 - 0 - Mon 11 08:35",
        "rip 2": "Mon 11 08:35 - 0 - Mon 11 08:40",
        "sand 2": "Mon 11 08:40 - 0 - Mon 11 09:00",
    }


def test_a_station_stays_set_overnight(schedule: Schedule) -> None:
    # 30 + 240 min: 8:00-12:30. The next 4 h would end at 16:30, so Tuesday 8:00-12:00, without set-up.
    operations = '{ name = "rip", station = "saw", setup = "30 min", work = "4 h", pausable = false }'
    assert schedule(operations, WITH_SETUP, shop=SAW, run="orders = 2") == {
        "rip 1": "Mon 11 08:00 - 30 - Mon 11 12:30",
        "rip 2": "Tue 12 08:00 - 0 - Tue 12 12:00",
    }


def test_an_operation_without_set_up_undoes_the_set_up_of_another_all_the_same(schedule: Schedule) -> None:
    # Rip 8:00-8:15, trim 8:15-8:20; the saw was last used for trimming, so ripping pays again: 8:20-8:35.
    operations = """
    { name = "rip", station = "saw", setup = "10 min", work = "5 min" },
    { name = "trim", station = "saw", work = "5 min" },
    """
    assert schedule(operations, WITH_SETUP, shop=SAW, run=f"orders = 2\n{ONE_BY_ONE}") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "trim 1": "Mon 11 08:15 - 0 - Mon 11 08:20",
        "rip 2": "Mon 11 08:20 - 10 - Mon 11 08:35",
        "trim 2": "Mon 11 08:35 - 0 - Mon 11 08:40",
    }


def test_a_task_whose_station_is_already_set_goes_before_a_glue_up(schedule: Schedule) -> None:
    # 8:15: piece 1 could be glued (glue goes first) but the saw is set for ripping: rip 2 8:15-8:20, then both glued.
    operations = """
    { name = "rip", station = "saw", setup = "10 min", work = "5 min" },
    { name = "glue", work = "10 min", cure = "1 h" },
    """
    assert schedule(operations, ("start",), shop=SAW, run="orders = 2") == {
        "rip 1": "Mon 11 08:00",
        "rip 2": "Mon 11 08:15",
        "glue 1": "Mon 11 08:20",
        "glue 2": "Mon 11 08:30",
    }


def test_a_task_whose_station_is_already_set_goes_before_an_older_batch(schedule: Schedule) -> None:
    # Two batches of one under way. Rip 1 8:00-8:15. Now sand 1 (batch 1) or rip 2 (batch 2, saw set): rip 2 first.
    operations = """
    { name = "rip", station = "saw", setup = "10 min", work = "5 min" },
    { name = "sand", work = "10 min" },
    """
    assert schedule(operations, ("start",), shop=SAW, run="orders = 2\nbatch = 1\npieces_open = 2") == {
        "rip 1": "Mon 11 08:00",
        "rip 2": "Mon 11 08:15",
        "sand 1": "Mon 11 08:20",
        "sand 2": "Mon 11 08:30",
    }


def test_two_stations_of_a_name_remember_each_for_itself(schedule: Schedule) -> None:
    # Each worker knows one operation: rip on one saw, crosscut on the other, 8:00-8:15, then 5 min without set-up.
    shop = """
    workers = [{ name = "maker", can = ["rip"] }, { name = "helper", can = ["crosscut"] }]
    stations = [{ name = "saw", count = 2 }]
    """
    operations = RIP_AND_CROSSCUT.replace('"crosscut",', '"crosscut", after = [],')
    assert schedule(operations, WITH_SETUP, shop=shop, run="orders = 2") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "rip 2": "Mon 11 08:15 - 0 - Mon 11 08:20",
        "crosscut 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "crosscut 2": "Mon 11 08:15 - 0 - Mon 11 08:20",
    }


def test_two_workers_share_one_station_by_waiting_for_it(schedule: Schedule) -> None:
    # One saw. Crosscutting (helper) must wait until both pieces are ripped, because the saw is set for ripping.
    shop = """
    workers = [{ name = "maker", can = ["rip"] }, { name = "helper", can = ["crosscut"] }]
    stations = [{ name = "saw" }]
    """
    operations = RIP_AND_CROSSCUT.replace('"crosscut",', '"crosscut", after = [],')
    assert schedule(operations, ("start", "done"), shop=shop, run="orders = 2") == {
        "rip 1": "Mon 11 08:00 - Mon 11 08:15",
        "rip 2": "Mon 11 08:15 - Mon 11 08:20",
        "crosscut 1": "Mon 11 08:20 - Mon 11 08:35",
        "crosscut 2": "Mon 11 08:35 - Mon 11 08:40",
    }


def test_the_one_of_two_stations_that_is_set_already_is_used(schedule: Schedule) -> None:
    # Two saws, one maker, batches one after the other: rip sets one saw, crosscut the other; piece 2 finds both set.
    # 15 + 15 + 5 + 5 min.
    shop = 'stations = [{ name = "saw", count = 2 }]'
    assert schedule(RIP_AND_CROSSCUT, WITH_SETUP, shop=shop, run=f"orders = 2\n{ONE_BY_ONE}") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "crosscut 1": "Mon 11 08:15 - 10 - Mon 11 08:30",
        "rip 2": "Mon 11 08:30 - 0 - Mon 11 08:35",
        "crosscut 2": "Mon 11 08:35 - 0 - Mon 11 08:40",
    }


def test_of_two_free_stations_the_one_that_is_set_is_used_though_the_other_stood_idle_longer(
    schedule: Schedule,
) -> None:
    # Ripping sets one saw at 8:00, crosscutting the other at 8:15. Both are free at 8:30: the second crosscut goes to
    # the saw that is set for it, used last, and pays nothing: 8:30-8:35.
    shop = 'stations = [{ name = "saw", count = 2 }]'
    operations = RIP_AND_CROSSCUT.replace('"crosscut",', '"crosscut", per = "rail", handful = 1,')
    assert schedule(operations, WITH_SETUP, shop=shop, parts='"rail" = 2') == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "crosscut 1.1": "Mon 11 08:15 - 10 - Mon 11 08:30",
        "crosscut 1.2": "Mon 11 08:30 - 0 - Mon 11 08:35",
    }


def test_of_two_free_stations_set_for_other_work_the_one_that_stood_idle_longer_is_set_anew(schedule: Schedule) -> None:
    # Rip 8:00-8:15 on one saw, crosscut 8:15-8:30 on the other; mitre 8:30-8:45 takes the first, so the second rip
    # (8:45) finds no saw set for it and pays again: 8:45-9:00. Had mitring taken the second saw, it would pay nothing.
    shop = 'stations = [{ name = "saw", count = 2 }]'
    operations = RIP_AND_CROSSCUT + '{ name = "mitre", station = "saw", setup = "10 min", work = "5 min" }'
    assert schedule(operations, WITH_SETUP, shop=shop, run=f"orders = 2\n{ONE_BY_ONE}") == {
        "rip 1": "Mon 11 08:00 - 10 - Mon 11 08:15",
        "crosscut 1": "Mon 11 08:15 - 10 - Mon 11 08:30",
        "mitre 1": "Mon 11 08:30 - 10 - Mon 11 08:45",
        "rip 2": "Mon 11 08:45 - 10 - Mon 11 09:00",
        "crosscut 2": "Mon 11 09:00 - 10 - Mon 11 09:15",
        "mitre 2": "Mon 11 09:15 - 10 - Mon 11 09:30",
    }


def test_an_operation_without_a_station_pays_its_set_up_once_a_batch(schedule: Schedule) -> None:
    # Two batches of two: 15 + 5, 5 | 15 + 5, 5.
    operations = '{ name = "lay out", setup = "15 min", work = "5 min" }'
    assert schedule(operations, WITH_SETUP, run="orders = 4\nbatch = 2\npieces_open = 2") == {
        "lay out 1": "Mon 11 08:00 - 15 - Mon 11 08:20",
        "lay out 2": "Mon 11 08:20 - 0 - Mon 11 08:25",
        "lay out 3": "Mon 11 08:25 - 15 - Mon 11 08:45",
        "lay out 4": "Mon 11 08:45 - 0 - Mon 11 08:50",
    }


def test_other_work_in_between_does_not_lose_a_set_up_that_needs_no_station(schedule: Schedule) -> None:
    # The piece nearest done goes first, so marking comes between the two layouts: 15 + 5, 5, 5 (no set-up), 5.
    operations = '{ name = "lay out", setup = "15 min", work = "5 min" }, { name = "mark", work = "5 min" }'
    assert schedule(operations, WITH_SETUP, run='orders = 2\npriority = "nearest done"') == {
        "lay out 1": "Mon 11 08:00 - 15 - Mon 11 08:20",
        "mark 1": "Mon 11 08:20 - 0 - Mon 11 08:25",
        "lay out 2": "Mon 11 08:25 - 0 - Mon 11 08:30",
        "mark 2": "Mon 11 08:30 - 0 - Mon 11 08:35",
    }


def test_set_up_is_paid_for_the_task_and_work_for_every_unit(schedule: Schedule) -> None:
    # Four legs in one task: 10 + 4 x 5 = 30 min.
    operations = '{ name = "taper", per = "leg", station = "saw", setup = "10 min", work = "5 min" }'
    assert schedule(operations, ("setup_min", "work_min", "done"), shop=SAW, parts='"leg" = 4') == {
        "taper 1": "10 - 20 - Mon 11 08:30"
    }


def test_set_up_stops_at_closing_like_any_work(schedule: Schedule) -> None:
    # Cutting 8:00-15:30. Set-up 60 + work 60: half an hour on Monday, 90 min on Tuesday.
    operations = """
    { name = "cut", work = "7.5 h" },
    { name = "rip", station = "saw", setup = "60 min", work = "60 min" },
    """
    assert schedule(operations, WITH_SETUP, shop=SAW)["rip 1"] == "Mon 11 15:30 - 60 - Tue 12 09:30"


def test_a_station_is_free_while_the_glue_cures_beside_it(schedule: Schedule) -> None:
    # Glue 8:00-8:10 and 8:10-8:20 at one bench; each cures 2 h.
    operations = '{ name = "glue", station = "bench", work = "10 min", cure = "2 h" }'
    assert schedule(operations, shop=SAW_AND_BENCH, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 10:10",
        "glue 2": "Mon 11 08:10 - Mon 11 10:20",
    }


def test_what_stays_keeps_its_station_until_it_is_done(schedule: Schedule) -> None:
    # The first stays on the bench until 10:10, then the second; labelling needs no bench and goes on at 8:10.
    operations = """
    { name = "glue", station = "bench", work = "10 min", cure = "2 h", stays = true },
    { name = "label", after = [], work = "30 min" },
    """
    assert schedule(operations, shop=SAW_AND_BENCH, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 10:10",
        "label 1": "Mon 11 08:10 - Mon 11 08:40",
        "label 2": "Mon 11 08:40 - Mon 11 09:10",
        "glue 2": "Mon 11 10:10 - Mon 11 12:20",
    }


def test_what_stays_in_clamps_keeps_its_station_until_the_clamps_are_off(schedule: Schedule) -> None:
    # Clamps for both, one bench: off at 9:10 + 5 min to take them off = 9:15.
    shop = SAW_AND_BENCH + '\nclamps = [{ name = "bar clamp", reach = "24 in", count = 8 }]'
    operations = (
        '{ name = "glue", station = "bench", work = "10 min", stays = true, in_clamps = "1 h", unclamp = "5 min", '
        'clamps = [{ count = 2, reach = "20 in" }] }'
    )
    assert schedule(operations, shop=shop, run="orders = 2") == {
        "glue 1": "Mon 11 08:00 - Mon 11 09:15",
        "glue 2": "Mon 11 09:15 - Mon 11 10:30",
    }


def test_machine_work_that_needs_nobody_keeps_its_station_busy(schedule: Schedule) -> None:
    # Planer 1 h without hands, one planer: piece 1 from midnight, piece 2 from 1:00; the maker sands from 8:00.
    operations = """
    { name = "plane", station = "saw", hands = 0, work = "1 h" },
    { name = "sand", work = "10 min" },
    """
    assert schedule(operations, shop=SAW, run="orders = 2") == {
        "plane 1": "Mon 11 00:00 - Mon 11 01:00",
        "plane 2": "Mon 11 01:00 - Mon 11 02:00",
        "sand 1": "Mon 11 08:00 - Mon 11 08:10",
        "sand 2": "Mon 11 08:10 - Mon 11 08:20",
    }


def test_of_two_stations_set_for_other_work_the_one_begun_on_longest_ago_is_set_anew(schedule: Schedule) -> None:
    # Both saws are begun on at 8:00: ripping 8:00-9:00 on the first, cutting 8:00-8:10 on the second, which is free
    # again sooner. Planing at 9:00 takes the first all the same, so the second is still set for cutting at 9:15.
    operations = """
    { name = "rip", station = "saw", setup = "5 min", work = "55 min" },
    { name = "cut", after = [], station = "saw", setup = "5 min", work = "5 min" },
    { name = "plane", after = ["rip", "cut"], station = "saw", setup = "5 min", work = "10 min" },
    """
    shop = 'stations = [{ name = "saw", count = 2 }]\nworkers = [{ name = "maker" }, { name = "helper" }]'
    rows = schedule(operations, ("start", "setup_min", "done"), shop=shop, run="orders = 2\nbatch = 1\npieces_open = 1")
    assert rows == {
        "rip 1": "Mon 11 08:00 - 5 - Mon 11 09:00",
        "cut 1": "Mon 11 08:00 - 5 - Mon 11 08:10",
        "plane 1": "Mon 11 09:00 - 5 - Mon 11 09:15",
        "cut 2": "Mon 11 09:15 - 0 - Mon 11 09:20",
        "rip 2": "Mon 11 09:15 - 5 - Mon 11 10:15",
        "plane 2": "Mon 11 10:15 - 5 - Mon 11 10:30",
    }
