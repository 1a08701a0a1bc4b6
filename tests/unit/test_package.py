"""The package as somebody at a Python prompt meets it."""

from __future__ import annotations

import pytest

import shopsim


def test_a_name_that_is_not_there_is_missed_like_any_other() -> None:
    with pytest.raises(AttributeError, match="module 'shopsim' has no attribute 'run_twice'"):
        shopsim.run_twice  # noqa: B018
    assert not hasattr(shopsim, "run_twice")


def test_all_that_is_public_and_every_room_is_offered_for_completion() -> None:
    offered = dir(shopsim)
    assert set(shopsim.__all__) <= set(offered)
    assert {"engine", "scenario", "study", "answers", "charts"} <= set(offered)
    assert shopsim.study.run_study is shopsim.run_study
