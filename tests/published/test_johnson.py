"""Two machines one after the other: Johnson 1954, Naval Research Logistics Quarterly 1:61-68.

Every job goes over machine 0 and then machine 1; the order of the jobs is the rule. By Johnson's theorem an order with
the short first times first and the short second times last is shortest.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import pytest

from shopsim import Scenario, Waiting, parse_scenario

from .converter import write_job_shop

Makespan = Callable[..., float]

#: Johnson's own example, from memory: order 5-1-4-3-2, 47.
JOHNSON = [(4, 5), (4, 1), (30, 4), (6, 30), (2, 3)]
#: Five motors to be repaired: Krajewski & Ritzman, Operations Management, chapter on scheduling; M2 M1 M4 M5 M3, 65.
#: A copy on the web (source not kept) prints 11 for the first 12; its own schedule then takes 64.
MOTORS = [(12, 22), (4, 5), (5, 3), (15, 16), (10, 8)]
MOTORS_AS_COPIED = [(11, 22), *MOTORS[1:]]


def two_machines(times: Sequence[tuple[int, int]]) -> Scenario:
    return parse_scenario(write_job_shop([[(0, first), (1, second)] for first, second in times]))


def in_order(jobs: Sequence[int]) -> Callable[[Waiting], object]:
    return lambda task: jobs.index(task.batch)


@pytest.mark.parametrize(
    ("times", "order", "minutes"),
    [
        (JOHNSON, (5, 1, 4, 3, 2), 47),
        (JOHNSON, (2, 3, 4, 1, 5), 78),  # the same order reversed
        (MOTORS, (2, 1, 4, 5, 3), 65),
        (MOTORS_AS_COPIED, (2, 1, 4, 5, 3), 64),
    ],
)
def test_an_order_takes_exactly_so_many_minutes(
    makespan: Makespan, times: list[tuple[int, int]], order: tuple[int, ...], minutes: int
) -> None:
    assert makespan(two_machines(times), in_order(order)) == minutes


@pytest.mark.parametrize(("times", "minutes"), [(JOHNSON, 47), (MOTORS, 65)])
def test_none_of_the_120_orders_is_shorter_than_johnsons(
    makespan: Makespan, times: list[tuple[int, int]], minutes: int
) -> None:
    scenario = two_machines(times)
    lengths = [makespan(scenario, in_order(order)) for order in itertools.permutations(range(1, 6))]
    assert min(lengths) == minutes
    assert max(lengths) > minutes
