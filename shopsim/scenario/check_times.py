"""Rules about time: the shop opens, the people meet, and what cannot be left half done fits before closing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from shopsim.scenario.check_context import PACKING, CheckContext
from shopsim.scenario.model import Worker, is_pausable
from shopsim.scenario.openings import Openings
from shopsim.scenario.places import Finding, KeyPath, say_names
from shopsim.units import say_minutes

#: Laws whose last number is their high end.
ENDED = ("range", "triangular", "beta-pert")


def _openings(context: CheckContext) -> Openings:
    return Openings(context.scenario.shop, first_day(context))


def first_day(context: CheckContext) -> dt.date:
    """The first day of the run, or the nearest guess at it where the file has none."""
    run = context.scenario.run
    own = [run.start or run.orders_close, *(line.start or line.orders_close for line in run.lines)]
    days = [day for day in own if day is not None]
    return min(days, default=dt.date(2027, 1, 4))


def find_closed_shop(context: CheckContext) -> Iterator[Finding]:
    """The shop opens at all, and goes on opening."""
    if not context.is_sure("shop", "open"):
        return
    openings = _openings(context)
    if not openings.shop_days():
        yield Finding(("shop", "open"), "the shop never opens", 'give it hours, like { sat = "08:30-12:30" }')
        return
    for year, is_open in enumerate(openings.open_years()):
        if not is_open and context.is_sure("shop", "closed"):
            since = openings.day0 + dt.timedelta(days=year * 366)
            rule = f"the shop does not open for a whole year from {since}"
            yield Finding(("shop", "closed"), rule, "shorten the days off, or begin the run after them")
            return


def find_lost_time(context: CheckContext) -> Iterator[Finding]:
    """Something is left of the working day."""
    shop = context.scenario.shop
    if shop.lost_days is not None and context.is_sure("shop", "lost_days"):
        high = shop.lost_days.numbers[-1] if shop.lost_days.name in ENDED else shop.lost_days.likely
        if shop.lost_days.likely >= 1.0:
            yield Finding(("shop", "lost_days"), "every open day is lost", "write less than 100 %")
        elif high >= 1.0:
            yield Finding(("shop", "lost_days"), "at its high, every open day is lost", "write a high under 100 %")
    if shop.interrupted is not None and shop.interrupted.likely > 0.95:
        yield Finding(("shop", "interrupted"), "hardly anything is left of an open day", "write 95 % or less")


def _opens(context: CheckContext) -> Openings | None:
    """The hours, if the shop goes on opening and its hours are sure; what else could be said has been said."""
    openings = _openings(context)
    sure = context.is_sure("shop", "open") and context.is_sure("shop", "closed") and context.workers_are_sure
    return openings if sure and openings.shop_days() and all(openings.open_years()) else None


def find_absent_workers(context: CheckContext) -> Iterator[Finding]:
    """Everybody who works in the shop is there at some time."""
    openings = _opens(context)
    if openings is None:
        return
    for number, worker in enumerate(context.scenario.shop.workers):
        where: KeyPath = ("shop", "workers", number)
        if not _hours_are_sure(context, number) or openings.at_work(worker):
            continue
        key = "closed" if worker.open is None else "open"
        mend = "give hours within the shop's, or take the worker out"
        yield Finding((*where, key), "is never at work while the shop is open", mend)


def _hours_are_sure(context: CheckContext, number: int) -> bool:
    return all(context.is_sure("shop", "workers", number, key) for key in ("open", "closed"))


def find_hours_apart(context: CheckContext) -> Iterator[Finding]:
    """The people whom an operation takes meet, and for long enough if it cannot be left half done."""
    openings = _opens(context)
    workers = context.scenario.shop.workers
    if openings is None or not all(_hours_are_sure(context, number) for number in range(len(workers))):
        return
    known: dict[tuple[tuple[str, ...], int], float] = {}

    def longest(able: list[Worker], hands: int) -> float:
        key = (tuple(worker.name for worker in able), hands)
        if key not in known:
            known[key] = openings.longest_together(able, hands)
        return known[key]

    for step in context.steps:
        operation, where = step.operation, step.where
        if not (context.is_sure(*where, "name") and context.is_sure(*where, "hands")):
            continue
        able = context.able(operation.name)
        if operation.hands == 0 or len(able) < operation.hands or not all(openings.at_work(worker) for worker in able):
            continue  # told already, where there is something to tell
        together = longest(able, operation.hands)
        if together <= 0:
            yield _never_together(where, able, operation.hands)
        elif not is_pausable(operation) and context.is_sure(*where, "pausable") and context.units_are_sure(step):
            task_min = operation.setup.likely + operation.work.likely * context.units_in_task(step)
            if task_min > together + 1e-6:
                set_up = f", {_say(operation.setup.likely)} of it set-up," if operation.setup.likely > 0 else ""
                who = "somebody who can do it is" if operation.hands == 1 else f"{operation.hands} who can do it are"
                yield Finding(
                    (*where, "work"),
                    f"one task takes {_say(task_min)}{set_up} and cannot be left half done; "
                    f"the longest time {who} at work without a break is {_say(together)}",
                    "write pausable = true, a smaller handful or longer hours",
                )
    shipping = context.scenario.shipping
    if shipping.packing is not None and context.is_sure("shipping", "packing_hands"):
        able = context.able(PACKING)
        met = len(able) < shipping.packing_hands or longest(able, shipping.packing_hands) > 0
        if not met and all(openings.at_work(worker) for worker in able):
            yield _never_together(("shipping", "packing_hands"), able, shipping.packing_hands)


def _never_together(where: KeyPath, able: list[Worker], hands: int) -> Finding:
    names = say_names([worker.name for worker in able], 5)
    rule = f"the {hands} people it takes are never at work at the same time (can do it: {names})"
    return Finding(where, rule, "let their hours overlap, or lower the hands")


def _say(minutes: float) -> str:
    """A time in words, fine enough to show why one is longer than another."""
    return f"{minutes:g} min" if minutes < 90 else say_minutes(minutes)


def find_learning(context: CheckContext) -> Iterator[Finding]:
    """Learning lies where it has ever been seen; at 0 % the second unit would take no time."""
    for step in context.steps:
        if step.operation.learning < 0.5:
            rule = f"{step.operation.learning * 100:g} % would more than halve the time at each doubling"
            yield Finding((*step.where, "learning"), rule, "write 50 % to 100 %; 95 % is usual")


def warn_of_short_open_time(context: CheckContext) -> Iterator[Finding]:
    """Work that is likely to pass the glue's working time."""
    for step in context.steps:
        operation = step.operation
        if operation.open_time is None:
            continue
        work_min = operation.work.likely * context.units_in_task(step)
        if work_min > operation.open_time:
            yield Finding(
                (*step.where, "open_time"),
                f"the work of one task is likely to take {_say(work_min)} and so to pass the glue's working time "
                f"of {_say(operation.open_time)}",
                "glue fewer at once, use more hands or a slower glue",
            )


RULES = (find_closed_shop, find_lost_time, find_absent_workers, find_hours_apart, find_learning)
CAUTIOUS_RULES = (warn_of_short_open_time,)
