"""What waits for what in a run, before anything runs: one piece stands for all of its batch that have its options.

Work done once for a batch or a run is one for pieces with different options, and each of them may ask for another
order; so that together they may wait for each other although each could be made alone.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from shopsim.scenario.batches import Batch, LinePieces
from shopsim.scenario.design import Design, Operation
from shopsim.scenario.variants import Chosen, make_variant

#: Work done in one go, as (what for, number of its batch or line, operation, number of its version, options): what is
#: done once a batch or a run has no options of its own.
Work = tuple[str, int, str, int, Chosen | None]


def is_for_batch(operation: Operation) -> bool:
    """Whether one task of it is for the whole batch."""
    return operation.per == "batch" or operation.handful == "batch"


@dataclass
class Precedence:
    """``before``: for each work what it waits for, each with the options of a piece that asks for it.

    ``pieces``: for each (batch, options) how many pieces there are; ``works``: what such a piece goes through;
    ``first_batch``: for each work the batch in which it can be done first.
    """

    before: dict[Work, dict[Work, Chosen]] = field(default_factory=dict)
    pieces: dict[tuple[int, Chosen], int] = field(default_factory=dict)
    works: dict[tuple[int, Chosen], list[Work]] = field(default_factory=dict)
    first_batch: dict[Work, int] = field(default_factory=dict)

    def add_line(self, line: int, design: Design, batches: Mapping[int, Mapping[Chosen, int]]) -> None:
        """The work of a line's pieces, given as how many of each options each batch holds."""
        variants = _Variants(design, {chosen for cells in batches.values() for chosen in cells})
        for batch, cells in batches.items():
            for chosen, count in cells.items():
                self.pieces[batch, chosen] = count
                named = {name: _work(line, batch, chosen, *said) for name, said in variants.by_name[chosen].items()}
                self.works[batch, chosen] = list(named.values())
                for name, work in named.items():
                    self.first_batch[work] = min(batch, self.first_batch.get(work, batch))
                    waits = self.before.setdefault(work, {})
                    operation = variants.by_name[chosen][name][0]
                    for mate in cells if operation.wait_for == "batch" else (chosen,):
                        for earlier in variants.before(name, mate, cells):
                            waits.setdefault(_work(line, batch, mate, *variants.by_name[mate][earlier]), mate)

    def find_stuck(self, room: int | None = None) -> dict[Work, None]:
        """Work that can never begin, because it waits in a circle or for a batch that cannot open.

        ``room``: how many pieces may be under way at once; None: no limit.
        """
        left = {work: len(waits) for work, waits in self.before.items()}
        followers: dict[Work, list[Work]] = {work: [] for work in self.before}
        for work, waits in self.before.items():
            for earlier in waits:
                followers[earlier].append(work)
        doors = _Doors(self, room)
        ready = [work for work, count in left.items() if not count and doors.is_open(work)]
        while ready:
            work = ready.pop()
            for follower in followers[work]:
                left[follower] -= 1
                if not left[follower] and doors.is_open(follower):
                    ready.append(follower)
            ready += [other for other in doors.done(work) if not left[other]]
        stuck = doors.undone
        return {work: None for work in self.before if work in stuck}

    def find_circle(self, stuck: Iterable[Work]) -> list[tuple[Work, Work, Chosen]]:
        """A circle among stuck work: (work, what it waits for, with which options), each after the one before it."""
        stuck = dict.fromkeys(stuck)
        here = next(iter(stuck))
        trail: dict[Work, int] = {}
        while here not in trail:
            trail[here] = len(trail)
            here = next(earlier for earlier in self.before[here] if earlier in stuck)
        circle = [*list(trail)[trail[here] :], here]
        return [(one, other, self.before[one][other]) for one, other in itertools.pairwise(circle)]


