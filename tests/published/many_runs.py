"""Many runs of one shop, and the comparison of their mean with a number printed in the literature.

How tight: a simulated mean has to lie within 4 of its standard errors of the printed number, with at least 20
independent replications and a standard error of at most 1 % of that number. A comparison that fails is made once
more with a seed never used before, and counts only if it fails again; the message then shows both.

Laws are named and never ranges, so the engine takes them at their word: what comes out is exact in law. Where orders
come at random, they either stand in a CSV file that is drawn anew for each replication, or all are there from the start
and come through a door one at a time, each holding it for one gap between arrivals.

Both engines are held to the literature. The compiled floor makes all runs; while the SimPy model is tested, every tenth run
is made by it as well, and has the same record to the last bit, so that the numbers are its own, too. A sample that was drawn
so is not drawn again where the same test is about the compiled floor alone.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping
from contextvars import ContextVar
from dataclasses import fields
from typing import Any, NamedTuple

import numpy as np
import pytest
from scipy import signal, stats

from shopsim import RunResult, Scenario, parse_scenario
from shopsim.engine.compiled.blocks import records_of, run_block
from shopsim.engine.floor.shop_floor import ShopFloor
from shopsim.engine.luck import LuckBlock, draw_luck
from shopsim.engine.pieces import piece_done
from shopsim.engine.plan import SimulationPlan, build_plan
from shopsim.engine.record import RunRecord
from shopsim.engine.run import run
from shopsim.priority import Rule

MAX_STANDARD_ERRORS = 4.0
MAX_ERROR_SHARE = 0.01
MIN_REPLICATIONS = 20
#: While the SimPy model is tested: one run in so many is made by it.
ONE_IN = 10
FIRST_SEED = 1917
FRESH_SEED = 20_270_111

HOUR = 60.0
DAY = 1440.0
DAY_0 = np.datetime64("2027-01-01T00:00", "m")

#: What was measured in each replication: name -> one number a replication.
Sample = Mapping[str, np.ndarray]


class Times(NamedTuple):
    """Moments of one operation's tasks, in minutes, in the order batch, piece, unit."""

    ready: np.ndarray
    start: np.ndarray
    end: np.ndarray
    done: np.ndarray


def batch_done(one: Seen | RunResult) -> np.ndarray:
    """When the last piece of each batch of a run is done, minutes, shape (batches,)."""
    done = piece_done(one.plan.worklist, one.record)
    return np.array([done[batch.first : batch.first + batch.size].max() for batch in one.plan.worklist.batches])


class Seen:
    """One run as a check looks at it."""

    def __init__(self, plan: SimulationPlan, record: RunRecord) -> None:
        self.plan, self.record = plan, record
        self._step = np.asarray(plan.worklist.task_step)

    def times(self, operation: str) -> Times:
        """Moments of all tasks of the operations of this name."""
        record = self.record
        steps = [n for n, step in enumerate(self.plan.worklist.steps) if step.operation.name == operation]
        assert steps
        mine = np.isin(self._step, steps)
        return Times(record.ready[mine], record.start[mine], record.end[mine], record.done[mine])


Measure = Callable[[Seen], Mapping[str, float]]


def write_always_open(operations: str, *, shop: str = "", run: str = "orders = 10000") -> str:
    """A scenario file of a shop that never closes, from the lines that matter to one check."""
    return f"""
[shop]
open = "always"
{shop}

[design]
name = "tray"
operations = [
{operations}
]

[run]
start = 2027-01-01
{run}
"""


def exponential(mean_min: float) -> str:
    """The law as a file says it."""
    return f'{{ law = "exponential", mean = "{mean_min!r} min" }}'


def write_orders(minutes: Iterable[float], quantity: int = 1) -> bytes:
    """A CSV file of orders that come so many minutes after 2027-01-01 0:00, to the nearest minute."""
    came = DAY_0 + np.rint(np.fromiter(minutes, dtype=float)).astype("timedelta64[m]")
    rows = [f"{n},{str(moment).replace('T', ' ')},{quantity}" for n, moment in enumerate(came, start=1)]
    return "\n".join(["id,date,quantity", *rows]).encode()


#: Whether the SimPy model is being tested.
tests_model: ContextVar[bool] = ContextVar("tests_model", default=True)


def _same_bits(one: RunRecord, other: RunRecord) -> bool:
    for field in fields(RunRecord):
        ours, theirs = getattr(one, field.name), getattr(other, field.name)
        if isinstance(ours, np.ndarray):
            if ours.dtype != theirs.dtype or not np.array_equal(ours, theirs, equal_nan=ours.dtype.kind == "f"):
                return False
        elif ours != theirs:
            return False
    return True


