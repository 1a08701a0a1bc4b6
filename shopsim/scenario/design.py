"""Frozen records of what is made: operations, the design they make up, options a buyer may choose, and ways of making it.

Nothing is computed here; what an option makes of a design stands in variants.py, what a way makes of it in ways.py.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any, Literal, TypeVar

from pydantic import Field, create_model

from shopsim.laws import fixed
from shopsim.scenario import cell_texts
from shopsim.scenario import money_values as m
from shopsim.scenario import values as v
from shopsim.scenario.base_record import Calls, Count, Group, Name, Record
from shopsim.scenario.shop import ClampKind, Station
from shopsim.scenario.what_goes_in import Board, Good

#: Groups in which a table shows the keys of an operation; what has no mark stands in a last one, of fine points.
STEPS, GLUE = Group("Steps and times"), Group("Glue and drying")
R = TypeVar("R", bound=Record)


class ClampNeed(Record):
    """Clamps that one glue-up takes: by least reach, or by kind."""

    count: Count = Field(1, description="How many are on at once.", examples=[2])
    reach: v.Millimetres | None = Field(
        None,
        description="Least reach that serves; a longer clamp stands in for a shorter; default named by `kind` alone.",
        examples=["18 in"],
    )
    kind: Annotated[Name | None, Calls("clamps")] = Field(
        None,
        description="Name of the clamp kind, where only that one will do; default any kind of enough reach.",
        examples=["band clamp"],
    )


class Redo(Record):
    """Work that a unit takes as well, with a chance."""

    chance: v.Share = Field(description="Chance that a unit takes this work as well.", examples=["3 %"])
    work: v.TimeLaw = Field(description="Hands-on time it then takes on top.", examples=["20 / 30 / 60 min"])


class Operation(Record):
    """One step of a design: what is done, where, by whom, how long."""

    name: Name = Field(
        title="Operation",
        description="What this step is called; each in a design has its own name.",
        examples=["glue side frames"],
    )
    after: Annotated[v.Names | None, Calls("operations"), cell_texts.AFTER, STEPS] = Field(
        None,
        title="Comes after",
        description="Operations it comes after, [] if it may start at once; default the operation above it.",
        examples=[["cut joints", "shape legs"]],
    )
    per: Annotated[Name, Calls("parts"), STEPS] = Field(
        "piece",
        title="Done per",
        description='What it is done for: "run", "batch", "piece", or the name of a part.',
        examples=["side frame"],
    )
    handful: v.Handful | None = Field(
        None,
        description='Units in one task, or "batch": the whole batch in one task; default all that one piece has.',
        examples=[2, "batch"],
    )
    wait_for: Literal["batch"] | None = Field(
        None,
        title="Waits for",
        description='"batch": waits until all pieces of the batch are that far; default it waits for its own piece only.',
        examples=["batch"],
    )
    station: Annotated[Name | None, Calls("stations"), STEPS] = Field(
        None, description="Station at which it is done; default none is needed.", examples=["bench"]
    )
    hands: Annotated[int, Field(ge=0, le=1000)] = Field(
        1, title="People", description="People needed at once; 0 = nobody.", examples=[2]
    )
    setup: Annotated[v.TimeLaw, STEPS] = Field(
        fixed(0.0),
        title="Set-up",
        description="Hands-on time paid when its station was last set for another operation; without a station, once a batch.",
        examples=["5 min"],
    )
    work: Annotated[v.TimeLaw, STEPS] = Field(
        fixed(0.0), title="Hands-on time", description="Hands-on time for one unit.", examples=["6 / 8 / 14 min"]
    )
    work_kind: Literal["hand", "machine"] = Field(
        "hand",
        title="Done by",
        description="Kind of work: machine work varies less from unit to unit.",
        examples=["machine"],
    )
    basis: Annotated[Literal["guess", "timed"], STEPS] = Field(
        "guess",
        title="Known from",
        description="Whether `work` is guessed or was timed with a clock: how far it is to be trusted.",
        examples=["timed"],
    )
    learning: v.Share = Field(
        1.0,
        description="Unit time at each doubling of the units made, as a share of before (Crawford); 100 % is no learning.",
        examples=["95 %"],
    )
    redo: Annotated[Redo | None, cell_texts.REDO] = Field(
        None,
        title="Done again",
        description="Work that a unit takes as well, with a chance; default none.",
        examples=[{"chance": "3 %", "work": "20 / 30 / 60 min"}],
    )
    clamps: Annotated[tuple[ClampNeed, ...], v.ListIn, cell_texts.CLAMPS, GLUE] = Field(
        (),
        max_length=100,
        description="Clamps that one task takes.",
        examples=[[{"count": 2, "reach": "18 in"}, {"count": 1, "kind": "band clamp"}]],
    )
    in_clamps: Annotated[v.TimeLaw | None, GLUE] = Field(
        None,
        title="In clamps for",
        description="Clock time in clamps after the hands-on work; default none.",
        examples=["45 / 60 / 90 min"],
    )
    unclamp: Annotated[v.TimeLaw | None, GLUE] = Field(
        None,
        title="Taking off",
        description="Hands-on time to take the clamps off; default they come off by themselves when somebody is at work.",
        examples=["3 min"],
    )
    cure: Annotated[v.TimeLaw | None, GLUE] = Field(
        None,
        title="Cures for",
        description="Clock time from the end of the hands-on work until the next operation may touch it; default none.",
        examples=["24 h"],
    )
    rest: Annotated[v.Rest | None, Calls("racks", key="rack"), GLUE] = Field(
        None,
        title="Rests on",
        description="Rack whose spots it fills from the end of the hands-on work until it is done, one a unit or as many as said; default none.",
        examples=[{"rack": "drying rack", "spots": 2}],
    )
    stays: bool = Field(
        False, title="Keeps station", description="True: it also keeps its station until it is done.", examples=[True]
    )
    pausable: bool | None = Field(
        None,
        title="Can be left",
        description="Whether it can be left half done at closing; default yes, unless it uses clamps or is wet.",
        examples=[False],
    )
    open_time: Annotated[v.Minutes | None, GLUE] = Field(
        None, title="Glue open for", description="The glue's working time; default unknown.", examples=["10 min"]
    )
    wet: Annotated[v.TimeLaw | None, GLUE] = Field(
        None,
        title="Wet for",
        description="Wet finish: nothing dusty starts anywhere until so long after; default it is not wet.",
        examples=["1 h"],
    )
    dusty: Annotated[bool, GLUE] = Field(
        False,
        description="Makes dust: does not start while a finish is wet, nor a wet finish while it lasts.",
        examples=[True],
    )
    caution: Annotated[v.Cautions, STEPS] = Field(
        (),
        title="Cautions",
        description="Cautions to print beside it, one or several.",
        examples=[["oily rags", "solvent fumes"]],
    )


class AddedOperation(Operation):
    """An operation that a design has only with an option."""

    before: Annotated[v.Names | None, Calls("operations")] = Field(
        None,
        description="Operations that wait for it; default those that come directly after the ones it comes after.",
        examples=[["oil"]],
    )


def _may_change(one: type[R]) -> type[R]:
    """The record with every field of ``Operation`` but its name as well, each of which may be left out: then it is None."""
    fields: dict[str, Any] = {}
    annotated: Any = Annotated
    for key, field in Operation.model_fields.items():
        if key != "name":
            calls = [mark for mark in field.metadata if isinstance(mark, Calls)]
            marks = [mark for mark in field.metadata if not isinstance(mark, Calls)]
            kind: Any = annotated[(field.annotation, *marks)] if marks else field.annotation
            said = Field(None, description="As for an operation; default unchanged.")
            fields[key] = (annotated[(kind | None, *calls)] if calls else kind | None, said)
    return create_model(one.__name__, __base__=one, __module__=one.__module__, __doc__=one.__doc__, **fields)


@_may_change
class ChangedOperation(Record):
    """What an option changes in an operation of the design; a key that is not given stays as the design has it."""

    operation: Annotated[Name, Calls("operations")] = Field(
        description="Name of the operation of the design that is changed.", examples=["oil"]
    )

    @property
    def changes(self) -> dict[str, Any]:
        """What is changed: keys of an operation, with their new values."""
        return {key: value for key in Operation.model_fields if (value := getattr(self, key, None)) is not None}


class Option(Record):
    """Something a buyer may choose, a wood or a colour, and what it adds to the work or changes in it."""

    name: Name = Field(description="What it is called, as the file of orders names it.", examples=["walnut, dark"])
    change: Annotated[tuple[ChangedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations of the design that are done otherwise."
    )
    add: Annotated[tuple[AddedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations that are done as well."
    )
    drop: Annotated[v.Names, Calls("operations")] = Field(
        (), description="Operations of the design that are left out.", examples=[["plug screws"]]
    )
    materials: Annotated[v.Names, Calls("materials")] = Field(
        (), description="Materials that only pieces of the options naming them need.", examples=[["walnut boards"]]
    )
    adds_price: m.SignedAmount = Field(
        Decimal(0), description="What it adds to the price of a piece; less than nothing takes off.", examples=[60]
    )
    boards: Annotated[tuple[Board, ...], v.ListIn] = Field(
        (), max_length=200, description="Boards of its own, in place of those that the design has for the same part."
    )
    goods: Annotated[tuple[Good, ...], v.ListIn] = Field(
        (), max_length=200, description="Goods of its own, in place of those that the design has of the same material."
    )


class Way(Record):
    """Another way of making it, for the whole run: a jig, another glue, parts finished before the glue-up."""

    name: Name = Field(description="What it is called, as `ways` in [run] names it.", examples=["panel sled"])
    change: Annotated[tuple[ChangedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations of the design that are done otherwise."
    )
    add: Annotated[tuple[AddedOperation, ...], v.ListIn] = Field(
        (), max_length=200, description="Operations that are done as well, such as making the jig, once a run."
    )
    drop: Annotated[v.Names, Calls("operations")] = Field(
        (), description="Operations of the design that are left out.", examples=[["plug screws"]]
    )
    stations: Annotated[tuple[Station, ...], v.ListIn] = Field(
        (),
        max_length=100,
        description="Stations that come into the shop with it; where the shop has one of that name, so many more.",
        examples=[[{"name": "router table"}]],
    )
    clamps: Annotated[tuple[ClampKind, ...], v.ListIn] = Field(
        (),
        max_length=100,
        description="Clamps that come into the shop with it; where the shop has that kind, so many more.",
        examples=[[{"name": "toggle clamp", "count": 4}]],
    )
    materials: Annotated[v.Names, Calls("materials")] = Field(
        (), description="Materials that are needed only where a way naming them is in use.", examples=[["slow glue"]]
    )
    price: Annotated[float, Field(ge=0, le=1e6)] | None = Field(
        None,
        description="Price of it, with all it brings, in your own money; default unknown.",
        examples=[45.0],
    )


class Design(Record):
    """What is made: its parts and its operations."""

    name: Name = Field(description="What the piece is called.", examples=["counter stool"])
    parts: dict[Name, Count] = Field(
        default_factory=dict,
        description="Parts, and how many of each a piece has.",
        examples=[{"side frame": 2, "seat": 1}],
    )
    operations: Annotated[tuple[Operation, ...], v.ListIn] = Field(description="The steps, in a sensible order.")
    options: Annotated[tuple[Option, ...], v.ListIn] = Field(
        (), max_length=100, description="What a buyer may choose: each option adds to the work or changes it."
    )
    ways: Annotated[tuple[Way, ...], v.ListIn] = Field(
        (), max_length=100, description="Other ways of making it; those that `ways` in [run] names are in use."
    )
    price: m.Amount | None = Field(
        None, description="Price of a piece, without shipping; default unknown.", examples=[480]
    )
    shipping_paid: m.Amount = Field(
        Decimal(0), description="What a buyer pays for the shipping of a piece.", examples=[45]
    )
    shipping_cost: m.Amount = Field(Decimal(0), description="What the carrier takes for a piece.", examples=[52.5])
    boards: Annotated[tuple[Board, ...], v.ListIn] = Field(
        (), max_length=200, description="Boards that go into a piece, part by part."
    )
    goods: Annotated[tuple[Good, ...], v.ListIn] = Field(
        (), max_length=200, description="Goods that go into it: hardware, glue, finish, packing."
    )
