"""Rules about size: what is taken on ends in reasonable time, in bounded memory and within twenty years of calendar."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator

from shopsim.limits import (
    MAX_CLAMP_PLACES,
    MAX_DRAWN_TIMES,
    MAX_LEARNED,
    MAX_OPERATIONS,
    MAX_PIECES,
    MAX_RUN_YEARS,
    MAX_STATIONS,
    MAX_TASKS,
    MAX_WORKERS,
)
from shopsim.scenario.check_context import CheckContext, LinePlan, PlacedOperation
from shopsim.scenario.check_times import first_day
from shopsim.scenario.model import Operation, Scenario
from shopsim.scenario.openings import Openings
from shopsim.scenario.places import Finding, KeyPath
from shopsim.scenario.values import OrderBook
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

_MAX_RUN_MIN = MAX_RUN_YEARS * 365 * MINUTES_PER_DAY
#: How long after the first day a line may start, an order come in or material be ordered.
_LATEST_YEARS = 10


def find_too_many_things(context: CheckContext) -> Iterator[Finding]:
    """The shop and the designs are of a size that can be looked through."""
    shop = context.scenario.shop
    if len(shop.workers) > MAX_WORKERS:
        rule = f"{len(shop.workers)} workers are more than the {MAX_WORKERS} that are taken on"
        yield Finding(("shop", "workers"), rule, "leave out those who are not needed")
    counted = [
        station.count
        for number, station in enumerate(shop.stations)
        if context.is_sure("shop", "stations", number, "count")
    ]
    if sum(counted) > MAX_STATIONS:
        rule = f"{sum(counted):,} stations are more than the {MAX_STATIONS:,} that are taken on"
        yield Finding(("shop", "stations"), rule, "lower the counts")
    if len(context.steps) > MAX_OPERATIONS:
        rule = f"{len(context.steps):,} operations are more than the {MAX_OPERATIONS:,} that are taken on"
        yield Finding(context.steps[0].where[:-1], rule, "join some of them into one")
    times = context.scenario.learned.times
    learned = len({cell.run for cell in times}) + len({(cell.design, cell.operation) for cell in times})
    if learned > MAX_LEARNED:
        rule = (
            f"the logged times are of {learned:,} runs and operations, more than the {MAX_LEARNED:,} that are taken on"
        )
        yield Finding(("learned", "times"), rule, "take out those of the oldest runs")


def find_too_much(context: CheckContext) -> Iterator[Finding]:
    """The run is of a size that can be worked through."""
    plans = [
        plan for plan in context.plans if all(context.is_sure(*plan.where, key) for key in ("orders", "round_up_to"))
    ]
    pieces = sum(plan.pieces for plan in plans)
    where: KeyPath = ("run", "lines") if context.scenario.run.lines else ("run", "orders")
    if pieces > MAX_PIECES:
        rule = f"the run makes {pieces:,} pieces, more than the {MAX_PIECES:,} that are taken on"
        yield Finding(where, rule, "split it into several runs")
        return
    sure = [plan for plan in plans if context.is_sure(*plan.where, "batch")]
    tasks = sum(_count_tasks(context, plan) for plan in sure)
    if tasks > MAX_TASKS:
        rule = f"the run has {tasks:,} tasks, more than the {MAX_TASKS:,} that are taken on"
        yield Finding(where, rule, "make larger handfuls, join operations or split the run")
        return
    times = sum(_count_times(context, plan) for plan in sure)
    if times > MAX_DRAWN_TIMES:
        rule = f"the run draws {times:,} times by luck, more than the {MAX_DRAWN_TIMES:,} that are taken on"
        yield Finding(where, rule, "make fewer pieces or parts, join operations or split the run")
    kinds = len(context.scenario.shop.clamps)
    if tasks * kinds > MAX_CLAMP_PLACES:
        rule = f"{kinds} kinds of clamps are too many to follow through {tasks:,} tasks"
        yield Finding(("shop", "clamps"), rule, f"name at most {MAX_CLAMP_PLACES // tasks} kinds, or split the run")


def _sure_steps(context: CheckContext, plan: LinePlan) -> Iterator[PlacedOperation]:
    return (step for step in context.steps if step.design is plan.design and context.units_are_sure(step))


def _tasks_of(context: CheckContext, plan: LinePlan, step: PlacedOperation) -> int:
    """Tasks of one operation in one line."""
    if step.operation.per == "run":
        return 1
    if step.operation.per == "batch" or step.operation.handful == "batch":
        return plan.batches
    return plan.pieces * -(-context.units_in_piece(step) // context.units_in_task(step))


def _units_of(context: CheckContext, plan: LinePlan, step: PlacedOperation) -> int:
    """Units of one operation in one line: each has a time of its own."""
    if step.operation.per in ("run", "batch"):
        return _tasks_of(context, plan, step)
    return plan.pieces * context.units_in_piece(step)


def count_tasks(scenario: Scenario) -> int:
    """About how many tasks a run of a scenario has: exactly but for what options add and leave out."""
    context = CheckContext(scenario)
    return sum(_count_tasks(context, plan) for plan in context.plans)


def _count_tasks(context: CheckContext, plan: LinePlan) -> int:
    tasks = sum(_tasks_of(context, plan, step) for step in _sure_steps(context, plan))
    return tasks + (plan.pieces if context.scenario.shipping.packing is not None else 0)


def _count_times(context: CheckContext, plan: LinePlan) -> int:
    """Times that luck draws for one line; a unit counts even if its time is fixed, as it is looked at all the same."""
    times = 0
    for step in _sure_steps(context, plan):
        operation = step.operation
        a_task = (operation.setup, operation.unclamp, operation.in_clamps, operation.cure, operation.wet)
        times += _tasks_of(context, plan, step) * sum(1 for law in a_task if law is not None and law.varies)
        times += _units_of(context, plan, step) * (1 if operation.redo is None else 2)
    return times


def find_far_days(context: CheckContext) -> Iterator[Finding]:
    """Whatever the run waits for comes within ten years of its first day."""
    run = context.scenario.run
    if not context.is_sure("run") or not context.plans or not _start_is_sure(context):
        return
    first = first_day(context)
    last = first + dt.timedelta(days=_LATEST_YEARS * 366)
    days: list[tuple[KeyPath, dt.date | None]] = [(("run", "orders_close"), run.orders_close)]
    for number, line in enumerate(run.lines):
        where: KeyPath = ("run", "lines", number)
        days += [((*where, "start"), line.start), ((*where, "orders_close"), line.orders_close)]
    days += [(("materials", n, "ordered"), material.ordered) for n, material in enumerate(context.scenario.materials)]
    for where, day in days:
        if day is not None and day > last and context.is_sure(*where):
            yield _far(where, day, first)
    if run.release == "as ordered":
        for plan in context.plans:
            if isinstance(plan.line.orders, OrderBook):
                late = [order.date for order in plan.line.orders.orders if order.date > last]
                if late and context.is_sure(*plan.where, "orders"):
                    yield _far((*plan.where, "orders"), min(late), first)


def _start_is_sure(context: CheckContext) -> bool:
    """Whether every day from which the first one follows could be read."""
    places: list[KeyPath] = [("run",), *(("run", "lines", number) for number in range(len(context.scenario.run.lines)))]
    return all(context.is_sure(*place, key) for place in places for key in ("start", "orders_close"))


def _far(where: KeyPath, day: dt.date, first: dt.date) -> Finding:
    rule = f"{day} is more than {_LATEST_YEARS} years after the run begins on {first}"
    return Finding(where, rule, "check the dates, or split the run")


def find_endless_work(context: CheckContext) -> Iterator[Finding]:
    """What comes one after the other, and what each worker has to do, ends within twenty years, at likely times."""
    plans = [plan for plan in context.plans if all(context.is_sure(*plan.where, key) for key in ("orders", "batch"))]
    chained = False
    for where, design in context.designs:
        if any(plan.design is design for plan in plans) and context.are_named(*where, "operations"):
            for finding in _long_chain(context, where, context.steps_of(design)):
                chained = True
                yield finding
    if not chained:
        yield from _much_work(context, plans)


def _long_chain(context: CheckContext, where: KeyPath, steps: list[PlacedOperation]) -> Iterator[Finding]:
    before = [list(context.known_steps_after(step)) for step in steps]
    followers: list[list[int]] = [[] for _ in steps]
    left = [len(numbers) for numbers in before]
    for number, numbers in enumerate(before):
        for earlier in numbers:
            followers[earlier].append(number)
    reached = [0.0] * len(steps)
    ready = [number for number, count in enumerate(left) if count == 0]
    while ready:
        number = ready.pop()
        reached[number] += _least_span(context, steps[number])
        for follower in followers[number]:
            reached[follower] = max(reached[follower], reached[number])
            left[follower] -= 1
            if left[follower] == 0:
                ready.append(follower)
    longest = max(range(len(steps)), key=lambda number: reached[number], default=None)
    if longest is not None and reached[longest] > _MAX_RUN_MIN:
        years = math.floor(reached[longest] / (365 * MINUTES_PER_DAY))
        rule = f"a piece would take {years:,} years to come so far, and a run may take {MAX_RUN_YEARS}"
        yield Finding(steps[longest].where, rule, "check the times of what comes before it, and their units")


def _least_span(context: CheckContext, step: PlacedOperation) -> float:
    """Likely minutes that one task takes at least, set-up left out."""
    operation = step.operation
    clamped = sum(law.likely for law in (operation.in_clamps, operation.unclamp) if law is not None)
    cured = operation.cure.likely if operation.cure is not None else 0.0
    units = context.units_in_task(step) if context.units_are_sure(step) else 1
    return operation.work.likely * _least_share(operation, units) * units + max(clamped, cured)


def _least_share(operation: Operation, units: int) -> float:
    """The least that learning may leave of a unit's time, among so many."""
    return 1.0 if operation.learning == 1.0 else float(units) ** math.log2(max(operation.learning, 0.5))


