"""What the rules across fields look at: a scenario, where its parts stand, and which of them could not be read."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from shopsim.scenario.model import Design, Line, Operation, Scenario, Worker, pieces_made
from shopsim.scenario.places import Finding, KeyPath, NameSuggester
from shopsim.scenario.values import OrderBook
from shopsim.scenario.variants import count_batches, operation_names

#: Steps that the program adds after a design's own where shipping asks for them.
PACKING = "packing"
STANDING = "stand before packing"


@dataclass(frozen=True)
class PlacedOperation:
    """An operation of a design, and where it stands."""

    where: KeyPath
    operation: Operation
    design: Design
    number: int


@dataclass(frozen=True)
class LinePlan:
    """A line of the run in numbers: ``pieces`` made in ``batches``, the largest of ``batch`` pieces.

    ``where`` is the line's place; ``design`` None where it is not known.
    """

    where: KeyPath
    line: Line
    design: Design | None
    ordered: int
    pieces: int
    batch: int
    batches: int


@dataclass(frozen=True)
class CheckContext:
    """A scenario for the rules across fields to look at.

    ``holes``: places that were filled because they could not be read; rules keep silent about them.
    """

    scenario: Scenario
    holes: frozenset[KeyPath] = frozenset()
    suggester: NameSuggester = field(default_factory=NameSuggester)
    order_lines: dict[KeyPath, list[int]] = field(default_factory=dict)
    _found: dict[Callable[[CheckContext], Iterator[Finding]], list[Finding]] = field(default_factory=dict, repr=False)

    def findings(self, rule: Callable[[CheckContext], Iterator[Finding]]) -> list[Finding]:
        """What a rule finds here; it looks once."""
        if rule not in self._found:
            self._found[rule] = list(rule(self))
        return self._found[rule]

    def is_sure(self, *where: str | int) -> bool:
        """Whether a place was read as the file has it."""
        return not self.holes or not any(where[:length] in self.holes for length in range(1, len(where) + 1))

    def are_named(self, *where: str | int) -> bool:
        """Whether all names in a list were read, so that a name that is not there is truly unknown."""
        if not self.holes:
            return True
        size = len(where)
        for hole in self.holes:
            if where[: len(hole)] == hole:
                return False
            if hole[:size] == where and (len(hole) == size + 1 or hole[size + 1 :] == ("name",)):
                return False
        return True

    @cached_property
    def designs(self) -> tuple[tuple[KeyPath, Design], ...]:
        """Every design and where it stands."""
        single = self.scenario.design
        found: list[tuple[KeyPath, Design]] = [(("design",), single)] if single is not None else []
        found.extend((("designs", number), design) for number, design in enumerate(self.scenario.designs))
        return tuple(found)

    @cached_property
    def steps(self) -> tuple[PlacedOperation, ...]:
        """Every operation of every design."""
        return tuple(
            PlacedOperation((*where, "operations", number), operation, design, number)
            for where, design in self.designs
            for number, operation in enumerate(design.operations)
        )

    @cached_property
    def operations_named(self) -> bool:
        """Whether all names of operations, of all designs, were read."""
        return (
            bool(self.designs)
            and self.are_named("designs")
            and all(self.are_named(*where, "operations") and self.is_sure(*where) for where, _ in self.designs)
        )

    @cached_property
    def operation_names(self) -> dict[str, None]:
        """Names of all operations, those that options add among them, and of packing, which shipping may add."""
        return dict.fromkeys((*(name for _, design in self.designs for name in operation_names(design)), PACKING))

    def able(self, name: str) -> list[Worker]:
        """The workers who can do an operation; those of whom it is not sure what they can do are counted in."""
        return [worker for worker, can in self._skills if can is None or name in can]

    @cached_property
    def _skills(self) -> list[tuple[Worker, frozenset[str] | None]]:
        skills: list[tuple[Worker, frozenset[str] | None]] = []
        for number, worker in enumerate(self.scenario.shop.workers):
            can = None if worker.can is None else frozenset(worker.can)
            if not self.is_sure("shop", "workers", number, "can") or (can and not can <= set(self.operation_names)):
                can = None
            skills.append((worker, can))
        return skills

    @cached_property
    def workers_are_sure(self) -> bool:
        """Whether it is known who works in the shop, and that anybody does."""
        return self.is_sure("shop", "workers") and bool(self.scenario.shop.workers)

    @cached_property
    def names_by_design(self) -> dict[int, list[str]]:
        """Names of the operations of each design, by the design's identity."""
        return {id(design): [operation.name for operation in design.operations] for _, design in self.designs}

    def steps_of(self, design: Design) -> list[PlacedOperation]:
        """The operations of one design."""
        return [step for step in self.steps if step.design is design]

    @cached_property
    def plans(self) -> tuple[LinePlan, ...]:
        """The lines of the run in numbers; none where there is no design or no orders."""
        scenario = self.scenario
        run = scenario.run
        if not self.designs or (not run.lines and run.orders is None and run.demand is None):
            return ()
        by_name = {design.name: design for _, design in reversed(self.designs)}
        plans = []
        for number, line in enumerate(scenario.lines):
            where: KeyPath = ("run", "lines", number) if run.lines else ("run",)
            orders = line.orders
            ordered = sum(order.quantity for order in orders.orders) if isinstance(orders, OrderBook) else orders
            pieces = pieces_made(ordered, line.round_up_to or 1)
            usual = 1 if run.release == "as ordered" else pieces
            batch = max(1, min(line.batch or usual, pieces))
            design = by_name.get(line.design)
            batches = -(-pieces // batch)
            if run.batches_by == "option" and design is not None and isinstance(orders, OrderBook) and orders.orders:
                asked = [(order.option, order.quantity) for order in orders.orders]
                batches = count_batches(design, asked, pieces, batch)
            plans.append(LinePlan(where, line, design, ordered, pieces, batch, batches))
        return tuple(plans)

    def largest_batch(self, design: Design) -> int:
        """Pieces in the largest batch of a design that the run makes; 1 where it makes none."""
        return max((plan.batch for plan in self.plans if plan.design is design), default=1)

    def units_in_piece(self, step: PlacedOperation) -> int:
        """Units that one piece has of what an operation is done for."""
        return step.design.parts.get(step.operation.per, 1)

    def units_in_task(self, step: PlacedOperation) -> int:
        """Units in the largest task of an operation."""
        operation = step.operation
        if operation.per in ("run", "batch"):
            return 1
        count = self.units_in_piece(step)
        if operation.handful == "batch":
            return self.largest_batch(step.design) * count
        return count if operation.handful is None else min(int(operation.handful), count)

    def units_are_sure(self, step: PlacedOperation) -> bool:
        """Whether the size of an operation's tasks is known."""
        where = step.where
        design = where[:-2]
        if not (self.is_sure(*where, "per") and self.is_sure(*where, "handful")):
            return False
        if not self.is_sure(*design, "parts", step.operation.per):
            return False
        if step.operation.handful != "batch":
            return True
        return all(
            self.is_sure(*place, key)
            for place in (("run",), *(plan.where for plan in self.plans))
            for key in ("orders", "batch", "round_up_to", "lines", "design")
        )

    def known_steps_after(self, step: PlacedOperation) -> Iterator[int]:
        """Numbers, within the design, of the operations that one comes directly after."""
        operation = step.operation
        if operation.after is None:
            if step.number:
                yield step.number - 1
            return
        if not self.is_sure(*step.where, "after"):
            return
        names = self.numbers_by_name(step.design)
        for name in operation.after:
            if name in names:
                yield names[name]

    def numbers_by_name(self, design: Design) -> dict[str, int]:
        """Number of each operation of a design by its name, the first of equal ones."""
        return self._numbers[id(design)]

    @cached_property
    def _numbers(self) -> dict[int, dict[str, int]]:
        numbers: dict[int, dict[str, int]] = {}
        for _, design in self.designs:
            names = numbers.setdefault(id(design), {})
            for number, operation in enumerate(design.operations):
                names.setdefault(operation.name, number)
        return numbers
