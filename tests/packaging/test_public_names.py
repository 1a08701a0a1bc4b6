"""It holds that the public face of the package is small, true, and changed on purpose only."""

from __future__ import annotations

import importlib
import inspect
import pickle
import tomllib
from pathlib import Path

import pytest

import shopsim
from shopsim import answers, errors
from shopsim.study.execution import RunOptions

TOP = Path(__file__).resolve().parents[2]

PUBLIC = {
    "shopsim": [
        "Answer", "BrokenRecord", "Cancelled", "Fault", "InputError", "Law", "RunError", "RunResult", "Scenario",
        "ScenarioError", "ShopSimError", "StalledShop", "Study", "Waiting", "change_scenario", "compare_batch_sizes",
        "compare_batches_by", "compare_clamps", "compare_ways", "decide", "dump_scenario", "extend_study", "find_buying", "find_days", "find_holdups",
        "find_reach", "find_worth", "forecast_delivery", "forecast_from_now", "load_scenario", "open_study", "own_law", "parse_scenario", "read_scenario", "run_once",
        "run_study", "save_scenario", "scenario_schema", "write_words",
    ],
    "shopsim.answers": [
        "Answer", "compare_batch_sizes", "compare_batches_by", "compare_clamps", "compare_ways", "decide", "find_buying", "find_days", "find_holdups",
        "find_reach", "find_worth", "forecast_delivery", "forecast_from_now", "list_cautions", "offer_cautions", "plan_days", "write_words",
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_public_names_are_these(name: str) -> None:
    module = importlib.import_module(name)
    assert sorted(module.__all__) == sorted(PUBLIC[name])
    assert [one for one in module.__all__ if not hasattr(module, one)] == []


@pytest.mark.parametrize("name", sorted(PUBLIC))
def test_every_public_thing_says_what_it_is(name: str) -> None:
    module = importlib.import_module(name)
    silent = [one for one in module.__all__ if not inspect.getdoc(getattr(module, one))]
    assert silent == []


def test_the_version_is_the_same_everywhere() -> None:
    project = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert shopsim.__version__ == project["version"]


def test_every_error_stands_in_the_tree_and_survives_being_copied() -> None:
    fault = errors.Fault("a.toml", 3, "run.batch", "is none", "write 5")
    made: list[errors.ShopSimError] = [errors.ScenarioError((fault,))]
    for name, thing in vars(errors).items():
        if inspect.isclass(thing) and issubclass(thing, Exception):
            assert f"  {name} " in f"  {inspect.getdoc(errors)} ", name
            assert issubclass(thing, errors.ShopSimError)
            if thing is not errors.ScenarioError:
                made.append(thing("said"))
    for error in made:
        for copy in (type(error)(*error.args), pickle.loads(pickle.dumps(error))):
            assert type(copy) is type(error)
            assert str(copy) == str(error)
    assert str(made[0]) == "a.toml:3 · run.batch · is none · write 5"


def test_answers_take_the_same_words_for_the_same_things() -> None:
    alike = {"replications", "seed", "jobs", "executor", "on_progress", "should_stop", "reuse"}
    assert set(RunOptions.__annotations__) == alike
    for name in (
        "compare_batch_sizes",
        "compare_batches_by",
        "compare_clamps",
        "decide",
        "find_buying",
        "find_days",
        "find_holdups",
        "find_worth",
        "forecast_delivery",
    ):
        words = inspect.signature(getattr(answers, name)).parameters
        assert next(iter(words)) == "scenario", name
        assert words["options"].kind is inspect.Parameter.VAR_KEYWORD, name
        assert words["options"].annotation == "Unpack[RunOptions]", name
        assert not alike & set(words), name


def test_an_option_that_there_is_not_is_refused_by_its_name() -> None:
    scenario = shopsim.load_scenario(TOP / "scenarios" / "serving-trays.toml")
    with pytest.raises(TypeError, match="there is no option 'replication'"):
        shopsim.compare_batch_sizes(scenario, replication=3)  # type: ignore[call-arg]
