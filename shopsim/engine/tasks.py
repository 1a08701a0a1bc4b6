"""Every task of a run as flat lists: what the floor reads. How they come about stands in worklist.py."""

from __future__ import annotations

import datetime as dt
from array import array
from collections.abc import Sequence
from dataclasses import dataclass, field

from shopsim.engine.ragged import Ragged
from shopsim.engine.routing import RoutingStep, Variant
from shopsim.scenario.batches import Batch, LinePieces
from shopsim.scenario.model import Line, Scenario

#: Before links.py has been at it.
NOTHING = Ragged.of([])


@dataclass
class Worklist:
    """A scenario as flat lists, rows of different length laid end to end; see the text of worklist.py. Times in minutes from midnight of ``day0``."""

    scenario: Scenario
    day0: dt.date
    lines: tuple[Line, ...]
    line_orders: tuple[int, ...]  # pieces ordered, a line
    line_pieces: tuple[int, ...]  # pieces made, a line
    line_first: tuple[int, ...]  # first piece of each line
    batches: tuple[Batch, ...]
    pieces_open: int  # how many pieces may be under way at once
    steps: tuple[RoutingStep, ...]
    variants: tuple[Variant, ...]
    line_cuts: tuple[LinePieces, ...]
    worker_names: tuple[str, ...]
    station_names: tuple[str, ...]  # one a station, whatever its count
    station_units: tuple[tuple[int, ...], ...]  # unit numbers of each station
    rack_names: tuple[str, ...]
    rack_spots: tuple[int, ...]
    clamp_names: tuple[str, ...]
    clamp_counts: tuple[int, ...]
    piece_batch: list[int]  # batch index of each piece
    piece_in_design: list[int]  # running number of each piece within its design, as ordered (keys its luck)
    piece_variant: list[int]
    piece_cell: list[int]
    # one a task, in the order batch, operation, piece, unit
    task_step: list[int] = field(default_factory=list)
    task_batch: list[int] = field(default_factory=list)
    task_piece: array[int] = field(default_factory=lambda: array("q"))  # -1: covers several pieces
    task_unit: list[int] = field(default_factory=list)  # first unit in its piece, from 0
    task_units: list[int] = field(default_factory=list)
    task_key_unit: array[int] = field(
        default_factory=lambda: array("q")
    )  # running unit number within its step: keys its luck
    task_nth_unit: array[int] = field(
        default_factory=lambda: array("q")
    )  # how many units of its operation come before: for learning
    task_variants: list[frozenset[int]] = field(default_factory=list)  # variants whose pieces it is for
    task_cells: list[tuple[int, ...]] = field(default_factory=list)  # cells that a task for several pieces covers
    odd_key_units: dict[int, tuple[int, ...]] = field(default_factory=dict)  # of tasks whose units are not in a row
    task_entry: list[int] = field(default_factory=list)
    task_groups: Ragged = NOTHING
    task_waits: list[int] = field(default_factory=list)  # groups it listens to
    task_prior: Ragged = NOTHING  # groups of work it listens to, for the accounts
    task_batches: list[tuple[int, ...]] = field(default_factory=list)  # batches whose pieces it is for
    # one a group
    group_size: list[int] = field(default_factory=list)
    group_listeners: Ragged = NOTHING
    group_members: Ragged = NOTHING
    batch_gate: list[int] = field(default_factory=list)  # group of "batch k is open"
    # one an entry
    entry_step: list[int] = field(default_factory=list)
    entry_batch: list[int] = field(default_factory=list)
    entry_units: list[int] = field(default_factory=list)
    entry_materials: list[tuple[int, ...]] = field(default_factory=list)  # materials that hold it back

    @property
    def n_tasks(self) -> int:
        """How many tasks the run has."""
        return len(self.task_step)

    @property
    def n_pieces(self) -> int:
        """How many pieces the run makes, spares included."""
        return len(self.piece_batch)

    def key_units(self, task: int) -> Sequence[int]:
        """The running numbers of a task's units within its operation, which key their luck."""
        first = self.task_key_unit[task]
        return self.odd_key_units.get(task) or range(first, first + self.task_units[task])

    def materials_of(self, task: int) -> tuple[int, ...]:
        """The materials, by number, that hold a task back."""
        return self.entry_materials[self.task_entry[task]]

    def covers(self, task: int, piece: int) -> bool:
        """Whether a task is for this piece, alone or with others."""
        own = self.task_piece[task]
        return own == piece if own >= 0 else self.piece_cell[piece] in self.task_cells[task]

    def task_name(self, task: int) -> str:
        """A task in a reader's words: ``"glue frame, batch 1, piece 2"``."""
        words = [self.steps[self.task_step[task]].operation.name, f"batch {self.task_batch[task] + 1}"]
        if self.task_piece[task] >= 0:
            words.append(f"piece {self.task_piece[task] + 1}")
            if self.steps[self.task_step[task]].units_a_piece > self.task_units[task]:
                words.append(f"unit {self.task_unit[task] + 1}")
        return ", ".join(words)
