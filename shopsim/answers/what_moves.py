"""What moves the date: which guess to time first, or whether to log the days, so that the window narrows most."""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from shopsim.answers.alternatives import NOW, run_alternatives
from shopsim.answers.answer import Answer, build_answer
from shopsim.answers.promises import find_promise
from shopsim.answers.terms import check_chance
from shopsim.answers.wording import join_words, say_count
from shopsim.engine.learned import learn_days, prior_days
from shopsim.errors import Cancelled, InputError
from shopsim.say import say_share
from shopsim.scenario.model import Learned, LoggedDays, LoggedTimes, Operation, Scenario
from shopsim.study.beliefs import believe_bias, believe_times, steps_of
from shopsim.study.execution import Execution, OnProgress, ShouldStop
from shopsim.study.intervals import quantile_rank
from shopsim.study.results import Study
from shopsim.study.shared_factors import (
    BIAS,
    CALENDAR,
    ESTIMATE,
    MATERIAL,
    Factor,
    Factors,
    Fit,
    draw_factors,
    fewest_replications,
    fit_result,
    rank_timing,
)

#: Key of the answer.
MOVES = "what_moves_the_date"
#: Units timed of an operation, and days logged, whose gain is foretold.
UNITS, DAYS = 5, 20
#: Operations named as the ones to time first.
FIRST = 3
#: Gains below this share of the variance are not worth naming (own judgement).
LEAST_GAIN = 0.005
#: Replications where nothing is said.
USUAL = 800
_TIMED, _LOGGED = "these timed", "days logged"


def find_what_moves(
    scenario: Scenario,
    confidence: float = 0.8,
    replications: int = USUAL,
    seed: int = 1,
    jobs: int = 1,
    *,
    executor: Executor | None = None,
    on_progress: OnProgress | None = None,
    should_stop: ShouldStop | None = None,
    study: Study | None = None,
) -> Answer:
    """What the day on which the last order ships depends on, and what to measure first to know it better.

    One row a piece of luck that the whole run shares, the largest first: ``what`` ("estimate of", "bias",
    "pace", "calendar", "material", "curing"), ``name`` (operation or material), ``design``; ``share`` of the
    variance of the last ship day, 0..1, with ``share_error`` (standard error); ``time_first``: 1, 2, 3.. for
    the operations to time, in the order in which each narrows the window most given those before
    it; ``gain``: the share of the variance that timing UNITS units of it (or logging DAYS days)
    then takes away; ``window_days``: the width of the last order's window today, and
    ``window_then_days``: after timing this one operation, or logging the days, by running again on the
    same luck with such a log imagined, as wide as the forecast expects it; empty where not run, as when stopped before.

    ``study``: a study that holds the scenario as it stands, used unless made in even blocks. Runs ``replications`` of the scenario and of up to five
    others. Raises InputError for bad arguments and for too few replications, Cancelled if stopped too soon to say anything.
    """
    if isinstance(confidence, bool) or not isinstance(confidence, int | float) or not 0 < confidence < 1:
        raise InputError(f"confidence = {confidence!r} is not between 0 and 1 · write 0.8 for 80 %")
    quantile_rank(replications, (1 + confidence) / 2)
    check_enough(scenario, replications)
    if study is not None and study.even_block:
        study = None  # its shared luck is spread evenly, and cannot be drawn again from the keys of its replications
    execution = Execution(replications, seed, jobs, executor, on_progress, should_stop)
    now = run_alternatives({NOW: scenario}, execution if study is None else execution.reusing(study))
    check_chance(now, (1 + confidence) / 2, "a window")
    fewest = fewest_replications(scenario)
    if now.replications < fewest:
        raise Cancelled(f"stopped after {now.replications} replications, too few to tell what moves the date")
    days = now.values(NOW, "last_ship_day")
    until = max(1, math.ceil(float(np.median(days))))
    factors = draw_factors(scenario, now.seed, now.outcomes[NOW].replications, until)
    fit = fit_result(days, factors)
    ranked = [
        (factor, gain) for factor, gain in rank_timing(scenario, factors, fit, UNITS, FIRST) if gain >= LEAST_GAIN
    ]
    then, stopped = now, not now.complete
    if not stopped:
        imagined = _imagine(scenario, [factor for factor, _ in ranked], fit)
        try:
            quiet = replace(execution.reusing(now), replications=now.replications, on_progress=None)
            then = run_alternatives({NOW: scenario, **imagined}, quiet)
        except Cancelled:  # what moves the date is known all the same
            stopped = True
    widths = {name: _width(then, name, confidence) for name in then.names}
    rows = _list_rows(factors, fit, ranked, widths)
    sentence = _say(scenario, rows, ranked, fit, widths, confidence, stopped)
    notes: tuple[str, ...] = (
        f"Shares are of the variance of the last ship day; they add up to {say_share(min(1.0, fit.total))}, and the rest is the "
        "luck of single units and of where days end.",
        f"Timing is reckoned as {UNITS} units of an operation in one run, logging as {DAYS} days. What such a log will "
        "say is not known, so the window then is the one to expect; it may come out earlier or later.",
    )
    own = {found.factor: found.share for found in fit.shares}
    if any(own[factor] < gain / 2 for factor, gain in ranked):
        notes = (
            *notes,
            "A time that is logged tells not only of its own guess but of all of them together; so an operation whose "
            "own guess is sure may tell most.",
        )
    if stopped:
        notes = ("Stopped before it was run how far a log would narrow the window.", *notes)
    return replace(build_answer(then, NOW, MOVES, rows, sentence, notes), partial=stopped or not then.complete)


