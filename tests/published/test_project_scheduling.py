"""Projects with scarce resources: ten instances of J30 (Kolisch & Sprecher 1997, PSPLIB, EJOR 96:205-216).

The greedy scheme in time (Kelley 1963, in Muth & Thompson; Kolisch 1996, EJOR 90:320-333, calls it parallel): at each
moment start every job whose predecessors are done and whose whole requirement is free, in the order of a rule, ties by
job number. What it gives is no printed value; two programs written apart from each other agree on the whole numbers.
Optima: list of the public repository ptal/kobe-scheduling, each proven again with a solver.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shopsim import Scenario, Waiting, change_scenario

from .converter import read_project, write_project

Published = Callable[[str], Scenario]
Makespan = Callable[..., float]

#: instance: (critical path printed in the file, optimum, by latest finish, by most total successors, by shortest).
EXPECTED = {
    "j301_1": (38, 43, 43, 43, 45),
    "j305_2": (56, 82, 90, 85, 92),
    "j3010_1": (41, 42, 45, 45, 54),
    "j3013_4": (50, 72, 77, 77, 101),
    "j3017_7": (50, 57, 57, 57, 58),
    "j3025_8": (38, 69, 79, 77, 83),
    "j3029_9": (52, 97, 113, 114, 124),
    "j3037_4": (62, 83, 86, 86, 90),
    "j3041_6": (65, 103, 110, 112, 117),
    "j3046_1": (58, 59, 62, 62, 81),
}


class Network:
    """What the rules look at: by job, its time, all that comes after it, and the longest way from it to the end."""

    def __init__(self, scenario: Scenario) -> None:
        operations = scenario.all_designs[0].operations
        self.time = {operation.name: operation.work.likely for operation in operations}
        self.followers: dict[str, list[str]] = {name: [] for name in self.time}
        for operation in operations:
            for earlier in operation.after or ():
                self.followers[earlier].append(operation.name)
        self.tail = dict.fromkeys(self.time, 0.0)  # after the job itself
        self.after: dict[str, set[str]] = {name: set() for name in self.time}
        for name in reversed(self.time):  # the numbering is topological
            for later in self.followers[name]:
                self.tail[name] = max(self.tail[name], self.time[later] + self.tail[later])
                self.after[name] |= {later} | self.after[later]

    @property
    def critical_path(self) -> float:
        first = next(iter(self.time))
        return self.time[first] + self.tail[first]


def by_latest_finish(network: Network) -> Callable[[Waiting], object]:
    return lambda task: (network.critical_path - network.tail[task.operation], task.step)


def by_most_total_successors(network: Network) -> Callable[[Waiting], object]:
    return lambda task: (-len(network.after[task.operation]), task.step)


def by_shortest(network: Network) -> Callable[[Waiting], object]:
    return lambda task: (network.time[task.operation], task.step)


@pytest.mark.parametrize("name", EXPECTED)
def test_the_greedy_scheme_takes_exactly_so_many_minutes_by_each_rule(
    published: Published, makespan: Makespan, name: str
) -> None:
    scenario = published(name)
    network = Network(scenario)
    rules = (by_latest_finish, by_most_total_successors, by_shortest)
    assert tuple(makespan(scenario, rule(network)) for rule in rules) == EXPECTED[name][2:]


@pytest.mark.parametrize("name", EXPECTED)
def test_no_rule_beats_the_optimum(published: Published, makespan: Makespan, name: str) -> None:
    scenario = published(name)
    reached = [
        makespan(scenario, lambda task, a=a, b=b: ((task.step * a + b) % 37, task.step))
        for a, b in [(1, 0), (36, 0), (5, 3), (11, 7), (17, 1), (23, 30)]
    ]
    reached += [
        makespan(change_scenario(scenario, {"run.priority": order})) for order in ("glue first", "longest tail")
    ]
    assert min(reached) >= EXPECTED[name][1]


@pytest.mark.parametrize("name", EXPECTED)
def test_with_plenty_of_everything_it_takes_the_critical_path(
    published: Published, makespan: Makespan, name: str
) -> None:
    plenty = {f'shop.clamps."R{n}".count': 10_000 for n in range(1, 5)}
    scenario = change_scenario(published(name), plenty)
    assert Network(scenario).critical_path == EXPECTED[name][0]
    assert makespan(scenario) == EXPECTED[name][0]


SMALL_PROJECT = """\
PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          2           2   3
   2        1          1           4
   3        1          1           4
   4        1          0
************************************************************************
REQUESTS/DURATIONS:
jobnr. mode duration  R 1  R 2
------------------------------------------------------------------------
  1      1     0       0    0
  2      1     5       3    0
  3      1     7       2    1
  4      1     0       0    0
************************************************************************
RESOURCEAVAILABILITIES:
  R 1  R 2
    4    1
************************************************************************
"""


def test_a_project_file_is_read_as_one_design_with_clamps_for_resources() -> None:
    project = read_project(SMALL_PROJECT)
    assert project.available == [4, 1]
    text = write_project(project, "small")
    assert 'clamps = [{ name = "R1", count = 4 }, { name = "R2", count = 1 }]' in text
    assert (
        '{ name = "job 3", after = ["job 1"], hands = 0, work = "7 min", '
        'clamps = [{ count = 2, kind = "R1" }, { count = 1, kind = "R2" }] },'
    ) in text
    assert '{ name = "job 4", after = ["job 2", "job 3"], hands = 0, work = "0 min" },' in text


def test_a_project_file_without_its_needs_is_refused() -> None:
    with pytest.raises(ValueError, match="no section REQUESTS/DURATIONS"):
        read_project(SMALL_PROJECT.replace("REQUESTS/DURATIONS:", "REQUESTS"))