def _run(plan: SimulationPlan, seed: int, k: int) -> RunRecord:
    """Replication k, held to the engine that is tested."""
    draws = draw_luck(plan.luck, seed, k)
    if not tests_model.get() or plan.rank is not None:  # a rule of one's own is always the SimPy model's
        return run(plan, draws)
    (record,) = records_of(run_block(plan, LuckBlock.of(draws))).values()
    assert k % ONE_IN or _same_bits(record, ShopFloor(plan, draws).run())
    return record


def _stack(rows: list[Mapping[str, float]]) -> Sample:
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


#: Samples that were drawn while the SimPy model was tested, whose runs are the compiled floor's as well.
_known: dict[Hashable, Sample] = {}


def _what_is_run(function: Callable[..., Any]) -> tuple[Hashable, ...]:
    """A function's code and all that it closes over: two of the same compute the same."""
    return (function.__code__, function.__defaults__, *(cell.cell_contents for cell in function.__closure__ or ()))


def _drawn_once(key: tuple[Hashable, ...], draw: Callable[[], Sample]) -> Sample:
    """What ``draw`` gives, or gave for the SimPy model: then each run was the compiled floor's."""
    try:
        hash(key)
    except TypeError:  # it closes over something that may change
        return draw()
    if tests_model.get():
        _known[key] = draw()
        return _known[key]
    return _known.pop(key) if key in _known else draw()


def replicate(scenario: str | Scenario, measure: Measure, n: int, seed: int) -> Sample:
    """``measure`` of n replications of one scenario, which differ in their luck."""
    key = (scenario, _what_is_run(measure), n, seed)
    return _drawn_once(key, lambda: _replicate(scenario, measure, n, seed))


def _replicate(scenario: str | Scenario, measure: Measure, n: int, seed: int) -> Sample:
    plan = build_plan(parse_scenario(scenario) if isinstance(scenario, str) else scenario)
    return _stack([measure(Seen(plan, _run(plan, seed, k))) for k in range(n)])


def replicate_orders(
    draw_shop: Callable[[np.random.Generator], tuple[str, Mapping[str, bytes]]],
    measure: Measure,
    n: int,
    seed: int,
    rule: Rule | None = None,
) -> Sample:
    """``measure`` of n replications which differ in their luck and in what is ordered when.

    ``draw_shop``: draws the scenario's text and the files that it names.
    """
    ruled = () if rule is None else _what_is_run(rule)
    key = (_what_is_run(draw_shop), _what_is_run(measure), n, seed, ruled)
    return _drawn_once(key, lambda: _replicate_orders(draw_shop, measure, n, seed, rule))


def _replicate_orders(
    draw_shop: Callable[[np.random.Generator], tuple[str, Mapping[str, bytes]]],
    measure: Measure,
    n: int,
    seed: int,
    rule: Rule | None,
) -> Sample:
    rows = []
    for k in range(n):
        text, files = draw_shop(np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(k,))))
        plan = build_plan(parse_scenario(text, beside=files), rule)
        rows.append(measure(Seen(plan, _run(plan, seed, k))))
    return _stack(rows)


def average_number(came: np.ndarray, left: np.ndarray, since: float, until: float) -> float:
    """Average over the time from ``since`` to ``until`` of how many have come and not yet left."""
    return float((np.clip(left, since, until) - np.clip(came, since, until)).sum() / (until - since))


def share_of_time_above(came: np.ndarray, left: np.ndarray, level: int, since: float, until: float) -> float:
    """Share of the time from ``since`` to ``until`` in which more than ``level`` have come and not yet left."""
    moments = np.concatenate([came, left])
    order = np.argsort(moments, kind="stable")
    number = np.cumsum(np.concatenate([np.ones(came.size), -np.ones(left.size)])[order])
    since_then = np.clip(moments[order], since, until)
    spans = np.diff(since_then, append=until)
    return float(spans[number > level].sum() / (until - since))


def estimate_mean(sample: Sample, name: str, known: Mapping[str, float]) -> tuple[float, float]:
    """(mean, standard error) over independent replications.

    ``known``: other columns whose true means are known, such as the mean service time; what they are off by in these
    replications is taken out by regression: control variates, Lavenberg & Welch 1981, Management Science 27 (from
    memory).
    """
    values = sample[name]
    controls = np.column_stack([np.ones(values.size), *(sample[column] - mean for column, mean in known.items())])
    fitted, _, rank, _ = np.linalg.lstsq(controls, values)
    assert rank == controls.shape[1], "the known columns are not independent of each other"
    spread = float(((values - controls @ fitted) ** 2).sum()) / (values.size - int(rank))
    return float(fitted[0]), float(np.sqrt(spread * np.linalg.inv(controls.T @ controls)[0, 0]))


class Moments(NamedTuple):
    """Mean, variance and third central moment of a time."""

    mean: float
    variance: float
    third: float

    def times(self, n: int) -> Moments:
        """The law of a sum of n independent such times."""
        return Moments(n * self.mean, n * self.variance, n * self.third)


