"""What holds of options whatever they change, add and drop, whoever orders them, and however batches are cut."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim import Scenario, parse_scenario, run_once
from shopsim.engine.worklist import build_worklist
from shopsim.scenario import Order, OrderBook, change_scenario
from shopsim.study.order_queue import OrderQueue

NAMES = ("cut", "glue", "sand", "oil")
MINUTES = st.integers(0, 90)
COVERS = st.sampled_from(['per = "piece"', 'per = "piece"', 'per = "batch"', 'handful = "batch"', 'per = "leg"'])


@st.composite
def operations(draw: st.DrawFn) -> str:
    """Four operations in a row, some for the whole batch, some at a saw, some that cure or make dust."""
    lines = []
    for n, name in enumerate(NAMES):
        parts = [f'name = "{name}"', f'work = "5 / {draw(MINUTES) + 5} / 120 min"', draw(COVERS)]
        parts += draw(
            st.sampled_from([[], ['station = "saw"', 'setup = "10 min"'], ['cure = "3 h"'], ["dusty = true"]])
        )
        parts += draw(st.sampled_from([[], [], ['wait_for = "batch"']]))
        if n and draw(st.booleans()):
            parts.append(f'after = ["{draw(st.sampled_from(NAMES[:n]))}"]')
        lines.append(f"{{ {', '.join(parts)} }},")
    return "\n".join(lines)


@st.composite
def options(draw: st.DrawFn) -> str:
    """Up to three options, each changing, adding and dropping something, or nothing."""
    said = []
    for n in range(draw(st.integers(1, 3))):
        lines = [f'[[design.options]]\nname = "option {n}"']
        target, other = draw(st.permutations(NAMES))[:2]
        if draw(st.booleans()):
            change = draw(st.sampled_from(['work = "20 min"', 'cure = "1 h"', 'setup = "4 min"', 'wait_for = "batch"']))
            lines.append(f'change = [{{ operation = "{target}", {change} }}]')
        if draw(st.booleans()):
            lines.append(f'drop = ["{other}"]')
            anchor = target
        else:
            anchor = draw(st.sampled_from(NAMES))
        if draw(st.booleans()):
            per = draw(COVERS)
            lines.append(f'add = [{{ name = "extra {n}", after = ["{anchor}"], work = "5 / 9 / 20 min", {per} }}]')
        if draw(st.booleans()):
            lines.append('materials = ["boards"]')
        said.append("\n".join(lines))
    return "\n".join(said)


@st.composite
def shops(draw: st.DrawFn) -> Scenario:
    """A shop with options, and orders that name some of them."""
    text = f"""
[shop]
open = {{ mon-fri = "08:00-16:00" }}
[[shop.workers]]
name = "maker"
[[shop.workers]]
name = "helper"
can = ["sand"]
[[shop.stations]]
name = "saw"
[[materials]]
name = "boards"
needed_by = ["cut", "glue"]
lead = "1 / 2 / 5 d"
[design]
name = "tray"
parts = {{ leg = 3 }}
operations = [
{draw(operations())}
]
{draw(options())}
[run]
orders = 1
start = 2027-01-11
round_up_to = {draw(st.integers(1, 4))}
batch = {draw(st.integers(1, 4))}
pieces_open = {draw(st.integers(1, 9))}
batches_by = "{draw(st.sampled_from(["order received", "option"]))}"
"""
    scenario = parse_scenario(text)
    names = ["", *(option.name for option in scenario.all_designs[0].options)]
    asked = draw(st.lists(st.lists(st.sampled_from(names), min_size=1, max_size=2), min_size=1, max_size=6))
    book = OrderBook(
        "orders.csv",
        tuple(
            Order(
                f"A{n}", dt.date(2027, 1, 4 + n % 3), draw(st.integers(1, 2)), option=" + ".join(filter(None, chosen))
            )
            for n, chosen in enumerate(asked)
        ),
    )
    return change_scenario(scenario, {"run.orders": book})


@settings(deadline=None, max_examples=60)
@given(shops(), st.integers(0, 50))
def test_every_run_keeps_every_rule(scenario: Scenario, replication: int) -> None:
    run = run_once(scenario, seed=1, replication=replication)
    assert run.check() == []
    work = run.plan.worklist
    # every piece goes through each operation of its variant as often as it has units of it, and through no other
    seen: dict[tuple[int, str], int] = {}
    for task, step in enumerate(work.task_step):
        for piece in range(work.n_pieces):
            if work.covers(task, piece):
                key = (piece, work.steps[step].operation.name)
                seen[key] = seen.get(key, 0) + 1
    for piece, variant in enumerate(work.piece_variant):
        assert {name for other, name in seen if other == piece} == set(work.variants[variant].by_name)


@settings(deadline=None, max_examples=60)
@given(shops())
def test_every_order_gets_pieces_with_its_options_and_the_rest_is_spare(scenario: Scenario) -> None:
    work = build_worklist(scenario)
    queue = OrderQueue(work.scenario)
    book = scenario.lines[0].orders
    assert isinstance(book, OrderBook)
    assert sum(order.quantity for order in queue.orders) + sum(spare.quantity for spare in queue.spare) == work.n_pieces
    taken = [piece for order in queue.orders for piece in order.pieces]
    assert len(taken) == len(set(taken))
    design = scenario.all_designs[0]
    asked = {order.id: {part for part in order.option.split(" + ") if part} for order in book.orders}
    for order in queue.orders:
        for piece in order.pieces:
            chosen = work.variants[work.piece_variant[piece - 1]].chosen
            assert {design.options[number].name for number in chosen} == asked[order.id]
    if scenario.run.batches_by == "option":
        for batch in work.batches:
            assert len({work.piece_variant[piece] for piece in range(batch.first, batch.first + batch.size)}) == 1
    done = np.arange(work.n_pieces, 0.0, -1.0) * 1440.0
    assert (queue.ship_days(done) >= 0).all()


@settings(deadline=None, max_examples=60)
@given(shops(), st.integers(0, 50))
def test_luck_belongs_to_the_piece_whatever_the_batches(scenario: Scenario, replication: int) -> None:
    def luck(of: Scenario) -> dict[Any, float]:
        run = run_once(of, seed=2, replication=replication)
        work = run.plan.worklist
        return {
            (work.steps[n].operation.name, work.task_key_unit[task]): run.draws.work[task]
            for task, n in enumerate(work.task_step)
            if work.task_piece[task] >= 0
        }

    way = "option" if scenario.run.batches_by == "order received" else "order received"
    assert luck(scenario) == luck(change_scenario(scenario, {"run.batches_by": way}))
    assert luck(scenario) == luck(change_scenario(scenario, {"run.batch": 2}))
