"""Operations whose logged times contradict what the file says of them, told in words with a mend."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scipy import special

from shopsim.engine.learned import LEAST_NOISE, LearnedTimes, can_learn, learn_times
from shopsim.engine.steps import Step
from shopsim.laws import Z90
from shopsim.scenario.model import LoggedTimes, Scenario
from shopsim.study.beliefs import name_steps, steps_of

#: Chance below which so many times outside low to high, or so large an error, are called a contradiction.
CONTRADICTION = 0.02
#: Times of an operation that must be logged before it is said that they contradict its low to high.
LEAST_TIMES = 4
#: Share of times that a low / likely / high claims for itself.
CLAIMED = 0.8


def flag_contradictions(scenario: Scenario) -> list[str]:
    """In words, the operations whose logged times contradict what the file says of them; each with a mend."""
    steps = steps_of(scenario)
    posterior = learn_times(scenario.learned.times, steps, scenario.all_designs, scenario.luck)
    places = {} if posterior is None else {step.steps[0]: n for n, step in enumerate(posterior.steps)}
    flags = []
    for (design, _), number in name_steps(scenario, steps).items():
        step, operation = steps[number], steps[number].operation
        cells = [
            cell
            for cell in scenario.learned.times
            if cell.operation == operation.name and cell.design in (None, design)
        ]
        if not cells:
            continue
        if not can_learn(operation):
            flags.append(_flag_word(operation.name, operation.work.likely, cells))
        elif posterior is not None and number in places:
            flags.append(_flag_range(scenario, step, cells, posterior, places[number]))
    return [flag for flag in flags if flag]


def _flag_word(name: str, likely: float, cells: Sequence[LoggedTimes]) -> str:
    """Of an operation stated without low and high, which logged times do not change."""
    mean = sum(cell.units * cell.mean for cell in cells) / sum(cell.units for cell in cells)
    return (
        f'"{name}" is stated without low / likely / high and so taken at its word: the log does not change it, though '
        f"it took {math.exp(mean):.2f} times the {likely:g} min that are stated. Write low / likely / high to learn."
    )


def _flag_range(
    scenario: Scenario, step: Step, cells: Sequence[LoggedTimes], posterior: LearnedTimes, place: int
) -> str:
    operation = step.operation
    low, likely, high = operation.work.numbers
    learned = posterior.steps[place]
    times = sum(cell.times or cell.units for cell in cells)
    outside = sum(cell.outside for cell in cells)
    often = times >= LEAST_TIMES and float(special.bdtrc(outside - 1, times, 1 - CLAIMED)) < CONTRADICTION
    error = float(posterior.mean[1 + place])
    limit = -float(special.ndtri(CONTRADICTION / 2)) * learned.error
    middle = float(posterior.mean[0] + error)
    noise = max(posterior.noise_factor * learned.noise, LEAST_NOISE)
    new = " / ".join(_few_digits(likely * math.exp(middle + z * noise)) for z in (-Z90, 0.0, Z90))
    mend = f'its times would fit "{new} min"'
    if often:
        return (
            f'"{operation.name}" contradicts its guess: {outside} of {times} logged times lie outside {low:g} to '
            f"{high:g} min, where {round((1 - CLAIMED) * times)} would be usual; {mend}."
        )
    beyond = error - learned.centre
    if abs(beyond) <= limit:
        return ""
    how = f"{math.exp(beyond):.1f} times what" if beyond > 0 else f"only {math.exp(beyond) * 100:.0f} % of what"
    return f'"{operation.name}" contradicts its guess: beyond what all logged times share it takes {how} is stated; {mend}.'


def _few_digits(minutes: float) -> str:
    return f"{minutes:.3g}" if minutes < 1000 else f"{minutes:.0f}"
