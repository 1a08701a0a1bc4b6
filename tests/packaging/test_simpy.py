"""It holds that the floor is a SimPy model: it runs on SimPy's public names, and not without them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
import simpy

import shopsim.engine.floor
from shopsim.engine.luck import likely_luck
from shopsim.engine.plan import build_plan
from shopsim.engine.run import run
from shopsim.scenario import parse_scenario

ROOMS = sorted(Path(shopsim.engine.floor.__file__).parent.glob("*.py"))
#: What the floor asks of SimPy: names of the package, of its environment and of its events.
OF_PACKAGE = {"Environment", "Event", "Timeout"}
OF_ENVIRONMENT = {"event", "now", "peek", "process", "step", "timeout"}
OF_EVENT = {"callbacks", "succeed", "value"}
SHOP = """
[shop]
open = "always"
[[shop.clamps]]
name = "bar clamp"
count = 1
[design]
name = "tray"
[[design.operations]]
name = "saw"
work = "10 min"
[[design.operations]]
name = "glue"
work = "5 min"
clamps = [{ kind = "bar clamp", count = 1 }]
in_clamps = "30 min"
unclamp = "2 min"
cure = "2 h"
[run]
orders = 2
batch = 2
start = 2027-03-01
"""


def _attributes(tree: ast.AST, holder: str) -> set[str]:
    """Names taken from whatever is called ``holder``, or ends in it: ``env.now``, ``self._env.now``."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute):
            base = node.value
            name = base.id if isinstance(base, ast.Name) else base.attr if isinstance(base, ast.Attribute) else ""
            if name.lstrip("_") == holder:
                found.add(node.attr)
    return found


def test_the_floor_takes_only_public_names_from_simpy() -> None:
    from_package: set[str] = set()
    from_environment: set[str] = set()
    from_event: set[str] = set()
    for room in ROOMS:
        tree = ast.parse(room.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith("simpy"), f"{room.name}: import simpy itself"
        from_package |= _attributes(tree, "simpy")
        from_environment |= _attributes(tree, "env")
        from_event |= _attributes(tree, "event") | _attributes(tree, "_event")
    assert from_package == OF_PACKAGE
    assert from_environment == OF_ENVIRONMENT
    assert from_event <= OF_EVENT
    public = set(simpy.__all__)
    assert public >= OF_PACKAGE
    assert not any(name.startswith("_") for name in from_environment | from_event)


def test_simpy_is_imported_in_the_floor_alone() -> None:
    top = ROOMS[0].parents[2]
    for path in top.rglob("*.py"):
        names = {
            name
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Import | ast.ImportFrom)
            for name in ([node.module or ""] if isinstance(node, ast.ImportFrom) else [one.name for one in node.names])
        }
        if any(name.split(".")[0] == "simpy" for name in names):
            assert path in ROOMS, f"{path.relative_to(top)} imports simpy"


@pytest.mark.parametrize(
    ("holder", "name"),
    [
        *((simpy, name) for name in ("Environment", "Timeout")),
        *((simpy.Environment, name) for name in sorted(OF_ENVIRONMENT)),
        (simpy.Event, "succeed"),
        (simpy.Event, "value"),
    ],
    ids=lambda one: one if isinstance(one, str) else one.__name__,
)
def test_without_a_part_of_simpy_that_it_uses_nothing_runs(
    holder: object, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = build_plan(parse_scenario(SHOP))
    assert run(plan, likely_luck(plan.luck)).done.max() > 0
    monkeypatch.delattr(holder, name)
    with pytest.raises((AttributeError, TypeError)):
        run(plan, likely_luck(plan.luck))
