"""Rules about what waits for what: pieces made together do not wait for each other, and every batch can open."""

from __future__ import annotations

from collections.abc import Iterator

from shopsim.scenario.batches import build_batches, find_room
from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.check_room import find_stuck_runs
from shopsim.scenario.design import Design
from shopsim.scenario.places import Finding, KeyPath, clean
from shopsim.scenario.precedence import Precedence, Work, count_cells
from shopsim.scenario.variants import Chosen, UnknownOption, every_operation, say_options

_Cells = dict[int, dict[Chosen, int]]


def find_circles_between_options(context: CheckContext) -> Iterator[Finding]:
    """Pieces with different options, made in one batch or run, do not wait for each other in a circle."""
    for line, (where, design, cells) in enumerate(_lines(context)):
        alike: dict[frozenset[Chosen], int] = {}
        for batch, counts in cells.items():
            alike.setdefault(frozenset(counts), batch)
        choices = {chosen for counts in cells.values() for chosen in counts}
        if len(choices) < 2 or any(_is_stuck_alone(design, chosen) for chosen in choices):
            continue
        waiting = Precedence()
        waiting.add_line(line, design, {batch: cells[batch] for batch in alike.values()})
        stuck = waiting.find_stuck()
        if stuck:
            yield _say_circle(where, design, waiting.find_circle(stuck))


def find_unopened_batches(context: CheckContext) -> Iterator[Finding]:
    """Work done once a run for all does not wait for such work that only a later batch begins, for which there is no room."""
    lines = _lines(context)
    if not any(operation.per == "run" for _, design, _ in lines for operation in every_operation(design)):
        return
    room = find_room(context.scenario)
    if room is None or any(context.findings(rule) for rule in (find_circles_between_options, find_stuck_runs)):
        return
    waiting = Precedence()
    for line, (_, design, cells) in enumerate(lines):
        if any(_is_stuck_alone(design, chosen) for chosen in {one for counts in cells.values() for one in counts}):
            return
        waiting.add_line(line, design, cells)
    stuck = waiting.find_stuck(room)
    if not stuck:
        return
    low, enough = room, sum(waiting.pieces.values())
    while enough - low > 1:
        middle = (low + enough) // 2
        low, enough = (middle, enough) if waiting.find_stuck(middle) else (low, middle)
    work, earlier = next(
        (work, earlier)
        for work in stuck
        if work[0] == "run"
        for earlier in waiting.before[work]
        if waiting.first_batch[earlier] > waiting.first_batch[work] and earlier in stuck
    )
    where, design, _ = lines[work[1]]
    rule = (
        f'"{clean(work[2], 60)}" is done once for all and waits for "{clean(earlier[2], 60)}", which batch '
        f"{waiting.first_batch[earlier] + 1} begins; only {_count(room)} may be under way at once, so that batch "
        "could never open"
    )
    place = _place_of(where, design, waiting.before[work][earlier], earlier[2])
    yield Finding(place, rule, f"set run.pieces_open = {enough}")


def _lines(context: CheckContext) -> list[tuple[KeyPath, Design, _Cells]]:
    """(place of the design, design, pieces of each batch by their options) of each line; none where not all is known."""
    scenario = context.scenario
    places = {design.name: (where, design) for where, design in reversed(context.designs)}
    if context.holes or not context.plans or any(line.design not in places for line in scenario.lines):
        return []
    if any(line.start is None for line in scenario.lines):
        return []
    numbers = {design.name: number for number, design in reversed(list(enumerate(scenario.all_designs)))}
    try:
        batches, pieces = build_batches(scenario, scenario.lines, numbers, scenario.day0)
    except UnknownOption:
        return []
    lines: list[tuple[KeyPath, Design, _Cells]] = [(*places[line.design], {}) for line in scenario.lines]
    for number, line, counts in count_cells(batches, pieces):
        lines[line][2][number] = counts
    return lines


def _is_stuck_alone(design: Design, chosen: Chosen) -> bool:
    """Whether a piece with these options waits for itself, which is told as a circle of its operations."""
    waiting = Precedence()
    waiting.add_line(0, design, {0: {chosen: 1}})
    return bool(waiting.find_stuck())


def _say_circle(where: KeyPath, design: Design, circle: list[tuple[Work, Work, Chosen]]) -> Finding:
    """The circle in words, at the option that first asks for it; steps that one piece goes through in a row are one."""
    turn = next(n for n, step in enumerate(circle) if step[2] != circle[n - 1][2])
    circle = circle[turn:] + circle[:turn]
    rows: list[tuple[str, str, Chosen]] = []
    for work, earlier, chosen in circle:
        if rows and rows[-1][2] == chosen:
            rows[-1] = (rows[-1][0], earlier[2], chosen)
        else:
            rows.append((work[2], earlier[2], chosen))
    words = ", ".join(
        f'"{clean(name, 60)}" after "{clean(earlier, 60)}" {_say_chosen(design, chosen)}'
        for name, earlier, chosen in rows
    )
    asking = next((step for step in circle if step[2]), circle[0])
    over_runs = any(work[0] == "run" for work, _, _ in circle)
    together = "one run" if over_runs else "one batch"
    mend = "put them in the same order with all options"
    if not over_runs:
        mend = f'set run.batches_by = "option", or {mend}'
    rule = f"pieces of {together} wait for each other in a circle: {words}"
    return Finding(_place_of(where, design, asking[2], asking[0][2]), rule, mend)


def _count(pieces: int) -> str:
    return "1 piece" if pieces == 1 else f"{pieces} pieces"


def _say_chosen(design: Design, chosen: Chosen) -> str:
    return f"with {clean(say_options(design, chosen), 60)}" if chosen else "without an option"


def _place_of(where: KeyPath, design: Design, chosen: Chosen, name: str) -> KeyPath:
    """Where one of these options says something of an operation; else the last of them."""
    for number in reversed(chosen):
        option = design.options[number]
        for key, names in (
            ("change", [change.operation for change in option.change]),
            ("add", [added.name for added in option.add]),
        ):
            if name in names:
                return (*where, "options", number, key, names.index(name))
    return (*where, "options", chosen[-1]) if chosen else (*where, "operations")


RULES = (find_circles_between_options, find_unopened_batches)
