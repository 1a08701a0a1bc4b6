"""Whatever options pieces of one batch or run have: what passes the check is finished, each piece in its own order."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from shopsim import RunResult, run_once
from shopsim.errors import StalledShop
from shopsim.scenario import Scenario
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.check_waiting import find_circles_between_options
from shopsim.scenario.checks import check_scenario
from shopsim.scenario.variants import make_variant

from . import strategies as shop


def order_of(run: RunResult) -> list[dict[str, tuple[str, ...]]]:
    """For each piece its operations, each with those it comes after, read from the scenario without the engine's links."""
    work = run.plan.worklist
    orders = []
    for number in work.piece_variant:
        variant = work.variants[number]
        design = run.scenario.all_designs[variant.design]
        orders.append({one.name: one.after or () for one in make_variant(design, variant.chosen)})
    return orders


def before(name: str, own: dict[str, tuple[str, ...]], mates: list[dict[str, tuple[str, ...]]]) -> set[str]:
    """The operations that are done on a piece before one, which it may lack itself and its mates have."""
    if name in own:
        return set(own[name])
    found = set()
    todo, seen = [name], {name}
    while todo:
        missing = todo.pop()
        for mate in mates:
            for earlier in mate.get(missing, ()):
                if earlier in own:
                    found.add(earlier)
                elif earlier not in seen:
                    seen.add(earlier)
                    todo.append(earlier)
    return found


def due(run: RunResult) -> list[float]:
    """When each task is ready by the order of every single piece it is for, and of their mates where it waits for them."""
    work, record, orders = run.plan.worklist, run.record, order_of(run)
    of_piece: list[dict[str, list[int]]] = [{} for _ in orders]
    for task, step in enumerate(work.task_step):
        for piece, named in enumerate(of_piece):
            if (
                work.covers(task, piece)
                and work.batches[work.piece_batch[piece]].line == work.batches[work.task_batch[task]].line
            ):
                named.setdefault(work.steps[step].operation.name, []).append(task)
    ready = []
    for task, step in enumerate(work.task_step):
        operation = work.steps[step].operation
        pieces = [piece for piece, named in enumerate(of_piece) if task in named.get(operation.name, ())]
        latest = min(float(record.batch_opened[work.piece_batch[piece]]) for piece in pieces)
        batches = {work.piece_batch[piece] for piece in pieces}
        asked = [p for p, batch in enumerate(work.piece_batch) if batch in batches] if operation.wait_for else pieces
        for piece in asked:
            mates = [orders[p] for p, batch in enumerate(work.piece_batch) if batch == work.piece_batch[piece]]
            for earlier in before(operation.name, orders[piece], mates):
                latest = max(latest, *(float(record.done[other]) for other in of_piece[piece][earlier]))
        ready.append(latest)
    return ready


@given(shop.mixed_shops(), st.integers(0, 9))
def test_what_the_check_passes_is_finished_in_each_pieces_own_order_and_what_it_calls_a_circle_stalls(
    data: Any, replication: int
) -> None:
    scenario = Scenario.model_validate(data)
    look = CheckContext(scenario)
    found = check_scenario(look)
    if found:
        circle = found == list(find_circles_between_options(look))
        event("refused for a circle between options" if circle else "refused for something else")
        if circle:
            with pytest.raises(StalledShop):
                run_once(scenario, seed=3, replication=replication)
        return
    run = run_once(scenario, seed=3, replication=replication)
    assert run.check() == []
    assert run.record.ready.tolist() == due(run)
    work = run.plan.worklist
    mixed = any(len({*work.piece_variant[batch.first : batch.first + batch.size]}) > 1 for batch in work.batches)
    event("finished with several options in a batch" if mixed else "finished with one option in each batch")
