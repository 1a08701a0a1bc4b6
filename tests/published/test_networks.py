"""Networks of uncertain tasks: expected times, the bias where paths meet, and what the textbook normal misses.

The eight activities A to H are those of the pollution example in Heizer & Render, Operations Management, chapter on
projects (data from memory), each with low, likely and high in weeks; here a week is an hour, so that nothing waits for a
calendar. Beta-PERT after Malcolm, Roseboom, Clark & Fazar 1959, Operations Research 7:646-669.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import NormalDist

import numpy as np
import pytest
from scipy import special

from shopsim import RunResult, Scenario, own_law, parse_scenario, run_once

from .converter import write_tasks

ACTIVITIES = "ABCDEFGH"
ESTIMATES = [(1, 2, 3), (2, 3, 4), (1, 2, 3), (2, 4, 6), (1, 4, 7), (1, 2, 9), (3, 4, 11), (1, 2, 3)]
AFTER = {3: (1,), 4: (1, 2), 5: (3,), 6: (3,), 7: (4, 5), 8: (6, 7)}
HOUR = 60.0

#: 20 replications of 2000 projects; by 4 standard errors a sound program fails one time in 16 000.
REPLICATIONS, PROJECTS = 20, 2000


def write_network(times: list[str], orders: int = 1) -> Scenario:
    return parse_scenario(write_tasks(times, AFTER, "", orders=orders))


def in_hours(expected: list[int]) -> list[str]:
    return [f'"{hours} h"' for hours in expected]


EXPECTED_TIMES = [(low + 4 * likely + high) // 6 for low, likely, high in ESTIMATES]


def test_the_expected_times_are_those_of_the_book() -> None:
    assert EXPECTED_TIMES == [2, 3, 2, 4, 4, 3, 5, 2]


def test_the_network_takes_fifteen_weeks_along_its_critical_path() -> None:
    run = run_once(write_network(in_hours(EXPECTED_TIMES)))
    assert run.pieces["elapsed_min"].tolist() == [15 * HOUR]
    assert run.holdups["operation"].tolist() == [f"task {ACTIVITIES.index(name) + 1}" for name in "ACEGH"]
    assert run.holdups["minutes"].sum() == 15 * HOUR


def test_every_activity_starts_at_its_early_start() -> None:
    tasks = run_once(write_network(in_hours(EXPECTED_TIMES))).tasks
    hours = (tasks["start"] - tasks["ready"].min()).dt.total_seconds() / 3600
    assert dict(zip(ACTIVITIES, hours, strict=True)) == {
        "A": 0, "B": 0, "C": 2, "D": 3, "E": 4, "F": 4, "G": 8, "H": 13,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("name", "slack"), [("A", 0), ("B", 1), ("C", 0), ("D", 1), ("E", 0), ("F", 6), ("G", 0), ("H", 0)]
)
def test_an_activity_may_last_longer_by_its_slack_and_no_more(name: str, slack: int) -> None:
    for more, late in [(slack, 0), (slack + 1, 1), (slack + 3, 3)]:
        times = EXPECTED_TIMES.copy()
        times[ACTIVITIES.index(name)] += more
        assert run_once(write_network(in_hours(times))).pieces["elapsed_min"].tolist() == [(15 + late) * HOUR]


def run_projects(scenario: Scenario, seed: int) -> Iterator[RunResult]:
    for replication in range(REPLICATIONS):
        yield run_once(scenario, seed=seed, replication=replication)


@pytest.fixture(scope="module")
def projects(each_floor: str) -> tuple[np.ndarray, np.ndarray]:
    """(hours each activity took, hours at which it was done), both of shape (8, projects)."""
    laws = [
        f'{{ law = "beta-pert", low = "{low} h", likely = "{likely} h", high = "{high} h" }}'
        for low, likely, high in ESTIMATES
    ]
    runs = list(run_projects(write_network(laws, PROJECTS), seed=1))
    return (
        np.hstack([run.record.work_min.reshape(8, PROJECTS) for run in runs]) / HOUR,
        np.hstack([run.record.done.reshape(8, PROJECTS) for run in runs]) / HOUR,
    )


def assert_mean(values: np.ndarray, exact: float) -> None:
    """Within 4 standard errors, which are no more than 1 % of the value."""
    error = float(values.std(ddof=1)) / math.sqrt(values.size)
    assert error <= 0.01 * abs(exact)
    assert abs(float(values.mean()) - exact) <= 4 * error


@pytest.mark.parametrize("name", ACTIVITIES)
def test_an_activity_has_the_mean_and_the_variance_of_its_law(
    projects: tuple[np.ndarray, np.ndarray], name: str
) -> None:
    # Mean (a + 4 m + b) / 6 (Malcolm et al. 1959); exact variance of that beta law (mean - a) (b - mean) / 7.
    times = projects[0][ACTIVITIES.index(name)]
    low, likely, high = ESTIMATES[ACTIVITIES.index(name)]
    mean = (low + 4 * likely + high) / 6
    assert low <= times.min() <= times.max() <= high
    assert_mean(times, mean)
    assert_mean((times - mean) ** 2, (mean - low) * (high - mean) / 7)


def test_the_critical_path_varies_as_its_beta_laws_say_and_not_as_the_textbook_rule_of_a_sixth(
    projects: tuple[np.ndarray, np.ndarray],
) -> None:
    # Sum of ((b - a) / 6)^2 over A C E G H: 28/9. Exact: 3/7 (A, C, H: 1/7 each) + 9/7 (E) + 12/7 (G) = 24/7.
    path = [ACTIVITIES.index(name) for name in "ACEGH"]
    assert sum(((ESTIMATES[n][2] - ESTIMATES[n][0]) / 6) ** 2 for n in path) == pytest.approx(28 / 9)
    total = projects[0][path].sum(axis=0)
    assert_mean(total, 15.0)
    assert_mean((total - 15.0) ** 2, 24 / 7)
    error = ((total - 15.0) ** 2).std() / math.sqrt(total.size)
    assert abs(((total - 15.0) ** 2).mean() - 28 / 9) > 4 * error


def test_where_paths_meet_the_project_is_later_than_its_critical_path(
    projects: tuple[np.ndarray, np.ndarray],
) -> None:
    # Bias where paths meet: MacCrimmon & Ryavec 1964, Operations Research 12:16-37; Van Slyke 1963, Operations Research
    # 11:839-860. The figures are from 40 million draws of the same network in another program, good to the last digit.
    finish = projects[1][7]
    assert_mean(finish, 15.234)
    assert_mean((finish - 15.234) ** 2, 1.712**2)
    assert_mean(finish <= 16, 0.6903)
    assert finish.mean() - 4 * finish.std() / math.sqrt(finish.size) > 15


def test_the_textbook_normal_promises_too_much(projects: tuple[np.ndarray, np.ndarray]) -> None:
    # Heizer & Render: P(T <= 16) from a normal with mean 15 and variance 28/9 is .7146 (.7157 with z rounded to .57).
    textbook = NormalDist(15, math.sqrt(28 / 9)).cdf(16)
    assert textbook == pytest.approx(0.7146, abs=0.00005)
    on_time = projects[1][7] <= 16
    assert on_time.mean() + 4 * on_time.std() / math.sqrt(on_time.size) < textbook


def test_the_path_with_slack_is_the_longest_in_a_quarter_of_the_runs(
    projects: tuple[np.ndarray, np.ndarray],
) -> None:
    # B-D-G-H has a slack of 1 on paper; .2588 from the same 40 million draws.
    done = dict(zip(ACTIVITIES, projects[1], strict=True))
    assert_mean((done["B"] > done["A"]) & (done["D"] > done["E"]) & (done["G"] > done["F"]), 0.2588)


def normal_of_ten(u: np.ndarray) -> np.ndarray:
    """A normal law of mean 10 and standard deviation 2, in hours."""
    return np.asarray((10 + 2 * special.ndtri(u)) * HOUR)


def test_the_later_of_two_equal_normals_is_that_of_clark() -> None:
    # C. E. Clark 1961, Operations Research 9:145-162, from memory: mean 10 + 2 / sqrt(pi) = 11.128379, variance 4 (1 - 1 / pi).
    operations: list[dict[str, object]] = [
        {"name": name, "after": [], "hands": 0, "work": own_law(normal_of_ten, 10 * HOUR)} for name in ("one", "other")
    ]
    scenario = Scenario.model_validate(
        {
            "shop": {"open": "always"},
            "design": {"name": "pair", "operations": operations},
            "run": {"orders": PROJECTS, "start": "2027-01-04"},
        }
    )
    later = np.concatenate([run.pieces["elapsed_min"].to_numpy() / HOUR for run in run_projects(scenario, seed=2)])
    assert 10 + 2 / math.sqrt(math.pi) == pytest.approx(11.128379, abs=5e-7)
    assert_mean(later, 11.128379)
    assert_mean((later - 11.128379) ** 2, 4 * (1 - 1 / math.pi))
