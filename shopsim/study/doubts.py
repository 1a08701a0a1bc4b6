"""Logged times far from what is believed, found before they are taken in, each with the slip it looks like.

A log is held against its own prior predictive: what it would say with a stated chance if the beliefs
were right. For one run the mean y of the logarithms of actual over likely, for operation o with n units, is
b + r + e_o + noise / sqrt(n), with every part as ``engine/learned.py`` has it and each range as lopsided as the
runs draw it. Questioned is

- a run whose common shift has a chance under RUN (all of it in hours, say);
- an operation as far out as CELL allows for all operations of the log together;
- a row that far from the others of its operation, under ROW;
- two operations whose times fit far better the other way round, or one whose times fit as a total for the
  batch: the likelihood ratio of the slip as a normal score, under SLIP for all that could be told at all.

Together fewer than one honest log in a hundred comes up where the beliefs are right (measured in tests/learning).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from scipy import special

from shopsim.engine.learned import MIN_NOISE, can_learn, learn_times
from shopsim.engine.lopsided import Lopsided
from shopsim.scenario.logs import TimeRow
from shopsim.scenario.model import Scenario
from shopsim.study.beliefs import believe_bias, name_steps, steps_of
from shopsim.study.contradictions import believe_error
from shopsim.study.row_doubts import CELL, LOG_HOUR, RUN, SLIP, Doubt, Seen, doubt_rows, say_few
from shopsim.study.taking_in import find_new, gather_times

#: A slip that moves a log by fewer standard deviations than this cannot be told from luck, and is not looked for.
MIN_MOVE = 2.5
#: An explanation fits if what it makes of the log has at least this chance.
FITS = 0.02


def doubt_times(scenario: Scenario, rows: Sequence[TimeRow], log: str) -> list[Doubt]:
    """What in a log of task times is far from what the scenario believes; empty where nothing is.

    Rows that were taken in before as they stand are not questioned again; what else was learned of the same runs is left
    out of account, as this log is to take its place.
    """
    rows = find_new(scenario, rows, log)
    runs = dict.fromkeys(row.run for row in rows)
    doubts: list[Doubt] = []
    for run in runs:
        mine = [row for row in rows if row.run == run]
        seen, common = _look_at(scenario, set(runs), mine, log)
        if seen:
            doubts += _doubt_run(scenario, seen, common, len(runs), log, run if len(runs) > 1 else "")
    return doubts


def _look_at(scenario: Scenario, runs: set[str], rows: Sequence[TimeRow], log: str) -> tuple[list[Seen], np.ndarray]:
    """(the operations of one run that can be learned, covariance of what is believed of their means)."""
    times = tuple(cell for cell in scenario.learned.times if cell.run not in runs)
    known = scenario.model_copy(update={"learned": scenario.learned.model_copy(update={"times": times})})
    steps = steps_of(known)
    posterior = learn_times(times, steps, known.all_designs, known.luck)
    places = {} if posterior is None else {step.steps[0]: n + 1 for n, step in enumerate(posterior.steps)}
    named = name_steps(known, steps)
    bias, bias_sd = believe_bias(known)
    pace = known.luck.pace_spread
    factor2 = 1.0 if posterior is None else posterior.noise_factor**2
    seen, shared = [], np.array([[bias_sd**2]]) if posterior is None else posterior.covariance
    designs = {row.design for row in rows}
    for cell in gather_times(rows, known, log):
        design = cell.design or next(iter(designs))
        number = named[design, cell.operation]
        operation = steps[number].operation
        if not can_learn(operation):
            continue
        noise = max(known.luck.hand_spread if operation.work_kind == "hand" else known.luck.machine_spread, MIN_NOISE)
        of_units = factor2 * noise**2 / cell.units
        at = places.get(number, 0)
        if at and posterior is not None:
            own = shared[0, 0] + shared[at, at] + 2 * shared[0, at] + pace**2 + of_units
            law = Lopsided(float(posterior.mean[0] + posterior.mean[at]), 0.0, 0.0, math.sqrt(own))
        else:
            even = believe_error(known, operation, of_units, of_units + bias_sd**2 + pace**2)
            law = replace(even, middle=bias)
        mine = tuple(row for row in rows if row.operation == cell.operation and row.design == design)
        seen.append(Seen(cell, operation, mine, cell.mean, law, noise, at))
    at_all = np.array([one.at for one in seen], dtype=np.int64)
    error = np.where(at_all > 0, 1.0, 0.0)
    common = (
        shared[0, 0] + pace**2
        + error[:, None] * shared[at_all, 0][:, None] + error[None, :] * shared[0, at_all][None, :]
        + error[:, None] * error[None, :] * shared[np.ix_(at_all, at_all)]
    )  # fmt: skip
    if seen:
        common[np.diag_indices(len(seen))] = [one.law.variance for one in seen]
    return seen, common


def _doubt_run(
    scenario: Scenario, seen: Sequence[Seen], common: np.ndarray, runs: int, log: str, run: str
) -> Iterator[Doubt]:
    out = [one.law.tail(one.mean) < CELL / (len(seen) * runs) for one in seen]
    rest = [place for place, far in enumerate(out) if not far]
    whole = len(seen) > 1 and (
        len(rest) < len(seen) / 2 or _chance_of_shift([seen[n] for n in rest], common[np.ix_(rest, rest)]) < RUN / runs
    )
    if whole:
        yield _say_run(scenario, seen, common, log, run)
        return
    swapped = _find_slips(scenario, seen, out, runs)
    for place, one in enumerate(seen):
        if out[place] or place in swapped:
            yield _say_cell(scenario, seen, place, swapped.get(place), log, run)
        else:
            yield from doubt_rows(one, sum(len(other.rows) for other in seen) * runs, log)


def _chance_of_shift(seen: Sequence[Seen], common: np.ndarray) -> float:
    """The chance, on both sides, of a common shift of all operations as large as theirs."""
    if not seen:
        return 1.0
    solved = np.linalg.solve(common, np.ones(len(seen)))
    off = np.array([one.mean - one.law.mean for one in seen])
    score = float(solved @ off) / math.sqrt(float(solved.sum()))
    return 2 * float(special.ndtr(-abs(score)))


def _batch(scenario: Scenario) -> int:
    return max((line.batch for line in scenario.lines if line.batch), default=1)


def _slips(scenario: Scenario) -> list[tuple[float, str]]:
    """(what the slip adds to a logarithm, in words and with its mend)."""
    found = [
        (-LOG_HOUR, "are they in hours? Write the unit, like 0.2 h, or call the column hours"),
        (LOG_HOUR, "are they in seconds? Write the unit, like 90 s, or call the column seconds"),
    ]
    batch = _batch(scenario)
    if batch > 1:
        found.append(
            (math.log(batch), f"are they totals for a batch of {batch}? Write {batch} in a column units, and no piece")
        )
    return found


def _say_run(scenario: Scenario, seen: Sequence[Seen], common: np.ndarray, log: str, run: str) -> Doubt:
    weights = np.linalg.solve(common, np.ones(len(seen)))
    weights /= weights.sum()
    off = float(weights @ [one.mean for one in seen])
    usual = float(weights @ [one.law.mean for one in seen])
    best = max(
        _slips(scenario),
        key=lambda slip: _chance_of_shift([one.shifted(-slip[0]) for one in seen], common),
    )
    fits = _chance_of_shift([one.shifted(-best[0]) for one in seen], common) >= FITS
    return Doubt(
        log,
        None,
        f'run "{run}"' if run else "",
        f"its times are about {_say_ratio(off)} the likely times of the file, where about {_say_ratio(usual)} is believed",
        best[1] if fits else "look at the unit, the names and the number of pieces",
    )


def _find_slips(
    scenario: Scenario, seen: Sequence[Seen], out: Sequence[bool], runs: int
) -> dict[int, tuple[float, str]]:
    """By place, the slips that explain a log far better than luck does: times swapped, or totals for the batch."""
    found: list[tuple[float, tuple[int, ...], float, str]] = []
    for i, one in enumerate(seen):
        for j in range(i + 1, len(seen)):
            other = seen[j]
            away = math.log(other.operation.work.likely / one.operation.work.likely)
            moved = abs(away + other.law.mean - one.law.mean) * math.hypot(1 / one.sd, 1 / other.sd)
            ratio = (
                one.law.log_density(other.mean + away) + other.law.log_density(one.mean - away)
                - one.law.log_density(one.mean) - other.law.log_density(other.mean)
            )  # fmt: skip
            found.append((moved, (i, j), ratio, ""))
        if scenario.lines and _batch(scenario) > 1 and one.operation.per == "unit":
            by = math.log(_batch(scenario))
            ratio = one.law.log_density(one.mean - by) - one.law.log_density(one.mean)
            found.append((by / one.sd, (i,), ratio, _slips(scenario)[2][1]))
    telling = [slip for slip in found if slip[0] >= MIN_MOVE]
    named: dict[int, tuple[float, str]] = {}
    least = -float(special.ndtri(SLIP / (max(len(telling), 1) * runs)))
    for moved, places, ratio, words in telling:
        score = (ratio + moved**2 / 2) / moved
        if score < (0.0 if any(out[place] for place in places) else least) or ratio <= 0.0:
            continue
        for n, place in enumerate(places):
            other_name = seen[places[1 - n]].name if len(places) == 2 else ""
            said = words or f"are they those of {other_name}, and the other way round? Swap the two names"
            if place not in named or named[place][0] < ratio:
                named[place] = (ratio, said)
    return named


def _say_cell(
    scenario: Scenario,
    seen: Sequence[Seen],
    place: int,
    swapped: tuple[float, str] | None,
    log: str,
    run: str,
) -> Doubt:
    one = seen[place]
    likely = one.operation.work.likely
    guesses = [
        (one.law.log_density(one.mean - by), one.law.tail(one.mean - by), words) for by, words in _slips(scenario)
    ]
    fitting = [guess for guess in guesses if guess[1] >= FITS]
    slip = "look at the unit, the name and the number of pieces"
    if fitting:
        best = max(fitting)
        slip = best[2]
        if swapped is not None and swapped[0] > best[0] - one.law.log_density(one.mean):
            slip = swapped[1]
    elif swapped is not None:
        slip = swapped[1]
    low, high = (likely * math.exp(one.law.quantile(share)) for share in (0.1, 0.9))
    return Doubt(
        log,
        one.rows[0].line if len(one.rows) == 1 else None,
        f'{one.name} of run "{run}"' if run else one.name,
        f"takes {say_few(likely * math.exp(one.mean))} min in this log, where {say_few(low)} to {say_few(high)} min are believed",
        slip,
    )


def _say_ratio(logarithm: float) -> str:
    return f"{math.exp(logarithm):.2g} times"