class _Variants:
    """The operations of a design under some choices of options, with equal ones numbered alike."""

    def __init__(self, design: Design, choices: Iterable[Chosen]) -> None:
        #: for each choice: name -> (operation, number of its version)
        self.by_name: dict[Chosen, dict[str, tuple[Operation, int]]] = {}
        versions: dict[str, list[Operation]] = {}
        for chosen in sorted(choices):
            named = self.by_name[chosen] = {}
            for operation in make_variant(design, chosen):
                known = versions.setdefault(operation.name, [])
                number = next((n for n, one in enumerate(known) if _are_alike(one, operation)), len(known))
                if number == len(known):
                    known.append(operation)
                named.setdefault(operation.name, (operation, number))

    def before(self, name: str, chosen: Chosen, mates: Iterable[Chosen]) -> list[str]:
        """The operations that a piece goes through before one; if it lacks that, those it has of what its mates do before."""
        own = self.by_name[chosen]
        if name in own:
            return [earlier for earlier in own[name][0].after or () if earlier in own]
        found: list[str] = []
        todo, seen = [name], {name}
        for missing in todo:
            for mate in mates:
                for earlier in self.by_name[mate][missing][0].after or () if missing in self.by_name[mate] else ():
                    if earlier not in seen:
                        seen.add(earlier)
                        (found if earlier in own else todo).append(earlier)
        return found


def _are_alike(one: Operation, other: Operation) -> bool:
    """Whether two versions of an operation are one, whatever each comes after."""
    return one is other or one.model_copy(update={"after": ()}) == other.model_copy(update={"after": ()})


def _work(line: int, batch: int, chosen: Chosen, operation: Operation, version: int) -> Work:
    if operation.per == "run":
        return ("run", line, operation.name, version, None)
    if is_for_batch(operation):
        return ("batch", batch, operation.name, version, None)
    return ("piece", batch, operation.name, version, chosen)


class _Doors:
    """Batches that open in turn, as far as there is room, while work is done."""

    def __init__(self, waiting: Precedence, room: int | None) -> None:
        self.waiting, self.room = waiting, room
        self.undone = dict.fromkeys(waiting.before)
        self.batches = sorted({batch for batch, _ in waiting.pieces})
        self.cells: dict[int, list[tuple[int, Chosen]]] = {batch: [] for batch in self.batches}
        self.of_work: dict[Work, list[tuple[int, Chosen]]] = {work: [] for work in waiting.before}
        self.left = {cell: len(works) for cell, works in waiting.works.items()}
        for cell, works in waiting.works.items():
            self.cells[cell[0]].append(cell)
            for work in works:
                self.of_work[work].append(cell)
        self.opening: dict[int, list[Work]] = {batch: [] for batch in self.batches}
        for work, batch in waiting.first_batch.items():
            self.opening[batch].append(work)
        self.opened: set[int] = set()
        self.n_under_way = 0
        self._open()

    def is_open(self, work: Work) -> bool:
        """Whether the batch in which it is first done is open."""
        return self.waiting.first_batch[work] in self.opened

    def done(self, work: Work) -> list[Work]:
        """Work that may begin, as far as batches go, because this is done."""
        del self.undone[work]
        for cell in self.of_work[work]:
            self.left[cell] -= 1
            if not self.left[cell] and cell[0] in self.opened:
                self.n_under_way -= self.waiting.pieces[cell]
        return self._open()

    def _open(self) -> list[Work]:
        opened: list[Work] = []
        while len(self.opened) < len(self.batches):
            batch = self.batches[len(self.opened)]
            sizes = {cell: self.waiting.pieces[cell] for cell in self.cells[batch]}
            if self.room is not None and self.n_under_way and self.n_under_way + sum(sizes.values()) > self.room:
                break
            self.n_under_way += sum(count for cell, count in sizes.items() if self.left[cell])
            self.opened.add(batch)
            opened += self.opening[batch]
        return opened


def count_cells(batches: Sequence[Batch], pieces: Sequence[LinePieces]) -> Iterator[tuple[int, int, dict[Chosen, int]]]:
    """(batch, from 0 in the order of opening; line; how many pieces of each choice of options) of each batch."""
    made = [0]
    for line in pieces:
        made.append(made[-1] + line.made)
    for number, batch in enumerate(batches):
        first = batch.first - made[batch.line]
        counts: dict[Chosen, int] = {}
        for chosen in pieces[batch.line].chosen[first : first + batch.size]:
            counts[chosen] = counts.get(chosen, 0) + 1
        yield number, batch.line, counts
