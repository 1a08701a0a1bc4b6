"""It holds that a run which is gone on with from its log comes to its own end, in random shops whose times do not vary."""

from __future__ import annotations

import copy
from collections.abc import Callable
from contextlib import AbstractContextManager

import numpy as np
from hypothesis import assume, given, reject
from hypothesis import strategies as st

from shopsim import Scenario
from shopsim.engine.luck import draw_luck
from shopsim.engine.pieces import piece_done
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.record import RunRecord
from shopsim.engine.run import run
from shopsim.errors import ScenarioError
from shopsim.scenario import dump_scenario, parse_scenario
from shopsim.scenario.run_log import read_run_log
from shopsim.study.going_on import GoingOn
from shopsim.study.order_queue import OrderQueue
from shopsim.study.run_state import RunState, read_state

from .logs_of_runs import log_of_run
from .strategies import Data, shops

#: Minutes by which the ends may differ: moments stand in the log to the microsecond, work on interrupted days to the grid.
SLACK_MIN = 0.01


def without_doubt(data: Data) -> Data:
    """The shop with work that does not vary, as what is left of half-done work follows from a log only then; and what needs no hands takes
    nothing that others wait for, as no log tells of it."""
    data = copy.deepcopy(data)
    for material in data.get("materials", []):  # the log says when it could be used, as if it had come then
        material.pop("rest", None)
        material.pop("late", None)
        material["lead"] = "300 min"  # as when it comes is drawn anew where it has not come
    if "packing" in data.get("shipping", {}):
        data["shipping"]["packing"] = "10 min"
    designs = [data["design"]] if "design" in data else data["designs"]
    for design in designs:
        parts = [option.get(key, []) for option in design.get("options", []) for key in ("change", "add")]
        for operation in (*design["operations"], *(one for some in parts for one in some)):
            work = operation.get("work", "0 min")
            if isinstance(work, dict) or "/" in work:
                operation["work"] = (
                    "9 min" if isinstance(work, dict) else f"{work.split('/')[1].strip().split()[0]} min"
                )
            operation.pop("redo", None)
            operation.pop("learning", None)
            if operation.get("hands") == 0:
                for key in ("station", "rest", "clamps", "in_clamps", "unclamp", "stays", "dusty", "wet"):
                    operation.pop(key, None)
    return data


def read(plan: SimulationPlan, queue: OrderQueue, text: str, now: float) -> RunState:
    log = read_run_log(text, "log.csv")
    state, faults = read_state(plan.worklist, queue, log.rows, now, "log.csv")
    assert not log.faults
    assert not faults
    return state


def is_between(record: RunRecord, now: float) -> bool:
    """Whether nobody is just taking clamps off, which the log tells only when they are off."""
    return not bool(((record.unclamp_start <= now) & ~(record.unclamp_end <= now)).any())


def begins_with_its_batch(plan: SimulationPlan, record: RunRecord) -> bool:
    """Whether something that needs no hands is the first of a batch for which there was room only later: no log tells when."""
    work = plan.worklist
    return any(
        not work.steps[step].operation.hands and not work.task_prior.row(task).size and record.batch_opened[batch] > 0
        for task, (step, batch) in enumerate(zip(work.task_step, work.task_batch, strict=True))
    )


@given(shops(luck=False), st.floats(0, 1))
def test_a_run_goes_on_from_its_log_to_its_own_end(data: Data, share: float) -> None:
    try:
        plan = build_plan(parse_scenario(dump_scenario(Scenario.model_validate(without_doubt(data)))))
    except ScenarioError:  # such as work that no longer fits into a day
        reject()
    draws = draw_luck(plan.luck, 5, 0)
    whole = run(plan, draws)
    now = float(np.floor(share * whole.done.max() * 64) / 64 + 1 / 128)
    assume(is_between(whole, now))
    assume(not begins_with_its_batch(plan, whole))
    queue = OrderQueue(plan.scenario)
    state = read(plan, queue, log_of_run(plan, draws, whole, now), now)
    # which of two that begin at one moment is set up for cannot be told from a log
    assume(all(group.pays == bool(whole.setup_min[group.tasks[0]]) for group in state.half_done))
    gone_on = GoingOn(plan.scenario, state, "").go_on(5, [0])
    finish = queue.finish_from(piece_done(plan.worklist, whole)[None], {}, ())
    np.testing.assert_allclose(gone_on.finish_min, finish, rtol=0, atol=SLACK_MIN)


@given(shops(), st.integers(0, 2**63))
def test_the_log_of_a_whole_run_gives_the_days_on_which_it_shipped(data: Data, seed: int) -> None:
    plan = build_plan(Scenario.model_validate(data))
    draws = draw_luck(plan.luck, seed, 0)
    whole = run(plan, draws)
    queue = OrderQueue(plan.scenario)
    days = queue.ship_days(piece_done(plan.worklist, whole))
    now = ((queue.close - plan.worklist.day0).days + int(days.max()) + 2) * 1440.0
    state = read(plan, queue, log_of_run(plan, draws, whole, max(now, float(whole.done.max())), ships=True), now)
    gone_on = GoingOn(plan.scenario, state, "").go_on(seed + 1, range(3))
    assert np.array_equal(gone_on.order_days, np.tile(days, (3, 1)))


@given(shops(), st.integers(0, 2**63), st.floats(0, 1))
def test_a_run_of_any_shop_goes_on_from_its_log_at_any_moment_with_any_luck(
    floors: dict[str, Callable[[], AbstractContextManager[None]]], data: Data, seed: int, share: float
) -> None:
    plan = build_plan(Scenario.model_validate(data))
    draws = draw_luck(plan.luck, seed, 0)
    whole = run(plan, draws)
    now = float(np.floor(share * whole.done.max() * 64) / 64 + 1 / 128)
    queue = OrderQueue(plan.scenario)
    state = read(plan, queue, log_of_run(plan, draws, whole, now), now)
    with floors["SimPy"]():
        gone_on = GoingOn(plan.scenario, state, "").go_on(seed + 1, range(2))
    assert np.isfinite(gone_on.finish_min).all()
    with floors["compiled"]():
        compiled = GoingOn(plan.scenario, state, "").go_on(seed + 1, range(2))
    assert all(np.array_equal(getattr(compiled, name), getattr(gone_on, name)) for name in vars(gone_on))
    begun = np.flatnonzero(whole.end <= now)
    by_hand = [task for task in begun.tolist() if plan.worklist.steps[plan.worklist.task_step[task]].operation.hands]
    np.testing.assert_allclose(state.ended_min[by_hand], whole.end[by_hand], rtol=0, atol=1e-6)
