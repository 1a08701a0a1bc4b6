"""What holds for every shop, whatever it makes and however its luck turns out."""

from __future__ import annotations

import copy
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim import RunResult, Scenario, dump_scenario, parse_scenario
from shopsim.engine.pieces import piece_done
from shopsim.engine.task_holdups import Slice, account_piece, account_run, sum_piece
from shopsim.scenario import OrderBook

from .changes import (
    designs_of,
    digest_record,
    double_times,
    find_differences,
    list_names,
    rename,
    run_data,
    shift_weeks,
    write_orders,
)
from .strategies import DAYS, Data, clamp_needs, lone_pieces, shops, times

seeds = st.integers(0, 2**63)
replications = st.integers(0, 10_000)


def write_with_orders(data: Data) -> tuple[str, str]:
    """(the scenario as a file, its order book as a file, empty without one)."""
    book = data["run"].get("orders")
    orders = write_orders(book).decode() if isinstance(book, OrderBook) else ""
    return dump_scenario(Scenario.model_validate(data)), orders


# ---- one run


@given(shops(), seeds, replications)
def test_a_run_obeys_the_laws_of_a_record(data: Data, seed: int, replication: int) -> None:
    assert run_data(data, likely=True).check() == []
    assert run_data(data, seed=seed, replication=replication).check() == []


@given(shops(), seeds, st.booleans())
def test_the_parts_of_elapsed_time_sum_to_the_whole_exactly(data: Data, seed: int, likely: bool) -> None:
    run = run_data(data, seed=seed, likely=likely)
    holdups, pieces = run.holdups, run.pieces
    assert (holdups["minutes"] > 0).all()
    assert set(holdups["part"]) <= {
        "hands-on", "in clamps", "curing", "material", "shop closed", "clamps", "rack", "station", "wet finish",
        "worker", "does not fit before closing", "batch-mates",
    }  # fmt: skip
    sums = holdups.groupby("piece")["minutes"].sum().reindex(pieces["piece"], fill_value=0.0)
    assert sums.tolist() == pieces["elapsed_min"].tolist()


def lie_end_to_end(slices: list[Slice], first: float, last: float) -> None:
    """Slices, the latest first, that cover a time without gap or overlap."""
    edges = [last, *(one.since for one in slices)]
    assert [one.until for one in slices] == edges[:-1]
    assert edges[-1] == first
    assert all(one.since < one.until for one in slices)


@given(shops(), seeds)
def test_slices_of_time_lie_end_to_end_and_add_up_to_the_sums(data: Data, seed: int) -> None:
    run = run_data(data, seed=seed)
    work, record, history = run.plan.worklist, run.record, run.history
    done = piece_done(work, record)
    for piece in range(work.n_pieces):
        slices = account_piece(history, piece)
        lie_end_to_end(slices, record.batch_opened[work.piece_batch[piece]], done[piece])
        sums: dict[tuple[int, str, str], float] = {}
        for one in reversed(slices):
            key = (one.task, one.part, one.detail)
            sums[key] = sums.get(key, 0.0) + one.minutes
        assert {(task, part, detail): minutes for task, part, detail, minutes in sum_piece(history, piece)} == sums
    lie_end_to_end(account_run(history), 0.0, done.max())


def longest_chain(data: Data, design: Data) -> float:
    """Likely minutes that a piece takes at the least, were there plenty of everything."""
    scenario = Scenario.model_validate(data)
    (made,) = (known for known in scenario.all_designs if known.name == design["name"])
    until: dict[str, float] = {}
    above: tuple[str, ...] = ()
    for operation in made.operations:
        units = made.parts.get(operation.per, 1)
        units = min(operation.handful, units) if isinstance(operation.handful, int) else units
        clamped = sum(law.likely for law in (operation.in_clamps, operation.unclamp) if law is not None)
        cured = operation.cure.likely if operation.cure is not None else 0.0
        start = max((until[name] for name in (above if operation.after is None else operation.after)), default=0.0)
        until[operation.name] = start + operation.work.likely * units + max(clamped, cured)
        above = (operation.name,)
    return max(until.values())


@given(shops(luck=False, plain=True, always=True))
def test_no_piece_is_done_sooner_than_its_longest_chain(data: Data) -> None:
    # Since the run began: work done once a run may be over before a later batch opens.
    pieces = run_data(data, likely=True).pieces
    since_start = (pieces["done"] - pieces["opened"].min()).dt.total_seconds() / 60
    for design in designs_of(data):
        assert (since_start[pieces["design"] == design["name"]] >= longest_chain(data, design)).all()


# ---- the same run again


@given(shops(), seeds, replications)
def test_the_same_seed_gives_the_same_record(data: Data, seed: int, replication: int) -> None:
    one = run_data(data, seed=seed, replication=replication)
    other = run_data(copy.deepcopy(data), seed=seed, replication=replication)
    assert find_differences(one.record, other.record) == []
    assert one.tasks.equals(other.tasks)


