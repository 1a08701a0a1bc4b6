"""It holds that the lowest versions which are tried are those that pyproject.toml allows, and none is left out."""

from __future__ import annotations

import runpy
import tomllib
from pathlib import Path

import pytest

TOP = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]
lowest_versions = runpy.run_path(str(TOP / ".ci" / "lowest.py"))["lowest_versions"]


def test_every_library_is_tried_in_its_lowest_version() -> None:
    pins = dict(pin.split("==") for pin in lowest_versions(PROJECT))
    for need in (*PROJECT["dependencies"], *PROJECT["optional-dependencies"]["app"]):
        name, version = need.partition(";")[0].split(">=")
        assert pins[name] == version
    assert set(pins) > {"numpy", "pytest", "streamlit"}


def test_of_two_lowest_versions_the_higher_one_counts() -> None:
    project = {"dependencies": ["one>=1.9", "two>=2"], "optional-dependencies": {"test": ["one>=1.10"]}}
    assert lowest_versions(project) == ["one==1.10", "two==2"]


@pytest.mark.parametrize("need", ["one", "one<2", "one>=1,<2", "one[more]>=1", "one>=1; sys_platform == 'linux'"])
def test_a_need_without_a_plain_lowest_version_is_refused(need: str) -> None:
    with pytest.raises(SystemExit, match="names no lowest version"):
        lowest_versions({"dependencies": [need], "optional-dependencies": {"test": []}})
