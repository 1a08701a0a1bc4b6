"""Keys that files had before are faults that tell the key of today, with the value it takes there."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import InputError
from shopsim.scenario import parse_scenario

SMALL = """\
[shop]
open = "always"
[design]
name = "stool"
operations = [{ name = "cut", work = "10 min" }]
[run]
orders = 20
start = 2027-01-11
batch = 5
"""


@pytest.fixture
def faults_of() -> Callable[..., list[str]]:
    def read(*lines: str, settings: tuple[str, ...] = ()) -> list[str]:
        with pytest.raises(InputError) as caught:
            parse_scenario(SMALL + "\n".join(lines), name="stools.toml", settings=settings)
        return [str(fault) for fault in caught.value.faults]

    return read


def test_a_work_order_is_told_to_be_a_priority(faults_of: Callable[..., list[str]]) -> None:
    said = "run.work_order · is called priority: a work order is a job ticket"
    assert faults_of('work_order = "longest tail"') == [f'stools.toml:10 · {said} · write priority = "longest tail"']
    assert faults_of("work_order = 3") == [f"stools.toml:10 · {said} · write priority"]


def test_a_former_key_that_is_set_by_hand_is_told_the_key_of_today(faults_of: Callable[..., list[str]]) -> None:
    assert faults_of(settings=("run.work_order=longest tail",)) == [
        "--set run.work_order=longest tail · run.work_order is called priority: a work order is a job ticket "
        "· write priority"
    ]
