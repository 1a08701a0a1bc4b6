"""Frozen records of what a scenario file says: the shop, the designs, the run.

Nothing is computed here. Rules that need more than one field stand in checks.py;
reading and writing of files in files.py. Every description below also appears in
the JSON Schema that ``shopsim schema`` writes.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from shopsim.laws import Law, fixed
from shopsim.scenario import values as v
from shopsim.scenario.design import (
    AddedOperation,
    ChangedOperation,
    ClampNeed,
    Design,
    Operation,
    Option,
    Redo,
)
from shopsim.scenario.evidence import DeliveredOrder, Learned, LoggedDays, LoggedTimes, TakenLog
from shopsim.scenario.record import Calls, Count, Name, Record

#: The priority rules that are built in; a Python user can pass a rule of their own.
PRIORITY_RULES = ("glue first", "oldest batch", "longest tail", "nearest done")


class Worker(Record):
    """Somebody who works in the shop."""

    name: Name = Field(description="What this worker is called.")
    open: v.Open | None = Field(None, description="Own hours, counted only while the shop is open; default the shop's.")
    closed: Annotated[tuple[v.DaysOff, ...], v.ListIn] = Field(
        (), max_length=1000, description="Days on which this worker is away."
    )
    can: Annotated[v.Names | None, Calls("operations")] = Field(
        None, description="Names of the operations this worker can do; default all."
    )


class Station(Record):
    """A machine or a bench at which one task at a time is done."""

    name: Name = Field(description="What it is called, as operations name it.")
    count: Count = Field(1, description="How many of them the shop has.")


class Rack(Record):
    """A place where pieces or parts stand while glue sets or finish dries."""

    name: Name = Field(description="What it is called, as operations name it.")
    spots: Count = Field(description="How many units it holds.")


class ClampKind(Record):
    """Clamps of one kind."""

    name: Name = Field(description="What this kind is called.")
    reach: v.Millimetres | None = Field(
        None, description="Longest span it closes; without it, only needs that name it."
    )
    count: Annotated[int, Field(ge=0, le=100_000)] = Field(description="How many the shop owns.")
    price: Annotated[float, Field(ge=0, le=1e6)] | None = Field(None, description="Price of one, in your money.")


class Shop(Record):
    """The workshop: when it is open, who works there, and what it owns."""

    open: v.Open = Field(description='Opening hours by day, or "always".')
    closed: Annotated[tuple[v.DaysOff, ...], v.ListIn] = Field(
        (), max_length=1000, description="Holidays: dates or ranges of dates."
    )
    interrupted: v.ShareLaw | None = Field(None, description="Share of each open day that goes to other things.")
    lost_days: v.ShareLaw | None = Field(None, description="Chance that an open day is lost altogether.")
    workers: Annotated[tuple[Worker, ...], v.ListIn] = Field((Worker(name="maker"),), description="Who works here.")
    stations: Annotated[tuple[Station, ...], v.ListIn] = Field(
        (), max_length=1000, description="Machines and benches, one task at each at a time."
    )
    racks: Annotated[tuple[Rack, ...], v.ListIn] = Field(
        (), max_length=1000, description="Where pieces stand while glue sets or finish dries."
    )
    clamps: Annotated[tuple[ClampKind, ...], v.ListIn] = Field((), max_length=1000, description="Clamps, by kind.")


class Material(Record):
    """Something bought that holds back the operations that need it."""

    name: Name = Field(description="What it is called.")
    needed_by: Annotated[v.Names, Calls("operations")] = Field(
        description="Operations that cannot start before it is here."
    )
    lead: v.TimeLaw = Field(fixed(0.0), description="Time from ordering to delivery.")
    ordered: v.Date | None = Field(None, description="Day it is ordered; default the day orders close.")
    rest: v.TimeLaw = Field(fixed(0.0), description="Time it must lie in the shop before use.")
    on_shelf: bool = Field(False, description="True: it is in the shop already.")
    late: v.Share | None = Field(
        None, description="Chance that it comes days late; default 20 % where `lead` is a range, else none."
    )


class Shipping(Record):
    """From the finished piece to the carrier, and on to the buyer."""

    packing: v.TimeLaw | None = Field(None, description="Hands-on time to pack one piece.")
    packing_station: Annotated[Name | None, Calls("stations")] = Field(None, description="Where it is packed.")
    packing_hands: Annotated[int, Field(ge=1, le=100)] = Field(1, description="People needed at once to pack.")
    caution: v.Cautions = Field((), description="Cautions to print beside packing, one or several.")
    before_packing: v.Minutes = Field(0.0, description="Clock time after the last operation before it may be wrapped.")
    pick_up: v.Weekdays | None = Field(None, description="Days on which the carrier comes; default any day.")
    pick_up_at: v.ClockTime = Field(1440.0, description="Time of day the carrier comes; default the end of the day.")
    transit: v.Transit | None = Field(None, description="Time on the way: one, or one for each destination.")


class Luck(Record):
    """How far things vary beyond what the file says; defaults are the cautious set (DEVELOPERS.md)."""

    bias: Annotated[float, Field(gt=0.1, lt=10)] = Field(1.20, description="Typical actual time over likely time.")
    bias_spread: Annotated[float, Field(ge=0, le=2)] = Field(0.25, description="Its uncertainty, sd of the logarithm.")
    pace_spread: Annotated[float, Field(ge=0, le=2)] = Field(0.12, description="How pace differs between runs.")
    guess_widening: Annotated[float, Field(ge=1, le=10)] = Field(1.7, description="How much too narrow guesses are.")
    timed_widening: Annotated[float, Field(ge=1, le=10)] = Field(1.0, description="The same for timed values.")
    guess_spread: Annotated[float, Field(ge=0, le=3)] = Field(0.35, description="Least error of a guess.")
    timed_spread: Annotated[float, Field(ge=0, le=3)] = Field(0.10, description="Least error of a timed value.")
    hand_spread: Annotated[float, Field(ge=0, le=3)] = Field(0.25, description="Unit to unit, hand work.")
    machine_spread: Annotated[float, Field(ge=0, le=3)] = Field(0.12, description="Unit to unit, machine work.")


class Line(Record):
    """One design's share of a run."""

    design: Annotated[Name, Calls("designs")] = Field(description="Name of the design that is made.")
    orders: v.Orders = Field(description="Number of orders, or a CSV file of orders.")
    round_up_to: Count | None = Field(None, description="As for the run; default the run's.")
    batch: Count | None = Field(None, description="As for the run; default the run's.")
    orders_close: v.Date | None = Field(None, description="As for the run; default the run's.")
    start: v.Date | None = Field(None, description="As for the run; default the run's.")


