"""Links between tasks: what each comes after, so that it waits for the right pieces and for no others.

A *group* is a set of tasks that others wait for together ("operation 3 for piece 7",
"operation 3 for batch 2", "batch 2 is open"). When its last task is done it lets
its listeners go. A task is ready when all the groups it listens to have let go, so
the links between n tasks and their n batch-mates are 2 n, never n squared.

Work done once for a batch or a run is done for pieces of several variants. It waits for an earlier step only in
those variants in which that step comes before it; a variant in which the two have no order, or the other one, does not
make it wait.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shopsim.engine.ragged import RaggedRows
from shopsim.engine.routing import Variant
from shopsim.engine.tasks import Worklist


class _Groups:
    """Numbers groups as they are first asked for: of a step's tasks in a piece, a batch or a line, for some variants."""

    def __init__(self) -> None:
        self.number: dict[tuple[str, int, int, frozenset[int]], int] = {}
        self.known: dict[tuple[str, int, int], list[tuple[frozenset[int], int]]] = {}

    def of(self, kind: str, step: int, whose: int, variants: frozenset[int]) -> int:
        """The group's number."""
        key = (kind, step, whose, variants)
        if key not in self.number:
            self.number[key] = len(self.number)
            self.known.setdefault(key[:3], []).append((variants, self.number[key]))
        return self.number[key]

    def with_task(self, kind: str, step: int, whose: int, variants: frozenset[int]) -> list[int]:
        """The groups that a task for these variants belongs to."""
        return [number for others, number in self.known.get((kind, step, whose), ()) if others & variants]


#: ("piece", "batch" or "run"; a step; the number of that piece, batch or line; the variants whose pieces are meant)
_Prior = tuple[str, int, int, frozenset[int]]


class _Order:
    """What tasks come after: for each piece they are done for, what comes before them on that very piece."""

    def __init__(self, work: Worklist) -> None:
        self.work = work
        self.covers_batch = [step.operation.per == "batch" or step.operation.handful == "batch" for step in work.steps]
        self.covers_run = [step.operation.per == "run" for step in work.steps]
        self.in_batch: list[frozenset[int]] = [
            frozenset(work.piece_variant[batch.first : batch.first + batch.size]) for batch in work.batches
        ]
        self.known: dict[tuple[int, frozenset[int], frozenset[int]], list[tuple[int, frozenset[int]]]] = {}

    def before(self, task: int) -> Iterator[_Prior]:
        """The work that a task comes after, by the pieces that it is done for."""
        work, n, own_batch = self.work, self.work.task_step[task], self.work.task_batch[task]
        line, covered = work.batches[own_batch].line, work.task_variants[task]
        waits = work.steps[n].operation.wait_for == "batch"
        asked: list[tuple[str, int, frozenset[int]]]
        if self.covers_run[n]:
            asked = [("run", line, covered)]
            asked += [("batch", k, self.in_batch[k] - covered) for k in work.task_batches[task] if waits]
        elif waits:
            asked = [("batch", own_batch, self.in_batch[own_batch])]
        elif self.covers_batch[n]:
            asked = [("batch", own_batch, covered)]
        else:
            asked = [("piece", work.task_piece[task], covered)]
        for kind, whose, variants in asked:
            among = self.in_batch[whose] if kind == "batch" else variants
            for before, having in self.steps_before(n, variants, among):
                if self.covers_run[before]:
                    yield "run", before, line, having
                elif kind == "piece" and self.covers_batch[before]:
                    yield "batch", before, own_batch, having
                else:
                    yield kind, before, whose, having

    def steps_before(
        self, step: int, variants: frozenset[int], among: frozenset[int]
    ) -> list[tuple[int, frozenset[int]]]:
        """What a step's operation comes after: (earlier step, those of the variants in which it comes before).

        A variant may have the operation in a version of its own. One that lacks it is as far when all is done that comes
        before the operation in those ``among`` which have it.
        """
        key = (step, variants, among)
        if key not in self.known:
            name = self.work.steps[step].operation.name
            found: dict[int, set[int]] = {}
            for number in sorted(variants):
                variant = self.work.variants[number]
                own = variant.by_name.get(name)
                for earlier in variant.after[own] if own is not None else self._up_to(name, variant, sorted(among)):
                    found.setdefault(earlier, set()).add(number)
            self.known[key] = [(earlier, frozenset(having)) for earlier, having in found.items()]
        return self.known[key]

    def _up_to(self, name: str, lacking: Variant, among: Sequence[int]) -> Iterator[int]:
        """The steps of a variant that come before an operation in others; for those it lacks too, what comes before those."""
        todo, seen = [name], {name}
        for missing in todo:
            for variant in (self.work.variants[number] for number in among):
                for earlier in variant.after[variant.by_name[missing]] if missing in variant.by_name else ():
                    called = self.work.steps[earlier].operation.name
                    if called in seen:
                        continue
                    seen.add(called)
                    if called in lacking.by_name:
                        yield lacking.by_name[called]
                    else:
                        todo.append(called)


def add_links(work: Worklist) -> None:
    """Which groups each task belongs to and listens to."""
    groups = _Groups()
    work.batch_gate = [groups.of("open", -1, k, frozenset()) for k in range(len(work.batches))]
    listens, prior, belongs = RaggedRows(), RaggedRows(), RaggedRows()
    order = _Order(work)
    for task, own_batch in enumerate(work.task_batch):
        mine: list[int] = []
        gated = True
        for kind, before, whose, variants in dict.fromkeys(order.before(task)):
            mine.append(groups.of(kind, before, whose, variants))
            gated = gated and order.covers_run[before]
        prior.add(mine)
        if gated:  # nothing it comes after tells that its batch is open
            mine.append(work.batch_gate[own_batch])
        listens.add(mine)
    for task, n in enumerate(work.task_step):
        own_batch = work.task_batch[task]
        variants = work.task_variants[task]
        belongs.add(groups.with_task("run", n, work.batches[own_batch].line, variants))
        belongs.add_to_last(groups.with_task("batch", n, own_batch, variants))
        belongs.add_to_last(groups.with_task("piece", n, work.task_piece[task], variants))
    n_groups = len(groups.number)
    work.task_prior, work.task_groups = prior.done(), belongs.done()
    waits = listens.done()
    work.task_waits = np.diff(waits.first).tolist()
    work.group_listeners, work.group_members = waits.turned(n_groups), work.task_groups.turned(n_groups)
    size = np.diff(work.group_members.first)
    size[work.batch_gate] = 1
    work.group_size = size.tolist()