@settings(max_examples=3)
@given(st.lists(st.tuples(shops(), seeds, replications), min_size=20, max_size=20))
def test_the_same_seed_gives_the_same_record_in_another_process(asked: list[tuple[Data, int, int]]) -> None:
    questions = []
    for data, seed, replication in asked:
        text, orders = write_with_orders(data)
        questions.append({"text": text, "orders": orders, "seed": seed, "replication": replication})
    said = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("other_process.py"))],
        input=json.dumps(questions), capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    here = [
        digest_record(run_data(data, seed=seed, replication=replication).record) for data, seed, replication in asked
    ]
    assert said.stdout.split() == here


@given(shops())
def test_a_scenario_that_is_written_and_read_again_is_the_same(data: Data) -> None:
    scenario = Scenario.model_validate(data)
    text, orders = write_with_orders(data)
    again = parse_scenario(text, beside={"orders.csv": orders.encode()})
    assert again == scenario
    assert dump_scenario(again) == text


# ---- a run of the same kind


@given(shops(), seeds, st.integers(1, 300), st.booleans())
def test_the_same_shop_so_many_weeks_later_does_the_same_so_many_weeks_later(
    data: Data, seed: int, weeks: int, likely: bool
) -> None:
    now = run_data(data, seed=seed, likely=likely)
    later = run_data(shift_weeks(data, weeks), seed=seed, likely=likely)
    assert find_differences(now.record, later.record) == []
    by = np.timedelta64(weeks, "W")
    for column in ("ready", "start", "end", "in_clamps_until", "unclamp_start", "done"):
        assert (now.tasks[column] + by).equals(later.tasks[column])
    assert (now.pieces["ships"] + by).equals(later.pieces["ships"])
    assert now.pieces["lead_days"].equals(later.pieces["lead_days"])


@given(shops(luck=False, always=True, plain=True))
def test_a_shop_in_which_everything_takes_twice_as_long_takes_twice_as_long(data: Data) -> None:
    once = run_data(data, likely=True)
    twice = run_data(double_times(data), likely=True)
    assert find_differences(once.record, twice.record, times=2.0) == []


# Luck is keyed by the names of designs, operations and materials: with other names they have other luck, by design.
NOT_LUCK = ("worker", "station", "rack", "clamp", "part")
RESERVED = {"run", "batch", "piece", "packing", "stand before packing"}
words = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs")), min_size=1, max_size=9)
names = words.map(str.strip).filter(lambda name: name and name.casefold() not in RESERVED)


@given(shops(), st.data(), seeds)
def test_what_things_are_called_changes_no_run(data: Data, draw: st.DataObject, seed: int) -> None:
    things = list_names(data)
    drawn = draw.draw(st.lists(names, min_size=len(things), max_size=len(things), unique_by=str.casefold))
    new = dict(zip(things, drawn, strict=True))
    likely = run_data(data, likely=True)
    everything = rename(data, (*NOT_LUCK, "design", "operation", "material"), new)
    assert find_differences(likely.record, run_data(everything, likely=True).record) == []
    lucky = run_data(data, seed=seed)
    assert find_differences(lucky.record, run_data(rename(data, NOT_LUCK, new), seed=seed).record) == []


# ---- draws

PER_TASK = ("work", "setup", "unclamp", "in_clamps", "cure", "wet", "redone")


def draws_by_unit(run: RunResult, *, whole_batches: bool = True) -> dict[tuple[Any, ...], tuple[float, ...]]:
    """What each task drew, by design, operation, first unit of the design and number of units.

    Without ``whole_batches`` only tasks on the units of one piece, which are the same whatever the batch.
    """
    work = run.plan.worklist
    drawn = zip(*(getattr(run.draws, name) for name in PER_TASK), strict=True)
    found = {}
    for task, values in enumerate(drawn):
        step = work.steps[work.task_step[task]]
        key = (step.design, step.operation.name, work.task_key_unit[task], work.task_units[task])
        if whole_batches or work.task_piece[task] >= 0:
            found[key] = values
    return found


def draws_of_days(run: RunResult) -> list[list[float]]:
    return [] if run.draws.days is None else [part.tolist() for part in run.draws.days.days(100)]


@given(shops(), seeds, replications, st.data())
def test_an_added_operation_that_nobody_waits_for_changes_no_other_draw(
    data: Data, seed: int, replication: int, draw: st.DataObject
) -> None:
    more = copy.deepcopy(data)
    steps = designs_of(more)[0]["operations"]
    for n, operation in enumerate(steps):
        operation.setdefault("after", [steps[n - 1]["name"]] if n else [])
    place = draw.draw(st.integers(0, len(steps)))
    added = {
        "name": "added", "after": [steps[place - 1]["name"]] if place else [], "work": draw.draw(times(0, 25)),
        "setup": draw.draw(times(0, 15)), "station": "saw", "clamps": draw.draw(clamp_needs()), "pausable": True,
        "in_clamps": draw.draw(times(0, 300)), "redo": {"chance": "50 %", "work": "5 / 10 / 20 min"},
    }  # fmt: skip
    steps.insert(place, added)
    before = run_data(data, seed=seed, replication=replication)
    after = run_data(more, seed=seed, replication=replication)
    drawn = draws_by_unit(after)
    kept = {key: values for key, values in drawn.items() if key[1] != "added"}
    assert len(kept) < len(drawn)
    assert kept == draws_by_unit(before)
    assert after.draws.material_at == before.draws.material_at
    assert draws_of_days(after) == draws_of_days(before)


