"""What the plain model has to do: every task of a run, read from the scenario without the engine's help."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, field

from shopsim.scenario.model import Design, Operation, Scenario, is_wet_or_clamped, pieces_made


@dataclass(eq=False)
class Task:
    """One operation on one handful: which units, after which tasks, and in whose place in the queue."""

    number: int
    operation: Operation
    batch: int
    pieces: tuple[int, ...]
    units: range
    rank: int
    after: list[int] = field(default_factory=list)

    @property
    def priority(self) -> tuple[int, ...]:
        """The key of "glue first", smallest served first."""
        glue = 0 if is_wet_or_clamped(self.operation) else 1
        return (self.batch + 1, glue, self.rank, self.pieces[0], self.units.start)


def list_tasks(scenario: Scenario) -> tuple[list[Task], list[int]]:
    """All tasks of the run, and the batch of every piece."""
    designs = {design.name: design for design in scenario.all_designs}
    tasks: list[Task] = []
    batch_of: list[int] = []
    for line in scenario.lines:
        if not isinstance(line.orders, int):
            raise ValueError("the plain model takes a number of orders, not a file of them")
        n_pieces = pieces_made(line.orders, line.round_up_to or 1)
        first, size = len(batch_of), line.batch or n_pieces
        n_batches = (max(batch_of) + 1) if batch_of else 0
        batch_of += [n_batches + index // size for index in range(n_pieces)]
        _add_line(tasks, designs[line.design], list(range(first, first + n_pieces)), batch_of, scenario)
    return tasks, batch_of


def _add_line(tasks: list[Task], design: Design, pieces: list[int], batch_of: list[int], scenario: Scenario) -> None:
    operations = list(design.operations)
    if scenario.shipping.packing is not None:
        packing = Operation(
            name="packing",
            after=tuple(operation.name for operation in operations),
            work=scenario.shipping.packing,
            station=scenario.shipping.packing_station,
            hands=scenario.shipping.packing_hands,
        )
        operations.append(packing)
    made: dict[str, list[Task]] = {}
    for rank, operation in enumerate(operations):
        mine = made[operation.name] = []
        for batch, group, units in _handfuls(operation, design, pieces, batch_of):
            mine.append(Task(len(tasks), operation, batch, group, units, rank))
            tasks.append(mine[-1])
        before = operation.after
        if before is None:
            before = (operations[rank - 1].name,) if rank else ()
        for name in before:
            by_piece: dict[int, list[int]] = {}
            for task in made[name]:
                for piece in task.pieces:
                    by_piece.setdefault(piece, []).append(task.number)
            for task in mine:
                held_by = task.pieces
                if operation.wait_for == "batch":
                    held_by = tuple(piece for piece in pieces if batch_of[piece] == task.batch)
                task.after += sorted({number for piece in held_by for number in by_piece[piece]})


def _handfuls(
    operation: Operation, design: Design, pieces: list[int], batch_of: list[int]
) -> Generator[tuple[int, tuple[int, ...], range], None, None]:
    """Batch, pieces and units of every task of an operation."""
    per_piece = design.parts.get(operation.per, 1)
    batches = sorted({batch_of[piece] for piece in pieces})
    if operation.per == "run":
        yield batches[0], tuple(pieces), range(1)
        return
    for index, batch in enumerate(batches):
        mates = tuple(piece for piece in pieces if batch_of[piece] == batch)
        if operation.per == "batch":
            yield batch, mates, range(index, index + 1)
            continue
        start = (mates[0] - pieces[0]) * per_piece
        if operation.handful == "batch":
            yield batch, mates, range(start, start + len(mates) * per_piece)
            continue
        handful = operation.handful if isinstance(operation.handful, int) else per_piece
        for piece in mates:
            for low in range(0, per_piece, handful):
                yield batch, (piece,), range(start + low, start + min(low + handful, per_piece))
            start += per_piece