class Run(Record):
    """All the pieces made for one set of orders, and how they go through the shop."""

    orders: v.Orders | None = Field(None, description="Number of orders, or a CSV file of orders.")
    round_up_to: Count = Field(1, description="Pieces are rounded up to a multiple of this; the rest are spare.")
    batch: Count | None = Field(None, description="Pieces that move through the shop together; default all.")
    orders_close: v.Date | None = Field(None, description="Day the order book closes; default the start.")
    start: v.Date | None = Field(None, description="First day of work; default the day orders close.")
    release: Literal["when orders close", "as ordered"] = Field(
        "when orders close", description="When a batch may open: after orders close, or when its own orders have come."
    )
    priority: Literal["glue first", "oldest batch", "longest tail", "nearest done"] = Field(
        "glue first", description="Priority rule: what comes first when several things could start."
    )
    pieces_open: Count | None = Field(
        None,
        description="Room: pieces under way at once; default twice the largest batch, or no limit when made as ordered.",
    )
    batches_by: Literal["order received", "option"] = Field(
        "order received", description="How batches are cut: as orders came in, or each batch of one option only."
    )
    demand: v.CountLaw | None = Field(None, description="How many orders may come before they close.")
    cap: Count | None = Field(None, description="Most orders that are taken.")
    promised: v.Date | None = Field(
        None, description="Day by which buyers were told it ships, where their order says no other."
    )
    lines: Annotated[tuple[Line, ...], v.ListIn] = Field((), max_length=1000, description="Several designs in one run.")


