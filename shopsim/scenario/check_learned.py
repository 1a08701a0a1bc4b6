"""Rules about what has been learned from logs: counts that fit together, and operations that are still there."""

from __future__ import annotations

from collections.abc import Iterator

from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.places import UNREAD, Finding, KeyPath, say_names

_MEND = "correct it, or take the row out and take its log in anew"


def find_counts_that_disagree(context: CheckContext) -> Iterator[Finding]:
    """No part of what was logged is more than the whole."""
    learned = context.scenario.learned
    for number, cell in enumerate(learned.times):
        where: KeyPath = ("learned", "times", number)
        if not (
            context.is_sure(*where, "units") and context.is_sure(*where, "times") and context.is_sure(*where, "outside")
        ):
            continue
        times = cell.times if cell.times is not None else cell.units
        if times > cell.units:
            yield Finding((*where, "times"), f"{times} times were logged of {cell.units} units", _MEND)
        if cell.rows and context.is_sure(*where, "rows") and times != len(cell.rows):
            yield Finding((*where, "rows"), f"{len(cell.rows)} rows tell of {times} times", _MEND)
        if cell.outside > times:
            yield Finding((*where, "outside"), f"{cell.outside} of {times} times lie outside", _MEND)
    for number, days in enumerate(learned.days):
        where = ("learned", "days", number)
        if not all(context.is_sure(*where, key) for key in ("days", "lost", "shares", "first", "last")):
            continue
        if days.lost > days.days:
            yield Finding((*where, "lost"), f"{days.lost} of {days.days} days were lost", _MEND)
        elif days.shares > days.days - days.lost:
            rule = f"{days.shares} days with a share, and {days.lost} lost, are more than {days.days} days"
            yield Finding((*where, "shares"), rule, _MEND)
        if days.first is not None and days.last is not None and days.last < days.first:
            yield Finding((*where, "last"), f"{days.last} is before the first day, {days.first}", _MEND)


def find_equal_deliveries(context: CheckContext) -> Iterator[Finding]:
    """An order of a run has shipped once."""
    seen: set[tuple[str, str]] = set()
    for number, order in enumerate(context.scenario.learned.delivered):
        key = (order.run, order.order)
        if key in seen and not order.order.startswith(UNREAD):
            rule = f'order "{order.order}" of "{order.run}" is there twice'
            yield Finding(("learned", "delivered", number), rule, "keep one of them")
        seen.add(key)


def warn_of_unknown_operations(context: CheckContext) -> Iterator[Finding]:
    """Logged times of an operation that no design has any more; they still tell of the shop's bias."""
    if not context.operations_named:
        return
    names = list(context.operation_names)
    told: set[str] = set()
    for number, cell in enumerate(context.scenario.learned.times):
        if cell.operation in names or cell.operation in told or cell.operation.startswith(UNREAD):
            continue
        told.add(cell.operation)
        near = context.suggester.nearest(cell.operation, names)
        yield Finding(
            ("learned", "times", number, "operation"),
            f'no design has an operation "{cell.operation}", so its times tell of your bias and pace alone',
            f'write "{near}" if it is the same' if near else f"write its new name; known are {say_names(names)}",
        )


RULES = (find_counts_that_disagree, find_equal_deliveries)
CAUTIOUS_RULES = (warn_of_unknown_operations,)
