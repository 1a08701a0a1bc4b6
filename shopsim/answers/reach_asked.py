"""What is asked where it is asked what it would take: the day, whose order, and what is to be left alone."""

from __future__ import annotations

import datetime as dt

from shopsim.dates import parse_date
from shopsim.errors import InputError
from shopsim.scenario.model import Scenario
from shopsim.scenario.places import NameSuggester, say_names
from shopsim.scenario.production_run import LEVER_SORTS
from shopsim.study.order_queue import OrderQueue


def read_day(by: str | dt.date | None, scenario: Scenario) -> dt.date:
    """The day that is asked for, default the one that buyers were told; InputError for what is none."""
    if isinstance(by, dt.datetime):
        return by.date()
    if isinstance(by, dt.date):
        return by
    if by is None:
        if scenario.run.promised is None:
            raise InputError("by · is missing · say by which day, like 2027-04-30")
        return scenario.run.promised
    try:
        return parse_date(by.strip())
    except ValueError:
        raise InputError(f'by · "{by}" is not a date · write it like 2027-04-30') from None


def find_order(queue: OrderQueue, order: str | None) -> int | None:
    """The place in the queue of an order; None for all; InputError for one that there is not."""
    if order is None:
        return None
    ids = [one.id for one in queue.orders]
    if order not in ids:
        near = NameSuggester().nearest(order, ids)
        mend = f'write "{near}"' if near else f"orders are {say_names(ids)}"
        raise InputError(f'order · there is no order "{order}" · {mend}')
    return ids.index(order)


def read_locked(lock: str | None) -> list[str]:
    """Sorts of levers, with commas between; InputError for one that there is not."""
    sorts = [part.strip() for part in (lock or "").split(",") if part.strip()]
    for sort in sorts:
        if sort not in LEVER_SORTS:
            near = NameSuggester().nearest(sort, LEVER_SORTS)
            mend = f'write "{near}"' if near else f"sorts are {', '.join(LEVER_SORTS)}"
            raise InputError(f'lock · there is no sort of lever "{sort}" · {mend}')
    return sorts
