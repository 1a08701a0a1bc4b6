"""Lists of orders that have shipped, as a maker keeps them: read from CSV. All faults at once, by row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from shopsim.errors import Fault
from shopsim.scenario.log_table import CsvColumn, CsvColumns, LogTable, read_day
from shopsim.scenario.places import NameSuggester, clean, say_names

SHIPPED_COLUMNS: CsvColumns = {
    "order": CsvColumn(
        ("order", "orderid", "orderno", "ordernumber", "id", "number", "no", "reference", "ref"),
        "The order's id, as the book of orders has it.",
        "1001",
        needed=True,
    ),
    "shipped": CsvColumn(
        ("shipped", "shippedon", "shipdate", "dateshipped", "date", "sent", "senton", "day"),
        "Day on which it shipped.",
        "2027-02-26",
        needed=True,
    ),
    "run": CsvColumn(
        ("run", "runname", "series"),
        "Name of the run it belongs to; default a name made from the day orders closed.",
        "winter",
    ),
    "note": CsvColumn(
        ("note", "notes", "remark", "remarks"), "Anything you like: it is not read; default nothing.", "both parcels"
    ),
}


@dataclass(frozen=True)
class ShippedRow:
    """One order that has shipped, and on which day; ``run`` may be empty."""

    line: int
    order: str
    shipped: dt.date
    run: str


def read_shipped(
    text: str, name: str, orders: Sequence[str], suggester: NameSuggester | None = None
) -> tuple[list[ShippedRow], list[Fault]]:
    """(rows, faults) of a list of orders that have shipped: order, shipped (a date), run where wanted, note."""
    log = LogTable(name, suggester or NameSuggester())
    rows: list[ShippedRow] = []
    seen: dict[str, int] = {}
    known = {order.casefold(): order for order in orders}
    for line, cells in log.table(text, SHIPPED_COLUMNS, "begin with: order,shipped"):
        before = len(log.faults)
        named = cells["order"]
        if not named:
            log.fault(line, "order", "is blank", "write the order's id")
        elif named.casefold() not in known:
            near = log.suggester.nearest(named, orders)
            mend = f'write "{near}"' if near else f"known are {say_names(orders)}"
            log.fault(line, "order", f'there is no order "{clean(named, 60)}"', mend)
        elif named.casefold() in seen:
            log.fault(
                line, f'order "{clean(named, 60)}"', f"is on line {seen[named.casefold()]} too", "keep one of them"
            )
        seen.setdefault(named.casefold(), line)
        shipped = log.parse(line, f'order "{clean(named, 60)}" · shipped', cells["shipped"], read_day)
        if len(log.faults) == before and shipped is not None:
            rows.append(ShippedRow(line, known[named.casefold()], shipped, cells.get("run", "")[:120]))
    if not rows and not log.faults:
        log.fault(None, "", "holds no orders", "write one order on each line below the head")
    return rows, log.faults
