"""Rules about the run: its orders, dates and batches."""

from __future__ import annotations

from collections.abc import Iterator

from shopsim import priority
from shopsim.scenario.batches import promised_days
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.places import UNREAD, Finding, KeyPath, clean, say_names
from shopsim.scenario.production_run import LEVER_SORTS
from shopsim.scenario.values import OrderBook


def find_orders(context: CheckContext) -> Iterator[Finding]:
    """Orders are given once: for the run, or for each of its lines."""
    run = context.scenario.run
    if not context.is_sure("run") or not context.is_sure("run", "lines") or not context.is_sure("run", "orders"):
        return
    if run.lines and run.orders is not None:
        yield Finding(("run", "orders"), "orders are given for the run and for its lines", "keep those of the lines")
    elif not run.lines and run.orders is None and run.demand is None and len(context.designs) <= 1:
        yield Finding(("run", "orders"), "is missing", "add orders = 10, for instance, or a CSV file of orders")


def find_lines(context: CheckContext) -> Iterator[Finding]:
    """Each line's design is known; several designs need lines."""
    run = context.scenario.run
    names = [design.name for _, design in context.designs]
    sure = context.are_named("designs") and context.is_sure("design", "name")
    for number, line in enumerate(run.lines):
        if line.design in names or line.design.startswith(UNREAD) or not sure or not names:
            continue
        near = context.suggester.nearest(line.design, names)
        mend = f'write "{near}"' if near else f"known are {say_names(names)}"
        yield Finding(("run", "lines", number, "design"), f'there is no design "{line.design}"', mend)
    both = context.scenario.design is not None and context.scenario.designs  # told already
    if len(names) > 1 and not run.lines and not both and context.is_sure("run") and context.is_sure("run", "lines"):
        yield Finding(
            ("run",),
            f"there are {len(names)} designs, and nothing says how many of each",
            "add [[run.lines]], each with its design and orders",
        )


def find_demand(context: CheckContext) -> Iterator[Finding]:
    """What is said of demand and of a cap is about one design's orders, and the cap is kept."""
    run = context.scenario.run
    for key in ("demand", "cap", "promised"):
        if getattr(run, key) is None or not context.is_sure("run", key) or not context.is_sure("run", "lines"):
            continue
        if len(run.lines) > 1 and key != "promised":
            rule = f"says nothing of which of the {len(run.lines)} lines it is about"
            yield Finding(("run", key), rule, "take it out, or make a file of its own for that design")
    where: KeyPath = ("run", "lines", 0, "orders") if run.lines else ("run", "orders")
    if len(run.lines) > 1 or not context.is_sure(*where):
        return
    if run.cap is not None and context.is_sure("run", "cap"):
        orders = run.lines[0].orders if run.lines else run.orders
        n = len(orders.orders) if isinstance(orders, OrderBook) else orders
        if n is not None and n > run.cap:
            yield Finding(
                ("run", "cap"), f"{n} orders are more than the cap of {run.cap}", f"write {n}, or take orders out"
            )
    if run.demand is not None and context.is_sure("run", "demand") and run.demand.largest < 0.5:
        yield Finding(("run", "demand"), "says that no orders come", 'write low / likely / high, like "9 / 18 / 36"')


def find_dates(context: CheckContext) -> Iterator[Finding]:
    """Every line knows a day to begin on."""
    run = context.scenario.run
    if not context.is_sure("run") or any(not context.is_sure("run", key) for key in ("start", "orders_close", "lines")):
        return
    if run.start is not None or run.orders_close is not None:
        return
    if not run.lines:
        yield Finding(
            ("run", "start"), "neither start nor orders_close is given", "add start = 2027-01-11, for instance"
        )
    for number, line in enumerate(run.lines):
        where: KeyPath = ("run", "lines", number)
        sure = context.is_sure(*where, "start") and context.is_sure(*where, "orders_close")
        if line.start is None and line.orders_close is None and sure:
            rule = "neither start nor orders_close is given, here or in [run]"
            yield Finding((*where, "start"), rule, "add start = 2027-01-11, for instance")


def find_release(context: CheckContext) -> Iterator[Finding]:
    """Batches can open as ordered only if it is known when each order came."""
    run = context.scenario.run
    if run.release != "as ordered" or not context.is_sure("run", "lines"):
        return
    lines: list[tuple[KeyPath, object]] = [
        (("run", "lines", number), line.orders) for number, line in enumerate(run.lines)
    ]
    if not lines:
        lines = [(("run",), run.orders)]
    for where, orders in lines:
        unknown = orders is None and (where != ("run",) or run.demand is None)
        if not unknown and not isinstance(orders, OrderBook) and context.is_sure(*where, "orders"):
            rule = '"as ordered" needs the date of every order, and a number has none'
            mend = 'name a CSV file of orders, or write release = "when orders close"'
            yield Finding(("run", "release") if where == ("run",) else (*where, "orders"), rule, mend)