@given(shops(), seeds, replications, st.data())
def test_batch_size_and_what_the_shop_owns_change_no_units_draw(
    data: Data, seed: int, replication: int, draw: st.DataObject
) -> None:
    other = copy.deepcopy(data)
    other["run"] |= {"batch": draw.draw(st.integers(1, 7)), "pieces_open": draw.draw(st.integers(1, 20))}
    other["run"]["priority"] = draw.draw(st.sampled_from(("glue first", "longest tail")))
    for line in other["run"].get("lines", []):
        line.pop("batch", None)
    for thing, key in (("clamps", "count"), ("stations", "count"), ("racks", "spots")):
        for owned in other["shop"][thing]:
            owned[key] = owned.get(key, 1) + draw.draw(st.integers(0, 5))
    for operation in (operation for design in designs_of(other) for operation in design["operations"]):
        operation.pop("rest", None)  # a larger batch may not fit on the rack
    other["shop"]["workers"].append({"name": "another"})
    one = run_data(data, seed=seed, replication=replication)
    two = run_data(other, seed=seed, replication=replication)
    kept = draws_by_unit(one, whole_batches=False)
    assert kept == draws_by_unit(two, whole_batches=False)
    whole, whole_too = draws_by_unit(one), draws_by_unit(two)
    assert all(whole[key] == whole_too[key] for key in whole.keys() & whole_too.keys())
    assert work_by_operation(one) == work_by_operation(two)
    assert one.draws.material_at == two.draws.material_at
    assert draws_of_days(one) == draws_of_days(two)


def work_by_operation(run: RunResult) -> dict[tuple[int, str], int]:
    """Hands-on time of all units of each operation that is not done once a batch, to a thousandth of a minute."""
    work = run.plan.worklist
    total: dict[tuple[int, str], float] = {}
    for task, minutes in enumerate(run.draws.work):
        step = work.steps[work.task_step[task]]
        if step.operation.per != "batch":
            key = (step.design, step.operation.name)
            total[key] = total.get(key, 0.0) + minutes
    return {key: round(minutes * 100) for key, minutes in total.items()}


# ---- more of something

# True of a lone piece alone, and of one maker: with several pieces or workers, one more of something can end later
# (Graham 1966), and a worker with few hours can be the one who begins.


@given(lone_pieces(), st.data())
def test_a_lone_piece_is_never_later_with_more_of_what_the_shop_owns(data: Data, draw: st.DataObject) -> None:
    more = copy.deepcopy(data)
    for thing, key in (("clamps", "count"), ("stations", "count"), ("racks", "spots")):
        for owned in more["shop"][thing]:
            owned[key] = owned.get(key, 1) + draw.draw(st.integers(0, 5))
    more["shop"]["clamps"].append({"name": "new", "reach": "20 in", "count": draw.draw(st.integers(0, 5))})
    more["shop"]["workers"] = [{"name": f"maker {n}"} for n in range(draw.draw(st.integers(1, 3)))]
    today = run_data(data, likely=True).record
    assert run_data(more, likely=True).record.done.max() <= today.done.max()


def lengthen(stretches: str, earlier: int, later: int) -> str:
    """Opening hours of a day from so many minutes earlier to so many later."""
    first, last = stretches[:5], stretches[-5:]
    opens = max(0, int(first[:2]) * 60 + int(first[3:]) - earlier)
    closes = min(1440, int(last[:2]) * 60 + int(last[3:]) + later)
    return f"{opens // 60:02d}:{opens % 60:02d}{stretches[5:-5]}{closes // 60:02d}:{closes % 60:02d}"


@given(lone_pieces(), st.data())
def test_a_lone_piece_by_one_maker_is_never_later_with_longer_hours(data: Data, draw: st.DataObject) -> None:
    more = copy.deepcopy(data)
    for day in DAYS:
        if day in more["shop"]["open"]:
            minutes = draw.draw(st.tuples(st.integers(0, 200), st.integers(0, 150)))
            more["shop"]["open"][day] = lengthen(more["shop"]["open"][day], *minutes)
        elif draw.draw(st.booleans()):
            more["shop"]["open"][day] = draw.draw(st.sampled_from(("09:00-10:00", "08:00-12:00, 13:00-17:00")))
    more["shop"]["closed"] = more["shop"]["closed"][: draw.draw(st.integers(0, 2))]
    today = run_data(data, likely=True).record
    assert run_data(more, likely=True).record.done.max() <= today.done.max()
