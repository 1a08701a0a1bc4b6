"""On small shops what it would take is what every set of levers, run many times on other luck, comes to.

The larger trial, with 20,000 runs of every set, is ``tests/benchmarks/bench_reach.py``.
"""

from __future__ import annotations

import pytest
from bench_reach import compare_with_every_set


@pytest.mark.slow
@pytest.mark.parametrize("number", [0, 1])
def test_the_list_agrees_with_every_set_run_two_thousand_times(number: int) -> None:
    assert compare_with_every_set(number, 2_000) == []
