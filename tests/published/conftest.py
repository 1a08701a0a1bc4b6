"""Fixtures for the published problems: the scenario of a problem, and how long it takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from shopsim import Scenario, Waiting, load_scenario, run_once

from .many_runs import tests_model

DATA = Path(__file__).parent / "data"


@pytest.fixture(autouse=True, scope="module")
def _both_engines(each_floor: str) -> Iterator[None]:
    """Whatever is published holds for each engine."""
    before = tests_model.set(each_floor == "SimPy model")
    yield
    tests_model.reset(before)


@cache
def _load(name: str) -> Scenario:
    return load_scenario(DATA / f"{name}.toml")


@pytest.fixture(scope="session")
def published() -> Callable[[str], Scenario]:
    """The scenario of a published instance by its name in the literature: ``published("ft06")``."""
    return _load


@pytest.fixture(scope="session")
def makespan() -> Callable[..., float]:
    """Minutes from the start of a run to the end of its last task: ``makespan(scenario, rule)``.

    Every such run also has to obey the laws of a record.
    """

    def take(scenario: Scenario, rule: Callable[[Waiting], object] | None = None) -> float:
        run = run_once(scenario, rule=rule)
        assert run.check() == []
        return float(run.record.done.max())

    return take