def check_enough(scenario: Scenario, replications: int) -> None:
    """InputError where so few replications cannot tell apart all that may move the date."""
    fewest = fewest_replications(scenario)
    if replications < fewest:
        raise InputError(
            f"{replications} replications are too few to tell what moves the date of this scenario · ask for {fewest} or more"
        )


def _width(study: Study, name: str, confidence: float) -> int:
    promise = find_promise(study.outcomes[name].order_days.max(axis=1), confidence)
    return promise.last - promise.first


def _imagine(scenario: Scenario, first: list[Factor], fit: Fit) -> dict[str, Scenario]:
    """The scenario after such logs as the forecast expects: they narrow what is believed, and do not move it."""
    cells = {factor: _expected_times(scenario, factor) for factor in first}
    imagined = {_name(factor): _with(scenario, times=(cells[factor],)) for factor in first}
    if len(first) > 1:
        imagined[_TIMED] = _with(scenario, times=tuple(cells.values()))
    if fit.calendar_share >= LEAST_GAIN:
        imagined[_LOGGED] = _with(scenario, days=(_expected_days(scenario),))
    return imagined


def _with(scenario: Scenario, times: tuple[LoggedTimes, ...] = (), days: tuple[LoggedDays, ...] = ()) -> Scenario:
    learned = scenario.learned
    longer = Learned(
        times=(*learned.times, *times), days=(*learned.days, *days), delivered=learned.delivered, logs=learned.logs
    )
    return scenario.model_copy(update={"learned": longer})


def _name(factor: Factor) -> str:
    return f"{factor.design} · {factor.name}"


def _operation(scenario: Scenario, factor: Factor) -> Operation:
    return next(
        step.operation
        for step in steps_of(scenario)
        if step.operation.name == factor.name and scenario.all_designs[step.design].name == factor.design
    )


def _expected_times(scenario: Scenario, factor: Factor) -> LoggedTimes:
    operation = _operation(scenario, factor)
    typical = next(
        (
            belief.typical
            for belief in believe_times(scenario)
            if (belief.design, belief.operation) == (factor.design, factor.name)
        ),
        operation.work.likely * math.exp(believe_bias(scenario)[0]),
    )
    noise = scenario.luck.hand_spread if operation.work_kind == "hand" else scenario.luck.machine_spread
    return LoggedTimes(
        operation=factor.name,
        design=factor.design,
        units=UNITS,
        mean=min(max(math.log(typical / operation.work.likely), -10.0), 10.0),
        squares=(UNITS - 1) * noise**2,
        run="a run to be timed",
        log="imagined",
    )


def _expected_days(scenario: Scenario) -> LoggedDays:
    belief = learn_days(scenario.learned.days, scenario.shop) or prior_days(scenario.shop)
    lost = round(DAYS * belief.lost[0] / max(sum(belief.lost), 1e-9))
    return LoggedDays(
        days=DAYS, lost=lost, shares=DAYS - lost, mean_logit=min(max(belief.level, -10.0), 10.0), log="imagined"
    )