def find_destinations(context: CheckContext) -> Iterator[Finding]:
    """Places that orders go to have a transit time, where transit is given place by place."""
    transit = context.scenario.shipping.transit
    if transit is None or not context.is_sure("shipping", "transit"):
        return
    known = [place for place, _ in transit]
    if "" in known:
        return
    for where, book in _books(context):
        first = {order.destination: number for number, order in reversed(list(enumerate(book.orders)))}
        for place in dict.fromkeys(order.destination for order in book.orders):
            if not place or place in known:
                continue
            buyers = sum(order.quantity for order in book.orders if order.destination == place)
            near = context.suggester.nearest(place, known)
            mend = f'write "{near}"' if near else f'add "{place}" to shipping.transit'
            pieces = "one piece goes" if buyers == 1 else f"{buyers} pieces go"
            shown = f'order "{clean(book.orders[first[place]].id, 60)}" · destination'
            yield Finding((*where, first[place]), f'{pieces} to "{place}", which has no transit time', mend, shown)


def _books(context: CheckContext) -> Iterator[tuple[KeyPath, OrderBook]]:
    run = context.scenario.run
    for where, orders in [
        (("run", "orders"), run.orders),
        *((("run", "lines", number, "orders"), line.orders) for number, line in enumerate(run.lines)),
    ]:
        if isinstance(orders, OrderBook):
            yield where, orders


def warn_of_early_start(context: CheckContext) -> Iterator[Finding]:
    """A start before orders close, although batches open only then."""
    run = context.scenario.run
    if run.release != "when orders close" or not context.plans:
        return
    for number, line in enumerate(context.scenario.lines):
        if line.start is not None and line.orders_close is not None and line.start < line.orders_close:
            own = bool(run.lines) and run.lines[number].start is not None
            where: KeyPath = ("run", "lines", number, "start") if own else ("run", "start")
            rule = f"work starts on {line.start}, before orders close on {line.orders_close}"
            yield Finding(where, rule, 'write a later start, or release = "as ordered" with a CSV file of orders')


def warn_of_late_orders(context: CheckContext) -> Iterator[Finding]:
    """Orders of a book that came in after it closed."""
    if context.scenario.run.release != "when orders close":
        return
    books = dict(_books(context))
    for number, line in enumerate(context.scenario.lines if context.plans else ()):
        where: KeyPath = ("run", "lines", number, "orders") if context.scenario.run.lines else ("run", "orders")
        book = books.get(where)
        if book is None or line.orders_close is None:
            continue
        late = [order.id for order in book.orders if order.date > line.orders_close]
        if late:
            rule = f"orders that came after orders closed on {line.orders_close}: {say_names(late)}"
            yield Finding(where, rule, "close the book later, or take them out")


def warn_of_rule_by_promise(context: CheckContext) -> Iterator[Finding]:
    """A priority rule that goes by promised days, where no buyer was told a day or all were told one day."""
    name = context.scenario.run.priority
    if not context.plans or name not in priority.RULES or not priority.RULES[name].by_promise:
        return
    days = promised_days(context.scenario)
    if len(days) == 1:
        (day,) = days
        rule = f'"{name}" goes by the days that buyers were told; '
        rule += (
            "nobody was told one, so they put no batch before another"
            if day is None
            else f"all were told {day}, so they put none of their batches before another"
        )
        yield Finding(
            ("run", "priority"), rule, "give orders their promised days in a CSV file, or choose another rule"
        )


def find_locked(context: CheckContext) -> Iterator[Finding]:
    """What is locked is a sort of lever."""
    for number, name in enumerate(context.scenario.run.locked):
        where: KeyPath = ("run", "locked", number)
        if name not in LEVER_SORTS and not name.startswith(UNREAD) and context.is_sure(*where):
            near = context.suggester.nearest(name, LEVER_SORTS)
            mend = f'write "{near}"' if near else f"sorts are {', '.join(LEVER_SORTS)}"
            yield Finding(where, f'there is no sort of lever "{clean(name, 60)}"', mend)


RULES = (
    find_orders,
    find_locked,
    find_lines,
    find_demand,
    find_dates,
    find_release,
    find_destinations,
)
CAUTIOUS_RULES = (warn_of_early_start, warn_of_late_orders, warn_of_rule_by_promise)