def _much_work(context: CheckContext, plans: list[LinePlan]) -> Iterator[Finding]:
    """All hands-on time together against the hours of all workers, twenty years of them."""
    shop = context.scenario.shop
    if not (context.workers_are_sure and context.is_sure("shop", "open") and context.is_sure("shop", "closed")):
        return
    openings = Openings(shop, first_day(context))
    hours = _hours_a_day(context, openings)
    if hours <= 0 or not plans:
        return
    work_min = 0.0
    for plan in plans:
        for step in _sure_steps(context, plan):
            operation, units = step.operation, _units_of(context, plan, step)
            work_min += operation.hands * operation.work.likely * units * _least_share(operation, units)
            if operation.unclamp is not None:
                work_min += operation.unclamp.likely * _tasks_of(context, plan, step)
        packing = context.scenario.shipping.packing
        if packing is not None:
            work_min += packing.likely * plan.pieces * context.scenario.shipping.packing_hands
    years = work_min / MINUTES_PER_HOUR / hours / 365
    if years > MAX_RUN_YEARS:
        where: KeyPath = ("run", "lines") if context.scenario.run.lines else ("run", "orders")
        rule = (
            f"the work comes to {work_min / MINUTES_PER_HOUR:,.0f} hours at likely times, which would take all workers "
            f"together {math.floor(years):,} years; a run may take {MAX_RUN_YEARS}"
        )
        yield Finding(where, rule, "check the times and their units, open the shop for longer or make fewer pieces")


def _hours_a_day(context: CheckContext, openings: Openings) -> float:
    """Hours that all workers together are at work on an average day of the calendar, interruptions taken off."""
    _, n_days = openings.first_day
    n_days -= n_days % 7  # whole weeks
    until = n_days * MINUTES_PER_DAY
    shop = context.scenario.shop
    minutes = sum(
        min(end, until) - start for worker in shop.workers for start, end in openings.at_work(worker) if start < until
    )
    left = 1.0 - (shop.interrupted.likely if shop.interrupted is not None else 0.0)
    return minutes / MINUTES_PER_HOUR / n_days * left


RULES = (find_too_much, find_far_days, find_endless_work)
