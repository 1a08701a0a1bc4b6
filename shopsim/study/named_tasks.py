"""The tasks that a row of the log of a run is about: its names looked up, its batch and pieces found, all faults told."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

import numpy as np

from shopsim.engine.worklist import Worklist
from shopsim.errors import Fault
from shopsim.scenario.happenings import Happening
from shopsim.scenario.places import NameSuggester, clean, say_names
from shopsim.study.order_queue import OrderQueue


def fold(name: str) -> str:
    """A name as names are compared."""
    return " ".join(name.casefold().split())


def say_pieces(numbers: Iterable[int]) -> str:
    """Numbers of pieces, counted from 0, as people count them: ``1-3, 5``."""
    parts: list[list[int]] = []
    for number in sorted(set(numbers)):
        if parts and number == parts[-1][-1]:
            parts[-1][-1] = number + 1
        else:
            parts.append([number, number + 1])
    return ", ".join(str(first + 1) if last == first + 1 else f"{first + 1}-{last}" for first, last in parts)


class NamedTasks:
    """Looks up what rows name. ``faults`` gathers what is wrong, by row; ``name``: of the file in them."""

    def __init__(self, work: Worklist, queue: OrderQueue, name: str) -> None:
        self.work, self.name, self.faults = work, name, list[Fault]()
        self._suggester = NameSuggester()
        self._steps: dict[str, list[int]] = {}
        for number, step in enumerate(work.steps):
            self._steps.setdefault(fold(step.operation.name), []).append(number)
        self._names = list(dict.fromkeys(step.operation.name for step in work.steps))
        self._of_step: dict[int, list[int]] = {}
        for task, number in enumerate(work.task_step):
            self._of_step.setdefault(number, []).append(task)
        self._own: dict[int, list[int]] = {}
        for task in range(work.n_tasks):
            if work.task_piece[task] >= 0:
                self._own.setdefault(work.task_piece[task], []).append(task)
        self._shared = [task for task in range(work.n_tasks) if work.task_piece[task] < 0]
        self._orders = {fold(order.id): order.position - 1 for order in queue.orders}
        self._order_names = [order.id for order in queue.orders]

    def fault(self, row: Happening, place: str, rule: str, mend: str) -> None:
        """Note a fault of a row."""
        self.faults.append(Fault(self.name, row.line, clean(place), clean(rule), clean(mend)))

    # ---- names
    def _find(self, row: Happening, what: str, text: str, known: Sequence[str]) -> int | None:
        """The number of a name among those known; a fault and None where there is none."""
        plain = {fold(name): number for number, name in reversed(list(enumerate(known)))}
        found = plain.get(fold(text))
        if found is None:
            near = self._suggester.nearest(text, known)
            mend = f'write "{near}"' if near else f"known are {say_names(known)}" if known else "leave it empty"
            self.fault(row, what, f'there is no {what} "{clean(text, 60)}"', mend)
        return found

    def crew(self, row: Happening) -> int | None:
        """Those who did it, a bit a worker; 0 where the row does not say, None after a fault."""
        bits = 0
        for text in re.split(r"\s*[+,&]\s*", row.worker) if row.worker else ():
            number = self._find(row, "worker", text, self.work.worker_names)
            if number is None:
                return None
            bits |= 1 << number
        return bits

    def order(self, row: Happening) -> int | None:
        """The place of an order in the queue, from 0."""
        found = self._find(row, "order", row.order, self._order_names)
        return None if found is None else self._orders[fold(row.order)]

    def material(self, row: Happening) -> int | None:
        """The number of a material."""
        return self._find(row, "material", row.material, [one.name for one in self.work.scenario.materials])

    def check_things(self, row: Happening) -> None:
        """Faults where a row names a station or clamps that the shop does not have."""
        if row.station:
            self._find(row, "station", row.station, self.work.station_names)
        for text in re.split(r"\s*[+,]\s*", row.clamps) if row.clamps else ():
            found = re.fullmatch(r"(?:[0-9]{1,5}\s*x?\s+)?(.+)", text)
            self._find(row, "clamps", found[1] if found else text, self.work.clamp_names)

    # ---- batches, pieces, parts
    def batch(self, row: Happening) -> int | None:
        """The number of the batch, from 0; None where the row says none, or after a fault."""
        if row.batch is None:
            return None
        if row.batch > len(self.work.batches):
            n = len(self.work.batches)
            self.fault(row, "batch", f"there is no batch {row.batch}, the run has {n}", f"write a batch from 1 to {n}")
            return None
        return row.batch - 1

    def pieces(self, row: Happening, batch: int | None) -> list[int] | None:
        """The pieces, from 0; None where the row names none. In a batch they may also be counted from its first."""
        if row.pieces is None:
            return None
        n = self.work.n_pieces
        if batch is not None:
            cut = self.work.batches[batch]
            inside = range(cut.first + 1, cut.first + cut.size + 1)
            if all(number in inside for number in row.pieces):
                return [number - 1 for number in row.pieces]
            if row.pieces[-1] <= cut.size:
                return [cut.first + number - 1 for number in row.pieces]
            said = say_pieces(range(cut.first, cut.first + cut.size))
            rule = f"batch {batch + 1} has pieces {said}, so {say_pieces(number - 1 for number in row.pieces)} are more than there are"
            self.fault(row, "pieces", rule, "write numbers of its pieces, or leave the batch out")
            return []
        if row.pieces[-1] > n:
            self.fault(
                row, "pieces", f"there is no piece {row.pieces[-1]}, the run has {n}", f"write pieces from 1 to {n}"
            )
            return []
        return [number - 1 for number in row.pieces]

    def tasks(self, row: Happening) -> list[int] | None:
        """The tasks that a row may be about, in their order; None after a fault."""
        before = len(self.faults)
        steps = self._steps.get(fold(row.operation))
        if steps is None:
            self._find(row, "operation", row.operation, self._names)
            return None
        batch = self.batch(row)
        pieces = self.pieces(row, batch)
        if len(self.faults) > before:
            return None
        work, found = self.work, [task for step in steps for task in self._of_step.get(step, ())]
        if batch is not None:
            found = [task for task in found if batch in work.task_batches[task]]
            if not found:
                self.fault(
                    row, "batch", f'batch {row.batch} has no "{row.operation}"', "look at the batch, or the operation"
                )
                return None
        if pieces is not None:
            without = [piece for piece in pieces if not any(work.covers(task, piece) for task in found)]
            if without:
                self.fault(row, "pieces", f'piece {say_pieces(without)} has no "{row.operation}"', "look at the pieces")
                return None
            found = [task for task in found if any(work.covers(task, piece) for piece in pieces)]
        if row.units is not None:
            count = max(work.steps[work.task_step[task]].units_a_piece for task in found)
            if row.units[-1] > count:
                rule = f"there is no unit {row.units[-1]}, a piece has {count}"
                self.fault(row, "units", rule, f"write {'1' if count == 1 else f'units from 1 to {count}'}")
                return None
            found = [task for task in found if self._has_unit(task, row.units)]
        return sorted(found)

    def _has_unit(self, task: int, units: Sequence[int]) -> bool:
        first = self.work.task_unit[task]
        return any(first <= unit - 1 < first + self.work.task_units[task] for unit in units)

    def part_tasks(self, row: Happening, piece: int, part: str) -> list[int]:
        """The tasks of one part of a piece, of all its units or those that the row names."""
        mine = [
            task for task in self.own_tasks(piece) if self.work.steps[self.work.task_step[task]].operation.per == part
        ]
        return mine if row.units is None else [task for task in mine if self._has_unit(task, row.units)]

    def own_tasks(self, piece: int) -> list[int]:
        """The tasks of a piece by itself."""
        return self._own.get(piece, [])

    def all_tasks(self, piece: int) -> list[int]:
        """The tasks of a piece, those it shares with others included."""
        return [*self.own_tasks(piece), *(task for task in self._shared if self.work.covers(task, piece))]

    def part_of(self, row: Happening) -> str | None:
        """The part that a row says was spoiled, "" for a whole piece; None after a fault."""
        parts = list(dict.fromkeys(part for design in self.work.scenario.all_designs for part in design.parts))
        if row.part:
            found = self._find(row, "part", row.part, parts)
            return None if found is None else parts[found]
        if not row.operation:
            return ""
        per = self.work.steps[self._steps[fold(row.operation)][0]].operation.per
        return per if per in parts else ""

    def prior(self, task: int) -> list[int]:
        """What a task comes after, for the pieces it is done for."""
        work = self.work
        members = np.concatenate(
            [work.group_members.row(group) for group in work.task_prior.row(task)] or [np.zeros(0, int)]
        )
        piece = work.task_piece[task]
        if piece >= 0:
            return [other for other in dict.fromkeys(members.tolist()) if work.covers(other, piece)]
        cells = set(work.task_cells[task])
        return [
            other
            for other in dict.fromkeys(members.tolist())
            if (
                work.piece_cell[work.task_piece[other]] in cells
                if work.task_piece[other] >= 0
                else cells & {*work.task_cells[other]}
            )
        ]
