"""Operations whose logged times contradict what the file says of them, told in words with a mend."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shopsim.engine.learned import MIN_NOISE, LearnedTimes, can_learn, learn_times, split_spread
from shopsim.engine.lopsided import Lopsided
from shopsim.engine.routing import RoutingStep
from shopsim.engine.spreads import spread_of
from shopsim.laws import Z90
from shopsim.scenario.model import LoggedTimes, Operation, Scenario
from shopsim.study.beliefs import name_steps, steps_of

#: An error so far out that it, or more on its side, has half this chance is called a contradiction: where the
#: beliefs are right, about so many logged operations are named by luck.
CONTRADICTION = 0.02


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
    scenario: Scenario, step: RoutingStep, cells: Sequence[LoggedTimes], posterior: LearnedTimes, place: int
) -> str:
    """Of an operation whose error is further out than its range, widened as the runs widen it, leaves likely."""
    operation = step.operation
    low, likely, high = operation.work.numbers
    learned = posterior.steps[place]
    seen = _seen_error(posterior, place)
    if seen is None:
        return ""
    error, variance = seen
    units = sum(cell.units for cell in cells)
    noise = max(posterior.noise_factor * learned.noise, MIN_NOISE)
    if believe_error(scenario, operation, noise**2 / units, variance).tail(error) >= CONTRADICTION:
        return ""
    middle = float(posterior.mean[0] + posterior.mean[1 + place])
    new = " / ".join(_few_digits(likely * math.exp(middle + z * noise)) for z in (-Z90, 0.0, Z90))
    how = f"{math.exp(error):.1f} times what" if error > 0 else f"only {math.exp(error) * 100:.0f} % of what"
    times, outside = sum(cell.times or cell.units for cell in cells), sum(cell.outside for cell in cells)
    lie = f" ({outside} of {times} logged times lie outside {low:g} to {high:g} min)" if outside else ""
    return (
        f'"{operation.name}" contradicts its guess: beyond what all logged times share it takes {how} is stated{lie}; '
        f'its times would fit "{new} min".'
    )


def _seen_error(posterior: LearnedTimes, place: int) -> tuple[float, float] | None:
    """(the error of an operation's estimate as the logs alone show it, its variance); None where they show nothing.

    What the prior of the error itself put in is taken out of the posterior again; the uncertainty of
    bias, pace and units stays in.
    """
    learned = posterior.steps[place]
    variance, prior = float(posterior.covariance[1 + place, 1 + place]), max(learned.error, 1e-6) ** 2
    precision = 1.0 / variance - 1.0 / prior
    if precision <= 1e-9 / prior:
        return None
    return (float(posterior.mean[1 + place]) / variance - learned.centre / prior) / precision, 1.0 / precision


def believe_error(scenario: Scenario, operation: Operation, of_units: float, variance: float) -> Lopsided:
    """What is believed, before any log, of the mean error of some units of an operation as a log would show it.

    ``of_units``: variance of that mean from unit to unit. ``variance``: of all that makes it unsure but the
    error itself, ``of_units`` included. The range is widened as the runs widen it, each side by itself.
    """
    spread = spread_of(operation, operation.work, scenario.luck)
    error, noise = split_spread(operation, operation.work, scenario.luck)
    share = math.sqrt(error**2 + of_units) / math.hypot(error, noise) if error + noise > 0.0 else 0.0
    rest = math.sqrt(max(variance - of_units, 0.0))
    return Lopsided(0.0, share * spread.below, share * spread.above, rest)


def _few_digits(minutes: float) -> str:
    return f"{minutes:.3g}" if minutes < 1000 else f"{minutes:.0f}"
