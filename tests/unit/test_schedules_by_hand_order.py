"""Schedules worked out by hand: what comes after what, what a task is, and which task is started first.

Monday is 2027-01-11; the shop is open 8:00 to 16:00 on weekdays, with one maker unless a test says so.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from shopsim import parse_scenario, run_once

pytestmark = pytest.mark.usefixtures("each_floor")

Schedule = Callable[..., dict[str, str]]

TWO = 'workers = [{ name = "maker" }, { name = "helper" }]'
CUT_AND_GLUE = """
{ name = "cut", work = "20 min" },
{ name = "glue", work = "10 min", cure = "24 h" },
"""
LABEL_CUT_COAT = """
{ name = "label", after = [], work = "30 min" },
{ name = "cut", after = [], work = "20 min" },
{ name = "coat", after = ["cut"], work = "10 min", cure = "24 h" },
"""


def test_glue_first_glues_a_piece_as_soon_as_it_is_cut(schedule: Schedule) -> None:
    assert schedule(CUT_AND_GLUE, ("start",), run="orders = 2") == {
        "cut 1": "Mon 11 08:00",
        "glue 1": "Mon 11 08:20",
        "cut 2": "Mon 11 08:30",
        "glue 2": "Mon 11 08:50",
    }


def test_oldest_batch_goes_through_the_operations_in_the_order_of_the_file(schedule: Schedule) -> None:
    assert schedule(CUT_AND_GLUE, ("start",), run='orders = 2\npriority = "oldest batch"') == {
        "cut 1": "Mon 11 08:00",
        "cut 2": "Mon 11 08:20",
        "glue 1": "Mon 11 08:40",
        "glue 2": "Mon 11 08:50",
    }


def test_longest_tail_starts_what_has_the_most_still_to_come(schedule: Schedule) -> None:
    # Tails: label 30; cut 20 + 10 + 1440; coat 1450. So cut, coat, label.
    assert schedule(LABEL_CUT_COAT, ("start",), run='orders = 1\npriority = "longest tail"') == {
        "cut 1": "Mon 11 08:00",
        "coat 1": "Mon 11 08:20",
        "label 1": "Mon 11 08:30",
    }


def test_glue_first_looks_at_the_task_itself_and_not_at_what_follows(schedule: Schedule) -> None:
    # Neither labelling nor cutting dries or is clamped: the order of the file.
    assert schedule(LABEL_CUT_COAT, ("start",)) == {
        "label 1": "Mon 11 08:00",
        "cut 1": "Mon 11 08:30",
        "coat 1": "Mon 11 08:50",
    }


def test_longest_tail_counts_every_unit_of_a_task(schedule: Schedule) -> None:
    # Top 30 min, legs 4 x 10 = 40 min: the legs first, though the top stands first in the file.
    operations = """
    { name = "shape top", after = [], work = "30 min" },
    { name = "shape legs", after = [], per = "leg", work = "10 min" },
    """
    run = 'orders = 1\npriority = "longest tail"'
    assert schedule(operations, ("start",), parts='"leg" = 4', run=run) == {
        "shape legs 1": "Mon 11 08:00",
        "shape top 1": "Mon 11 08:40",
    }


def test_longest_tail_counts_clamp_time_but_not_set_up(schedule: Schedule) -> None:
    # Sawing 10 min (set-up of 60 left out), gluing 5 min + 20 min in clamps = 25, labelling 20: glue, label, saw.
    shop = 'stations = [{ name = "saw" }]\nclamps = [{ name = "bar clamp", reach = "24 in", count = 2 }]'
    operations = """
    { name = "saw", after = [], station = "saw", setup = "60 min", work = "10 min" },
    { name = "label", after = [], work = "20 min" },
    { name = "glue", after = [], work = "5 min", in_clamps = "20 min", clamps = [{ count = 2, reach = "20 in" }] },
    """
    assert schedule(operations, ("start",), shop=shop, run='orders = 1\npriority = "longest tail"') == {
        "glue 1": "Mon 11 08:00",
        "label 1": "Mon 11 08:05",
        "saw 1": "Mon 11 08:25",
    }


@pytest.mark.parametrize("order", ["longest tail", "nearest done"])
def test_of_equally_long_tails_the_older_batch_goes_first_and_in_it_the_earlier_operation(
    schedule: Schedule, order: str
) -> None:
    # Two batches of one piece, two operations of 30 min side by side: all four tails are 30 min, so ties decide:
    # batch, then the order of the file.
    operations = '{ name = "carve", after = [], work = "30 min" }, { name = "turn", after = [], work = "30 min" }'
    assert schedule(operations, ("start",), run=f'orders = 2\nbatch = 1\npriority = "{order}"') == {
        "carve 1": "Mon 11 08:00",
        "turn 1": "Mon 11 08:30",
        "carve 2": "Mon 11 09:00",
        "turn 2": "Mon 11 09:30",
    }


def test_nearest_done_finishes_one_piece_before_the_next(schedule: Schedule) -> None:
    # Tails: cut 20 + 10, sand 10.
    operations = '{ name = "cut", work = "20 min" }, { name = "sand", work = "10 min" }'
    assert schedule(operations, ("start",), run='orders = 2\npriority = "nearest done"') == {
        "cut 1": "Mon 11 08:00",
        "sand 1": "Mon 11 08:20",
        "cut 2": "Mon 11 08:30",
        "sand 2": "Mon 11 08:50",
    }


@pytest.mark.parametrize(
    ("size", "starts"),
    [
        (1, {"carve 1": "09:00", "carve 2": "08:00", "carve 3": "11:00", "carve 4": "10:00"}),
        (2, {"carve 1": "08:00", "carve 2": "09:00", "carve 3": "10:00", "carve 4": "11:00"}),
    ],
)
def test_due_first_starts_the_batch_of_the_buyer_who_was_told_the_earliest_day(
    write_shop: Callable[..., str], read_run: Callable[..., dict[str, str]], tmp_path: Path, size: int,
    starts: dict[str, str],
) -> None:  # fmt: skip
    # Told the 15th, the 13th, nothing, the 20th: one by one 2, 1, 4, 3. In twos, the first two are due with piece 2 on
    # the 13th, the others with piece 4 on the 20th; within a batch in turn.
    rows = "a,2027-01-04,2027-01-15\nb,2027-01-05,2027-01-13\nc,2027-01-06,\nd,2027-01-07,2027-01-20\n"
    (tmp_path / "orders.csv").write_text("id,date,promised\n" + rows, encoding="utf-8")
    run = f'orders = "orders.csv"\nbatch = {size}\npieces_open = 4\npriority = "due first"'
    text = write_shop('{ name = "carve", work = "1 h" }', run=run)
    done = run_once(parse_scenario(text, folder=tmp_path), likely=True)
    assert read_run(done, "start") == {piece: f"Mon 11 {clock}" for piece, clock in starts.items()}


def test_glue_first_keeps_to_the_oldest_batch_before_it_looks_for_glue(schedule: Schedule) -> None:
    # Batches of one. Cut 1 8-9, glue 1 9:00-9:10 (cures until 10:10), cut 2 9:10-10:10. At 10:10 planing batch 1 comes
    # before gluing batch 2.
    operations = """
    { name = "cut", work = "60 min" },
    { name = "glue", work = "10 min", cure = "1 h" },
    { name = "plane", work = "30 min" },
    """
    assert schedule(operations, ("start",), run="orders = 2\nbatch = 1") == {
        "cut 1": "Mon 11 08:00",
        "glue 1": "Mon 11 09:00",
        "cut 2": "Mon 11 09:10",
        "plane 1": "Mon 11 10:10",
        "glue 2": "Mon 11 10:40",
        "plane 2": "Mon 11 11:50",
    }
    # In one batch of two the glue goes first.
    assert schedule(operations, ("start",), run="orders = 2") == {
        "cut 1": "Mon 11 08:00",
        "glue 1": "Mon 11 09:00",
        "cut 2": "Mon 11 09:10",
        "glue 2": "Mon 11 10:10",
        "plane 1": "Mon 11 10:20",
        "plane 2": "Mon 11 11:20",
    }


def test_an_operation_comes_after_the_one_above_it(schedule: Schedule) -> None:
    operations = '{ name = "cut", work = "20 min" }, { name = "sand", work = "10 min" }'
    assert schedule(operations, ("ready", "start"), shop=TWO)["sand 1"] == "Mon 11 08:20 - Mon 11 08:20"


def test_an_operation_after_nothing_may_start_at_once(schedule: Schedule) -> None:
    operations = '{ name = "cut", work = "20 min" }, { name = "sand", after = [], work = "10 min" }'
    assert schedule(operations, ("start",), shop=TWO) == {"cut 1": "Mon 11 08:00", "sand 1": "Mon 11 08:00"}


def test_an_operation_after_two_others_waits_for_the_later_one(schedule: Schedule) -> None:
    # Legs 20 min and top 50 min side by side; assembly at 8:50.
    operations = """
    { name = "legs", after = [], work = "20 min" },
    { name = "top", after = [], work = "50 min" },
    { name = "assemble", after = ["legs", "top"], work = "10 min" },
    """
    assert schedule(operations, ("ready", "start"), shop=TWO)["assemble 1"] == "Mon 11 08:50 - Mon 11 08:50"


def test_a_part_operation_is_one_task_for_all_parts_of_a_piece(schedule: Schedule) -> None:
    # Four legs of 5 min: 20 min a piece.
    operations = '{ name = "taper", per = "leg", work = "5 min" }'
    assert schedule(operations, ("work_min", "done"), parts='"leg" = 4', run="orders = 2") == {
        "taper 1": "20 - Mon 11 08:20",
        "taper 2": "20 - Mon 11 08:40",
    }


def test_a_handful_splits_the_parts_of_a_piece_and_never_spans_pieces(schedule: Schedule) -> None:
    # Three legs in handfuls of two: 2 and 1, for each piece.
    operations = '{ name = "taper", per = "leg", handful = 2, work = "5 min" }'
    assert schedule(operations, ("work_min", "done"), parts='"leg" = 3', run="orders = 2") == {
        "taper 1.1": "10 - Mon 11 08:10",
        "taper 1.2": "5 - Mon 11 08:15",
        "taper 2.1": "10 - Mon 11 08:25",
        "taper 2.2": "5 - Mon 11 08:30",
    }


def test_a_handful_of_one_batch_does_all_its_pieces_in_one_task(schedule: Schedule) -> None:
    # Batches of 2 and 1 of 10 min each: 20 and 10 min; sanding of piece 1 waits for its whole batch.
    operations = '{ name = "spray", handful = "batch", work = "10 min" }, { name = "sand", work = "5 min" }'
    assert schedule(operations, ("start", "work_min"), run="orders = 3\nbatch = 2\npieces_open = 2") == {
        "spray of batch 1": "Mon 11 08:00 - 20",
        "sand 1": "Mon 11 08:20 - 5",
        "sand 2": "Mon 11 08:25 - 5",
        "spray of batch 2": "Mon 11 08:30 - 10",
        "sand 3": "Mon 11 08:40 - 5",
    }


def test_a_handful_of_one_batch_takes_every_part_of_every_piece(schedule: Schedule) -> None:
    # Two pieces of four legs of 5 min: 40 min in one task.
    operations = '{ name = "stain", per = "leg", handful = "batch", work = "5 min" }'
    assert schedule(operations, ("work_min",), parts='"leg" = 4', run="orders = 2") == {"stain of batch 1": "40"}


def test_assembly_waits_for_all_parts_of_its_own_piece_only(schedule: Schedule) -> None:
    # One maker tapers legs one by one; the helper, who can only assemble, starts piece 1 after its second leg.
    shop = 'workers = [{ name = "maker", can = ["taper"] }, { name = "helper", can = ["assemble"] }]'
    operations = """
    { name = "taper", per = "leg", handful = 1, work = "10 min" },
    { name = "assemble", work = "5 min" },
    """
    assert schedule(operations, ("start",), shop=shop, parts='"leg" = 2', run="orders = 2") == {
        "taper 1.1": "Mon 11 08:00",
        "taper 1.2": "Mon 11 08:10",
        "taper 2.1": "Mon 11 08:20",
        "taper 2.2": "Mon 11 08:30",
        "assemble 1": "Mon 11 08:20",
        "assemble 2": "Mon 11 08:40",
    }


def test_waiting_for_the_batch_holds_a_piece_until_its_batch_mates_are_that_far(schedule: Schedule) -> None:
    # Two batches of two, one at a time. Sanding waits for both cuts of the batch: 8:40; a helper who only sands could
    # have started at 8:20.
    shop = 'workers = [{ name = "maker", can = ["cut"] }, { name = "helper", can = ["sand"] }]'
    sand = 'name = "sand", work = "10 min"'
    cut = '{ name = "cut", work = "20 min" }, '
    assert schedule(cut + f'{{ {sand}, wait_for = "batch" }}', ("start",), shop=shop, run="orders = 2") == {
        "cut 1": "Mon 11 08:00",
        "cut 2": "Mon 11 08:20",
        "sand 1": "Mon 11 08:40",
        "sand 2": "Mon 11 08:50",
    }
    assert schedule(cut + f"{{ {sand} }}", ("start",), shop=shop, run="orders = 2")["sand 1"] == "Mon 11 08:20"


def test_work_for_a_batch_gates_all_its_pieces(schedule: Schedule) -> None:
    # A template a batch of two: 30 min before the cuts of each batch.
    operations = '{ name = "template", per = "batch", work = "30 min" }, { name = "cut", work = "10 min" }'
    assert schedule(operations, ("start",), run="orders = 4\nbatch = 2\npieces_open = 2") == {
        "template of batch 1": "Mon 11 08:00",
        "cut 1": "Mon 11 08:30",
        "cut 2": "Mon 11 08:40",
        "template of batch 2": "Mon 11 08:50",
        "cut 3": "Mon 11 09:20",
        "cut 4": "Mon 11 09:30",
    }


def test_work_for_a_batch_waits_for_all_its_pieces(schedule: Schedule) -> None:
    # Cut 8:00-8:20; one spraying for the batch 8:20-8:50; both pieces sanded after it.
    operations = """
    { name = "cut", work = "10 min" },
    { name = "spray", per = "batch", work = "30 min" },
    { name = "sand", work = "5 min" },
    """
    assert schedule(operations, ("start",), run="orders = 2") == {
        "cut 1": "Mon 11 08:00",
        "cut 2": "Mon 11 08:10",
        "spray of batch 1": "Mon 11 08:20",
        "sand 1": "Mon 11 08:50",
        "sand 2": "Mon 11 08:55",
    }


def test_work_for_a_run_is_done_once_and_gates_every_batch(schedule: Schedule) -> None:
    # One jig, 60 min, for three batches of one.
    operations = '{ name = "jig", per = "run", work = "60 min" }, { name = "cut", work = "10 min" }'
    rows = schedule(operations, ("start",), run="orders = 3\nbatch = 1\npieces_open = 1")
    assert sorted(rows.values()) == ["Mon 11 08:00", "Mon 11 09:00", "Mon 11 09:10", "Mon 11 09:20"]
    assert [rows[f"cut {piece}"] for piece in (1, 2, 3)] == ["Mon 11 09:00", "Mon 11 09:10", "Mon 11 09:20"]


def test_what_becomes_ready_at_the_minute_a_worker_is_free_is_already_in_the_choice(schedule: Schedule) -> None:
    # Glue 8:00-8:10, cured at 9:10. Labels of 30 min: 8:10, 8:40 until 9:10. At 9:10 the second coat is ready at that
    # very minute and, drying itself, goes before the third label.
    operations = """
    { name = "coat", work = "10 min", cure = "1 h" },
    { name = "second coat", work = "10 min", cure = "1 h" },
    { name = "label", after = [], per = "tag", handful = 1, work = "30 min" },
    """
    assert schedule(operations, ("start",), parts='"tag" = 3') == {
        "coat 1": "Mon 11 08:00",
        "label 1.1": "Mon 11 08:10",
        "label 1.2": "Mon 11 08:40",
        "second coat 1": "Mon 11 09:10",
        "label 1.3": "Mon 11 09:20",
    }


@pytest.mark.parametrize(("label", "first"), [("65 min", "cut"), ("75 min", "label")])
def test_the_longest_tail_goes_along_the_longest_of_several_branches(
    schedule: Schedule, label: str, first: str
) -> None:
    # After 10 min of cutting, turning of 60 and carving of 20 min side by side: a tail of 70, not of 30 or 90.
    operations = f"""
    {{ name = "label", after = [], work = "{label}" }},
    {{ name = "cut", after = [], work = "10 min" }},
    {{ name = "turn", after = ["cut"], work = "60 min" }},
    {{ name = "carve", after = ["cut"], work = "20 min" }},
    """
    rows = schedule(operations, ("start",), run='orders = 1\npriority = "longest tail"')
    assert rows[f"{first} 1"] == "Mon 11 08:00"
