"""Frozen records of what a scenario file says: the shop, the designs, the run.

Rules that need more than one field stand in checks.py; reading and writing of files in
files.py. Descriptions, defaults and examples below are what ``shopsim schema`` writes, as
JSON Schema and as a text to read. A description says after "; default" what holds where a
key is left out.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from shopsim.laws import Law, fixed
from shopsim.priority import PRIORITY_RULES, describe_rules
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record
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


class Worker(Record):
    """Somebody who works in the shop."""

    name: Name = Field(description="What this worker is called.", examples=["helper"])
    open: v.Open | None = Field(
        None,
        title="Own hours",
        description="Own hours, counted only while the shop is open; default the shop's hours.",
        examples=[{"sat": "09:00-12:00"}],
    )
    closed: Annotated[tuple[v.DaysOff, ...], v.ListIn] = Field(
        (),
        max_length=1000,
        title="Days away",
        description="Days on which this worker is away.",
        examples=[["2027-03-01..2027-03-05"]],
    )
    can: Annotated[v.Names | None, Calls("operations")] = Field(
        None,
        title="Can do",
        description="Names of the operations this worker can do; default all of them.",
        examples=[["sand", "oil"]],
    )


class Station(Record):
    """A machine or a bench at which one task at a time is done."""

    name: Name = Field(description="What it is called; operations name it so.", examples=["bench"])
    count: Count = Field(1, title="How many", description="How many of them the shop has.", examples=[2])


class Rack(Record):
    """A place where pieces or parts stand while glue sets or finish dries."""

    name: Name = Field(description="What it is called; operations name it so.", examples=["drying rack"])
    spots: Count = Field(description="How many units stand on it at once.", examples=[10])


class ClampKind(Record):
    """Clamps of one kind."""

    name: Name = Field(description="What this kind is called.", examples=["bar clamp"])
    reach: v.Millimetres | None = Field(
        None,
        description="Longest span it closes; default unknown: then it serves only needs that name its kind.",
        examples=["24 in"],
    )
    count: Annotated[int, Field(ge=0, le=100_000)] = Field(
        title="How many", description="How many the shop owns.", examples=[10]
    )
    price: Annotated[float, Field(ge=0, le=1e6)] | None = Field(
        None,
        title="Price of one",
        description="Price of one more, in your own money; default unknown.",
        examples=[34.0],
    )


class Shop(Record):
    """The workshop: when it is open, who works there, and what it owns."""

    open: v.Open = Field(
        description='Opening hours by day, or "always".',
        examples=[{"tue": "18:00-21:30", "sat": "08:30-12:30, 13:30-17:30"}],
    )
    closed: Annotated[tuple[v.DaysOff, ...], v.ListIn] = Field(
        (),
        max_length=1000,
        description="Holidays: dates or ranges of dates on which nobody works.",
        examples=[["2027-02-15..2027-02-21"]],
    )
    interrupted: v.ShareLaw | None = Field(
        None,
        description="Share of each open day that goes to other things; default a cautious guess, about 10 % of a typical day.",
        examples=["5 / 10 / 25 %"],
    )
    lost_days: v.ShareLaw | None = Field(
        None,
        description="Chance that an open day is lost altogether; default a cautious guess, 5 % on average.",
        examples=["4 %"],
    )
    workers: Annotated[tuple[Worker, ...], v.ListIn] = Field(
        (Worker(name="maker"),), description="Who works here; default one worker, called maker."
    )
    stations: Annotated[tuple[Station, ...], v.ListIn] = Field(
        (), max_length=1000, description="Machines and benches, one task at each at a time."
    )
    racks: Annotated[tuple[Rack, ...], v.ListIn] = Field(
        (), max_length=1000, description="Where pieces stand while glue sets or finish dries."
    )
    clamps: Annotated[tuple[ClampKind, ...], v.ListIn] = Field((), max_length=1000, description="Clamps, by kind.")


class Material(Record):
    """Something bought that holds back the operations that need it."""

    name: Name = Field(title="Material", description="What it is called.", examples=["walnut boards"])
    needed_by: Annotated[v.Names, Calls("operations")] = Field(
        description="Operations that cannot start before it is here.", examples=[["rough cut"]]
    )
    lead: v.TimeLaw = Field(
        fixed(0.0), title="Delivery takes", description="Time from ordering to delivery.", examples=["5 / 7 / 14 d"]
    )
    ordered: v.Date | None = Field(
        None,
        title="Ordered on",
        description="Day it is ordered; default the day orders close.",
        examples=[dt.date(2027, 1, 5)],
    )
    rest: v.TimeLaw = Field(
        fixed(0.0), title="Must lie for", description="Time it must lie in the shop before use.", examples=["7 d"]
    )
    on_shelf: bool = Field(False, title="On the shelf", description="True: it is in the shop already.", examples=[True])
    late: v.Share | None = Field(
        None,
        title="Chance late",
        description="Chance that it comes days late; default 20 % where `lead` is a range, else none.",
        examples=["20 %"],
    )


class Shipping(Record):
    """From the finished piece to the carrier, and on to the buyer."""

    packing: v.TimeLaw | None = Field(
        None, description="Hands-on time to pack one piece; default nothing is packed.", examples=["15 / 20 / 30 min"]
    )
    packing_station: Annotated[Name | None, Calls("stations")] = Field(
        None, description="Station at which it is packed; default none.", examples=["bench"]
    )
    packing_hands: Annotated[int, Field(ge=1, le=100)] = Field(
        1, description="People needed at once to pack.", examples=[2]
    )
    caution: v.Cautions = Field(
        (), description="Cautions to print beside packing, one or several.", examples=["lifting"]
    )
    before_packing: v.Minutes = Field(
        0.0, description="Clock time after the last operation before it may be wrapped.", examples=["3 d"]
    )
    pick_up: v.Weekdays | None = Field(
        None,
        description="Days on which the carrier comes; default any day on which the shop is not `closed`.",
        examples=[["tue", "fri"]],
    )
    pick_up_at: v.ClockTime = Field(
        1440.0, description="Time of day the carrier comes; a piece done by then goes the same day.", examples=["16:00"]
    )
    transit: v.Transit | None = Field(
        None,
        description="Time on the way: one for all, or one for each destination; default arrival is not forecast.",
        examples=[{"local": "1 d", "far coast": "3 / 5 / 9 d"}],
    )


class Luck(Record):
    """How far things vary beyond what the file says; the defaults are cautious, and shopsim/engine/README.md says where they come from."""

    bias: Annotated[float, Field(gt=0.1, lt=10)] = Field(
        1.20,
        description="How many times its likely value work takes in a typical run: 1.2 is a fifth longer.",
        examples=[1.1],
    )
    bias_spread: Annotated[float, Field(ge=0, le=2)] = Field(
        0.25, description="How unsure `bias` is (standard deviation of its logarithm).", examples=[0.2]
    )
    pace_spread: Annotated[float, Field(ge=0, le=2)] = Field(
        0.12,
        description="How the maker's pace differs from run to run (standard deviation of its logarithm).",
        examples=[0.1],
    )
    guess_widening: Annotated[float, Field(ge=1, le=10)] = Field(
        1.7, description="How many times too narrow a guessed range is taken to be.", examples=[1.5]
    )
    timed_widening: Annotated[float, Field(ge=1, le=10)] = Field(
        1.0, description="How many times too narrow the range of a timed value is taken to be.", examples=[1.2]
    )
    guess_spread: Annotated[float, Field(ge=0, le=3)] = Field(
        0.35, description="Least error of a guessed likely value (standard deviation of its logarithm).", examples=[0.3]
    )
    timed_spread: Annotated[float, Field(ge=0, le=3)] = Field(
        0.10, description="Least error of a timed likely value (standard deviation of its logarithm).", examples=[0.1]
    )
    hand_spread: Annotated[float, Field(ge=0, le=3)] = Field(
        0.25,
        description="How hand work differs from unit to unit (standard deviation of its logarithm).",
        examples=[0.25],
    )
    machine_spread: Annotated[float, Field(ge=0, le=3)] = Field(
        0.12,
        description="How machine work differs from unit to unit (standard deviation of its logarithm).",
        examples=[0.12],
    )


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
        description=f"Priority rule: what comes first when several things could start. {describe_rules()}.",
        examples=[PRIORITY_RULES[2]],
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
    cap: Count | None = Field(None, description="The most orders that are taken; default no limit.", examples=[24])
    promised: v.Date | None = Field(
        None,
        description="Day by which buyers were told it ships, where their order says no other; default nothing was said.",
        examples=[dt.date(2027, 4, 30)],
    )
    lines: Annotated[tuple[Line, ...], v.ListIn] = Field((), max_length=1000, description="Several designs in one run.")


class Scenario(Record):
    """Everything one file says."""

    title: Annotated[str, Field(max_length=300)] = Field(
        "untitled", description="What stands above every result.", examples=["Counter stools, winter run"]
    )
    shop: Shop = Field(description="The workshop: its hours, its people and what it owns.")
    design: Design | None = Field(
        None, description="What is made, where it is one design; default none, and `designs` says it."
    )
    designs: Annotated[tuple[Design, ...], v.ListIn] = Field(
        (), max_length=1000, description="What is made, where there are several designs."
    )
    materials: Annotated[tuple[Material, ...], v.ListIn] = Field(
        (), max_length=1000, description="What is bought and holds work back until it is here."
    )
    shipping: Shipping = Field(Shipping(), description="Packing, pick-up and transit.")
    luck: Luck = Field(Luck(), description="How far things vary beyond what the file says.")
    learned: Learned = Field(Learned(), description="What has been learned from logged times, days and deliveries.")
    run: ProductionRun = Field(description="The orders, and how their pieces go through the shop.")

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


def likely_demand(run: ProductionRun) -> int | None:
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
    "ProductionRun",
    "Rack",
    "Record",
    "Redo",
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