def erlang_moments(mean: float, shape: int = 1) -> Moments:
    """Erlang; exponential with shape 1."""
    return Moments(mean, mean**2 / shape, 2 * mean**3 / shape**2)


#: How much of what came before is still felt one order later, in the swing below.
FADING = 0.98


def known_of_queue(gap: Moments, service: Moments, servers: int = 1) -> dict[str, float]:
    """The true means of the columns of control_queue; without the service where it does not vary."""
    variance = gap.variance + service.variance / servers**2
    third = service.third / servers**3 - gap.third
    known = {
        "gap": gap.mean,
        "service": service.mean,
        "squared swing": variance / (1 - FADING**2),
        "cubed swing": third / (1 - FADING**3),
    }
    return {name: mean for name, mean in known.items() if name != "service" or service.variance > 0}


def control_queue(
    came: np.ndarray, service: np.ndarray, gap: Moments, law: Moments, servers: int = 1
) -> dict[str, float]:
    """Control columns of a queue, for estimate_mean: what makes its wait long or short, of which the means are known.

    The orders come at ``came``. The swing adds up, fading, by how much the service of each order and the gap after it
    bring more work than they do on average; queues are long in runs where its square and cube are large.
    """
    gaps = np.diff(came)
    surplus = (service[:-1] - law.mean) / servers - (gaps - gap.mean)
    swing = signal.lfilter([1.0], [1.0, -FADING], surplus)[400:]
    return {
        "gap": gaps.mean(),
        "service": service.mean(),
        "squared swing": (swing**2).mean(),
        "cubed swing": (swing**3).mean(),
    }


def _judge_means(
    sample: Sample, printed: Mapping[str, float], known: Mapping[str, float], rounded_to: float
) -> dict[str, str]:
    """For each number that is missed, what was found."""
    missed = {}
    for name, value in printed.items():
        assert sample[name].size >= MIN_REPLICATIONS
        mean, error = estimate_mean(sample, name, known)
        if error > MAX_ERROR_SHARE * abs(value):
            missed[name] = f"{mean:.6g} with a standard error of {error:.3g}, over 1 %"
        elif abs(mean - value) > MAX_STANDARD_ERRORS * error + rounded_to / 2:
            missed[name] = f"{mean:.6g}, off by {(mean - value) / error:+.1f} standard errors of {error:.3g}"
    return missed


def expect_means(
    draw: Callable[[int], Sample],
    printed: Mapping[str, float],
    *,
    known: Mapping[str, float] | None = None,
    rounded_to: float = 0.0,
) -> None:
    """Compare simulated means with printed numbers: ``expect_means(draw, {"wait": 4.0})``.

    ``draw``: gives a sample for a seed. ``known``: see estimate_mean. ``rounded_to``: the unit of the last printed
    digit, half of which is allowed on top, where the printed number has few digits.
    """
    missed = _judge_means(draw(FIRST_SEED), printed, known or {}, rounded_to)
    if not missed:
        return
    again = _judge_means(draw(FRESH_SEED), printed, known or {}, rounded_to)
    twice = [
        f"{name}: printed {printed[name]:g}; the runs gave {missed[name]}; and with a fresh seed {again[name]}"
        for name in missed
        if name in again
    ]
    if twice:
        pytest.fail("\n".join(twice))


def interval_ranks(n: int, share: float) -> tuple[int, int]:
    """Ranks, from 1, of the values between which the quantile lies, at the confidence of 4 standard errors.

    Hahn & Meeker 1991, Statistical Intervals, ch. 5: the chance is B(u - 1) - B(l - 1).
    """
    tail = float(stats.norm.sf(MAX_STANDARD_ERRORS))
    low, high = int(stats.binom.ppf(tail, n, share)), int(stats.binom.isf(tail, n, share)) + 1
    assert 1 <= low < high <= n, "too few values for such an interval"
    return low, high


def _judge_quantile(values: np.ndarray, share: float, printed: float) -> str:
    low, high = interval_ranks(values.size, share)
    ordered = np.sort(values)
    if ordered[low - 1] <= printed <= ordered[high - 1]:
        return ""
    return f"an interval from {ordered[low - 1]:.6g} to {ordered[high - 1]:.6g}"


def expect_quantile(draw: Callable[[int], np.ndarray], share: float, printed: float) -> None:
    """Compare a quantile of independent values with a printed number, by the order-statistic interval."""
    missed = _judge_quantile(draw(FIRST_SEED), share, printed)
    if missed:
        again = _judge_quantile(draw(FRESH_SEED), share, printed)
        if again:
            pytest.fail(f"printed {printed:g}; the runs gave {missed}; and with a fresh seed {again}")
