"""Frozen records of a run: the orders, and how their pieces go through the shop."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from shopsim.priority import AS_PLANNED, PRIORITY_RULES, describe_rules
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record
from shopsim.scenario.work_plan import WorkPlan

#: The sorts of levers that may be locked where it is asked what would reach a day.
LEVER_SORTS = (
    "priority rule", "room", "batch size", "material", "way", "orders", "hours", "clamps", "station", "rack", "helper",
)  # fmt: skip


class Line(Record):
    """One design's share of a run."""

    design: Annotated[Name, Calls("designs")] = Field(
        description="Name of the design that is made.", examples=["counter stool"]
    )
    orders: v.Orders = Field(description="Number of orders, or a CSV file of orders.", examples=[18, "orders.csv"])
    round_up_to: Count | None = Field(
        None, description="Pieces of this line are rounded up to a multiple of this; default the run's.", examples=[4]
    )
    batch: Count | None = Field(
        None, description="Pieces of this line that move through the shop together; default the run's.", examples=[5]
    )
    orders_close: v.Date | None = Field(
        None,
        description="Day on which this line's order book closes; default the run's.",
        examples=[dt.date(2027, 1, 8)],
    )
    start: v.Date | None = Field(
        None, description="First day of work on this line; default the run's.", examples=[dt.date(2027, 1, 11)]
    )


class ProductionRun(Record):
    """All the pieces made for one set of orders, and how they go through the shop."""

    orders: v.Orders | None = Field(
        None,
        description="Number of orders, or the name of a CSV file of orders; default the likely `demand`; one of the two is needed, or [[run.lines]].",
        examples=[18],
    )
    round_up_to: Count = Field(
        1, description="Pieces are rounded up to a multiple of this; the rest are spare.", examples=[4]
    )
    batch: Count | None = Field(
        None, description="Pieces that move through the shop together; default all of them.", examples=[5]
    )
    orders_close: v.Date | None = Field(
        None,
        description="Day on which the order book closes; default the day of `start`.",
        examples=[dt.date(2027, 1, 8)],
    )
    start: v.Date | None = Field(
        None, description="First day of work; default the day of `orders_close`.", examples=[dt.date(2027, 1, 11)]
    )
    release: Literal["when orders close", "as ordered"] = Field(
        "when orders close",
        description="When a batch may open: after orders close, or when its own orders have come.",
        examples=["as ordered"],
    )
    priority: v.PriorityName = Field(
        PRIORITY_RULES[0],
        description=f'Priority rule: what comes first when several things could start. {describe_rules()}; "{AS_PLANNED}": the list in `plan`.',
        examples=[PRIORITY_RULES[2]],
    )
    plan: WorkPlan | None = Field(
        None,
        description=f'A plan of one\'s own, used where `priority` is "{AS_PLANNED}"; default none.',
        examples=[{"seed": 1, "order": [{"operation": "glue side frames", "batch": 1}]}],
    )
    pieces_open: Count | None = Field(
        None,
        description="Room: how many pieces may be under way at once; default twice the largest batch, or no limit where pieces are made as ordered.",
        examples=[10],
    )
    batches_by: Literal["order received", "option"] = Field(
        "order received",
        description="How batches are cut: as orders came in, or each batch of one option only.",
        examples=["option"],
    )
    demand: v.CountLaw | None = Field(
        None,
        description="How many orders may come before they close: a number, or low / likely / high; default nothing is said of it.",
        examples=["9 / 18 / 36"],
    )
    ways: Annotated[v.Names, Calls("ways")] = Field(
        (), description="Ways of making it that are in use, by their names in the designs.", examples=[["panel sled"]]
    )
    locked: v.Names = Field(
        (),
        description=f"Levers that shopsim reach is to leave alone: {', '.join(LEVER_SORTS)}.",
        examples=[["orders", "helper"]],
    )
    cap: Count | None = Field(None, description="The most orders that are taken; default no limit.", examples=[24])
    promised: v.Date | None = Field(
        None,
        description="Day by which buyers were told it ships, where their order says no other; default nothing was said.",
        examples=[dt.date(2027, 4, 30)],
    )
    lines: Annotated[tuple[Line, ...], v.ListIn] = Field((), max_length=1000, description="Several designs in one run.")


def likely_demand(run: ProductionRun) -> int | None:
    """Orders that are likely to come, the cap kept; None where the run says nothing of demand."""
    if run.demand is None:
        return None
    likely = max(1, round(run.demand.likely))
    return likely if run.cap is None else min(likely, run.cap)


def pieces_made(orders: int, round_up_to: int) -> int:
    """Pieces made for so many orders: the next full step, the rest being spare."""
    return -(-orders // round_up_to) * round_up_to
