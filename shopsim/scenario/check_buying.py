"""Rules about what goes into a piece and what it costs: materials are known, boards can be cut from what is sold, units fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopsim.scenario.check_context import CheckContext
from shopsim.scenario.model import Board, Design, Good, Material
from shopsim.scenario.places import UNREAD, Finding, KeyPath, clean, say_names
from shopsim.units import say_mm
from shopsim.volumes import find_volume_unit

#: Share of what is bought that may be lost at most: of ten boards one is left.
MAX_WASTE = 0.9
#: A thickness may pass the rough one by so little: what rounding inches to millimetres brings.
SLACK_MM = 0.05

_Place = tuple[KeyPath, Sequence[Board], Sequence[Good]]


def list_uses(context: CheckContext) -> Iterator[_Place]:
    """Each design and each of its options: where it stands, and the boards and goods that stand there."""
    for where, design in context.designs:
        yield where, design.boards, design.goods
        for number, option in enumerate(design.options):
            yield (*where, "options", number), option.boards, option.goods


def find_unknown_materials(context: CheckContext) -> Iterator[Finding]:
    """Boards and goods are of materials that the file lists."""
    names = [material.name for material in context.scenario.materials]
    if not context.are_named("materials"):
        return
    for where, boards, goods in list_uses(context):
        placed = [((*where, "boards", n, "wood"), board.wood) for n, board in enumerate(boards)]
        placed += [((*where, "goods", n, "material"), good.material) for n, good in enumerate(goods)]
        for place, name in placed:
            if name in names or name.startswith(UNREAD):
                continue
            near = context.suggester.nearest(name, names)
            mend = f'write "{near}"' if near else "add it under [[materials]]"
            yield Finding(place, f'there is no material "{clean(name, 60)}"', mend)


def find_sizes(context: CheckContext) -> Iterator[Finding]:
    """A part is no thicker than the board it is cut from, and fits into the boards that are sold."""
    sold = {material.name: material for material in context.scenario.materials}
    for where, boards, _ in list_uses(context):
        for number, board in enumerate(boards):
            place = (*where, "boards", number)
            if not context.is_sure(*place):
                continue
            if board.rough is not None and board.thickness > board.rough + SLACK_MM:
                rule = f"{say_mm(board.thickness)} is thicker than the {say_mm(board.rough)} it is cut from"
                yield Finding((*place, "thickness"), rule, "write a thicker rough, or a thinner thickness")
            wood = sold.get(board.wood)
            if wood is None or wood.lengths is None or wood.width is None:
                continue
            for key, size, most in (("length", board.length, max(wood.lengths)), ("width", board.width, wood.width)):
                if size > most + SLACK_MM:
                    rule = f"{say_mm(size)} is more than the {say_mm(most)} of the largest {clean(wood.name, 60)} sold"
                    mend = f"glue it up of smaller boards, or add a larger one to what is sold: {key}"
                    yield Finding((*place, key), rule, mend)


def find_twice(context: CheckContext) -> Iterator[Finding]:
    """In a design, or an option, goods of a material are named once."""
    for where, _, goods in list_uses(context):
        seen: set[tuple[str, str]] = set()
        for number, good in enumerate(goods):
            key = (good.material, good.per)
            if key in seen and not good.material.startswith(UNREAD):
                rule = f'"{clean(good.material, 60)}" per {good.per} is named twice'
                yield Finding((*where, "goods", number, "material"), rule, "add both amounts up in one")
            seen.add(key)


def find_units(context: CheckContext) -> Iterator[Finding]:
    """Wood is sold by volume; boards have a width where they have lengths; not everything that is bought is lost."""
    uses = list(list_uses(context))
    woods = {board.wood for _, boards, _ in uses for board in boards}
    for number, material in enumerate(context.scenario.materials):
        place = ("materials", number)
        if not context.is_sure(*place):
            continue
        if material.name in woods and material.unit is not None and find_volume_unit(material.unit) is None:
            rule = f'boards are cut from it, and "{clean(material.unit, 40)}" is no volume'
            yield Finding((*place, "unit"), rule, 'write "board foot", "m3", "cubic foot" or "litre"')
        thick = {
            board.rough or board.thickness for _, boards, _ in uses for board in boards if board.wood == material.name
        }
        if material.in_stock and len(thick) > 1 and context.is_sure("design") and context.is_sure("designs"):
            rule = f"does not say of which of {len(thick)} rough thicknesses the {material.in_stock:g} are"
            yield Finding((*place, "in_stock"), rule, "make a material of its own of each thickness, or leave it out")
        if material.lengths is not None and material.width is None:
            yield Finding((*place, "width"), "is missing, and lengths are given", 'add width = "6 in", for instance')
        yield from _find_waste(place, material)
    for where, boards, _ in list_uses(context):
        for number, board in enumerate(boards):
            if context.is_sure(*where, "boards", number):
                yield from _find_waste((*where, "boards", number), board)


def _find_waste(place: KeyPath, thing: Material | Board) -> Iterator[Finding]:
    if thing.waste is not None and max(thing.waste.largest, thing.waste.likely) > MAX_WASTE:
        yield Finding((*place, "waste"), "leaves next to nothing of what is bought", "write at most 90 %")


def find_prices(context: CheckContext) -> Iterator[Finding]:
    """No option takes more off than a piece costs."""
    for where, design in context.designs:
        for number, option in enumerate(design.options):
            if design.price is not None and design.price + option.adds_price < 0:
                rule = f"takes more off than the {design.price} that a piece costs"
                yield Finding((*where, "options", number, "adds_price"), rule, "take off less, or raise the price")


def warn_of_unused_parts(context: CheckContext) -> Iterator[Finding]:
    """Boards for a name that is nearly a part of the design, but is none: `parts` then says nothing of how many."""
    for where, design in context.designs:
        yield from _unused(context, where, design)


def _unused(context: CheckContext, where: KeyPath, design: Design) -> Iterator[Finding]:
    known = list(design.parts)
    own = {board.part for board in design.boards}
    for number, board in enumerate(design.boards):
        near = None if board.part in known or board.count else context.suggester.nearest(board.part, known)
        if near:
            rule = f'"{clean(board.part, 60)}" is no part of the design, so one is cut for each piece'
            yield Finding((*where, "boards", number, "part"), rule, f'write "{near}", or add a count')
    for number, option in enumerate(design.options):
        for n, board in enumerate(option.boards):
            if board.part not in own and design.boards:
                rule = f'"{clean(board.part, 60)}" stands in place of no boards of the design, so it is cut as well'
                mend = f"name one of {say_names(sorted(own))}, or leave it so"
                yield Finding((*where, "options", number, "boards", n, "part"), rule, mend)


RULES = (find_unknown_materials, find_sizes, find_twice, find_units, find_prices)
CAUTIOUS_RULES = (warn_of_unused_parts,)
