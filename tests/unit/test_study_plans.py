"""It holds that a plan shared with another one of the same work is the plan that is built anew, and is built as seldom as can be."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest

from shopsim import load_scenario
from shopsim.answers import decide
from shopsim.answers.levers import MATERIAL, list_levers
from shopsim.engine.calendars import Calendar
from shopsim.engine.luck import draw_luck
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.ragged import Ragged
from shopsim.engine.refitting import refit_plan, refit_tasks
from shopsim.engine.run import run
from shopsim.engine.worklist import Worklist
from shopsim.scenario import Scenario, change_scenario
from shopsim.study import plans
from shopsim.study.plans import PlanStore

#: What a plan shares its work with: counts, order and people.
ALIKE: tuple[dict[str, Any], ...] = (
    {"run.priority": "nearest done"},
    {"run.pieces_open": 7},
    {"shop.clamps[0].count": 31, "shop.clamps[0].price": 3},
    {"shop.stations[0].count": 2},
    {"shop.racks[0].spots": 3},
    {
        "shop.workers": [
            {"name": "maker"},
            {"name": "mate", "can": ["sand", "glue legs"], "open": {"sat": "9:00-12:00"}},
        ]
    },
)
#: What makes it other work, or other luck.
OTHER: tuple[dict[str, Any], ...] = (
    {"run.batch": 2},
    {"run.orders": 3},
    {"luck.bias": 1.5},
    {"shop.interrupted": "10 %"},
    {"shop.clamps[0].reach": "3 m"},
    {"shop.open": "always"},
)


def plain(value: Any) -> Any:
    """The fields of a plan as values that can be compared."""
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Ragged):
        return value.first.tolist(), value.members.tolist()
    if isinstance(value, Calendar):
        return [array.tolist() for array in value.upto(40)] if not value.endless else "endless"
    if isinstance(value, Worklist):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    return value


def shown(plan: SimulationPlan) -> dict[str, Any]:
    """A plan field by field, the luck left out."""
    fields = {field.name: getattr(plan, field.name) for field in dataclasses.fields(plan) if field.name != "luck"}
    fields["calendars"] = [plain(calendar) for calendar in plan.calendars]
    return {name: plain(value) for name, value in fields.items()}


def changed(scenario: Scenario, changes: Mapping[str, Any]) -> Scenario:
    own = {
        place: value for place, value in changes.items() if not place.startswith("shop.") or _is_there(scenario, place)
    }
    assert own, "the shop has what is changed"
    return change_scenario(scenario, own)


def _is_there(scenario: Scenario, place: str) -> bool:
    kind = place.split(".")[1].partition("[")[0]
    return "[" not in place or bool(getattr(scenario.shop, kind))


@pytest.mark.parametrize("name", ["counter-stools", "wall-cabinets"])
@pytest.mark.parametrize("changes", ALIKE, ids=lambda changes: next(iter(changes)))
def test_a_plan_of_the_same_work_is_the_plan_built_anew(name: str, changes: dict[str, Any]) -> None:
    scenario = load_scenario(f"scenarios/{name}.toml")
    if "shop.workers" in changes:
        names = [operation.name for operation in scenario.all_designs[0].operations]
        everybody = [{"name": worker.name} for worker in scenario.shop.workers]
        changes = {"shop.workers": [*everybody, {"name": "mate", "can": names[:2]}]}
    other = changed(scenario, changes)
    shared, anew = refit_plan(build_plan(scenario), other), build_plan(other)
    assert shared is not None
    for field, value in shown(anew).items():
        assert shown(shared)[field] == value, field
    for replication in (0, 5):
        here, there = draw_luck(shared.luck, 3, replication), draw_luck(anew.luck, 3, replication)
        assert here.work == there.work
        assert np.array_equal(run(shared, here).done, run(anew, there).done)


@pytest.mark.parametrize("changes", OTHER, ids=lambda changes: next(iter(changes)))
def test_a_plan_of_other_work_or_luck_is_never_shared(changes: dict[str, Any]) -> None:
    scenario = load_scenario("scenarios/counter-stools.toml")
    assert refit_plan(build_plan(scenario), change_scenario(scenario, changes)) is None


LUCK_ALONE = (
    {"luck.bias": 1.5},
    {"shop.lost_days": "9 %"},
    {"shop.open": {"mon-sat": "09:00-12:00"}},
    {"shop.closed": ["2027-01-20"]},
)


@pytest.mark.parametrize("changes", [*LUCK_ALONE, *ALIKE], ids=lambda changes: next(iter(changes)))
def test_a_plan_of_the_same_tasks_with_luck_of_its_own_is_the_plan_built_anew(changes: dict[str, Any]) -> None:
    scenario = load_scenario("scenarios/counter-stools.toml")
    if "shop.workers" in changes:
        changes = {"shop.workers": [{"name": "mate"}]}
    other = change_scenario(scenario, changes)
    assert (refit_plan(build_plan(scenario), other) is None) == (changes in LUCK_ALONE)
    shared, anew = refit_tasks(build_plan(scenario), other), build_plan(other)
    assert shared is not None
    assert shared.worklist.task_step is not anew.worklist.task_step
    for field, value in shown(anew).items():
        assert shown(shared)[field] == value, field
    for replication in (0, 5):
        here, there = draw_luck(shared.luck, 3, replication), draw_luck(anew.luck, 3, replication)
        assert here.work == there.work
        assert np.array_equal(run(shared, here).done, run(anew, there).done)


def test_other_tasks_are_never_shared() -> None:
    scenario = load_scenario("scenarios/counter-stools.toml")
    for changes in ({"run.batch": 3}, {"run.orders": 5}, {"design.operations[0].work": "7 min"}):
        assert refit_tasks(build_plan(scenario), change_scenario(scenario, changes)) is None


def test_a_store_lets_go_of_the_oldest_plan() -> None:
    scenario = load_scenario("scenarios/serving-trays.toml")
    store = PlanStore(most_plans=2)
    for orders in (2, 3, 4):
        store.get(orders, lambda orders=orders: (change_scenario(scenario, {"run.orders": orders}), None))
    assert len(store) == 2
    again = store.get(4, lambda: pytest.fail("it is there"))
    assert again.plan.worklist.line_orders == (4,)


def test_alternatives_of_the_same_work_are_planned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[Scenario] = []

    def count(scenario: Scenario, rule: Any) -> SimulationPlan:
        built.append(scenario)
        return build_plan(scenario, rule)

    monkeypatch.setattr(plans, "build_plan", count)
    answers = decide(load_scenario("scenarios/counter-stools.toml"), replications=40, compare_replications=2)
    assert len(answers[1].rows) > 10
    levers = list_levers(load_scenario("scenarios/counter-stools.toml"))
    others = sum(lever.thing == MATERIAL for lever in levers)  # rules, room and clamps need no plan of their own
    assert len(built) == answers[0].rows["pieces_in_batch"].nunique() + others
