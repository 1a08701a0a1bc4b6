"""List scheduling and its anomalies: R. L. Graham 1966, Bell System Technical Journal 45:1563-1581; 1969, SIAM Journal
on Applied Mathematics 17:416-429.

Whoever is free takes the first task of the list that can start. The nine tasks and the lengths 12 (three at work), 15
(four), 13 (shorter times) and 16 (less precedence) are Graham's 1969; so is 14 for another list (data and 14 from
memory). The anomalies are facts about list scheduling, not faults: one more of something can, on one run, end later.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pytest

from shopsim import Scenario, Waiting, parse_scenario

from .converter import write_tasks

Makespan = Callable[..., float]
Take = Callable[..., Scenario]

TIMES = (3, 2, 2, 2, 4, 4, 4, 4, 9)
AFTER = {9: (1,), 5: (4,), 6: (4,), 7: (4,), 8: (4,)}
OTHER_LIST = (1, 2, 4, 5, 6, 3, 9, 7, 8)


def at_machines(times: Sequence[int], after: Mapping[int, Sequence[int]], machines: int) -> Scenario:
    """The tasks at so many equal machines that need nobody."""
    shop = f'stations = [{{ name = "machine", count = {machines} }}]'
    return parse_scenario(write_tasks(times, after, shop, 'hands = 0, station = "machine"'))


def by_workers(times: Sequence[int], after: Mapping[int, Sequence[int]], workers: int) -> Scenario:
    """The tasks done by hand, by so many workers who can all do everything."""
    names = ", ".join(f'{{ name = "worker {n}" }}' for n in range(1, workers + 1))
    return parse_scenario(write_tasks(times, after, f"workers = [{names}]", "hands = 1"))


def by_clamps(times: Sequence[int], after: Mapping[int, Sequence[int]], clamps: int) -> Scenario:
    """The tasks each held by one of so many clamps."""
    shop = f'clamps = [{{ name = "cramp", count = {clamps} }}]'
    return parse_scenario(write_tasks(times, after, shop, 'hands = 0, clamps = [{ kind = "cramp" }]'))


every_way = pytest.mark.parametrize("take", [at_machines, by_workers, by_clamps])


def listed(order: Sequence[int]) -> Callable[[Waiting], object]:
    return lambda task: order.index(task.step + 1)


@every_way
def test_nine_tasks_take_twelve_minutes_with_three_at_work(makespan: Makespan, take: Take) -> None:
    assert makespan(take(TIMES, AFTER, 3), listed(range(1, 10))) == 12


@every_way
def test_one_more_at_work_can_end_later(makespan: Makespan, take: Take) -> None:
    assert makespan(take(TIMES, AFTER, 4), listed(range(1, 10))) == 15


@every_way
def test_shorter_times_can_end_later(makespan: Makespan, take: Take) -> None:
    assert makespan(take([time - 1 for time in TIMES], AFTER, 3), listed(range(1, 10))) == 13


@every_way
@pytest.mark.parametrize("dropped", [(5, 6), (5, 6, 7, 8, 9)])  # Graham's two (from memory), or all of them
def test_less_to_wait_for_can_end_later(makespan: Makespan, take: Take, dropped: tuple[int, ...]) -> None:
    fewer = {task: before for task, before in AFTER.items() if task not in dropped}
    assert makespan(take(TIMES, fewer, 3), listed(range(1, 10))) == 16


@every_way
def test_another_list_can_end_later(makespan: Makespan, take: Take) -> None:
    assert makespan(take(TIMES, AFTER, 3), listed(OTHER_LIST)) == 14


@every_way
def test_the_order_of_the_file_is_the_list_when_nothing_else_decides(makespan: Makespan, take: Take) -> None:
    assert makespan(take(TIMES, AFTER, 3), lambda task: 0) == 12


@every_way
@pytest.mark.parametrize(("machines", "listed_min", "best_min"), [(2, 3, 2), (3, 5, 3), (4, 7, 4), (6, 11, 6)])
def test_the_worst_list_reaches_grahams_bound(
    makespan: Makespan, take: Take, machines: int, listed_min: int, best_min: int
) -> None:
    # m (m - 1) tasks of one minute and then one of m: 2 m - 1 where m would do, a ratio of 2 - 1/m (Graham 1966).
    times = [1] * (machines * (machines - 1)) + [machines]
    assert makespan(take(times, {}, machines), listed(range(1, len(times) + 1))) == listed_min
    longest_first = [len(times), *range(1, len(times))]
    assert makespan(take(times, {}, machines), listed(longest_first)) == best_min
    assert listed_min / best_min == 2 - 1 / machines
