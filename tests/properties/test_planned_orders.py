"""Whatever the shop and whatever its plan of one's own: the run ends, keeps the laws of a record, and is the same on both floors."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shopsim import Scenario, dump_scenario, parse_scenario
from shopsim.engine.compiled.ordered_runs import OrderedRuns
from shopsim.engine.floor.shop_floor import ShopFloor
from shopsim.engine.luck import draw_block
from shopsim.engine.plan import build_plan
from shopsim.engine.reordering import list_lines
from shopsim.engine.worklist import build_worklist
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario
from shopsim.study.once import RunResult
from shopsim.study.plan_search import with_plan

from . import strategies as shop
from .test_compiled_floor import hold_both_to_each_other

pytestmark = pytest.mark.usefixtures("machine_code")


@st.composite
def plans(draw: st.DrawFn, scenario: Scenario) -> dict[str, Any]:
    """A plan of some of what a scenario does, in any order, some of it held back, some lines about every batch."""
    work = build_worklist(scenario)
    rows: dict[tuple[str, int | None, str], dict[str, Any]] = {}
    for step, batch in zip(work.entry_step, work.entry_batch, strict=True):
        operation, design = work.steps[step].operation, scenario.all_designs[work.steps[step].design].name
        number = None if operation.per == "run" or draw(st.integers(0, 5)) == 0 else batch + 1
        row: dict[str, Any] = {"operation": operation.name, "design": design}
        if number is not None:
            row["batch"] = number
        if draw(st.integers(0, 4)) == 0:
            late = dt.timedelta(minutes=draw(st.integers(0, 20 * 1440)))
            row["not_before"] = dt.datetime.combine(scenario.day0, dt.time()) + late
        rows[operation.name, number, design] = row
    shuffled = draw(st.permutations(list(rows.values())))
    return {"order": shuffled[: draw(st.integers(0, len(shuffled)))]}


@st.composite
def planned_shops(draw: st.DrawFn, mixed: bool = False) -> Scenario:
    """A random shop that goes by a random plan."""
    data = draw(shop.mixed_shops() if mixed else shop.shops())
    scenario = Scenario.model_validate(data)
    assume(not check_scenario(CheckContext(scenario)))
    run = {**data["run"], "priority": "as planned", "plan": draw(plans(scenario))}
    return Scenario.model_validate({**data, "run": run})


@given(planned_shops(), st.integers(0, 2**63))
def test_any_plan_list_runs_to_its_end_and_keeps_the_laws_of_a_record(scenario: Scenario, seed: int) -> None:
    assert check_scenario(CheckContext(scenario)) == []
    plan = build_plan(scenario)
    assert RunResult(plan, 1, 0, True).check() == []
    assert RunResult(plan, seed, 0, False).check() == []


@given(planned_shops(), st.integers(0, 2**63))
def test_both_floors_keep_to_any_plan_list(scenario: Scenario, seed: int) -> None:
    plan = build_plan(scenario)
    hold_both_to_each_other(plan, draw_block(plan.luck, seed, range(2)))


@given(planned_shops(mixed=True), st.integers(0, 2**63))
def test_both_floors_keep_to_any_plan_list_whatever_options_pieces_have(scenario: Scenario, seed: int) -> None:
    plan = build_plan(scenario)
    hold_both_to_each_other(plan, draw_block(plan.luck, seed, range(1)))
    assert RunResult(plan, seed, 0, False).check() == []


@given(planned_shops())
def test_a_plan_reads_back_as_it_was_written(scenario: Scenario) -> None:
    assume(isinstance(scenario.run.orders, int) or scenario.run.lines)
    assume(all(isinstance(line.orders, int) for line in scenario.lines))
    assert parse_scenario(dump_scenario(scenario)).run.plan == scenario.run.plan


@given(shop.mixed_shops() | shop.shops(), st.integers(0, 2**63), st.data())
def test_an_order_that_is_laid_over_a_plan_is_what_the_whole_plan_gives(
    data: shop.Data, seed: int, more: st.DataObject
) -> None:
    scenario = Scenario.model_validate(data)
    assume(not check_scenario(CheckContext(scenario)))
    lines = list_lines(scenario)
    luck = draw_block(lines.plan.luck, seed, range(3))
    over = OrderedRuns(lines, luck)
    for _ in range(2):
        order = np.array(more.draw(st.permutations(range(len(lines.work)))), dtype=np.int64)
        log = over.run(order, 0, 3)
        assert log is not None
        done = over.done_min(log)
        whole = build_plan(with_plan(scenario, lines.as_plan(order, "last", seed)))
        for place in range(3):
            record = ShopFloor(whole, luck.one(place)).run()
            assert np.array_equal(record.done, done[place])
