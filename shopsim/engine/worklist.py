"""From a scenario to flat lists: every task, what it waits for, what it needs.

This is the one place that knows batches, parts and handfuls. Everything that the
engine reads in its inner loop is a plain list indexed by task, entry, operation,
station or clamp kind; nothing here depends on luck.

An *entry* of the queue is one operation in one batch; its tasks need the same things and
wait in it in order. Where handfuls come out uneven, so that tasks differ in what they need,
each task is an entry of its own.

Pieces of a design that differ in options are *variants* of it. A variant says which steps a
piece goes through and what each comes after; what is done alike is one step for all. What
is done once a batch or a run is done once for the pieces that have it in the same version. A
*cell* is the pieces of one variant in one batch. What each task waits for stands in links.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from shopsim.engine.gc_pause import gc_paused
from shopsim.engine.links import add_links
from shopsim.engine.routing import able_workers, build_steps
from shopsim.engine.tasks import Worklist
from shopsim.scenario.batches import build_batches, find_room
from shopsim.scenario.model import Scenario
from shopsim.scenario.variants import Chosen
from shopsim.scenario.ways import put_ways


@gc_paused()
def build_worklist(scenario: Scenario) -> Worklist:
    """Flatten a checked scenario, ways in use put in; costs about 10 microseconds a task, so build once and run often."""
    scenario = put_ways(scenario)
    lines = scenario.lines
    designs = scenario.all_designs
    day0 = scenario.day0
    design_number = {design.name: number for number, design in enumerate(designs)}
    batches, cuts = build_batches(scenario, lines, design_number, day0)
    chosen: dict[int, list[Chosen]] = {}
    for line, cut in zip(lines, cuts, strict=True):
        known = chosen.setdefault(design_number[line.design], [])
        known += [one for one in sorted(set(cut.chosen)) if one not in known]
    steps, variants = build_steps(scenario, designs, chosen)
    variant_of = {(variant.design, variant.chosen): n for n, variant in enumerate(variants)}
    made = [cut.made for cut in cuts]
    line_first = [sum(made[:line]) for line in range(len(lines))]
    piece_batch = [0] * sum(made)
    piece_in_design = [0] * sum(made)
    piece_variant = [0] * sum(made)
    seen: dict[int, int] = {}
    for number_of_line, (first, cut) in enumerate(zip(line_first, cuts, strict=True)):
        design = design_number[lines[number_of_line].design]
        before = seen.get(design, 0)
        for n, (place, one) in enumerate(zip(cut.place, cut.chosen, strict=True)):
            piece_in_design[first + n] = before + place
            piece_variant[first + n] = variant_of[design, one]
        seen[design] = before + cut.made
    for index, batch in enumerate(batches):
        for piece in range(batch.first, batch.first + batch.size):
            piece_batch[piece] = index
    cells: dict[tuple[int, int], int] = {}
    piece_cell = [0] * len(piece_batch)
    for index, batch in enumerate(batches):
        for piece in range(batch.first, batch.first + batch.size):
            piece_cell[piece] = cells.setdefault((index, piece_variant[piece]), len(cells))
    worklist = Worklist(
        scenario=scenario,
        day0=day0,
        lines=lines,
        line_orders=tuple(cut.ordered for cut in cuts),
        line_pieces=tuple(made),
        line_first=tuple(line_first),
        batches=batches,
        steps=steps,
        variants=variants,
        line_cuts=tuple(cuts),
        **_means(scenario, sum(made)),
        piece_batch=piece_batch,
        piece_in_design=piece_in_design,
        piece_variant=piece_variant,
        piece_cell=piece_cell,
    )
    _add_tasks(worklist)
    add_links(worklist)
    return worklist


def refit_worklist(work: Worklist, scenario: Scenario) -> Worklist:
    """The worklist of a scenario with the same tasks and another room, other workers or other numbers of things; shares all else."""
    steps = tuple(replace(step, workers=able_workers(scenario, step.operation)) for step in work.steps)
    return replace(work, scenario=scenario, lines=scenario.lines, steps=steps, **_means(scenario, work.n_pieces))


def _means(scenario: Scenario, made: int) -> dict[str, Any]:
    """The columns of a worklist of so many pieces that say what there is to make them with."""
    shop = scenario.shop
    units, number = [], 0
    for station in shop.stations:
        units.append(tuple(range(number, number + station.count)))
        number += station.count
    return {
        "pieces_open": find_room(scenario) or made,
        "worker_names": tuple(worker.name for worker in shop.workers),
        "station_names": tuple(station.name for station in shop.stations),
        "station_units": tuple(units),
        "rack_names": tuple(rack.name for rack in shop.racks),
        "rack_spots": tuple(rack.spots for rack in shop.racks),
        "clamp_names": tuple(kind.name for kind in shop.clamps),
        "clamp_counts": tuple(kind.count for kind in shop.clamps),
    }


class _Maker:
    """Adds tasks, and the queue entries they stand in."""

    def __init__(self, work: Worklist) -> None:
        self.work = work
        self.has = [frozenset(variant.after) for variant in work.variants]
        self.entries: dict[tuple[int, int, int, tuple[int, ...]], int] = {}
        self.earlier: dict[int, dict[int, int]] = {}
        self.held: dict[tuple[int, frozenset[int]], tuple[int, ...]] = {}
        self.sets: dict[frozenset[int], frozenset[int]] = {}
        self.alone_in: list[tuple[int, ...]] = [(batch,) for batch in range(len(work.batches))]

    def pieces_with(self, step: int, pieces: Sequence[int]) -> Sequence[int]:
        """Those of the pieces that go through a step."""
        variant = self.work.piece_variant
        if all(step in self.has[kind] for kind in {variant[piece] for piece in pieces}):
            return pieces
        return [piece for piece in pieces if step in self.has[variant[piece]]]

    def pieces_before(self, step: int, piece: int) -> int:
        """How many pieces of the design are cut before this one and have the same operation, in whatever version."""
        work, key = self.work, self.work.steps[step].key
        if key not in self.earlier:
            name, design = work.steps[step].operation.name, work.steps[step].design
            having = [
                other
                for other, kind in enumerate(work.piece_variant)
                if work.variants[kind].design == design and name in work.variants[kind].by_name
            ]
            self.earlier[key] = {other: number for number, other in enumerate(having)}
        return self.earlier[key][piece]

    def materials_for(self, step: int, variants: frozenset[int]) -> tuple[int, ...]:
        """The materials that hold back a task of a step for these variants."""
        key = (step, variants)
        if key not in self.held:
            own = {number for variant in variants for number in self.work.variants[variant].materials[step]}
            self.held[key] = tuple(sorted(own))
        return self.held[key]

    def add(self, step: int, batch: int, unit: int, keys: Sequence[int], pieces: Sequence[int], alone: bool) -> None:
        """One task for these pieces; ``keys``: the running numbers of its units; ``alone``: for one piece by itself."""
        work = self.work
        task = work.n_tasks
        said = work.steps[step]
        variants = frozenset([work.piece_variant[piece] for piece in pieces])
        variants = self.sets.setdefault(variants, variants)  # one for all tasks: a set takes 200 bytes
        materials = self.materials_for(step, variants)
        handful = said.operation.handful
        uneven = isinstance(handful, int) and said.units_a_piece % handful > 0
        place = (batch, step, task if uneven else -1, materials)
        entry = self.entries.setdefault(place, len(self.entries))
        if entry == len(work.entry_step):
            work.entry_step.append(step)
            work.entry_batch.append(batch)
            work.entry_units.append(len(keys))
            work.entry_materials.append(materials)
        if keys[-1] - keys[0] != len(keys) - 1:
            work.odd_key_units[task] = tuple(keys)
        nth = keys[0]
        if said.operation.learning < 1.0:
            nth = self.pieces_before(step, pieces[0]) * said.units_a_piece + unit
        work.task_step.append(step)
        work.task_batch.append(batch)
        work.task_piece.append(pieces[0] if alone else -1)
        work.task_unit.append(unit)
        work.task_units.append(len(keys))
        work.task_key_unit.append(keys[0])
        work.task_nth_unit.append(nth)
        work.task_entry.append(entry)
        work.task_variants.append(variants)
        work.task_cells.append(() if alone else tuple(dict.fromkeys([work.piece_cell[piece] for piece in pieces])))
        work.task_batches.append(
            self.alone_in[batch] if alone else tuple(sorted({work.piece_batch[piece] for piece in pieces}))
        )


def _add_tasks(work: Worklist) -> None:
    """Tasks in the order batch, operation, piece, unit."""
    maker = _Maker(work)
    steps_of: dict[int, list[int]] = {}
    for n, step in enumerate(work.steps):
        steps_of.setdefault(step.design, []).append(n)
    for index, batch in enumerate(work.batches):
        for n in steps_of[batch.design]:
            pieces = maker.pieces_with(n, range(batch.first, batch.first + batch.size))
            if pieces:
                _add_tasks_of(maker, n, index, pieces)


def _add_tasks_of(maker: _Maker, n: int, index: int, pieces: Sequence[int]) -> None:
    """The tasks of a step for the pieces of a batch that go through it."""
    work = maker.work
    step = work.steps[n]
    operation, count = step.operation, step.units_a_piece
    if operation.per == "run":
        line = work.batches[index].line
        first = work.line_first[line]
        served = maker.pieces_with(n, range(first, first + work.line_pieces[line]))
        if min(work.piece_batch[piece] for piece in served) == index:
            maker.add(n, index, 0, (min(work.piece_in_design[piece] for piece in served),), served, False)
        return
    numbers = [work.piece_in_design[piece] for piece in pieces]
    if operation.per == "batch":
        maker.add(n, index, 0, (min(numbers),), pieces, False)
    elif operation.handful == "batch":
        keys: Sequence[int] = [number * count + unit for number in sorted(numbers) for unit in range(count)]
        maker.add(n, index, 0, keys, pieces, False)
    else:
        handful = count if operation.handful is None else int(operation.handful)
        for piece, number in zip(pieces, numbers, strict=True):
            for unit in range(0, count, handful):
                key = number * count + unit
                maker.add(n, index, unit, range(key, key + min(handful, count - unit)), (piece,), True)


__all__ = ["Worklist", "build_worklist", "refit_worklist"]
