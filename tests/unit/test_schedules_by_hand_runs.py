"""Schedules worked out by hand: batches, material, rounding, learning, packing, the carrier, several designs.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopsim import load_scenario, run_once
from shopsim.scenario import parse_scenario

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]
RunShop = Callable[..., Any]

CUT_AND_CURE = '{ name = "cut", work = "10 min", cure = "2 h" }'
ONE_CUT = '{ name = "cut", work = "1 h" }'


def opened(run: Any) -> list[str]:
    return [f"{moment:%a %d %H:%M}" for moment in run.pieces.sort_values("piece").opened]


def ship_days(run: Any) -> list[str]:
    return [f"{moment:%a %d}" for moment in run.pieces.sort_values("piece").ships]


def test_a_batch_opens_when_the_one_before_it_is_done_if_there_is_room_for_one(
    run_shop: RunShop, read_run: Schedule
) -> None:
    # Cut 8:00-8:10, cured 10:10; then the next.
    run = run_shop(CUT_AND_CURE, run="orders = 2\nbatch = 1\npieces_open = 1")
    assert read_run(run) == {"cut 1": "Mon 11 08:00 - Mon 11 10:10", "cut 2": "Mon 11 10:10 - Mon 11 12:20"}
    assert opened(run)[1] == "Mon 11 10:10"


def test_two_batches_are_open_at_once_unless_the_file_says_otherwise(run_shop: RunShop, read_run: Schedule) -> None:
    # 8:00 and 8:10; the third opens when the first is done, 10:10.
    run = run_shop(CUT_AND_CURE, run="orders = 3\nbatch = 1")
    assert read_run(run, "start") == {"cut 1": "Mon 11 08:00", "cut 2": "Mon 11 08:10", "cut 3": "Mon 11 10:10"}
    assert opened(run)[2] == "Mon 11 10:10"


def test_pieces_that_do_not_fill_a_batch_make_a_smaller_last_one(run_shop: RunShop) -> None:
    run = run_shop(ONE_CUT, run="orders = 5\nbatch = 2")
    assert list(run.pieces.sort_values("piece").batch) == [1, 1, 2, 2, 3]


def test_without_a_batch_size_all_pieces_move_together(run_shop: RunShop) -> None:
    run = run_shop(ONE_CUT, run="orders = 4")
    assert list(run.pieces.batch) == [1, 1, 1, 1]


def test_orders_are_rounded_up_and_the_rest_are_spare(run_shop: RunShop) -> None:
    # 3 orders in steps of 2: 4 pieces, an hour each: the last is done at 12:00.
    run = run_shop(ONE_CUT, run="orders = 3\nround_up_to = 2")
    assert len(run.pieces) == 4
    assert f"{run.pieces.done.max():%a %d %H:%M}" == "Mon 11 12:00"


def test_material_holds_back_only_what_needs_it(schedule: Schedule) -> None:
    # Hinges ordered on Monday, two days: here on Wednesday at 0:00. Cutting and sanding go on.
    operations = """
    { name = "cut", work = "1 h" },
    { name = "fit door", work = "30 min" },
    { name = "sand", after = ["cut"], work = "1 h" },
    """
    more = '[[materials]]\nname = "hinges"\nneeded_by = ["fit door"]\nlead = "2 d"\n'
    assert schedule(operations, ("start",), more=more) == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Mon 11 09:00",
        "fit door 1": "Wed 13 08:00",
    }


def test_material_is_ordered_when_orders_close_and_must_lie_its_time(schedule: Schedule) -> None:
    # Orders close on Friday the 8th: 4 d for delivery is Tuesday the 12th at 0:00, 1 d of lying Wednesday at 0:00.
    more = '[[materials]]\nname = "boards"\nneeded_by = ["cut"]\nlead = "4 d"\nrest = "1 d"\n'
    assert schedule(ONE_CUT, ("start",), run="orders = 1\norders_close = 2027-01-08", more=more) == {
        "cut 1": "Wed 13 08:00"
    }


def test_material_ordered_early_is_there_at_the_start(schedule: Schedule) -> None:
    # Ordered on the 4th, 5 d: the 9th.
    more = '[[materials]]\nname = "boards"\nneeded_by = ["cut"]\nlead = "5 d"\nordered = 2027-01-04\n'
    assert schedule(ONE_CUT, ("start",), more=more) == {"cut 1": "Mon 11 08:00"}


def test_material_on_the_shelf_holds_nothing_back(schedule: Schedule) -> None:
    more = '[[materials]]\nname = "boards"\nneeded_by = ["cut"]\nlead = "9 d"\non_shelf = true\n'
    assert schedule(ONE_CUT, ("start",), more=more) == {"cut 1": "Mon 11 08:00"}


def test_work_starts_on_the_start_day_and_not_when_orders_close(schedule: Schedule) -> None:
    # Orders close on Thursday the 7th; the run starts on Wednesday the 13th.
    rows = schedule(ONE_CUT, ("start",), start="2027-01-13", run="orders = 1\norders_close = 2027-01-07")
    assert rows == {"cut 1": "Wed 13 08:00"}


def test_made_as_ordered_each_batch_opens_when_its_orders_have_come_in(
    write_shop: Callable[..., str], read_run: Schedule, tmp_path: Path
) -> None:
    # Batches of two: orders of the 11th and 12th make the first, those of the 14th and 15th the second.
    rows = ["id,date,quantity,destination,option"]
    rows += [f"{number},2027-01-{day},1,," for number, day in enumerate((11, 12, 14, 15), start=1)]
    (tmp_path / "orders.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    scenario = tmp_path / "shop.toml"
    lines = 'orders = "orders.csv"\nbatch = 2\nrelease = "as ordered"'
    scenario.write_text(write_shop('{ name = "cut", work = "2 h" }', run=lines), encoding="utf-8")
    run = run_once(load_scenario(scenario), likely=True)
    assert read_run(run, "start") == {
        "cut 1": "Tue 12 08:00",
        "cut 2": "Tue 12 10:00",
        "cut 3": "Fri 15 08:00",
        "cut 4": "Fri 15 10:00",
    }
    # Ordered on the 11th, 12th, 14th and 15th, shipped on the 12th, 12th, 15th and 15th.
    assert run.pieces["lead_days"].tolist() == [1, 0, 1, 0]


def test_lead_days_of_what_is_made_as_ordered_count_from_the_orders_own_date(
    write_shop: Callable[..., str], tmp_path: Path
) -> None:
    # The book closes on the 29th. One order on the 11th, one for two on the 13th; rounded up to fours, so one is spare,
    # and counts from the last order. Each piece takes 2 h on the day its order comes in: shipped on the 11th, 13th, 13th.
    (tmp_path / "orders.csv").write_text("id,date,quantity\n1,2027-01-11,1\n2,2027-01-13,2\n", encoding="utf-8")
    scenario = tmp_path / "shop.toml"
    lines = 'orders = "orders.csv"\nrelease = "as ordered"\norders_close = 2027-01-29\nround_up_to = 4'
    scenario.write_text(write_shop('{ name = "cut", work = "3 h" }', run=lines), encoding="utf-8")
    pieces = run_once(load_scenario(scenario), likely=True).pieces
    # cut on Wednesday 8-11, 11-14 and, with two hours left, 14-16 and Thursday 8-9: the spare one ships on the 14th
    assert pieces["ships"].dt.day.tolist() == [11, 13, 13, 14]
    assert pieces["lead_days"].tolist() == [0, 0, 0, 1]


def test_each_unit_takes_less_time_by_the_learning_rate(schedule: Schedule) -> None:
    # At 50 % a doubling the n-th unit takes 60 / n min: 60, 30, 20, 15 (Crawford's unit curve, n to the log2 of .5).
    operations = '{ name = "carve", work = "60 min", learning = "50 %" }'
    assert schedule(operations, ("work_min", "done"), run="orders = 4") == {
        "carve 1": "60 - Mon 11 09:00",
        "carve 2": "30 - Mon 11 09:30",
        "carve 3": "20 - Mon 11 09:50",
        "carve 4": "15 - Mon 11 10:05",
    }


def test_learning_goes_on_from_unit_to_unit_within_a_task(schedule: Schedule) -> None:
    # Four spindles in one task: 60 + 30 + 20 + 15 = 125 min; the fifth to eighth 12 + 10 + 60/7 + 7.5 = 38.07 min.
    operations = '{ name = "turn", per = "spindle", work = "60 min", learning = "50 %" }'
    rows = schedule(operations, ("work_min",), parts='"spindle" = 4', run="orders = 2")
    assert rows["turn 1"] == "125"
    assert abs(float(rows["turn 2"]) - (12 + 10 + 60 / 7 + 7.5)) < 1e-3


def test_a_certain_redo_is_added_to_every_unit_and_an_unlikely_one_to_none(schedule: Schedule) -> None:
    # 2 units of 10 min, with 5 min more each when the chance is 100 %: 30 min; 20 min where 3 in 100 have it.
    operation = '{{ name = "veneer", per = "face", work = "10 min", redo = {{ chance = "{} %", work = "5 min" }} }}'
    assert schedule(operation.format(100), ("work_min",), parts='"face" = 2') == {"veneer 1": "30"}
    assert schedule(operation.format(3), ("work_min",), parts='"face" = 2') == {"veneer 1": "20"}


def test_a_piece_is_packed_after_everything_else(schedule: Schedule) -> None:
    # Two branches end at 9:00 and 9:30; packing 9:30-9:50.
    operations = '{ name = "cut", after = [], work = "1 h" }, { name = "turn knob", after = [], work = "30 min" }'
    more = '[shipping]\npacking = "20 min"\n'
    assert schedule(operations, more=more) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00",
        "turn knob 1": "Mon 11 09:00 - Mon 11 09:30",
        "packing 1": "Mon 11 09:30 - Mon 11 09:50",
    }


def test_a_finish_rests_on_the_clock_before_it_is_wrapped(schedule: Schedule) -> None:
    # Done Monday 9:00; 48 h later is Wednesday 9:00.
    more = '[shipping]\npacking = "20 min"\nbefore_packing = "48 h"\n'
    assert schedule(ONE_CUT, ("ready", "start", "done"), more=more)["packing 1"] == (
        "Wed 13 09:00 - Wed 13 09:00 - Wed 13 09:20"
    )


def test_packing_needs_its_bench_and_its_hands(schedule: Schedule) -> None:
    # Two workers, one packing bench, two hands a piece: 9:00-9:20, 9:20-9:40.
    shop = 'workers = [{ name = "maker" }, { name = "helper" }]\nstations = [{ name = "packing bench" }]'
    more = '[shipping]\npacking = "20 min"\npacking_station = "packing bench"\npacking_hands = 2\n'
    assert schedule(ONE_CUT, ("start", "done", "station"), shop=shop, run="orders = 2", more=more) == {
        "cut 1": "Mon 11 08:00 - Mon 11 09:00 - ",
        "cut 2": "Mon 11 08:00 - Mon 11 09:00 - ",
        "packing 1": "Mon 11 09:00 - Mon 11 09:20 - packing bench",
        "packing 2": "Mon 11 09:20 - Mon 11 09:40 - packing bench",
    }


def test_without_a_pick_up_day_a_piece_ships_the_day_it_is_packed(run_shop: RunShop) -> None:
    assert ship_days(run_shop(ONE_CUT, more='[shipping]\npacking = "20 min"\n')) == ["Mon 11"]


@pytest.mark.parametrize(("work", "day"), [("24 h", "Mon 11"), ("1441 min", "Tue 12")])
def test_a_piece_done_at_midnight_ships_on_the_day_that_ends(run_shop: RunShop, work: str, day: str) -> None:
    # A shop that never closes, from Monday 0:00: 24 h end at midnight, Monday's last moment; a minute more is Tuesday.
    assert ship_days(run_shop(f'{{ name = "cut", work = "{work}" }}', open='"always"')) == [day]


def test_a_piece_done_on_a_closed_day_ships_that_day_where_nothing_is_said(run_shop: RunShop) -> None:
    # Coat Friday 8:00-9:00, cured Saturday 9:00, and nothing to pack.
    run = run_shop('{ name = "coat", work = "1 h", cure = "24 h" }', start="2027-01-15")
    assert ship_days(run) == ["Sat 16"]


def test_a_packed_piece_waits_for_the_next_pick_up_day(run_shop: RunShop) -> None:
    # Packed on Monday; the carrier comes on Tuesdays and Fridays.
    assert ship_days(run_shop(ONE_CUT, more='[shipping]\npick_up = ["tue", "fri"]\n')) == ["Tue 12"]


def test_a_piece_packed_at_the_minute_of_the_pick_up_still_goes(run_shop: RunShop) -> None:
    # 2 h: 10:00, and the carrier comes at 10:00 on Mondays and Thursdays.
    more = '[shipping]\npick_up = ["mon", "thu"]\npick_up_at = "10:00"\n'
    assert ship_days(run_shop('{ name = "cut", work = "2 h" }', more=more)) == ["Mon 11"]


def test_a_piece_packed_after_the_pick_up_waits_for_the_next_one(run_shop: RunShop) -> None:
    # 2 h and 1 min: 10:01.
    more = '[shipping]\npick_up = ["mon", "thu"]\npick_up_at = "10:00"\n'
    assert ship_days(run_shop('{ name = "cut", work = "121 min" }', more=more)) == ["Thu 14"]


TUE_FRI = '[shipping]\npick_up = ["tue", "fri"]\n'


@pytest.mark.parametrize(
    ("closed", "day"),
    [
        ('"2027-01-12"', "Fri 15"),  # the carrier's Tuesday is a day off: Friday
        ('"2027-01-12..2027-01-15"', "Tue 19"),  # so is Friday: Tuesday in the week after
        ('"2027-01-15", "2027-01-12", "2027-01-14..2027-01-19"', "Fri 22"),  # in any order, overlapping
        ('"2027-01-13..2027-01-14"', "Tue 12"),  # days off on which nobody would have come
    ],
)
def test_what_is_packed_waits_for_a_pick_up_day_on_which_the_shop_is_not_closed(
    run_shop: RunShop, closed: str, day: str
) -> None:
    # Cut on Monday; the carrier comes on Tuesdays and Fridays.
    assert ship_days(run_shop(ONE_CUT, shop=f"closed = [{closed}]", more=TUE_FRI)) == [day]


def test_without_a_pick_up_day_a_piece_cured_on_a_day_off_ships_on_the_next_that_is_none(run_shop: RunShop) -> None:
    # Coat Friday 8:00-9:00, cured Saturday 9:00. Saturday to Monday are days off: Tuesday.
    run = run_shop(
        '{ name = "coat", work = "1 h", cure = "24 h" }', start="2027-01-15", shop='closed = ["2027-01-16..2027-01-18"]'
    )
    assert ship_days(run) == ["Tue 19"]


def test_the_days_off_of_a_worker_do_not_keep_the_carrier_away(run_shop: RunShop) -> None:
    shop = 'workers = [{ name = "maker", closed = ["2027-01-12"] }]'
    assert ship_days(run_shop(ONE_CUT, shop=shop, more=TUE_FRI)) == ["Tue 12"]


def test_lost_days_do_not_keep_the_carrier_away(write_shop: Callable[..., str]) -> None:
    # Nearly every open day is lost, so that cutting is done on some later day; the carrier still comes on the next
    # Tuesday or Friday of the calendar.
    text = write_shop(ONE_CUT, shop='interrupted = "0 %"\nlost_days = "90 %"', more=TUE_FRI)
    scenario = parse_scenario(text)
    for replication in range(20):
        run = run_once(scenario, seed=1, replication=replication)
        (piece,) = run.pieces.itertuples()
        waits = {0: 1, 1: 0, 2: 2, 3: 1, 4: 0}[piece.done.weekday()]
        assert (piece.ships - piece.done.normalize()).days == waits


TWO_DESIGNS = """
[shop]
open = { mon-fri = "08:00-16:00" }

