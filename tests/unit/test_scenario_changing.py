"""It holds that a value changed where it stands gives what reading the whole scenario again would, and shares the rest."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from shopsim.answers.one_more import list_more
from shopsim.answers.week import change_week
from shopsim.engine.worklist import build_worklist
from shopsim.errors import ScenarioError
from shopsim.laws import Law
from shopsim.scenario import Scenario, change_scenario, load_scenario, parse_scenario
from shopsim.scenario.changing import change_values
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.checks import ALONE, RULES, WORK_PARTS, WORK_RULES, check_again
from shopsim.scenario.plain import dump_scenario
from shopsim.scenario.settings import as_plain

EXAMPLES = sorted(Path("scenarios").glob("*.toml"))
CHANGES: tuple[Mapping[str, Any], ...] = (
    {"run.batch": 3},
    {"run.batch": 3, "run.pieces_open": 8},
    {"run.pieces_open": 8, "run.batch": None},
    {"run.priority": "glue first"},
    {"run.orders": 5},
    {"run.demand": "4 / 8 / 20"},
    {"title": "another"},
    {"luck.bias": 1.1, "luck.pace_spread": 0},
    {"shipping.before_packing": "2 d"},
    {"shop.lost_days": "8 %"},
    {"shop.closed": ["2027-02-01..2027-02-05"]},
    {"design.operations[0].work": "5 / 7 / 9 min"},
    {"design.operations[0].work": Law("range", (5.0, 7.0, 9.25))},
    {"design.operations[1].after": []},
    {"design.operations[1].caution": ["dust", "noise"]},
)


def plain(changes: Mapping[str, Any]) -> list[tuple[str, Any]]:
    return [(place, as_plain(value)) for place, value in changes.items()]


def read_again(scenario: Scenario, changed: Scenario) -> Scenario:
    """A changed scenario as its own text reads, orders and all."""
    again = parse_scenario(dump_scenario(changed), folder="scenarios")
    return again.model_copy(update={"title": changed.title})


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_changed_value_is_what_the_text_would_read_as(path: Path) -> None:
    scenario = load_scenario(path)
    grown = [one.changes for one in list_more(scenario, build_worklist(scenario))]
    tried = 0
    for changes in (*CHANGES, *grown, change_week(scenario, 20.0)):
        changed = change_values(scenario, plain(changes))
        if changed is None:
            continue
        tried += 1
        assert change_scenario(scenario, changes) == changed
        assert read_again(scenario, changed) == changed
    assert tried >= len(CHANGES) + len(grown) - 1


def test_what_is_not_changed_is_shared() -> None:
    scenario = load_scenario("scenarios/counter-stools.toml")
    changed = change_scenario(scenario, {"shop.clamps[0].count": 40})
    assert changed.design is scenario.design
    assert changed.shop.clamps[1] is scenario.shop.clamps[1]
    assert changed.shop.clamps[0].count == 40
    named = change_scenario(scenario, {f'shop.clamps."{scenario.shop.clamps[0].name}".count': 40})
    assert named == changed


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"run.batch": 0}, "run.batch"),
        ({"run.btch": 3}, 'write "batch"'),
        ({"shop.clamps[99].count": 3}, "has no [99]"),
        ({"shop.clamps[0].count": 1}, "clamps"),
        ({"shop.open": {"mon": "9-"}}, "shop.open"),
        ({"design.operations[0].work": "soon"}, "design.operations[0].work"),
        ({"design.operations[0].after": ["nothing of that name"]}, "nothing of that name"),
        ({"run.orders": "gone.csv"}, "gone.csv"),
        ({"shop": "gone.toml"}, "gone.toml"),
        ({"run.start": None, "run.orders_close": None}, "start"),
    ],
)
def test_what_cannot_be_is_refused_as_in_a_file(changes: Mapping[str, Any], said: str) -> None:
    scenario = load_scenario("scenarios/counter-stools.toml")
    assert change_values(scenario, plain(changes)) is None
    with pytest.raises(ScenarioError) as error:
        change_scenario(scenario, changes)
    assert said in str(error.value)
    assert all(fault.rule and fault.mend for fault in error.value.faults)


class Untouchable:
    """Stands for a part of a scenario that a rule must not look at."""

    def __getattribute__(self, name: str) -> Any:
        raise AssertionError(f"looked at {name}")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_rules_that_are_left_out_look_at_nothing_that_was_changed(path: Path) -> None:
    scenario = load_scenario(path)
    others = [key for key in Scenario.model_fields if key not in (*WORK_PARTS, "title")]
    bare = scenario.model_copy(update={key: Untouchable() for key in others})
    assert set(RULES) > WORK_RULES
    for rule in WORK_RULES:
        assert list(rule(CheckContext(bare))) == []
    for part, key in ALONE:
        table = getattr(scenario, part)
        for value in ("no rule has this name", "nor this"):
            odd = scenario.model_copy(update={part: table.model_copy(update={key: value})})
            assert [finding for rule in RULES for finding in rule(CheckContext(odd))] == []
    assert check_again(CheckContext(bare), [("run", "priority")]) == []
