"""Hours a piece: as written, as expected, and why they differ; and what recalibrated or few runs may be said to keep."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy import special

from shopsim import parse_scenario
from shopsim.answers.delivery_words import _say_few, say_at_least
from shopsim.answers.hours_per_piece import HOURS, find_reasons, say_hours
from shopsim.engine.spreads import spread_of
from shopsim.scenario.model import Scenario
from shopsim.study.intervals import most_share
from shopsim.study.runner import run_study

README = Path(__file__).parents[2] / "README.md"


def test_the_three_numbers_stand_together_and_a_mean_is_called_one() -> None:
    values = np.arange(1.0, 20.0)  # mean 10; of 19, the 2nd and the 18th are the 10 and 90 % points
    assert say_hours(5.8, values, ["guesses tend to be short", "some work is done again"]) == (
        "Hours a piece: 5.8 as you wrote them (likely values and set-ups), 10.0 as we expect them (the mean of 19 runs; "
        "10 % are below 2.0, 10 % above 18.0). They differ because guesses tend to be short and some work is done again."
    )
    assert "They differ" not in say_hours(4.0, np.full(20, 4.0), ["guesses tend to be short"])


def test_only_reasons_that_are_true_of_the_file_are_given(write_shop: Callable[..., str]) -> None:
    def reasons(operation: str) -> list[str]:
        return find_reasons(parse_scenario(write_shop(operation)))

    short, lean, again = (
        "guesses tend to be short", "ranges that lean to the long side lift the mean above the likely value",
        "some work is done again",
    )  # fmt: skip
    assert reasons('{ name = "saw", work = "8 min" }') == []
    assert reasons('{ name = "saw", work = "8 / 10 / 12.5 min" }') == [short]  # 8 * 12.5 = 10 * 10: leans to no side
    assert reasons('{ name = "saw", work = "8 / 10 / 16 min" }') == [short, lean]
    assert reasons('{ name = "saw", work = "8 / 10 / 16 min", basis = "timed" }') == [lean]
    assert reasons('{ name = "saw", work = "8 min", redo = { chance = "3 %", work = "20 min" } }') == [again]


@pytest.mark.parametrize(("chances", "said"), [([0.91, 0.9], "90 %"), ([0.64, 0.92], "64 %"), ([0.8999, 0.95], "89 %")])
def test_no_more_is_said_to_be_kept_than_stands_in_the_table(chances: list[float], said: str) -> None:
    assert say_at_least(0.9, chances) == f"at least {said}"


def test_a_handful_of_runs_is_not_told_as_certain() -> None:
    # 19 of 19: the exact lower bound at 95 % is 0.05^(1/19) = 85.4 % (Clopper & Pearson 1934)
    assert (
        _say_few({"runs": 19, "chance_kept_low": 1 - most_share(0, 19)})
        == " (19 runs: by so few it may be as low as 85 %)"
    )
    assert _say_few({"runs": 1000, "chance_kept_low": 1 - most_share(0, 1000)}) == ""


def expected_over_likely(scenario: Scenario) -> float:
    """The mean of a guessed range over its likely value, in closed form.

    bias * E exp(N(0, s^2 + r^2)) * E exp(below z; z < 0) + ..: with E[exp(b z); z > 0] = exp(b^2 / 2) Phi(b), of a standard
    normal z (completing the square), and of two of them E exp(N(0, v)) = exp(v / 2).
    """
    operation, luck = scenario.all_designs[0].operations[0], scenario.luck
    spread = spread_of(operation, operation.work, luck)
    own = math.exp(spread.above**2 / 2) * special.ndtr(spread.above)
    own += math.exp(spread.below**2 / 2) * special.ndtr(-spread.below)
    return float(luck.bias * math.exp((luck.bias_spread**2 + luck.pace_spread**2) / 2) * own)


def told_in_readme() -> list[tuple[str, int]]:
    """Each range of README's sentence on how much longer work is expected to take, with its percent."""
    text = re.search(r"the mean of a guess is (.*?)\. `check`", README.read_text(encoding="utf-8"))
    assert text is not None
    return [
        (span, int(percent))
        for percent, span in re.findall(r"(\d+) % (?:above its likely value )?as `([^`]+)`", text[1])
    ]


def test_readme_tells_three_ranges() -> None:
    assert [span for span, _ in told_in_readme()] == ["30 / 40 / 50 min", "30 / 40 / 60 min", "30 / 40 / 80 min"]


@pytest.mark.parametrize(("span", "percent"), told_in_readme())
def test_how_much_longer_a_range_is_expected_to_take_is_what_readme_says(
    span: str, percent: int, write_shop: Callable[..., str]
) -> None:
    scenario = parse_scenario(write_shop(f'{{ name = "saw", work = "{span}" }}', run="orders = 1"))
    longer = expected_over_likely(scenario)
    assert round((longer - 1) * 100) == percent
    hours = run_study({"now": scenario}, replications=1000).values("now", HOURS)
    ratio = hours / (scenario.all_designs[0].operations[0].work.likely / 60)
    assert abs(ratio.mean() - longer) < 4 * ratio.std(ddof=1) / math.sqrt(ratio.size), (
        "runs have the mean of the formula"
    )
