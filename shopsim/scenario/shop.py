"""Frozen records of the shop: its hours, its people and what it owns."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from shopsim.scenario import money_values as m
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record


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
    pay: m.Amount | None = Field(
        None,
        title="Pay for an hour",
        description="Pay for an hour in the shop, in your own money; default unpaid, as the maker is.",
        examples=[18],
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