def _list_rows(factors: Factors, fit: Fit, ranked: list[tuple[Factor, float]], widths: dict[str, int]) -> pd.DataFrame:
    place = {factor: number for number, (factor, _) in enumerate(ranked, start=1)}
    gain = dict(ranked)
    rows = []
    for found in sorted(fit.shares, key=lambda found: -found.share):
        factor = found.factor
        then = widths.get(_LOGGED if factor.kind == CALENDAR else _name(factor))
        gained = gain.get(factor)
        if factor.kind == CALENDAR and then is not None:
            gained = fit.calendar_share
        rows.append(
            {
                "what": factor.kind,
                "name": factor.name,
                "design": factor.design,
                "share": found.share,
                "share_error": found.error,
                "time_first": place.get(factor),
                "gain": gained,
                "window_days": widths[NOW],
                "window_then_days": then if then is not None and factor.kind in (ESTIMATE, CALENDAR) else None,
            }
        )
    return pd.DataFrame(rows).astype(
        {"time_first": "Int64", "gain": "float64", "window_days": "int64", "window_then_days": "Int64"}
    )


def _say(
    scenario: Scenario,
    rows: pd.DataFrame,
    ranked: list[tuple[Factor, float]],
    fit: Fit,
    widths: dict[str, int],
    confidence: float,
    stopped: bool,
) -> str:
    asked = f"{confidence * 100:g} %"
    if fit.total <= 0.0:
        return (
            "Nothing that the whole run shares moves the day on which the last order ships: "
            "what varies does so from unit to unit, and timing one thing would not narrow the window."
        )
    tops = [
        f"{say_factor(row)} ({say_share(float(row['share']))}{'' if number else ' of its variance'})"
        for number, row in enumerate(rows.head(3).to_dict("records"))
        if row["share"] >= LEAST_GAIN
    ]
    text = f"The day on which the last order ships depends most on {join_words(tops)}. "
    now = widths[NOW]
    if now == 0:
        return f"{text}But it is one and the same day in the {asked} window: there is nothing to narrow."
    if stopped:  # before it was run how far anything would narrow the window
        first = f"Time {join_words([_quoted(factor) for factor, _ in ranked])} first." if ranked else ""
        return (text + first).strip()
    both = widths.get(_TIMED, min((widths[_name(factor)] for factor, _ in ranked), default=now))
    logged = widths.get(_LOGGED, now)
    names = join_words([_quoted(factor) for factor, _ in ranked])
    timing = (
        f"Time {'this' if len(ranked) == 1 else f'these {_say_number(len(ranked))}'} first: {names}; "
        f"{UNITS} units of each would narrow the {asked} window of the last order from {say_count(now, 'day')} to about {both}."
    )
    logging = f"{DAYS} days logged would narrow the {asked} window of the last order from {say_count(now, 'day')} to about {logged}."
    if not ranked and logged >= now:
        material = next((str(row["name"]) for row in rows.to_dict("records") if row["what"] == MATERIAL), "")
        hint = (
            f' Have "{material}" on the shelf before you begin.'
            if material and rows.iloc[0]["what"] == MATERIAL
            else ""
        )
        return f"{text}Neither timing nor logging days would narrow the window by a day.{hint}"
    if not ranked or logged < both:
        return f"{text}Log your days first: {logging}" + (f" Then time {names}." if ranked else "")
    if logged < now:
        return f"{text}{timing} {logging}"
    return text + timing


def _quoted(factor: Factor) -> str:
    return f'"{factor.name}"'


def _say_number(n: int) -> str:
    return {2: "two", 3: "three"}.get(n, str(n))


def say_factor(row: dict[Any, Any]) -> str:
    """What moves the date, as a part of a sentence."""
    plain = {
        BIAS: "how far all your guesses are out together",
        CALENDAR: "interruptions and lost days",
        "pace": "your pace in this run",
        "curing": "how fast things cure",
    }
    if row["what"] == ESTIMATE:
        return f'the guess for "{row["name"]}"'
    if row["what"] == MATERIAL:
        return f'when "{row["name"]}" comes'
    return plain[str(row["what"])]
