"""Whatever the shop: the compiled floor leaves the record of the SimPy model, bit for bit in every column."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shopsim import Scenario
from shopsim.engine.compiled import machine_code
from shopsim.engine.compiled.blocks import records_of, run_block
from shopsim.engine.floor.shop_floor import ShopFloor
from shopsim.engine.luck import LuckBlock, draw_block, likely_luck
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.record import RunRecord
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import check_scenario
from shopsim.study import run_study

from . import strategies as shop

pytestmark = pytest.mark.usefixtures("machine_code")


def find_differences(one: RunRecord, other: RunRecord) -> list[str]:
    """The columns in which two records are not the same bits."""
    found = []
    for field in fields(RunRecord):
        ours, theirs = getattr(one, field.name), getattr(other, field.name)
        if isinstance(ours, dict):
            same = ours == theirs
        else:
            same = ours.dtype == theirs.dtype and np.array_equal(ours, theirs, equal_nan=ours.dtype.kind == "f")
        if not same:
            found.append(field.name)
    return found


def draw_luck_both_ways(plan: SimulationPlan, seed: int, numbers: range) -> LuckBlock:
    """The luck of a block, which compiled functions draw bit for bit as numpy does."""
    by_numpy = draw_block(plan.luck, seed, numbers)
    compiled = draw_block(plan.luck, seed, numbers, kernels=machine_code)
    assert np.array_equal(compiled.minutes, by_numpy.minutes)
    assert np.array_equal(compiled.material_at, by_numpy.material_at)
    assert all(map(np.array_equal, compiled.redone, by_numpy.redone))
    return by_numpy


def hold_both_to_each_other(plan: SimulationPlan, luck: LuckBlock) -> None:
    """Every run of a block on both floors."""
    block = run_block(plan, luck)
    assert block.left_over.size == 0
    for place, record in records_of(block).items():
        assert find_differences(record, ShopFloor(plan, luck.one(place)).run()) == []


@given(shop.shops(), st.integers(0, 2**63), st.integers(0, 10_000))
def test_records_are_the_same_in_shops_at_random(data: shop.Data, seed: int, replication: int) -> None:
    plan = build_plan(Scenario.model_validate(data))
    hold_both_to_each_other(plan, draw_luck_both_ways(plan, seed, range(replication, replication + 3)))
    hold_both_to_each_other(plan, LuckBlock.of(likely_luck(plan.luck)))


@given(shop.mixed_shops(), st.integers(0, 2**63))
def test_records_are_the_same_whatever_options_pieces_of_a_batch_have(data: shop.Data, seed: int) -> None:
    scenario = Scenario.model_validate(data)
    assume(not check_scenario(CheckContext(scenario)))  # some of these are refused
    plan = build_plan(scenario)
    hold_both_to_each_other(plan, draw_luck_both_ways(plan, seed, range(2)))


@given(shop.shops(), st.integers(0, 2**63), st.data())
def test_records_are_the_same_where_entries_are_held_back(data: shop.Data, seed: int, more: st.DataObject) -> None:
    plan = build_plan(Scenario.model_validate(data))
    n = plan.entry_step.size
    moments = more.draw(st.lists(st.integers(0, 30 * 1440), min_size=n, max_size=n))
    held = replace(plan, entry_not_before_min=np.array(moments, dtype=np.float64))
    hold_both_to_each_other(held, draw_luck_both_ways(plan, seed, range(1)))


def without(data: shop.Data, gone: set[str]) -> shop.Data:
    """The shop without what is counted: its clamps, stations or racks, and what operations want of them."""
    wants = {"clamps": ("clamps", "in_clamps", "unclamp"), "stations": ("station", "stays"), "racks": ("rest",)}
    for kind in gone:
        del data["shop"][kind]
        for design in data.get("designs", [data.get("design")]):
            for operation in design["operations"]:
                for key in wants[kind]:
                    operation.pop(key, None)
    return data


@given(shop.shops(), st.sets(st.sampled_from(("clamps", "stations", "racks"))), st.integers(0, 2**20))
def test_studies_measure_the_same_whatever_the_shop_owns(
    floors: dict[str, Callable[[], AbstractContextManager[None]]], data: shop.Data, gone: set[str], seed: int
) -> None:
    scenario = Scenario.model_validate(without(data, gone))
    assume(not check_scenario(CheckContext(scenario)))  # without clamps an operation may have nothing left to do
    found = []
    for floor in floors.values():
        with floor():
            found.append(run_study({"it": scenario}, replications=3, seed=seed))
    one, other = found
    assert one.rows.equals(other.rows)
    assert np.array_equal(one.order_days["it"], other.order_days["it"])
    assert np.array_equal(one.clamp_peaks["it"], other.clamp_peaks["it"])
