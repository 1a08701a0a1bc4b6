"""What follows from logged times: the exact joint posterior of bias, pace and estimate errors.

For operation o, unit i, run k, on the log scale:

    log t = log likely + b + r_k + e_o + f s_o z_oik
    b ~ N(log bias, tau_b^2),  r_k ~ N(0, tau_r^2),  e_o ~ N(mu_o, tau_o^2),  z ~ N(0, 1)

with b the shop's bias, r_k the pace of a run, e_o the error of an estimate, s_o the unit
noise of the kind of work, and f one factor on it for the whole shop. mu_o is 0 where low and high
lie as far from likely (on the log scale), else the mean of the lopsided law that holds before any
log, so that logging one operation does not shift what is believed of the rest. All unknowns are
normal and enter linearly, so that their joint posterior is normal and needs no iteration
(normal linear model with known variances: Gelman et al., Bayesian Data Analysis, 3rd ed.,
ch. 14; from memory). f^2 is pooled: NOISE_WORTH of what the file says, and the squares
within the cells of the log.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopsim.engine.routing import RoutingStep
from shopsim.laws import Z90, Law
from shopsim.scenario.model import Design, LoggedTimes, Luck, Operation
from shopsim.scenario.variants import every_operation

#: Widening stops at this standard deviation of the logarithm (own assumption).
WIDEST = 1.0
#: Degrees of freedom that the stated unit noise is worth (own judgement).
NOISE_WORTH = 8.0
#: Least unit noise assumed of a log, as a standard deviation of the logarithm.
MIN_NOISE = 0.02

#: What an operation is known by in a log: its design (None: whichever has it) and its name.
_Key = tuple[str | None, str]


@dataclass(frozen=True)
class LearnedStep:
    """An operation of which times were logged.

    ``steps``: its step, and those of its other versions where an option changes it; they share its
    error. ``error``: prior sd of its estimate error, ``centre`` its prior mean; ``noise``: sd of a unit's time.
    """

    steps: tuple[int, ...]
    error: float
    centre: float
    noise: float


@dataclass(frozen=True)
class LearnedTimes:
    """The posterior of the bias and of the estimate errors of the logged operations.

    ``steps``: the logged operations that vary, in the order of the file. ``mean``: of the bias (on
    the log scale), then of their errors, shape (1 + steps,); ``covariance`` accordingly, ``root`` its
    lower Cholesky factor. ``noise_factor``: f of the module's formula. ``runs``: name of each
    logged run; ``pace_mean``, ``pace_sd``: of their paces. ``goes_on``: one of the runs is under way, and its own pace stands
    last in ``mean``, ``covariance`` and ``root``: what is left of it is drawn at that pace, not at a fresh one.
    """

    steps: tuple[LearnedStep, ...]
    mean: np.ndarray
    covariance: np.ndarray
    root: np.ndarray
    noise_factor: float
    runs: tuple[str, ...]
    pace_mean: np.ndarray
    pace_sd: np.ndarray
    goes_on: bool = False

    def draw(self, z_bias: float, z_step: np.ndarray) -> tuple[float, np.ndarray]:
        """(bias on the log scale, errors of the logged operations) at standard normal scores.

        ``z_step``: the score of every step of the worklist; those of logged steps are used.
        """
        n = 1 + len(self.steps)
        drawn = self.mean[:n] + self.root[:n, :n] @ self._scores(z_bias, z_step)
        return float(drawn[0]), drawn[1:]

    def draw_pace(self, z_bias: float, z_step: np.ndarray, z_pace: float) -> float:
        """The pace of the run that is under way, on the log scale, together with what ``draw`` gives at the same scores."""
        return float(self.mean[-1] + self.root[-1] @ np.append(self._scores(z_bias, z_step), z_pace))

    def _scores(self, z_bias: float, z_step: np.ndarray) -> np.ndarray:
        return np.concatenate(([z_bias], z_step[[step.steps[0] for step in self.steps]]))


def believed_range(law: Law) -> tuple[float, float, float]:
    """Low / likely / high of a law, all above 0: a low value counts as no less than a twentieth of the likely one."""
    likely = law.numbers[1] or 1.0
    return min(max(law.numbers[0], likely / 20), likely), likely, max(law.numbers[2], likely)


def split_spread(operation: Operation, law: Law, beliefs: Luck) -> tuple[float, float]:
    """(sd of the estimate error, sd of the unit noise) of a low / likely / high, on the log scale.

    The claimed spread log(high / low) / 2.563 is widened, more for a guess than for a timed
    value, and what is over the unit noise of the kind of work is error of the estimate. A widened
    spread never passes WIDEST unless the claim itself does (own assumption: a range that wide
    says already that little is known).
    """
    guess = operation.basis == "guess"
    noise = beliefs.hand_spread if operation.work_kind == "hand" else beliefs.machine_spread
    widening = beliefs.guess_widening if guess else beliefs.timed_widening
    least = beliefs.guess_spread if guess else beliefs.timed_spread
    low, _, high = believed_range(law)
    claimed = math.log(high / low) / (2 * Z90)
    return math.sqrt(max(least**2, min(widening * claimed, max(claimed, WIDEST)) ** 2 - noise**2)), noise


def lean_of(law: Law, total: float) -> float:
    """The mean, on the log scale, of a two-piece law about its likely value, where its sd would be ``total`` if it were even.

    The normal score is stretched by one factor below and another above 0: their difference over root two pi.
    """
    low, likely, high = believed_range(law)
    claimed = math.log(high / low) / (2 * Z90)
    if claimed <= 0.0:
        return 0.0
    uneven = math.log(high / likely) - math.log(likely / low)
    return total * uneven / (claimed * Z90) / math.sqrt(2 * math.pi)


def can_learn(operation: Operation) -> bool:
    """Whether logged times change what is believed of an operation: only low / likely / high leaves anything to learn."""
    return operation.work.name == "range" and operation.work.numbers[1] > 0.0


def find_steps(cell: LoggedTimes, steps: Sequence[RoutingStep], designs: Sequence[Design]) -> tuple[int, ...]:
    """The steps a cell of a log is about, of one design, all versions; empty where no design has it now."""
    found = [
        number
        for number, step in enumerate(steps)
        if step.operation.name == cell.operation and cell.design in (None, designs[step.design].name)
    ]
    return tuple(number for number in found if steps[number].design == steps[found[0]].design)


def learn_times(
    cells: Sequence[LoggedTimes],
    steps: Sequence[RoutingStep],
    designs: Sequence[Design],
    beliefs: Luck,
    under_way: str = "",
) -> LearnedTimes | None:
    """The posterior that follows from logged times; None where nothing in them can be learned from.

    ``under_way``: the name of the run that is under way, whose own pace is then part of the posterior.

    A cell about an operation that only options bring which no piece has tells of bias and pace as
    any other does, and so does one that no design has any more, with the error of a guess of its
    own. Costs well under a millisecond for 40 operations.
    """
    steps_of: dict[_Key, tuple[int, ...]] = {}
    operations: dict[_Key, Operation | None] = {}
    used: list[tuple[LoggedTimes, float, _Key]] = []
    for cell in cells:
        found = find_steps(cell, steps, designs)
        shift = 0.0
        key: _Key = (cell.design, cell.operation)
        design, operation = _find_operation(cell, found, steps, designs)
        if operation is not None:
            if not can_learn(operation):
                continue
            key = (design, operation.name)
            if cell.likely is not None:
                if cell.likely <= 0.0:
                    continue
                shift = math.log(cell.likely / operation.work.likely)
        steps_of[key] = found
        operations[key] = operation
        used.append((cell, cell.mean + shift, key))
    if not used:
        return None
    keys = sorted(steps_of, key=lambda key: (steps_of[key] or (len(steps),))[0])
    prior = [_prior_of(operations[key], beliefs) for key in keys]
    runs = tuple(dict.fromkeys(cell.run for cell, _, _ in used))
    factor2 = _pool_noise(used, keys, prior)
    n = 1 + len(runs) + len(keys)
    precision, h = np.zeros((n, n)), np.zeros(n)
    spreads = [beliefs.bias_spread, *[beliefs.pace_spread] * len(runs), *(error for error, _, _ in prior)]
    centres = [math.log(beliefs.bias), *[0.0] * len(runs), *(centre for _, centre, _ in prior)]
    precision[np.diag_indices(n)] = [1.0 / max(spread, 1e-6) ** 2 for spread in spreads]
    h[:] = np.diag(precision) * centres
    for cell, mean, key in used:
        noise = prior[keys.index(key)][2]
        weight = cell.units / (factor2 * noise**2)
        where = np.array([0, 1 + runs.index(cell.run), 1 + len(runs) + keys.index(key)])
        precision[np.ix_(where, where)] += weight
        h[where] += weight * mean
    covariance = np.linalg.inv(precision)
    mean_all = covariance @ h
    known = [place for place, key in enumerate(keys) if steps_of[key]]
    goes_on = under_way in runs
    own_pace = [1 + runs.index(under_way)] if goes_on else []
    kept = np.array([0, *(1 + len(runs) + place for place in known), *own_pace])
    own = covariance[np.ix_(kept, kept)]
    own = (own + own.T) / 2
    paces = slice(1, 1 + len(runs))
    return LearnedTimes(
        steps=tuple(LearnedStep(steps_of[keys[place]], *prior[place]) for place in known),
        mean=mean_all[kept],
        covariance=own,
        root=np.linalg.cholesky(own),
        noise_factor=math.sqrt(factor2),
        runs=runs,
        pace_mean=mean_all[paces],
        pace_sd=np.sqrt(np.diag(covariance)[paces]),
        goes_on=goes_on,
    )


def _find_operation(
    cell: LoggedTimes, found: Sequence[int], steps: Sequence[RoutingStep], designs: Sequence[Design]
) -> tuple[str | None, Operation | None]:
    """(design, operation) that a cell of a log is about: of the steps found, or else of an option that no piece has."""
    if found:
        return designs[steps[found[0]].design].name, steps[found[0]].operation
    for design in designs:
        if cell.design in (None, design.name):
            for operation in every_operation(design):
                if operation.name == cell.operation:
                    return design.name, operation
    return cell.design, None


def _prior_of(operation: Operation | None, beliefs: Luck) -> tuple[float, float, float]:
    """(sd and mean of the error, noise) believed of an operation before any log."""
    if operation is None:
        return beliefs.guess_spread, 0.0, max(beliefs.hand_spread, MIN_NOISE)
    error, noise = split_spread(operation, operation.work, beliefs)
    return error, lean_of(operation.work, math.hypot(error, noise)), max(noise, MIN_NOISE)


def _pool_noise(
    used: Sequence[tuple[LoggedTimes, float, _Key]],
    keys: Sequence[_Key],
    prior: Sequence[tuple[float, float, float]],
) -> float:
    freedom, squares = NOISE_WORTH, NOISE_WORTH
    for cell, _, key in used:
        freedom += (cell.times or cell.units) - 1
        squares += cell.squares / prior[keys.index(key)][2] ** 2
    return squares / freedom
