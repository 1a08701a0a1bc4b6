"""Logs that are far from what is believed: told with the slip they look like, before anything is taken in."""

from __future__ import annotations

from shopsim.answers.log_files import Logs
from shopsim.scenario.model import Scenario
from shopsim.study.day_doubts import doubt_days
from shopsim.study.doubts import doubt_times
from shopsim.study.taking_in import doubt_runs


def find_doubts(scenario: Scenario, logs: Logs) -> tuple[str, ...]:
    """In words, what in the logs is far from what the scenario believes; where the beliefs are right, fewer than one
    honest log in a hundred has anything. Costs some milliseconds; uses no luck."""
    doubts: list[str] = []
    if logs.times:
        doubts += doubt_runs(scenario, logs.times, logs.times_name)
        doubts += map(str, doubt_times(scenario, logs.times, logs.times_name))
    if logs.days:
        doubts += map(str, doubt_days(scenario, logs.days, logs.days_name))
    return tuple(doubts)
