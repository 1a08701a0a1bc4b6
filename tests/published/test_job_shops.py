"""Job shops of Fisher & Thompson (1963, in Muth & Thompson, Industrial Scheduling) under plain dispatching rules.

The lengths under a rule are no printed values: non-delay dispatching with ties by job number is a reproducible rule,
and two programs written apart from each other give the same whole numbers.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from shopsim import Scenario, Waiting, change_scenario
from shopsim.scenario import PRIORITY_RULES

from .converter import read_job_shop, write_job_shop

Published = Callable[[str], Scenario]
Makespan = Callable[..., float]

#: Shortest makespans, in two public instance lists; 930 was proven by Carlier & Pinson 1989 (from memory).
OPTIMA = {"ft06": 55, "ft10": 930}


def shortest_first(task: Waiting) -> tuple[float, int]:
    return (task.likely_min, task.batch)


def most_work_remaining(task: Waiting) -> tuple[float, int]:
    return (-task.tail_min, task.batch)


def first_come(task: Waiting) -> tuple[float, int]:
    return (task.ready_min, task.batch)


@pytest.mark.parametrize(
    ("name", "rule", "minutes"),
    [
        ("ft06", shortest_first, 88),
        ("ft06", most_work_remaining, 61),
        ("ft06", first_come, 65),
        ("ft10", shortest_first, 1074),
        ("ft10", most_work_remaining, 1108),
        ("ft10", first_come, 1184),
    ],
)
def test_non_delay_dispatching_takes_exactly_so_many_minutes(
    published: Published, makespan: Makespan, name: str, rule: Callable[[Waiting], object], minutes: int
) -> None:
    assert makespan(published(name), rule) == minutes


@pytest.mark.parametrize("name", ["ft06", "ft10"])
@pytest.mark.parametrize("priority", PRIORITY_RULES)
def test_no_priority_rule_of_ours_beats_the_shortest_makespan(
    published: Published, makespan: Makespan, name: str, priority: str
) -> None:
    assert makespan(change_scenario(published(name), {"run.priority": priority})) >= OPTIMA[name]


@pytest.mark.parametrize(("name", "tries"), [("ft06", 150), ("ft10", 50)])
def test_no_rule_made_up_at_random_beats_the_shortest_makespan(
    published: Published, makespan: Makespan, name: str, tries: int
) -> None:
    lengths = set()
    for number in range(tries):
        rank: dict[tuple[int, int], float] = {}
        dice = random.Random(number)

        def rule(task: Waiting, rank: dict[tuple[int, int], float] = rank, dice: random.Random = dice) -> float:
            return rank.setdefault((task.batch, task.step), dice.random())

        lengths.add(makespan(published(name), rule))
    assert min(lengths) >= OPTIMA[name]
    assert len(lengths) > 10  # the rules do differ


@pytest.mark.parametrize(("name", "longest_job", "busiest_machine"), [("ft06", 47, 43), ("ft10", 655, 631)])
def test_the_jobs_and_the_machines_of_the_file_add_up_to_the_known_bounds(
    published: Published, name: str, longest_job: int, busiest_machine: int
) -> None:
    # Sums by hand over the printed tables.
    designs = published(name).all_designs
    jobs = [sum(step.work.likely for step in design.operations) for design in designs]
    machines: dict[str | None, float] = {}
    for design in designs:
        for step in design.operations:
            machines[step.station] = machines.get(step.station, 0.0) + step.work.likely
    assert (max(jobs), max(machines.values())) == (longest_job, busiest_machine)


def test_a_printed_table_of_two_jobs_is_read_as_designs_of_steps() -> None:
    jobs = read_job_shop("2 3\n 1 5  0 2  2 7\n 2 4  1 1  0 9\n")
    assert jobs == [[(1, 5), (0, 2), (2, 7)], [(2, 4), (1, 1), (0, 9)]]
    text = write_job_shop(jobs, "two jobs", "made up here")
    assert text.startswith('# made up here\n\ntitle = "two jobs"\n')
    assert '{ name = "step 3", station = "machine 2", hands = 0, work = "7 min" },' in text


def test_a_printed_table_that_is_cut_short_is_refused() -> None:
    with pytest.raises(ValueError, match="2 jobs on 3 machines are not 4 numbers"):
        read_job_shop("2 3\n 1 5  0 2")
