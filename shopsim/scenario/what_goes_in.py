"""Frozen records of what goes into a piece: boards and goods, by the materials they are of."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shopsim.scenario import money_values as m
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Name, Record


class Board(Record):
    """Boards of one kind that go into a piece: so many of a part, of a wood, to a finished size."""

    part: Annotated[Name, Calls("parts")] = Field(
        description="What is made of them: a part of the design, or a name of its own.", examples=["leg"]
    )
    wood: Annotated[Name, Calls("materials")] = Field(
        description="Name of the material they are cut from.", examples=["walnut boards"]
    )
    count: Count | None = Field(
        None,
        description="How many one piece has; default as many as `parts` says of it, else 1.",
        examples=[4],
    )
    thickness: m.Dimension = Field(description="Finished thickness.", examples=["1.5 in"])
    width: m.Dimension = Field(description="Finished width.", examples=["45 mm"])
    length: m.Dimension = Field(description="Finished length.", examples=["26 in"])
    rough: m.Thickness | None = Field(
        None,
        description="Rough thickness it is cut from, by which boards are sold: a length, or quarters of an inch; default the finished thickness.",
        examples=["8/4"],
    )
    waste: v.ShareLaw | None = Field(
        None,
        description="Share of what is bought that is lost here, as for matched fronts; default the material's.",
        examples=["35 / 45 / 60 %"],
    )
    spare: Annotated[int, Field(ge=0, le=100_000)] = Field(
        0, description="Parts that are cut beyond what the run needs.", examples=[4]
    )


class Good(Record):
    """Goods that go into a piece, a batch or a run: hardware, glue, finish, packing."""

    material: Annotated[Name, Calls("materials")] = Field(description="Name of the material.", examples=["oil and wax"])
    amount: Annotated[float, Field(gt=0, le=1e6)] = Field(
        description="How much of it, in the unit of the material.", examples=[0.05]
    )
    per: Literal["piece", "order", "batch", "run"] = Field(
        "piece",
        description="What takes so much: each piece made, each order, each batch, or the run.",
        examples=["run"],
    )
    spare: Annotated[float, Field(ge=0, le=1e6)] = Field(
        0.0, description="What is bought beyond what the run needs, in the same unit.", examples=[2.0]
    )
