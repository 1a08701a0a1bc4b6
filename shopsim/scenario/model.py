"""Frozen records of what a scenario file says: the shop, the designs, the run.

Rules that need more than one field stand in checks.py; reading and writing of files in
files.py. Descriptions, defaults and examples below are what ``shopsim schema`` writes, as
JSON Schema and as a text to read. A description says after "; default" what holds where a
key is left out.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field

from shopsim.laws import Law, fixed
from shopsim.priority import PRIORITY_RULES
from shopsim.scenario import money_values as m
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Name, Record
from shopsim.scenario.design import (
    AddedOperation,
    ChangedOperation,
    ClampNeed,
    Design,
    Operation,
    Option,
    Redo,
    Way,
)
from shopsim.scenario.evidence import DeliveredOrder, Learned, LoggedDays, LoggedTimes, TakenLog
from shopsim.scenario.money_table import MoneyTable
from shopsim.scenario.production_run import Line, ProductionRun, likely_demand, pieces_made
from shopsim.scenario.shop import ClampKind, Rack, Shop, Station, Worker
from shopsim.scenario.what_goes_in import Board, Good
from shopsim.scenario.work_plan import PlannedWork, WorkPlan


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
    unit: Name | None = Field(
        None,
        title="Sold by",
        description='Unit in which it is priced and counted: "board foot" or "m3" for wood, any word for goods; default "board foot" for wood, "piece" for goods.',
        examples=["m3"],
    )
    price: m.Amount | None = Field(
        None, description="Price of one unit, in your own money; default unknown.", examples=[9.45]
    )
    waste: v.ShareLaw | None = Field(
        None,
        description="Share of what is bought that is lost to knots, sap, saw and plane; where `lengths` are given, to all but the offcuts of crosscutting; default nothing for goods, 25 / 33 / 40 % for wood.",
        examples=["25 / 33 / 40 %"],
    )
    in_stock: Annotated[float, Field(ge=0, le=1e6)] = Field(
        0.0, title="In stock", description="What is there already, in its unit.", examples=[12.5]
    )
    pack: Annotated[float, Field(gt=0, le=1e6)] | None = Field(
        None,
        title="Sold in packs of",
        description="It is sold in whole packs of so many units; default in any amount.",
        examples=[0.5],
    )
    lengths: m.Lengths | None = Field(
        None,
        title="Lengths sold",
        description="Lengths of the boards that are sold, `width` wide: boards are then cut on paper, and bought whole; default by volume.",
        examples=[["8 ft", "10 ft"]],
    )
    width: m.Dimension | None = Field(
        None,
        title="Width sold",
        description="Width of the boards that are sold; needed with `lengths`.",
        examples=["6 in"],
    )
    saw_cut: v.Millimetres = Field(
        3.2, title="Saw cut", description="What one cut of the saw takes.", examples=["3 mm"]
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
    money: MoneyTable = Field(MoneyTable(), description="What selling and keeping the shop cost, and when buyers pay.")
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
    "Board",
    "ChangedOperation",
    "ClampKind",
    "ClampNeed",
    "DeliveredOrder",
    "Design",
    "Good",
    "Law",
    "Learned",
    "Line",
    "LoggedDays",
    "LoggedTimes",
    "Luck",
    "Material",
    "MoneyTable",
    "Operation",
    "Option",
    "PlannedWork",
    "ProductionRun",
    "Rack",
    "Record",
    "Redo",
    "Scenario",
    "Shipping",
    "Shop",
    "Station",
    "TakenLog",
    "Way",
    "WorkPlan",
    "Worker",
    "is_pausable",
    "is_wet_or_clamped",
    "likely_demand",
    "pieces_made",
]  # fmt: skip
