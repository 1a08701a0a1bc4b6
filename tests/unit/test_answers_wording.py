"""How numbers are said: never surer than they are, and in units a maker uses."""

from __future__ import annotations

import pytest

from shopsim.answers.wording import join_words, say_count, say_days, say_gain, say_hours_gain
from shopsim.study.intervals import Interval


def gain(value: float, half: float) -> Interval:
    return Interval(value, value - half, value + half, 0.95)


def test_lengths_are_whole_days() -> None:
    assert [say_days(days) for days in (0.4, -1.2, 12.4)] == ["less than a day", "1 day", "12 days"]
    assert say_count(1537, "replication") == "1,537 replications"
    assert [say_count(n, "person", "people") for n in (1, 2)] == ["1 person", "2 people"]


@pytest.mark.parametrize(
    ("value", "half", "said"),
    [
        (3.2, 0.9, "3.2 days (2.3 to 4.1)"),
        (0.8, 0.3, "0.8 days (0.5 to 1.1)"),
        (-0.8, 0.3, "0.8 days (0.5 to 1.1)"),
        (1.02, 0.04, "1.0 days (1.0 to 1.1)"),
        (12.4, 0.2, "12.4 days (12.2 to 12.6)"),
        (2.25, 0.0, "2.2 days"),
        (0.4, 0.6, "0.4 days (-0.2 to 1.0)"),
        (-0.4, 0.6, "0.4 days (-0.2 to 1.0)"),
    ],
)
def test_days_saved_are_said_with_the_numbers_of_the_table(value: float, half: float, said: str) -> None:
    assert say_gain(gain(value, half)) == said


@pytest.mark.parametrize(
    ("hours", "half", "said"),
    [
        (0.2, 0.05, "about 12 minutes (9 to 15)"),
        (1 / 60, 0.001, "about 1 minute"),
        (0.2, 0.005, "about 12 minutes"),
        (0.005, 0.001, "less than a minute"),
        (3.25, 0.5, "about 3.2 hours (2.8 to 3.8)"),
        (3.0, 0.001, "about 3.0 hours"),
    ],
)
def test_few_hours_are_said_in_minutes(hours: float, half: float, said: str) -> None:
    assert say_hours_gain(gain(hours, half)) == said


def test_lists_are_joined_as_in_speech() -> None:
    assert join_words([]) == ""
    assert join_words(["bench"]) == "bench"
    assert join_words(["bench", "saw", "rack"], "or") == "bench, saw or rack"
