"""Every error the project raises, as one tree.

    ShopSimError                 anything we raise on purpose
      InputError                 the user's file, option or value is wrong (exit code 2)
        ScenarioError            faults found in a scenario; holds all of them
        DoubtfulLog              a log far from what is believed, not yet said to be right; holds all doubts
      RunError                   a run could not be carried through
        StalledShop              open tasks, and nothing left that could happen
        BrokenRecord             a record breaks one of its laws
      Cancelled                  the user stopped the work (exit code 3)

Every class passes all its arguments on to ``Exception``, so that a copy made
by ``type(e)(*e.args)`` or by pickling is whole.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, where it stands and what would mend it.

    ``file``: the file's name as the user gave it. ``line``: 1-based, or None
    where there is no line (a value given by ``--set``). ``place``: dotted
    path in the user's words. ``rule``: what it breaks, with the value got.
    ``mend``: one thing to do.
    """

    file: str
    line: int | None
    place: str
    rule: str
    mend: str

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return " · ".join(part for part in (where, self.place, self.rule, self.mend) if part)


#: Faults that are told one by one, and kinds of further ones, before the rest is only counted.
MAX_TOLD, MAX_KINDS = 50, 20


def say_faults(faults: Sequence[Fault]) -> str:
    """Faults as lines: the first MAX_TOLD, then how many more there are of each kind, each with the first of them."""
    lines = [str(fault) for fault in faults[:MAX_TOLD]]
    kinds: dict[tuple[str, str, str], list[Fault]] = {}
    for fault in faults[MAX_TOLD:]:
        place, rule = (re.sub(r'"[^"]*"|[0-9][0-9.,]*', "…", text) for text in (fault.place, fault.rule))
        kinds.setdefault((fault.file, place, rule), []).append(fault)
    ranked = sorted(kinds.values(), key=len, reverse=True)
    lines += [f"and {len(kind):,} more like this: {kind[0]}" for kind in ranked[:MAX_KINDS]]
    rest = sum(len(kind) for kind in ranked[MAX_KINDS:])
    return "\n".join([*lines, f"and {rest:,} more of other kinds"] if rest else lines)


class ShopSimError(Exception):
    """Anything the project raises on purpose."""


class InputError(ShopSimError):
    """The user's file, option or value is wrong; the message says where and how to mend it."""


class ScenarioError(InputError):
    """A scenario has faults. ``faults`` holds every one of them, in file order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = tuple(faults)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class DoubtfulLog(InputError):
    """A log is far from what is believed, and nobody has said that it is right all the same; nothing was taken in.

    ``doubts``: in words, each with its file, its place and the slip it looks like.
    """

    def __init__(self, doubts: tuple[str, ...]) -> None:
        super().__init__(doubts)
        self.doubts = tuple(doubts)

    def __str__(self) -> str:
        last = (
            "nothing is taken in · mend the log or, if it is right as it stands, say --believe (in Python believe=True)"
        )
        return "\n".join((*self.doubts, last))


class RunError(ShopSimError):
    """A run could not be carried through."""


class StalledShop(RunError):
    """Tasks are open and nothing can happen any more; says when, which, and who holds what."""


class BrokenRecord(RunError):
    """A record breaks one of the laws every record must obey."""


class Cancelled(ShopSimError):
    """The user stopped the work."""
