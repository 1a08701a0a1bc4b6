"""Schedules worked out by hand: opening hours, nights, weekends, holidays, and work that cannot be left half done.

Monday is 2027-01-11 unless a start is given; the shop is open 8:00 to 16:00 on weekdays unless a test says so.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from shopsim import run_once
from shopsim.scenario import parse_scenario

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

WITH_LUNCH = '{ mon-fri = "08:00-12:00, 13:00-17:00" }'
FRIDAY = "2026-03-06"
TUESDAY = "2026-03-10"


def test_lunch_splits_work_that_can_be_left_half_done(schedule: Schedule) -> None:
    # 5 h: 8:00-12:00 is 4 h, the fifth is 13:00-14:00.
    assert schedule('{ name = "cut", work = "5 h" }', open=WITH_LUNCH) == {"cut 1": "Mon 11 08:00 - Mon 11 14:00"}


def test_six_hours_from_friday_half_past_three_end_on_monday_at_half_past_one(schedule: Schedule) -> None:
    # Milling 8-12 is 4 h, 13:00-15:30 is 2.5 h: 6.5 h in all, done at 15:30.
    # Cutting takes 6 h: Friday 15:30-17:00 1.5 h, Monday 8-12 4 h (5.5 h so far), 13:00-13:30 the last half hour.
    operations = '{ name = "mill", work = "6.5 h" }, { name = "cut", work = "6 h" }'
    assert schedule(operations, open=WITH_LUNCH, start=FRIDAY) == {
        "mill 1": "Fri 06 08:00 - Fri 06 15:30",
        "cut 1": "Fri 06 15:30 - Mon 09 13:30",
    }


def test_two_hours_that_must_not_be_split_are_not_begun_on_friday_at_half_past_three(schedule: Schedule) -> None:
    # Friday 15:30 + 2 h = 17:30, past closing at 17:00: Monday 8:00-10:00.
    operations = '{ name = "mill", work = "6.5 h" }, { name = "bend", work = "2 h", pausable = false }'
    assert schedule(operations, open=WITH_LUNCH, start=FRIDAY) == {
        "mill 1": "Fri 06 08:00 - Fri 06 15:30",
        "bend 1": "Mon 09 08:00 - Mon 09 10:00",
    }


def test_work_that_must_not_be_split_is_not_begun_before_a_lunch_it_would_run_into(schedule: Schedule) -> None:
    # Cutting 8:00-11:00. Bending takes 1.5 h: 11:00 + 1.5 h = 12:30, into lunch, so 13:00-14:30.
    operations = '{ name = "cut", work = "3 h" }, { name = "bend", work = "1.5 h", pausable = false }'
    assert schedule(operations, open=WITH_LUNCH) == {
        "cut 1": "Mon 11 08:00 - Mon 11 11:00",
        "bend 1": "Mon 11 13:00 - Mon 11 14:30",
    }


def test_work_that_must_not_be_split_may_end_on_the_stroke_of_lunch(schedule: Schedule) -> None:
    # 11:00 + 1 h = 12:00 exactly.
    operations = '{ name = "cut", work = "3 h" }, { name = "bend", work = "1 h", pausable = false }'
    assert schedule(operations, open=WITH_LUNCH)["bend 1"] == "Mon 11 11:00 - Mon 11 12:00"


def test_the_set_up_that_must_be_paid_counts_when_asking_whether_work_fits_before_closing(schedule: Schedule) -> None:
    # Cutting 8:00-14:45. Bending needs 30 min set-up + 60 min = 90 min: 16:15 is past 16:00, so Tuesday.
    operations = """
    { name = "cut", work = "405 min" },
    { name = "bend", station = "former", setup = "30 min", work = "60 min", pausable = false },
    """
    assert schedule(operations, shop='stations = [{ name = "former" }]') == {
        "cut 1": "Mon 11 08:00 - Mon 11 14:45",
        "bend 1": "Tue 12 08:00 - Tue 12 09:30",
    }


def test_a_set_up_already_made_does_not_count_when_asking_whether_work_fits(schedule: Schedule) -> None:
    # Piece 1: 30 min set-up + 225 min = 255 min, 8:00-12:15. Piece 2: 12:15 + 225 min = 16:00, fits to the minute;
    # with another 30 min it would not.
    operations = '{ name = "bend", station = "former", setup = "30 min", work = "225 min", pausable = false }'
    assert schedule(operations, shop='stations = [{ name = "former" }]', run="orders = 2") == {
        "bend 1": "Mon 11 08:00 - Mon 11 12:15",
        "bend 2": "Mon 11 12:15 - Mon 11 16:00",
    }


def test_other_work_fills_the_time_that_is_too_short_for_what_must_not_be_split(schedule: Schedule) -> None:
    # 11:00: bending (90 min) would run into lunch; labelling (20 min) goes 11:00-11:20; bending after lunch.
    operations = """
    { name = "cut", work = "3 h" },
    { name = "bend", work = "90 min", pausable = false },
    { name = "label", after = [], work = "20 min" },
    """
    assert schedule(operations, open=WITH_LUNCH) == {
        "cut 1": "Mon 11 08:00 - Mon 11 11:00",
        "label 1": "Mon 11 11:00 - Mon 11 11:20",
        "bend 1": "Mon 11 13:00 - Mon 11 14:30",
    }


def test_a_glue_up_is_not_left_half_done_unless_the_file_says_so(schedule: Schedule) -> None:
    # Cutting 8:00-15:30. A glue-up of 1 h does not fit before 16:00 and waits for Tuesday.
    cut = '{ name = "cut", work = "7.5 h" },'
    clamps = 'clamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]'
    glue = 'name = "glue", work = "1 h", clamps = [{ count = 2, reach = "20 in" }]'
    assert schedule(cut + f"{{ {glue} }}", shop=clamps)["glue 1"] == "Tue 12 08:00 - Tue 12 09:00"
    # Said to be pausable: 15:30-16:00 and Tuesday 8:00-8:30.
    assert schedule(cut + f"{{ {glue}, pausable = true }}", shop=clamps)["glue 1"] == "Mon 11 15:30 - Tue 12 08:30"


def test_a_wet_coat_is_not_left_half_done(schedule: Schedule) -> None:
    # Cutting 8:00-15:30. A wet coat of 1 h does not fit before 16:00.
    operations = '{ name = "cut", work = "7.5 h" }, { name = "coat", work = "1 h", wet = "1 h" }'
    assert schedule(operations)["coat 1"] == "Tue 12 08:00 - Tue 12 09:00"


def test_work_that_overruns_and_must_not_be_split_keeps_its_worker_late(
    write_shop: Callable[..., str],
) -> None:
    # Two in three of the logged times are 1 h and the third is 12 h, so the likely time is 1 h and always fits at
    # 8:00. Where it takes 12 h, the maker stays: 8:00 + 12 h = 20:00, four hours after closing.
    text = write_shop(
        '{ name = "bend", work = { logged = ["1 h", "1 h", "12 h"] }, pausable = false }',
        shop='lost_days = "0 %"\ninterrupted = "0 %"',
        more="[luck]\nbias = 1.0\nbias_spread = 0.0\npace_spread = 0.0\nguess_spread = 0.0\nhand_spread = 0.0\n",
    )
    scenario = parse_scenario(text)
    seen = set()
    for replication in range(40):
        task = run_once(scenario, seed=1, replication=replication).tasks.iloc[0]
        assert f"{task.start:%a %H:%M}" == "Mon 08:00"
        seen.add(f"{task.done:%a %H:%M}")
    assert seen == {"Mon 09:00", "Mon 20:00"}


def test_work_done_on_the_stroke_of_closing_is_done_that_day(schedule: Schedule) -> None:
    # 8 h fill Monday exactly; what comes after starts on Tuesday.
    operations = '{ name = "cut", work = "8 h" }, { name = "sand", work = "1 h" }'
    assert schedule(operations) == {
        "cut 1": "Mon 11 08:00 - Mon 11 16:00",
        "sand 1": "Tue 12 08:00 - Tue 12 09:00",
    }


def test_a_coat_of_friday_dries_over_the_weekend_and_is_sanded_on_monday(schedule: Schedule) -> None:
    # Coat Friday 8:00-9:00, 24 h of curing: done Saturday 9:00, though nobody is there. Sanding Monday 8:00.
    operations = '{ name = "coat", work = "1 h", cure = "24 h" }, { name = "sand", work = "30 min" }'
    assert schedule(operations, start="2027-01-15") == {
        "coat 1": "Fri 15 08:00 - Sat 16 09:00",
        "sand 1": "Mon 18 08:00 - Mon 18 08:30",
    }


def test_curing_counts_from_the_end_of_work_that_was_split_by_closing(schedule: Schedule) -> None:
    # 9 h of work: Monday 8-16 is 8 h, Tuesday 8-9 the ninth; 2 h of curing from 9:00: done 11:00.
    assert schedule('{ name = "coat", work = "9 h", cure = "2 h" }') == {"coat 1": "Mon 11 08:00 - Tue 12 11:00"}


def test_holidays_are_skipped(schedule: Schedule) -> None:
    # 10 h: Monday 8 h; Tuesday and Wednesday closed; Thursday 8:00-10:00.
    closed = 'closed = ["2027-01-12..2027-01-13"]'
    assert schedule('{ name = "cut", work = "10 h" }', shop=closed) == {"cut 1": "Mon 11 08:00 - Thu 14 10:00"}


def test_a_shop_that_never_closes_works_from_midnight_and_through_the_night(schedule: Schedule) -> None:
    # 30 h from Monday 0:00 end on Tuesday at 6:00.
    assert schedule('{ name = "cut", work = "30 h" }', open='"always"') == {"cut 1": "Mon 11 00:00 - Tue 12 06:00"}


def test_hours_that_run_past_midnight_belong_to_the_evening_before(schedule: Schedule) -> None:
    # Monday 22:00-2:00 is one stretch: 3 h end on Tuesday at 1:00.
    assert schedule('{ name = "cut", work = "3 h" }', open='{ mon = "22:00-02:00" }') == {
        "cut 1": "Mon 11 22:00 - Tue 12 01:00"
    }


NIGHTS = '{ mon = "08:00-16:00", sat = "22:00-02:00" }'
SATURDAY = "2027-01-16"


@pytest.mark.parametrize("away", ['workers = [{ name = "maker", closed = ["2027-01-16"] }]', 'closed = ["2027-01-16"]'])
def test_a_day_off_takes_its_hours_past_midnight_with_it(schedule: Schedule, away: str) -> None:
    # Saturday's hours go on until Sunday at 2:00; whoever is away on Saturday does not come at midnight: Monday 8:00.
    rows = schedule('{ name = "cut", work = "1 h" }', shop=away, open=NIGHTS, start=SATURDAY)
    assert rows == {"cut 1": "Mon 18 08:00 - Mon 18 09:00"}


@pytest.mark.parametrize("away", ['workers = [{ name = "maker", closed = ["2027-01-17"] }]', 'closed = ["2027-01-17"]'])
def test_a_day_off_leaves_the_hours_of_the_evening_before_as_they_are(schedule: Schedule, away: str) -> None:
    # Away on Sunday: Saturday's hours, 22:00 to Sunday 2:00, are worked all the same; 3 h end at 1:00.
    rows = schedule('{ name = "cut", work = "3 h" }', shop=away, open=NIGHTS, start=SATURDAY)
    assert rows == {"cut 1": "Sat 16 22:00 - Sun 17 01:00"}


def test_a_day_off_takes_the_hours_of_ones_own_past_midnight_with_it(schedule: Schedule) -> None:
    # Own hours 23:00-1:00 on Saturdays, away on this one: two hours a week later.
    shop = 'workers = [{ name = "maker", open = { sat = "23:00-01:00" }, closed = ["2027-01-16"] }]'
    assert schedule('{ name = "cut", work = "2 h" }', shop=shop, open=NIGHTS, start=SATURDAY) == {
        "cut 1": "Sat 23 23:00 - Sun 24 01:00"
    }


def test_two_evenings_a_week_and_a_saturday_add_up(schedule: Schedule) -> None:
    # Tuesday 18:00-21:30 3.5 h, Thursday 3.5 h (7 h), Saturday 8:30-12:30 4 h (11 h), 13:30-14:30 the twelfth.
    hours = '{ tue = "18:00-21:30", thu = "18:00-21:30", sat = "08:30-12:30, 13:30-17:30" }'
    assert schedule('{ name = "cut", work = "12 h" }', open=hours) == {"cut 1": "Tue 12 18:00 - Sat 16 14:30"}


def test_work_that_needs_nobody_passes_on_the_clock_at_night(schedule: Schedule) -> None:
    # Cutting 8:00-15:00. Soaking takes 12 h and no hands: 15:00 to Tuesday 3:00. Sanding Tuesday 8:00-9:00.
    operations = """
    { name = "cut", work = "7 h" },
    { name = "soak", hands = 0, work = "12 h" },
    { name = "sand", work = "1 h" },
    """
    assert schedule(operations) == {
        "cut 1": "Mon 11 08:00 - Mon 11 15:00",
        "soak 1": "Mon 11 15:00 - Tue 12 03:00",
        "sand 1": "Tue 12 08:00 - Tue 12 09:00",
    }


def test_work_that_needs_nobody_may_start_while_the_shop_is_closed(schedule: Schedule) -> None:
    # Coat 8:00-9:00, 14 h of curing until 23:00; soaking 23:00-1:00; sanding at opening.
    operations = """
    { name = "coat", work = "1 h", cure = "14 h" },
    { name = "soak", hands = 0, work = "2 h" },
    { name = "sand", work = "1 h" },
    """
    assert schedule(operations) == {
        "coat 1": "Mon 11 08:00 - Mon 11 23:00",
        "soak 1": "Mon 11 23:00 - Tue 12 01:00",
        "sand 1": "Tue 12 08:00 - Tue 12 09:00",
    }


def test_the_maker_works_on_while_work_that_needs_nobody_goes_by(schedule: Schedule) -> None:
    # Cutting 8:00-9:00. Soaking 9:00-11:00 without hands; labelling 9:00-9:30 beside it; bending when soaked.
    operations = """
    { name = "cut", work = "1 h" },
    { name = "soak", hands = 0, work = "2 h" },
    { name = "bend", work = "10 min" },
    { name = "label", after = [], work = "30 min" },
    """
    assert schedule(operations) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00",
        "soak 1": "Mon 11 09:00 - Mon 11 11:00",
        "label 1": "Mon 11 09:00 - Mon 11 09:30",
        "bend 1": "Mon 11 11:00 - Mon 11 11:10",
    }


def test_a_day_of_which_a_quarter_goes_to_other_things_stretches_the_work(schedule: Schedule) -> None:
    # 3 h of work at three quarters of the pace of the clock: 3 / 0.75 = 4 h.
    assert schedule('{ name = "cut", work = "3 h" }', shop='interrupted = "25 %"') == {
        "cut 1": "Mon 11 08:00 - Mon 11 12:00"
    }


def test_interruptions_do_not_stretch_what_passes_on_the_clock(schedule: Schedule) -> None:
    # Coat 1 h / 0.5 = 2 h, 8:00-10:00; 4 h of curing stay 4 h: 14:00.
    assert schedule('{ name = "coat", work = "1 h", cure = "4 h" }', shop='interrupted = "50 %"') == {
        "coat 1": "Mon 11 08:00 - Mon 11 14:00"
    }


def test_a_run_that_starts_on_a_closed_day_begins_at_the_next_opening(schedule: Schedule) -> None:
    # 2027-01-16 is a Saturday.
    assert schedule('{ name = "cut", work = "1 h" }', start="2027-01-16") == {"cut 1": "Mon 18 08:00 - Mon 18 09:00"}


def test_what_is_started_is_chosen_in_the_morning_and_not_the_evening_before(schedule: Schedule) -> None:
    # Coat 8:00-8:10, curing 18 h until Tuesday 2:10. Cutting 470 min: 8:10-16:00, on the stroke of closing.
    # At 16:00 only labelling is ready; by Tuesday 8:00 so is gluing, which goes first.
    operations = """
    { name = "coat", work = "10 min", cure = "18 h" },
    { name = "glue", work = "10 min", cure = "1 h" },
    { name = "cut", after = [], work = "470 min" },
    { name = "label", work = "60 min" },
    """
    assert schedule(operations) == {
        "coat 1": "Mon 11 08:00 - Tue 12 02:10",
        "cut 1": "Mon 11 08:10 - Mon 11 16:00",
        "glue 1": "Tue 12 08:00 - Tue 12 09:10",
        "label 1": "Tue 12 08:10 - Tue 12 09:10",
    }


def test_hands_on_minutes_are_those_of_the_file_and_not_those_of_the_clock(
    run_shop: Callable[..., Any], read_run: Schedule
) -> None:
    # 10 h over two days are still 600 min of work.
    run = run_shop(
        '{ name = "cut", station = "bench", setup = "30 min", work = "10 h" }', shop='stations = [{ name = "bench" }]'
    )
    assert read_run(run, "setup_min", "work_min", "done") == {"cut 1": "30 - 600 - Tue 12 10:30"}


def test_two_stretches_that_touch_are_one_for_work_that_must_not_be_split(schedule: Schedule) -> None:
    # 11:00 + 3 h = 14:00, across 12:00, where one stretch ends and the next begins.
    operations = '{ name = "cut", work = "3 h" }, { name = "bend", work = "3 h", pausable = false }'
    hours = '{ mon-fri = "08:00-12:00, 12:00-16:00" }'
    assert schedule(operations, open=hours)["bend 1"] == "Mon 11 11:00 - Mon 11 14:00"


def test_work_that_must_not_be_split_may_run_across_midnight_in_a_shop_that_never_closes(schedule: Schedule) -> None:
    # Cutting until 23:00, bending 3 h until 2:00.
    operations = '{ name = "cut", work = "23 h" }, { name = "bend", work = "3 h", pausable = false }'
    assert schedule(operations, open='"always"')["bend 1"] == "Mon 11 23:00 - Tue 12 02:00"
