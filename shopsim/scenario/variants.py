"""What an option, or a way of making it, makes of a design: which operations a piece then has, and what each comes after."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from shopsim.scenario.design import AddedOperation, Design, Operation, Option, Way

#: The numbers of a design's options that a piece has, rising; none of them is the plain design.
Chosen = tuple[int, ...]
PLAIN: Chosen = ()

_BETWEEN = re.compile(r"[+,;/]")


class UnknownOption(ValueError):
    """A text names an option that the design does not have; ``name`` is that part of it."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


def fold_name(name: str) -> str:
    """A name without what does not tell names apart: capitals and double spaces."""
    return " ".join(name.casefold().split())


def read_options(design: Design, text: str) -> Chosen:
    """The options that an order names: one, or several with +, comma, semicolon or slash between them; blank = none.

    A design without options takes any text, which then says nothing of the work. Raises UnknownOption.
    """
    if not design.options or not text.strip():
        return PLAIN
    known = {fold_name(option.name): number for number, option in enumerate(design.options)}
    if fold_name(text) in known:
        return (known[fold_name(text)],)
    chosen = set()
    for part in _BETWEEN.split(text):
        if not part.strip():
            continue
        if fold_name(part) not in known:
            raise UnknownOption(part.strip())
        chosen.add(known[fold_name(part)])
    return tuple(sorted(chosen))


def count_batches(design: Design, texts: Iterable[tuple[str, int]], made: int, size: int) -> int:
    """Batches that each hold one option only: of (option text, pieces) of each order, ``made`` pieces in all.

    Spare pieces have the options ordered most; what is not known counts as plain.
    """
    counts: dict[Chosen, int] = {}
    for text, pieces in texts:
        try:
            chosen = read_options(design, text)
        except UnknownOption:
            chosen = PLAIN
        counts[chosen] = counts.get(chosen, 0) + pieces
    counts[max(counts, key=counts.__getitem__)] += made - sum(counts.values())
    return sum(-(-pieces // size) for pieces in counts.values())


def say_options(design: Design, chosen: Chosen) -> str:
    """The names of options, joined by " + "; "" for the plain design."""
    return " + ".join(design.options[number].name for number in chosen)


def operation_names(design: Design) -> list[str]:
    """Names of all operations a piece of the design may have, those that options and ways add at the end."""
    names = [operation.name for operation in design.operations]
    adding: tuple[Option | Way, ...] = (*design.options, *design.ways)
    return list(dict.fromkeys((*names, *(added.name for one in adding for added in one.add))))


def every_operation(design: Design) -> list[Operation]:
    """All operations of a design, then what each option and each way makes of them or adds; the same one may come again."""
    changes: tuple[Option | Way, ...] = (*design.options, *design.ways)
    return [
        *design.operations,
        *(operation for change in changes for operation in apply_changes(design.operations, (change,))),
    ]


def make_variant(design: Design, chosen: Chosen) -> tuple[Operation, ...]:
    """The operations of a piece with these options, each with what it comes after written out.

    Options apply in the order of the file: first what they change, then what they drop, then what
    they add; of two that change the same thing the later counts. What comes after a dropped operation, or
    is put after it by a later option, comes after what that one came after; what is put before it comes before
    what came after it. An added operation is put in behind the last of those it
    comes after, and unless it names what waits for it in ``before``, whatever comes directly after
    those waits for it too. Names that are not known are passed over; the rules of a scenario tell of them.
    """
    return apply_changes(design.operations, [design.options[number] for number in chosen])


def apply_changes(operations: Sequence[Operation], changes: Iterable[Option | Way]) -> tuple[Operation, ...]:
    """These operations as options or ways, one after the other, make them; see ``make_variant``."""
    work = _Draft(operations)
    for change in changes:
        work.apply(change)
    return tuple(work.operations)


class _Draft:
    """The operations of a piece while options are being applied; every ``after`` is written out."""

    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = [
            operation if operation.after is not None else _come_after(operation, (operations[n - 1].name,) if n else ())
            for n, operation in enumerate(operations)
        ]
        self.before_dropped: dict[str, tuple[str, ...]] = {}
        self.behind_dropped: dict[str, tuple[str, ...]] = {}

    def apply(self, option: Option | Way) -> None:
        for change in option.change:
            place = self.place_of(change.operation)
            if place is not None:
                changes = change.changes
                if "after" in changes:
                    changes["after"] = self.standing(changes["after"], self.before_dropped)
                self.operations[place] = self.operations[place].model_copy(update=changes)
        for name in option.drop:
            self.drop(name)
        for number, added in enumerate(option.add):
            usual = (option.add[number - 1].name,) if number else ()
            self.add(added, added.after if added.after is not None else usual)

    def place_of(self, name: str) -> int | None:
        for place, operation in enumerate(self.operations):
            if operation.name == name:
                return place
        return None

    def drop(self, name: str) -> None:
        place = self.place_of(name)
        if place is None:
            return
        self.before_dropped[name] = tuple(one for one in self.operations.pop(place).after or () if one != name)
        self.behind_dropped[name] = tuple(later.name for later in self.operations if name in (later.after or ()))
        for n, operation in enumerate(self.operations):
            if operation.name in self.behind_dropped[name]:
                self.operations[n] = _come_after(operation, self.standing(operation.after or (), self.before_dropped))

    def standing(self, names: Iterable[str], beyond: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
        """These operations with, for each that has been dropped, those beyond it: what came before it, or behind it."""
        found: dict[str, None] = {}
        for name in names:
            found.update(dict.fromkeys(self.standing(beyond[name], beyond) if name in beyond else (name,)))
        return tuple(found)

    def add(self, added: AddedOperation, after: Sequence[str]) -> None:
        if self.place_of(added.name) is not None:
            return
        anchors = [name for name in self.standing(after, self.before_dropped) if self.place_of(name) is not None]
        if added.before is not None:
            waits = set(self.standing(added.before, self.behind_dropped))
        else:
            behind = self.standing((name for name in after if name in self.behind_dropped), self.behind_dropped)
            waits = {operation.name for operation in self.operations if set(operation.after or ()) & set(after)}
            waits = (waits | set(behind)) - self.all_before(anchors)
        for n, operation in enumerate(self.operations):
            if operation.name in waits:
                self.operations[n] = _come_after(operation, (*(operation.after or ()), added.name))
        plain = {key: getattr(added, key) for key in Operation.model_fields}
        place = max((self.place_of(name) or 0 for name in anchors), default=-1) + 1
        self.operations.insert(place, Operation.model_construct(**{**plain, "after": tuple(anchors)}))

    def all_before(self, names: Iterable[str]) -> set[str]:
        """These operations and all that come before them."""
        found: set[str] = set()
        todo = list(names)
        while todo:
            name = todo.pop()
            place = self.place_of(name)
            if place is not None and name not in found:
                found.add(name)
                todo.extend(self.operations[place].after or ())
        return found


def _come_after(operation: Operation, after: Iterable[str]) -> Operation:
    return operation.model_copy(update={"after": tuple(dict.fromkeys(after))})