[[designs]]
name = "tray"
operations = [{ name = "cut tray", work = "20 min" }]

[[designs]]
name = "stool"
operations = [{ name = "cut stool", work = "30 min" }]

[run]
start = 2027-01-11
"""


def test_two_designs_share_the_hours_of_one_shop(read_run: Schedule) -> None:
    # The first line's batch goes first: two trays 8:00-8:40, then the stool 8:40-9:10.
    text = TWO_DESIGNS + 'lines = [{ design = "tray", orders = 2 }, { design = "stool", orders = 1 }]\n'
    run = run_once(parse_scenario(text), likely=True)
    by_operation = run.tasks.sort_values("start")[["operation", "start", "done"]]
    assert [f"{row.operation} {row.start:%H:%M}-{row.done:%H:%M}" for row in by_operation.itertuples()] == [
        "cut tray 08:00-08:20",
        "cut tray 08:20-08:40",
        "cut stool 08:40-09:10",
    ]
    assert sorted(run.pieces.design) == ["stool", "tray", "tray"]


def test_each_line_starts_on_its_own_day() -> None:
    text = TWO_DESIGNS + (
        'lines = [{ design = "tray", orders = 1, start = 2027-01-13 }, { design = "stool", orders = 1 }]\n'
    )
    run = run_once(parse_scenario(text), likely=True)
    starts = {row.operation: f"{row.start:%a %d %H:%M}" for row in run.tasks.itertuples()}
    assert starts == {"cut tray": "Wed 13 08:00", "cut stool": "Mon 11 08:00"}


def test_each_line_has_its_own_batches_and_rounding() -> None:
    text = TWO_DESIGNS + (
        'lines = [{ design = "tray", orders = 3, round_up_to = 4, batch = 2 }, { design = "stool", orders = 2 }]\n'
    )
    pieces = run_once(parse_scenario(text), likely=True).pieces
    assert pieces.groupby("design").size().to_dict() == {"tray": 4, "stool": 2}
    assert pieces.groupby("design").batch.nunique().to_dict() == {"tray": 2, "stool": 1}
