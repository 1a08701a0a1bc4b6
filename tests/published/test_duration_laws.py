"""Named laws from the file to the record: what a task takes has the printed mean, variance and quantiles.

The formulas themselves are checked to the last digit in the tests of ``shopsim.laws``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopsim import parse_scenario, run_once

from .converter import write_tasks

REPLICATIONS, PIECES = 20, 2000

#: (law, mean, variance, 10 %, 50 % and 90 % point)
LAWS = [
    # Malcolm, Roseboom, Clark & Fazar 1959 (mean; the variance is the exact one of that beta law).
    ('law = "beta-pert", low = "2 min", likely = "3 min", high = "10 min"', 4, 12 / 7, 2.478469, 3.768959, 5.871226),
    # The triangular law of any handbook.
    ('law = "triangular", low = "2 min", likely = "3 min", high = "10 min"', 5, 57 / 18, 2.894427, 4.708497, 7.633568),
    # Aitchison & Brown 1957, The Lognormal Distribution (formulas from memory).
    ('law = "lognormal", median = "8 min", sigma = 0.5', 9.065188, 23.340535, 4.215068, 8, 15.183622),
    # A lognormal law with 6 and 12 at its 10 % and 90 % points: sigma ln 2 / (2 x 1.281552), median 8.485281.
    ('law = "lognormal", median = "8.485281 min", sigma = 0.270433', 8.801305, 5.877480, 6, 8.485281, 12),
    # Exponential of mean 20, and the sum of four of mean 5.
    ('law = "exponential", mean = "20 min"', 20, 400, 2.107210, 13.862944, 46.051702),
    ('law = "erlang", mean = "20 min", shape = 4', 20, 100, 8.723848, 18.360303, 33.403915),
]


@pytest.mark.parametrize(("law", "mean", "variance", "low", "middle", "high"), LAWS)
def test_a_named_law_is_taken_at_its_word(
    law: str, mean: float, variance: float, low: float, middle: float, high: float
) -> None:
    scenario = parse_scenario(write_tasks([f"{{ {law} }}"], {}, "", orders=PIECES))
    runs = [run_once(scenario, seed=3, replication=replication) for replication in range(REPLICATIONS)]
    times = np.concatenate([run.record.work_min for run in runs])
    error = times.std(ddof=1) / math.sqrt(times.size)
    assert error <= 0.01 * mean
    assert abs(times.mean() - mean) <= 4 * error
    squares = (times - mean) ** 2
    assert abs(squares.mean() - variance) <= 4 * squares.std(ddof=1) / math.sqrt(times.size)
    for share, point in ((0.1, low), (0.5, middle), (0.9, high)):
        assert abs((times <= point).mean() - share) <= 4 * math.sqrt(share * (1 - share) / times.size)
