"""From how many pieces on a way of making it pays in hours of work: by runs over the number of orders, not by a formula.

Making the jig counts once, its saving at every piece. So what is compared is all the hours of people that a run takes, with
the way and without it, on the same luck, for one number of orders after another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shopsim.answers.alternatives import run_alternatives, try_change
from shopsim.answers.hours_per_piece import HOURS
from shopsim.answers.order_mix import OrderPlan
from shopsim.errors import Cancelled, InputError
from shopsim.scenario.check_size import count_tasks
from shopsim.scenario.model import Scenario
from shopsim.study.execution import Execution
from shopsim.study.intervals import Interval, paired_difference

#: Runs of each number of orders, with and without, where nothing is said of fewer.
RUNS = 200
#: The most pieces that are looked at, and the most tasks of one run.
MAX_PIECES_TRIED, MAX_TASKS_TRIED = 640, 40_000
#: How sure an interval is.
CONFIDENCE = 0.95
#: Hours below which a difference is nothing but rounding.
_NOISE_H = 1e-9


@dataclass(frozen=True)
class PaysFrom:
    """From how many pieces on a way pays, with its interval; ``most``: the most pieces that were tried.

    ``pieces``: the fewest pieces with which it saves at least what it costs in hours, by the mean over luck; None: with none that
    was tried. ``low``: fewer than these surely do not pay; ``high``: from these on it surely does, None where that was not seen.
    """

    pieces: int | None
    low: int | None
    high: int | None
    most: int


class HoursSaved:
    """All the hours of people that a way saves, for any number of orders; negative: it takes more.

    ``base``: the file without the way; ``changes``: what puts it in. Each number of orders is run once.
    """

    def __init__(self, base: Scenario, ways: Sequence[str], execution: Execution) -> None:
        self.plan = OrderPlan(base)
        self.ways = list(ways)
        runs = min(RUNS, execution.replications or RUNS)
        self.execution = replace(execution, replications=runs)
        self.known: dict[int, Interval] = {}

    @property
    def step(self) -> int:
        """Orders that are made as one: the numbers between come to the same pieces."""
        return (self.plan.line.round_up_to or 1) if self.plan.one_each and not self.plan.apart else 1

    def of(self, count: int) -> Interval:
        """What is saved with so many orders, in hours, paired, with its interval. Cancelled if the user stopped."""
        if count not in self.known:
            without = self.plan.change(count)
            used, why_not = try_change(without, {"run.ways": self.ways})
            if used is None:
                raise InputError(f"with {self.plan.made(count)} pieces it cannot be made: {why_not}")
            study = run_alternatives({"without": without, "with": used}, self.execution)
            if not study.complete:
                raise Cancelled("stopped before it was found from how many pieces on it pays")
            pieces = self.plan.made(count)
            saved = paired_difference(
                pieces * study.values("without", HOURS), pieces * study.values("with", HOURS), CONFIDENCE
            )
            self.known[count] = saved
        return self.known[count]


def find_pays_from(base: Scenario, ways: Sequence[str], execution: Execution) -> PaysFrom:
    """From how many pieces on ways pay that are put into a file without them.

    Numbers of orders are doubled until it surely pays, then the gap is halved; so it takes for granted that a way which pays
    for some pieces pays for more of them, as what is done once is shared by more. That is done for the mean, and for both ends
    of the interval, each number run once on ``RUNS`` replications. Ends without an answer at ``MAX_PIECES_TRIED`` pieces, or
    where twice the pieces surely cost more hours still and the file's own number is passed. InputError for a run of several
    lines; Cancelled if stopped.
    """
    saved = HoursSaved(base, ways, execution)
    step = saved.step
    most_steps = max(1, _most_orders(saved) // step)
    own_steps = -(-_stated(saved) // step)
    tried = 1
    last = 1
    while True:
        here = saved.of(tried * step)
        last = tried
        if here.low >= -_NOISE_H or tried >= most_steps:
            break
        before = saved.known.get(tried // 2 * step)
        if before is not None and tried >= 2 * own_steps and here.high < before.low and here.high < 0:
            break
        tried = min(2 * tried, most_steps)
    value = _find_first(saved, last, lambda interval: interval.value)
    low = _find_first(saved, last, lambda interval: interval.high)
    high = _find_first(saved, last, lambda interval: interval.low)
    made = saved.plan.made
    return PaysFrom(
        None if value is None else made(value * step),
        None if low is None else made(low * step),
        None if high is None else made(high * step),
        made(last * step),
    )


def _stated(saved: HoursSaved) -> int:
    orders = saved.plan.line.orders
    return orders if isinstance(orders, int) else len(orders.orders)


def _most_orders(saved: HoursSaved) -> int:
    """The most orders that are tried: no more pieces and no larger a run than the limits."""
    tasks_a_piece = count_tasks(saved.plan.scenario) / max(1, saved.plan.made(_stated(saved)))
    pieces = min(MAX_PIECES_TRIED, int(MAX_TASKS_TRIED / max(1.0, tasks_a_piece)))
    each = max(1.0, saved.plan.pieces(_stated(saved)) / _stated(saved))
    return max(1, int(pieces / each))


def _find_first(saved: HoursSaved, last: int, read: Callable[[Interval], float]) -> int | None:
    """The fewest steps of orders at which what is read is not below nothing; None where it is at the last one tried too."""
    known = sorted(count // saved.step for count in saved.known)
    good = [n for n in known if read(saved.of(n * saved.step)) >= -_NOISE_H]
    if not good:
        return None
    high = good[0]
    low = max((n for n in known if n < high), default=0)
    while high - low > 1:
        middle = (low + high) // 2
        if read(saved.of(middle * saved.step)) >= -_NOISE_H:
            high = middle
        else:
            low = middle
    return high if high <= last else None
