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
    def read(*lines: str, settings: tuple[str, ...] = (), without: str = "") -> list[str]:
        with pytest.raises(InputError) as caught:
            parse_scenario(SMALL.replace(without, "") + "\n".join(lines), name="stools.toml", settings=settings)
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


@pytest.mark.parametrize(
    ("lines", "mend"),
    [
        (("batches_open = 2",), "write pieces_open = 10"),
        (("batches_open = 3", 'lines = [{ design = "stool", orders = 9, batch = 4 }]'), "write pieces_open = 12"),
        (('batches_open = "two"',), "write pieces_open = …, batches times the pieces in the largest"),
    ],
)
def test_batches_that_may_be_open_are_told_in_pieces(
    faults_of: Callable[..., list[str]], lines: tuple[str, ...], mend: str
) -> None:
    (fault,) = faults_of(*lines, without="orders = 20\n" if len(lines) > 1 else "")
    assert fault.split(" · ", 1)[1] == f"run.batches_open · is counted in pieces now · {mend}"


def test_batches_without_a_size_are_of_all_pieces(faults_of: Callable[..., list[str]]) -> None:
    faults = faults_of("batches_open = 2", "round_up_to = 6", without="batch = 5\n")
    assert faults == ["stools.toml:9 · run.batches_open · is counted in pieces now · write pieces_open = 48"]