class Scenario(Record):
    """Everything one file says."""

    title: Annotated[str, Field(max_length=300)] = Field("untitled", description="What stands above every result.")
    shop: Shop = Field(description="The workshop: its hours, its people and what it owns.")
    design: Design | None = Field(None, description="What is made, where it is one design.")
    designs: Annotated[tuple[Design, ...], v.ListIn] = Field(
        (), max_length=1000, description="What is made, where there are several designs."
    )
    materials: Annotated[tuple[Material, ...], v.ListIn] = Field(
        (), max_length=1000, description="What is bought and holds work back until it is here."
    )
    shipping: Shipping = Field(Shipping(), description="Packing, pick-up and transit.")
    luck: Luck = Field(Luck(), description="How far things vary beyond what the file says.")
    learned: Learned = Field(Learned(), description="What has been learned from logged times, days and deliveries.")
    run: Run = Field(description="The orders, and how their pieces go through the shop.")

    @property
    def all_designs(self) -> tuple[Design, ...]:
        """The designs, however the file wrote them."""
        return (*((self.design,) if self.design else ()), *self.designs)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines of the run with what they do not say filled in from the run."""
        run = self.run
        if not run.lines:
            names = [design.name for design in self.all_designs]
            plain: tuple[Line, ...] = (Line(design=names[0], orders=run.orders or likely_demand(run) or 1),)
        else:
            plain = run.lines
        whole = []
        for line in plain:
            close = line.orders_close or run.orders_close or line.start or run.start
            start = line.start or run.start or close
            whole.append(
                line.model_copy(
                    update={
                        "round_up_to": line.round_up_to or run.round_up_to,
                        "batch": line.batch or run.batch,
                        "orders_close": close,
                        "start": start,
                    }
                )
            )
        return tuple(whole)

    @property
    def day0(self) -> dt.date:
        """The day whose midnight is minute 0: the earliest start of a line."""
        return min(line.start for line in self.lines if line.start is not None)


def likely_demand(run: Run) -> int | None:
    """Orders that are likely to come, the cap kept; None where the run says nothing of demand."""
    if run.demand is None:
        return None
    likely = max(1, round(run.demand.likely))
    return likely if run.cap is None else min(likely, run.cap)


def pieces_made(orders: int, round_up_to: int) -> int:
    """Pieces made for so many orders: the next full step, the rest being spare."""
    return -(-orders // round_up_to) * round_up_to


def is_wet_or_clamped(operation: Operation) -> bool:
    """Whether an operation goes into clamps or dries, and so should be started early."""
    return bool(
        operation.clamps
        or operation.in_clamps is not None
        or operation.wet is not None
        or (operation.cure is not None and operation.cure.likely > 0)
    )


def is_pausable(operation: Operation) -> bool:
    """Whether it can be left half done at closing: as said, else unless it uses clamps or is wet."""
    if operation.pausable is not None:
        return operation.pausable
    return not operation.clamps and operation.wet is None


__all__ = [
    "PRIORITY_RULES",
    "AddedOperation",
    "ChangedOperation",
    "ClampKind",
    "ClampNeed",
    "DeliveredOrder",
    "Design",
    "Law",
    "Learned",
    "Line",
    "LoggedDays",
    "LoggedTimes",
    "Luck",
    "Material",
    "Operation",
    "Option",
    "Rack",
    "Record",
    "Redo",
    "Run",
    "Scenario",
    "Shipping",
    "Shop",
    "Station",
    "TakenLog",
    "Worker",
    "is_pausable",
    "is_wet_or_clamped",
    "likely_demand",
    "pieces_made",
]  # fmt: skip
