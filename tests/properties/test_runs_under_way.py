"""It holds that a run which is stopped at any moment and gone on with from there comes to its own end."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopsim import Scenario
from shopsim.engine.compiled.blocks import records_of, run_block
from shopsim.engine.compiled.states import StartingStates
from shopsim.engine.luck import LuckBlock, draw_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.record import RunRecord
from shopsim.engine.run import run
from shopsim.engine.under_way import cut_run

from .strategies import Data, shops
from .test_compiled_floor import find_differences

pytestmark = pytest.mark.usefixtures("machine_code")
#: Minutes by which work that is cut in two may end apart: rounding to the time grid on interrupted days.
SLACK_MIN = 1e-4
MOMENTS = ("ready", "start", "end", "clamps_off", "unclamp_start", "unclamp_end", "done", "wet_until", "batch_opened")


def between(record: RunRecord, share: float) -> float:
    """A moment between two at which something happens: there the state is plain, whatever is done first at a moment."""
    columns = [getattr(record, name) for name in MOMENTS]
    moments = np.unique(np.concatenate([column[~np.isnan(column)] for column in columns]))
    if moments.size < 2:
        return float(moments[0]) / 2
    place = min(int(share * (moments.size - 1)), moments.size - 2)
    return float(np.round((moments[place] + moments[place + 1]) / 2 * 2**20) / 2**20)


@given(shops(), st.integers(0, 2**63), st.floats(0, 1))
def test_a_run_that_is_cut_goes_on_to_its_own_end(data: Data, seed: int, share: float) -> None:
    plan = build_plan(Scenario.model_validate(data))
    draws = draw_luck(plan.luck, seed, 0)
    whole = run(plan, draws)
    state = cut_run(plan, whole, draws, between(whole, share))
    again = run(replace(plan, starting=state), draws)
    for name in MOMENTS:
        np.testing.assert_allclose(getattr(again, name), getattr(whole, name), rtol=0, atol=SLACK_MIN, err_msg=name)
    assert np.array_equal(again.clamps, whole.clamps)
    assert np.array_equal(again.setup_min, whole.setup_min)
    block = run_block(plan, LuckBlock.of(draws), StartingStates.of([state]))
    (compiled,) = records_of(block).values()
    assert find_differences(compiled, again) == []


@given(shops(luck=False))
def test_a_run_that_is_cut_before_it_begins_is_the_run(data: Data) -> None:
    plan = build_plan(Scenario.model_validate(data))
    draws = draw_luck(plan.luck, 5, 0)
    whole = run(plan, draws)
    again = run(replace(plan, starting=cut_run(plan, whole, draws, -1.0)), draws)
    for name in MOMENTS:
        assert np.array_equal(getattr(again, name), getattr(whole, name), equal_nan=True)
