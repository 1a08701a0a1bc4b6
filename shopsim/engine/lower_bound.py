"""How early the last piece can be done at likely times, whatever the order of work: bounds that are proven, each for one reason.

- *the longest chain* of one piece, through nights and closings, batches opening as the room allows;
- *hands*: the work of people, of all and of those who alone can do it, from the earliest on, and what follows it at least;
- *hands, then one batch* (cut and tail): all that comes before an operation, in all batches, is over before it is last
  ended, and one batch then has all that follows still to go, through nights and closings;
- *stations*, *clamps* of a reach and more (longer ones serve shorter needs, so a bound by kind alone would be false) or by
  kind, and *racks*: what stands in them over what there is, and in turns: of n glue-ups of which m can stand at once some
  place sees n / m, one after the other, each begun while somebody is there and the clamps off before the next; and by what
  they stay in together, of which a night lets one stand in a place and no longer than it stays.

Batches open at the earliest when those before that have to leave room can be made, by hands and by clamps (``FirstMade``).

The bound for one machine is that of Carlier 1982, the turns are the pigeonhole principle; the way of cutting is our own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shopsim.engine.bound_pushing import least_of_kind, one_of_each, push
from shopsim.engine.bound_tasks import BoundTasks
from shopsim.engine.bound_turns import DONE, END, OFF, end_of_stays, end_of_turns, kinds_of_needs, least_asked
from shopsim.engine.plan import SimulationPlan
from shopsim.engine.presence import Presence

CHAIN, HANDS, CUT, STATIONS, CLAMPS, RACKS = (
    "the longest chain of one piece", "hands", "hands, then one batch by itself", "a station", "clamps", "a rack",
)  # fmt: skip
#: Tasks up to which each is looked at with all that comes before and after it, and pairs of heads and tails of one station.
MOST_CUT, MOST_PAIRS = 6_000, 300
#: Minutes that are taken off for the rounding of sums.
ROUNDING_MIN = 0.01


@dataclass(frozen=True)
class LowerBound:
    """``minutes`` from midnight of day 0 before which the last piece cannot be done at likely times; ``reason``: which bound it is."""

    minutes: float
    reason: str


def find_lower_bound(plan: SimulationPlan, reached_min: float) -> LowerBound:
    """The best of all bounds; pure. ``reached_min``: what some order of work reaches, so that hours are laid out that far.

    Some milliseconds for a hundred tasks, some seconds for two thousand.
    """
    tasks = BoundTasks(plan, reached_min)
    found = [
        (float(tasks.done_min.max(initial=0.0)), CHAIN), *_by_hands(tasks), *_by_stations(tasks), *_by_holds(tasks),
    ]  # fmt: skip
    if plan.task_step.size <= MOST_CUT:
        found.append((_cut_and_push(tasks), CUT))
    minutes, reason = max(found, key=lambda one: one[0])
    return LowerBound(max(0.0, minutes - ROUNDING_MIN), reason)


# ---- hands
def _by_hands(tasks: BoundTasks) -> Iterator[tuple[float, str]]:
    """For each set of people: what only they can do, of the tasks from a head on, down to each tail."""
    unclamp = np.flatnonzero(tasks.unclamp_min > 0)
    due = tasks.end_min[unclamp] + tasks.in_clamps_min[unclamp]
    after = tasks.later_min[unclamp]
    masks = [set(who) for who in tasks.able]
    for who in {tasks.everybody, *tasks.able}:
        alone = np.array([mask <= set(who) for mask in masks])[tasks.plan.task_step] & (tasks.hands > 0)
        heads, minutes = tasks.start_min[alone], (tasks.hands * tasks.work_min)[alone]
        tails, setups = tasks.tail_min[alone], (tasks.hands * tasks.setup_min)[alone]
        steps = tasks.plan.task_step[alone]
        if who == tasks.everybody:
            heads, minutes = np.append(heads, due), np.append(minutes, tasks.unclamp_min[unclamp])
            tails, setups = np.append(tails, after), np.append(setups, np.zeros(unclamp.size))
            steps = np.append(steps, np.full(unclamp.size, -1))
        capacity = tasks.capacity_of(who)
        for head in np.unique(tasks.open_min):
            late = heads >= head
            if late.any():
                yield _stack(tasks, capacity, heads[late], minutes[late], tails[late], setups[late], steps[late]), HANDS


def _stack(
    tasks: BoundTasks, capacity: Presence, heads: np.ndarray, minutes: np.ndarray, tails: np.ndarray,
    setups: np.ndarray, steps: np.ndarray,
) -> float:  # fmt: skip
    """The best, over tails, of: all work with at least that tail, from its earliest head on, and the tail.

    Set-up is counted once for each operation all of whose tasks are among them.
    """
    order = np.argsort(-tails, kind="stable")
    left = np.bincount(tasks.plan.task_step, minlength=tasks.plan.step_hands.size).tolist()
    best, total, first = 0.0, 0.0, np.inf
    for n in order.tolist():
        total += float(minutes[n])
        step = int(steps[n])
        if step >= 0:
            left[step] -= 1
            if left[step] == 0:
                total += float(setups[n])
        first = min(first, float(heads[n]))
        best = max(best, capacity.after(first, total) + float(tails[n]))
    return best


# ---- cut and tail
def _cut_and_push(tasks: BoundTasks) -> float:
    """All that comes before an operation in the last batches is over before it is last ended; the batch that ends last goes on alone."""
    plan = tasks.plan
    n_batches = int(plan.batch_size.size)
    least = least_of_kind(tasks)
    weights = tasks.hands * tasks.work_min
    n_of_step = np.bincount(plan.task_step, minlength=plan.step_hands.size)
    n_of_step[n_of_step == 0] = -1
    setup_of = np.zeros(plan.step_hands.size)
    setup_of[plan.task_step] = tasks.setup_min
    capacity = tasks.capacity_of(tasks.everybody)
    batch_of = np.array(tasks.work.task_batch)
    best = 0.0
    for step in range(plan.step_hands.size):
        of_step = np.flatnonzero(plan.task_step == step)
        if not of_step.size or not plan.step_hands[step]:
            continue
        for first in range(n_batches) if n_batches <= 12 else (0,):
            last = of_step[batch_of[of_step] >= first]
            if not last.size or (first and last.size == of_step.size):
                continue
            before = _members(tasks, last)
            minutes = float(weights[before].sum() + tasks.unclamp_min[before[~np.isin(before, last)]].sum())
            whole = np.bincount(plan.task_step[before], minlength=plan.step_hands.size) == n_of_step
            minutes += float(setup_of[whole] @ plan.step_hands[whole])
            begin = float(tasks.start_min[before][tasks.hands[before] > 0].min())
            ended = capacity.after(begin, minutes)
            if ended + float(tasks.tail_min[last].max()) * 3 < best:  # far from it, nights and all
                continue
            best = max(best, min(max(push(tasks, task, ended, least).values()) for task in one_of_each(tasks, last)))
    return best


def _members(tasks: BoundTasks, last: np.ndarray) -> np.ndarray:
    bits = 0
    for task in last.tolist():
        bits |= tasks.ancestors[task]
    n = tasks.plan.task_step.size
    packed = np.frombuffer(bits.to_bytes((n + 7) // 8, "little"), dtype=np.uint8)
    return np.flatnonzero(np.unpackbits(packed, bitorder="little")[:n])


# ---- stations
def _by_stations(tasks: BoundTasks) -> Iterator[tuple[float, str]]:
    """What stands at each station: from each head on, down to each tail, over its units."""
    plan = tasks.plan
    station = plan.step_station[plan.task_step]
    stays = plan.step_keeps_station[plan.task_step]
    held = tasks.work_min + np.where(stays, _hold_min(tasks), 0.0)
    for number in np.unique(station[station >= 0]).tolist():
        mine = np.flatnonzero(station == number)
        units = int(np.diff(plan.station_units.first)[number])
        yield _one_machine(tasks, mine, held, stays, units), STATIONS
        until = DONE if stays[mine].all() else END
        yield from ((minutes, STATIONS) for minutes in _turns(tasks, mine, units, until))


def _hold_min(tasks: BoundTasks) -> np.ndarray:
    """From the end of the hands-on work until done, at least."""
    return np.asarray(np.maximum(tasks.in_clamps_min + tasks.unclamp_min, tasks.cure_min))


def _one_machine(tasks: BoundTasks, mine: np.ndarray, held: np.ndarray, stays: np.ndarray, units: int) -> float:
    """Clock minutes over units between heads and tails; a tail here begins when the station is free again."""
    heads, tails = tasks.start_min[mine], np.where(stays, tasks.later_min, tasks.tail_min)[mine]
    minutes, best = held[mine], 0.0
    for head in np.unique(heads) if mine.size <= MOST_PAIRS else heads.min(keepdims=True):
        late = heads >= head
        order = np.argsort(-tails[late], kind="stable")
        total = np.cumsum(minutes[late][order]) / units
        best = max(best, float((head + total + tails[late][order]).max()))
    if (tasks.hands[mine] > 0).all() and not stays[mine].any():
        none, no_step = np.zeros(mine.size), np.full(mine.size, -1)
        best = max(best, _stack(tasks, tasks.anybody_late, heads, minutes / units, tails, none, no_step))
    return best


# ---- clamps and racks
def _by_holds(tasks: BoundTasks) -> Iterator[tuple[float, str]]:
    """Clamps of each reach and more, or kind, and racks: minutes held over what there is, and turns one after the other."""
    plan = tasks.plan
    clamped = np.maximum(tasks.in_clamps_min + tasks.unclamp_min, 0.0)
    for kinds in kinds_of_needs(plan):
        owned = int(plan.clamp_count[list(kinds)].sum())
        count = np.array([least_asked(plan, step, set(kinds)) for step in range(plan.step_hands.size)])[plan.task_step]
        yield from ((one, CLAMPS) for one in _hold_bounds(tasks, count, owned, clamped, OFF))
    for rack in range(plan.rack_spots.size):
        spots = np.where(plan.step_rack == rack, plan.step_spots, 0)[plan.task_step] * plan.task_units
        owned = int(plan.rack_spots[rack])
        yield from ((one, RACKS) for one in _hold_bounds(tasks, spots, owned, _hold_min(tasks), DONE))


def _hold_bounds(tasks: BoundTasks, count: np.ndarray, owned: int, hold: np.ndarray, until: str) -> Iterator[float]:
    mine = np.flatnonzero(count > 0)
    if not mine.size:
        return
    held = (tasks.work_min + hold)[mine] * count[mine] / owned
    heads, tails = tasks.start_min[mine], tasks.later_min[mine]
    for head in np.unique(heads) if mine.size <= MOST_PAIRS else heads.min(keepdims=True):
        late = heads >= head
        order = np.argsort(-tails[late], kind="stable")
        yield float((head + np.cumsum(held[late][order]) + tails[late][order]).max())
    for step in (None, *np.unique(tasks.plan.task_step[mine]).tolist()):
        some = mine if step is None else mine[tasks.plan.task_step[mine] == step]
        at_once = owned // int(count[some].min())
        for head in np.unique(tasks.open_min):  # of those batches too that open later
            yield from _turns(tasks, some[tasks.start_min[some] >= head], at_once, until)


def _turns(tasks: BoundTasks, some: np.ndarray, at_once: int, until: str) -> Iterator[float]:
    """Some place sees at least so many of these tasks one after the other; the last of them goes on to its end."""
    if at_once < 1 or not some.size or not tasks.hands[some].all():
        return
    turns = -(-some.size // at_once)
    if turns < 2:
        return
    end = end_of_turns(tasks, some, turns, until)
    if until == OFF:
        total = float((tasks.work_min + tasks.in_clamps_min)[some].sum())
        end = max(end, end_of_stays(tasks, some, total, at_once))
    yield end + float(tasks.tail_min[some].min())
    least = least_of_kind(tasks)
    if some.size <= MOST_PAIRS * 10 and tasks.plan.task_step.size <= MOST_CUT:
        yield min(max(push(tasks, task, end, least).values()) for task in one_of_each(tasks, some))
