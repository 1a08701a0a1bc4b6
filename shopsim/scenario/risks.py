"""What a step's name, station or kind suggests to be careful of: which cautions it calls for, and which it lacks.

Common practice, no source. A suggestion is a question to the maker, so a word that is often right is enough.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from shopsim.scenario.cautions import NONE_NEEDED
from shopsim.scenario.check_context import PACKING
from shopsim.scenario.design import Operation
from shopsim.scenario.model import Scenario, Shipping
from shopsim.scenario.variants import every_operation

SAWS = ("table saw", "cut-off saw", "band saw")
EDGES = (*SAWS, "router", "jointer and planer", "drill", "hand tools")


@dataclass(frozen=True)
class Sign:
    """Words of a name or station, and the cautions they suggest; each stands for itself or for any of a few."""

    words: str
    cautions: tuple[tuple[str, ...], ...]

    def is_in(self, text: str) -> bool:
        """Whether a text has one of the words, at the beginning of a word of its own."""
        return re.search(rf"\b(?:{self.words})", text) is not None


_MACHINE = (("noise",), ("eye protection",), ("dust",))

#: Words and what they suggest. Where several cautions stand together, any of them is enough.
SIGNS: tuple[Sign, ...] = (
    Sign(r"table saw|rip(?:s|ped|ping)?\b|circular saw", (SAWS, *_MACHINE)),
    Sign(r"cut-?off saw|chop saw|cross-?cut", (("cut-off saw", "table saw", "band saw", "hand tools"),)),
    Sign(r"cut-?off saw|chop saw|mit(?:re|er) saw", _MACHINE),
    Sign(r"band ?saw|re-?saw", (("band saw", "table saw"), *_MACHINE)),
    Sign(r"saws?\b|sawn\b|sawing|mit(?:re|er)", ((*SAWS, "hand tools"), ("eye protection", "hand tools"))),
    Sign(r"hand ?saw", (("hand tools",),)),
    Sign(r"plan(?:e|es|ed|er|ers|ing)\b|joint(?:er|ers|ing)\b|thickness", (("jointer and planer", "hand tools"),)),
    Sign(r"planer|jointer|thickness", _MACHINE),
    Sign(r"mill(?:s|ed|ing)?\b", (EDGES, ("dust",))),
    Sign(r"rout(?:s|ed|er|ers|ing)?\b|spindle", (("router",), *_MACHINE)),
    Sign(r"cut(?:s|ting)?\b|taper|tenon|groove|dado|rabbet|rebate|chamfer|trim", (EDGES,)),
    Sign(r"drill|bor(?:e|es|ed|ing)\b|mortis", (("drill", "router", "hand tools"), ("eye protection",))),
    Sign(r"sand(?:s|ed|er|ers|ing)?\b", (("dust",),)),
    Sign(r"sander|orbital|screw|driver|cordless|battery|power", (("power tools", "drill", "hand tools"),)),
    Sign(r"chisel|carv|knife|knives|scrap(?:e|er|ing)|spokeshave|whittl|gouge", (("hand tools",),)),
    Sign(r"glu(?:e|es|ed|ing)\b|epoxy|laminat", (("glue-up",),)),
    Sign(r"epoxy|hardener", (("solvent fumes",),)),
    Sign(r"oil(?:s|ed|ing)?\b|danish", (("oily rags",),)),
    Sign(r"(?:wal)?nut oil|tung", (("nut oils",),)),
    Sign(r"wax|solvent|varnish|lacquer|shellac|stain(?:s|ed|ing)?\b|paint|spray|coats?\b", (("solvent fumes",),)),
    Sign(r"lift|hang(?:s|ing)?\b|carry|crate|heavy", (("lifting",),)),
    Sign(r"pack(?:s|ed|ing)?\b", (("lifting",),)),
)

_DUSTY = (("dust",),)
_WET = (("solvent fumes",), ("oily rags",))
_CLAMPED = (("glue-up",),)
_BY_MACHINE = (("noise",), ("eye protection",))


@dataclass(frozen=True)
class RiskKind:
    """What else of a step speaks of risk: it raises dust, is wet, goes into clamps, or is machine work."""

    dusty: bool = False
    wet: bool = False
    clamped: bool = False
    by_machine: bool = False


def suggest_cautions(name: str, station: str, kind: RiskKind, carried: Iterable[str]) -> tuple[str, ...]:
    """Keys of cautions that a step suggests and does not carry, each once; none where it says "none needed".

    Where any of a few would do and none of them is carried, the first is named.
    """
    has = set(carried)
    if NONE_NEEDED in has:
        return ()
    text = f"{name} | {station}".casefold()
    wanted = [group for sign in SIGNS if sign.is_in(text) for group in sign.cautions]
    for speaks, groups in (
        (kind.dusty, _DUSTY),
        (kind.wet, _WET),
        (kind.clamped, _CLAMPED),
        (kind.by_machine, _BY_MACHINE),
    ):
        wanted.extend(groups if speaks else ())
    alone = {group[0] for group in wanted if len(group) == 1} - has
    missing: dict[str, None] = {}
    for group in wanted:
        if not has & set(group) and (len(group) == 1 or not (alone | missing.keys()) & set(group)):
            missing[group[0]] = None
    return tuple(missing)


def suggest_for_operation(operation: Operation) -> tuple[str, ...]:
    """Keys of cautions that an operation suggests and does not carry; none where nobody is needed for it."""
    if operation.hands == 0:
        return ()
    kind = RiskKind(
        dusty=operation.dusty,
        wet=operation.wet is not None,
        clamped=bool(operation.clamps) or operation.in_clamps is not None,
        by_machine=operation.work_kind == "machine",
    )
    return suggest_cautions(operation.name, operation.station or "", kind, operation.caution)


def suggest_for_packing(shipping: Shipping) -> tuple[str, ...]:
    """Keys of cautions that packing suggests and does not carry; none where nothing is packed."""
    if shipping.packing is None:
        return ()
    return suggest_cautions(PACKING, shipping.packing_station or "", RiskKind(), shipping.caution)


def suggest_everywhere(scenario: Scenario) -> dict[tuple[str, str], tuple[str, ...]]:
    """What each step suggests and does not carry, by design and operation, in the order of the file; packing last.

    Steps that lack nothing are left out. Operations that options add or change count as well.
    """
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    for design in scenario.all_designs:
        for operation in every_operation(design):
            missing = suggest_for_operation(operation)
            place = (design.name, operation.name)
            if missing:
                found[place] = tuple(dict.fromkeys((*found.get(place, ()), *missing)))
    packing = suggest_for_packing(scenario.shipping)
    if packing:
        found["", PACKING] = packing
    return found
