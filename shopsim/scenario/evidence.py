"""What has been learned from logs, as the scenario keeps it: counts, means and squares, from which beliefs follow exactly.

Kept are the sufficient statistics and not the beliefs that follow from them, so that a
belief, a likely value or a basis can still be changed. The single times stand beside them, so
that one which is told again, corrected or under another name, is known and not counted twice.
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record


class LoggedTimes(Record):
    """What a log of task times came to for one operation of one run (sufficient statistics)."""

    operation: Annotated[Name, Calls("operations", of_design="design")] = Field(
        description="Operation that was timed.", examples=["rip rails"]
    )
    units: Count = Field(description="Units that were timed.", examples=[12])
    mean: Annotated[float, Field(ge=-10, le=10)] = Field(
        description="Mean of log(actual / likely) of a unit's time, each unit counting once.", examples=[0.05]
    )
    squares: Annotated[float, Field(ge=0, le=1e6)] = Field(
        0.0, description="Sum of squares about that mean, each unit counting once.", examples=[0.4]
    )
    times: Count | None = Field(None, description="Times that were logged; default as many as units.", examples=[6])
    likely: v.Minutes | None = Field(
        None,
        description="Likely time of one unit with which it was compared; default the operation's.",
        examples=["4 min"],
    )
    outside: Annotated[int, Field(ge=0, le=100_000)] = Field(
        0, description="Times under the low or over the high.", examples=[1]
    )
    run: Name = Field("first run", description="Run in which it was timed; a run shares its pace.", examples=["autumn"])
    design: Annotated[Name | None, Calls("designs")] = Field(
        None,
        description="Design it belongs to, where several have such an operation; default the only one that has it.",
        examples=["counter stool"],
    )
    log: Name = Field("by hand", description="Name of the log it comes from.", examples=["stool-times.csv"])
    rows: Annotated[tuple[v.LoggedTime, ...], v.ListIn] = Field(
        (),
        max_length=50_000,
        description="Its single times as piece: minutes, by which a time told again is known.",
        examples=[["1: 4.1", "2: 7 for 2"]],
    )


class LoggedDays(Record):
    """What a log of open days came to (sufficient statistics)."""

    days: Count = Field(description="Open days that were logged.", examples=[18])
    lost: Annotated[int, Field(ge=0, le=100_000)] = Field(
        0, description="How many of them were lost altogether.", examples=[1]
    )
    shares: Annotated[int, Field(ge=0, le=100_000)] = Field(
        0, description="Days with a logged share left for the shop.", examples=[17]
    )
    mean_logit: Annotated[float, Field(ge=-10, le=10)] = Field(
        0.0, description="Mean of log(share / (1 - share)) over those days.", examples=[2.6]
    )
    first: v.Date | None = Field(
        None, description="First day logged; default not known.", examples=[dt.date(2026, 9, 1)]
    )
    last: v.Date | None = Field(
        None, description="Last day logged; default not known.", examples=[dt.date(2026, 10, 10)]
    )
    log: Name = Field("by hand", description="Name of the log it comes from.", examples=["stool-days.csv"])


class DeliveredOrder(Record):
    """How an order that has shipped compares with what was forecast of it."""

    order: Name = Field(description="The order's id.", examples=["1001"])
    pit: Annotated[float, Field(ge=0, le=1)] = Field(
        description="Share of the forecast runs that shipped before the day it really shipped (within that day, drawn by lot).",
        examples=[0.62],
    )
    run: Name = Field(
        "first run", description="Run it belonged to; the orders of a run share its luck.", examples=["autumn"]
    )


class TakenLog(Record):
    """A log that has been taken in, so that it is not counted twice."""

    log: Name = Field(description="Its file name.", examples=["stool-times.csv"])
    kind: Literal["times", "days"] = Field("times", description="What it is a log of.", examples=["days"])
    rows: Count = Field(1, description="Rows it had.", examples=[30])
    digest: Annotated[str, Field(max_length=64)] = Field(
        "", description="Digest of these rows (SHA-256, shortened).", examples=["5f2b8a6c"]
    )


class Learned(Record):
    """What has been learned from logs; written by the program, and may be put by hand."""

    times: Annotated[tuple[LoggedTimes, ...], v.ListIn] = Field(
        (), max_length=20_000, description="Logged task times, by run and operation."
    )
    days: Annotated[tuple[LoggedDays, ...], v.ListIn] = Field((), max_length=1000, description="Logged days.")
    delivered: Annotated[tuple[DeliveredOrder, ...], v.ListIn] = Field(
        (), max_length=10_000, description="Orders that have shipped, for recalibration."
    )
    logs: Annotated[tuple[TakenLog, ...], v.ListIn] = Field(
        (), max_length=1000, description="Logs that have been taken in."
    )
