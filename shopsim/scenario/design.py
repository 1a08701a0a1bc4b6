"""Frozen records of what is made: operations, the design they make up, and the options a buyer may choose.

Nothing is computed here; what an option makes of a design stands in variants.py.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shopsim.laws import fixed
from shopsim.scenario import values as v
from shopsim.scenario.record import Calls, Count, Name, Record


class ClampNeed(Record):
    """Clamps that one glue-up takes: by least reach, or by kind."""

    count: Count = Field(1, description="How many, at once.")
    reach: v.Millimetres | None = Field(None, description="Least reach; a longer clamp stands in for a shorter.")
    kind: Annotated[Name | None, Calls("clamps")] = Field(
        None, description="Name of the clamp kind, where only that one will do."
    )


class Redo(Record):
    """Work that a unit takes as well, with a chance."""

    chance: v.Share = Field(description="Chance that a unit takes this work as well.")
    work: v.TimeLaw = Field(description="Hands-on time it then takes.")


class Operation(Record):
    """One step of a design: what is done, where, by whom, how long."""

    name: Name = Field(description="What this step is called; each in a design has its own name.")
    after: Annotated[v.Names | None, Calls("operations")] = Field(
        None, description="Operations it comes after; default the one above; [] = at once."
    )
    per: Annotated[Name, Calls("parts")] = Field(
        "piece", description='What it is done for: "run", "batch", "piece", or the name of a part.'
    )
    handful: v.Handful | None = Field(
        None, description='Units in one task; default all that one piece has; or "batch".'
    )
    wait_for: Literal["batch"] | None = Field(None, description='"batch": waits until all batch-mates are that far.')
    station: Annotated[Name | None, Calls("stations")] = Field(None, description="Where it is done.")
    hands: Annotated[int, Field(ge=0, le=1000)] = Field(1, description="People needed at once; 0 = nobody.")
    setup: v.TimeLaw = Field(
        fixed(0.0), description="Set-up, paid when the station was last set for another operation."
    )
    work: v.TimeLaw = Field(fixed(0.0), description="Hands-on time for one unit.")
    work_kind: Literal["hand", "machine"] = Field("hand", description="Machine work varies less from unit to unit.")
    basis: Literal["guess", "timed"] = Field("guess", description="How far `work` is to be trusted.")
    learning: v.Share = Field(1.0, description="Unit time at each doubling of units made (Crawford).")
    redo: Redo | None = Field(None, description="Work that a unit takes as well, with a chance.")
    clamps: Annotated[tuple[ClampNeed, ...], v.ListIn] = Field(
        (), max_length=100, description="Clamps that one task takes."
    )
    in_clamps: v.TimeLaw | None = Field(None, description="Clock time after the hands-on work; holds the clamps.")
    unclamp: v.TimeLaw | None = Field(None, description="Hands-on time to take the clamps off.")
    cure: v.TimeLaw | None = Field(None, description="Clock time from the end of the work until it may be touched.")
    rest: Annotated[v.Rest | None, Calls("racks", key="rack")] = Field(
        None, description="Rack whose spots it fills until it is done, one a unit."
    )
    stays: bool = Field(False, description="True: it also keeps its station until it is done.")
    pausable: bool | None = Field(None, description="Can be left half done at closing.")
    open_time: v.Minutes | None = Field(None, description="The glue's working time.")
    wet: v.TimeLaw | None = Field(None, description="Wet finish: nothing dusty starts until then.")
    dusty: bool = Field(False, description="Makes dust: does not start while a finish is wet.")
    caution: v.Cautions = Field((), description="Cautions to print beside it, one or several.")


class AddedOperation(Operation):
    """An operation that a design has only with an option."""

    before: Annotated[v.Names | None, Calls("operations")] = Field(
        None,
        description="Operations that wait for it; default those that come directly after the ones it comes after.",
    )


class ChangedOperation(Record):
    """What an option changes in an operation of the design; a key that is not given stays as the design has it."""

    operation: Annotated[Name, Calls("operations")] = Field(
        description="Name of the operation of the design that is changed."
    )
    after: Annotated[v.Names | None, Calls("operations")] = Field(
        None, description="As for an operation; default unchanged."
    )
    per: Annotated[Name | None, Calls("parts")] = Field(None, description="As for an operation; default unchanged.")
    handful: v.Handful | None = Field(None, description="As for an operation; default unchanged.")
    wait_for: Literal["batch"] | None = Field(None, description="As for an operation; default unchanged.")
    station: Annotated[Name | None, Calls("stations")] = Field(
        None, description="As for an operation; default unchanged."
    )
    hands: Annotated[int, Field(ge=0, le=1000)] | None = Field(None, description="As for an operation.")
    setup: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    work: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    work_kind: Literal["hand", "machine"] | None = Field(None, description="As for an operation; default unchanged.")
    basis: Literal["guess", "timed"] | None = Field(None, description="As for an operation; default unchanged.")
    learning: v.Share | None = Field(None, description="As for an operation; default unchanged.")
    redo: Redo | None = Field(None, description="As for an operation; default unchanged.")
    clamps: Annotated[tuple[ClampNeed, ...] | None, v.ListIn] = Field(
        None, max_length=100, description="As for an operation; default unchanged; [] = none."
    )
    in_clamps: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    unclamp: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    cure: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    rest: Annotated[v.Rest | None, Calls("racks", key="rack")] = Field(
        None, description="As for an operation; default unchanged."
    )
    stays: bool | None = Field(None, description="As for an operation; default unchanged.")
    pausable: bool | None = Field(None, description="As for an operation; default unchanged.")
    open_time: v.Minutes | None = Field(None, description="As for an operation; default unchanged.")
    wet: v.TimeLaw | None = Field(None, description="As for an operation; default unchanged.")
    dusty: bool | None = Field(None, description="As for an operation; default unchanged.")
    caution: v.Cautions | None = Field(None, description="As for an operation; default unchanged.")


class Option(Record):
    """Something a buyer may choose, a wood or a colour, and what it adds to the work or changes in it."""

    name: Name = Field(description="What it is called, as the file of orders names it.")
    change: Annotated[tuple[ChangedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations of the design that are done otherwise."
    )
    add: Annotated[tuple[AddedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations that are done as well."
    )
    drop: Annotated[v.Names, Calls("operations")] = Field((), description="Operations of the design that are left out.")
    materials: Annotated[v.Names, Calls("materials")] = Field(
        (), description="Materials that only pieces of the options naming them need."
    )


class Design(Record):
    """What is made: its parts and its operations."""

    name: Name = Field(description="What the piece is called.")
    parts: dict[Name, Count] = Field(default_factory=dict, description="Parts and how many of each a piece has.")
    operations: Annotated[tuple[Operation, ...], v.ListIn] = Field(description="The steps, in a sensible order.")
    options: Annotated[tuple[Option, ...], v.ListIn] = Field(
        (), max_length=100, description="What a buyer may choose: each option adds to the work or changes it."
    )
