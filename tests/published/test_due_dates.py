"""One after the other against the day each is promised: the rule "earliest due date".

J. R. Jackson, Scheduling a production line to minimize maximum tardiness, Management Sciences Research Project,
Research Report 43, University of California, Los Angeles, 1955: on one machine, no order has a smaller largest
lateness than that by due dates. The five drawings are the example of J. Heizer and B. Render, Operations Management,
chapter on short-term scheduling; both from memory.
"""

from __future__ import annotations

import datetime as dt
import itertools
import random
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from shopsim import Scenario, Waiting, change_scenario, parse_scenario, run_once

START = dt.date(2027, 1, 11)
#: Days of work, and the number of the day by whose end it is due.
DRAWINGS = [(6, 8), (2, 6), (8, 18), (3, 15), (9, 23)]


def write_jobs(jobs: Sequence[tuple[int, int]], folder: Path) -> Scenario:
    """One worker, day and night, and each job an order of its own with its own time and promised day."""
    kinds = "".join(
        f'[[design.options]]\nname = "job {n}"\nchange = [{{ operation = "draw", work = "{days} d" }}]\n'
        for n, (days, _) in enumerate(jobs, start=1)
    )
    rows = "".join(
        f"{n},2027-01-08,job {n},{START + dt.timedelta(days=due - 1)}\n" for n, (_, due) in enumerate(jobs, start=1)
    )
    (folder / "orders.csv").write_text("id,date,option,promised\n" + rows, encoding="utf-8")
    return parse_scenario(
        f"""
[shop]
open = "always"
[design]
name = "drawing"
operations = [{{ name = "draw", work = "1 d", pausable = true }}]
{kinds}
[run]
orders = "orders.csv"
orders_close = {START}
batch = 1
pieces_open = {len(jobs)}
priority = "due first"
""",
        folder=folder,
    )


def lateness(
    jobs: Sequence[tuple[int, int]], scenario: Scenario, rule: Callable[[Waiting], object] | None = None
) -> list[int]:
    """Days by which each job is late; less than 0 where it is early."""
    run = run_once(scenario, likely=True, rule=rule)
    assert run.check() == []
    done = run.record.done / 1440
    return [round(float(end)) - due for end, (_, due) in zip(done, jobs, strict=True)]


def sum_late(late: Sequence[int]) -> int:
    return sum(max(0, days) for days in late)


def test_the_five_drawings_are_late_by_as_many_days_as_the_book_says(tmp_path: Path) -> None:
    # Printed totals of days late: first come 11, shortest first 9, earliest due date 6.
    scenario = write_jobs(DRAWINGS, tmp_path)
    first_come = change_scenario(scenario, {"run.priority": "oldest batch"})
    assert sum_late(lateness(DRAWINGS, first_come)) == 11
    assert sum_late(lateness(DRAWINGS, scenario, lambda task: task.likely_min)) == 9
    by_due = lateness(DRAWINGS, scenario)
    assert by_due == [0, -4, 1, -4, 5]  # order 2, 1, 4, 3, 5: done after 2, 8, 11, 19 and 28 days
    assert sum_late(by_due) == 6


@pytest.mark.parametrize("seed", range(4))
def test_no_order_has_a_smaller_largest_lateness_than_that_by_due_dates(tmp_path: Path, seed: int) -> None:
    dice = random.Random(seed)
    jobs = [(dice.randint(1, 9), dice.randint(3, 25)) for _ in range(4)]
    scenario = write_jobs(jobs, tmp_path)
    largest = [
        max(lateness(jobs, scenario, lambda task, order=order: order[task.batch - 1]))  # type: ignore[misc]
        for order in itertools.permutations(range(4))
    ]
    assert max(lateness(jobs, scenario)) == min(largest) < max(largest)
