"""Frozen records of a plan of one's own: in which order operations and batches go first, and what is held back to a moment."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from shopsim.limits import MAX_PLAN_LINES
from shopsim.priority import WISHES_OF_PLANS
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record


class PlannedWork(Record):
    """One line of a plan: an operation of a batch. A line nearer the top goes first."""

    operation: Annotated[Name, Calls("operations", of_design="design")] = Field(
        description='Name of the operation; "packing" and "stand before packing" are those of shipping.',
        examples=["glue side frames"],
    )
    batch: Count | None = Field(
        None,
        description="Number of the batch, from 1 in the order of opening; default every batch that has no line of its own.",
        examples=[2],
    )
    design: Annotated[Name | None, Calls("designs")] = Field(
        None, description="Name of the design; default whichever has the operation.", examples=["counter stool"]
    )
    not_before: v.Moment | None = Field(
        None,
        description="Day, or day and time, before which none of it is begun; default as soon as it can be.",
        examples=[dt.datetime(2027, 1, 19, 18, 0)],
    )


class WorkPlan(Record):
    """A plan of one's own, used where the priority rule is "as planned": searched by the program, and changed by hand."""

    wish: Literal[WISHES_OF_PLANS] = Field(  # type: ignore[valid-type]
        WISHES_OF_PLANS[0], description="What it was searched for: what was to be early, or little.", examples=["last"]
    )
    seed: Annotated[int, Field(ge=0)] | None = Field(
        None, description="Seed it was searched with; default it was not searched.", examples=[1]
    )
    order: Annotated[tuple[PlannedWork, ...], v.ListIn] = Field(
        (),
        max_length=MAX_PLAN_LINES,
        description="What goes first, the first line before all others; what has no line goes after all that have.",
    )
