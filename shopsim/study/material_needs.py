"""What a run needs of each material: net, spare, lost, to buy, and what that costs; pure arithmetic, nothing is simulated.

What is bought is what is needed over the share that is left of it, buy = net / (1 - waste), and never net x (1 + waste):
at 30 % waste 100 board feet net are 143 bought (a common rule of the wood trade, and its common mistake).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from shopsim.laws import Law
from shopsim.scenario.batches import build_batches
from shopsim.scenario.check_buying import MAX_WASTE
from shopsim.scenario.model import Board, Design, Good, Material, Scenario
from shopsim.scenario.values import OrderBook
from shopsim.scenario.variants import Chosen, read_options
from shopsim.study.board_cutting import Cut, CuttingPlan, cut_boards
from shopsim.volumes import MM3_PER_BOARD_FOOT, find_volume_unit

#: What wood loses where the file says nothing: general furniture, the dealer's pick (trade books and a magazine).
USUAL_WASTE = Law("range", (0.25, 0.33, 0.40))
NO_WASTE = Law("fixed", (0.0,))
#: Digits behind the point to which what is bought is rounded up, by the size of the unit.
PLACES, PLACES_OF_LARGE = 2, 4
_LARGE_MM3 = 1e8
#: Points of a waste that varies; what is asked for comes beside them.
LOW, HIGH = 0.1, 0.9


@dataclass(frozen=True)
class PartNeed:
    """Parts of one kind that are cut for a run: ``count`` with ``spare`` among them, ``net`` what they come to in the unit."""

    design: str
    option: str
    board: Board
    count: int
    net: float
    waste: Law


@dataclass(frozen=True)
class MaterialNeed:
    """What a run needs of one material, wood of one rough thickness, in its ``unit``.

    ``net``: in the pieces, ``spare``: in parts or goods beyond them; ``low``, ``likely``, ``high``: to buy, one time in ten less
    than the first, one in ten more than the last; ``sure``: enough with the chance that was asked; ``in_stock`` is there.
    ``to_buy``: the rest, whole packs or boards; ``plan``: how the boards are cut. Amounts of money are cents, None without a price:
    ``cost_cents`` of what is to be bought, ``used_cents`` of what is likely used up.
    """

    material: Material
    rough_mm: float | None
    unit: str
    net: float
    spare: float
    low: float
    likely: float
    high: float
    sure: float
    to_buy: Decimal
    cost_cents: int | None
    used_cents: int | None
    plan: CuttingPlan | None
    parts: tuple[PartNeed, ...]


def to_cents(amount: Decimal) -> int:
    """An amount in cents, halves rounded up: the only place where an amount is rounded."""
    return int((amount * 100).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def boards_of(design: Design, chosen: Chosen) -> list[Board]:
    """The boards of a piece with these options: those of an option stand in place of the design's for the same part."""
    boards = list(design.boards)
    for number in chosen:
        own = design.options[number].boards
        names = {board.part for board in own}
        boards = [board for board in boards if board.part not in names] + list(own)
    return boards


def goods_of(design: Design, chosen: Chosen) -> list[Good]:
    """The goods of a piece with these options: those of an option stand in place of the design's of the same material."""
    goods = list(design.goods)
    for number in chosen:
        own = design.options[number].goods
        names = {good.material for good in own}
        goods = [good for good in goods if good.material not in names] + list(own)
    return goods


@dataclass(frozen=True)
class MadePieces:
    """How much of one design with one choice of options a run makes."""

    design: Design
    chosen: Chosen
    pieces: int
    ordered: int
    orders: int
    batches: int


def count_made(scenario: Scenario) -> list[MadePieces]:
    """For each design and choice of options: pieces made, pieces and orders for buyers, and batches that hold some of it."""
    lines, designs = scenario.lines, scenario.all_designs
    numbers = {design.name: n for n, design in enumerate(designs)}
    batches, cuts = build_batches(scenario, lines, numbers, scenario.day0)
    made: Counter[tuple[int, Chosen]] = Counter()
    ordered: Counter[tuple[int, Chosen]] = Counter()
    orders: Counter[tuple[int, Chosen]] = Counter()
    held: Counter[tuple[int, Chosen]] = Counter()
    first = 0
    for number, (line, cut) in enumerate(zip(lines, cuts, strict=True)):
        design = numbers[line.design]
        for chosen in cut.chosen:
            made[design, chosen] += 1
        if isinstance(line.orders, OrderBook):
            for order in line.orders.orders:
                key = (design, read_options(designs[design], order.option))
                ordered[key] += order.quantity
                orders[key] += 1
        else:
            ordered[design, ()] += int(line.orders)
            orders[design, ()] += int(line.orders)
        for batch in batches:
            if batch.line == number:
                for chosen in {cut.chosen[n - first] for n in range(batch.first, batch.first + batch.size)}:
                    held[design, chosen] += 1
        first += cut.made
    return [
        MadePieces(designs[d], chosen, n, ordered[d, chosen], orders[d, chosen], held[d, chosen])
        for (d, chosen), n in made.items()
    ]


def list_needs(scenario: Scenario, sure: float = HIGH) -> list[MaterialNeed]:
    """What the run needs of each material that its boards and goods name, in the order of the file, thick boards first.

    ``sure``: the chance, in 0..1, with which ``sure`` and ``to_buy`` are enough: waste is drawn once for all boards of a run, so
    that its points are those of the sum. InputError where boards cannot be cut in time.
    """
    made = count_made(scenario)
    parts: dict[tuple[str, float], dict[tuple[str, Board], list[int]]] = {}
    amounts: dict[str, list[float]] = {}
    sold = {material.name: material for material in scenario.materials}
    for (design, board), pieces in _boards_made(made).items():
        each = board.count or _parts_of(made, design).get(board.part, 1)
        rough = board.rough or board.thickness
        parts.setdefault((board.wood, rough), {})[design, board] = [each * pieces, board.spare]
    for good, (n, spare) in _goods_made(made).items():
        needed = amounts.setdefault(good.material, [0.0, 0.0])
        needed[0] += n
        needed[1] += spare
    needs = []
    for name, material in sold.items():
        for rough in sorted((thick for wood, thick in parts if wood == name), reverse=True):
            needs.append(_wood(material, rough, parts[name, rough], sure))
        if name in amounts:
            net, spare = amounts[name]
            needs.append(_goods(material, net, spare, sure))
    return needs


def _parts_of(made: Iterable[MadePieces], design: str) -> dict[str, int]:
    return next(one.design.parts for one in made if one.design.name == design)


def _boards_made(made: Sequence[MadePieces]) -> dict[tuple[str, Board], int]:
    """Pieces that have each of the boards, by design."""
    found: Counter[tuple[str, Board]] = Counter()
    for one in made:
        for board in boards_of(one.design, one.chosen):
            found[one.design.name, board] += one.pieces
    return found


def _goods_made(made: Sequence[MadePieces]) -> dict[Good, tuple[float, float]]:
    """(amount, spare) of each of the goods."""
    found: dict[Good, list[float]] = {}
    for one in made:
        for good in goods_of(one.design, one.chosen):
            times = {"piece": one.pieces, "order": one.orders, "batch": one.batches, "run": 1}[good.per]
            held = found.setdefault(good, [0.0, good.spare])
            amount = times * good.amount
            held[0] = max(held[0], amount) if good.per == "run" else held[0] + amount
    return {good: (held[0], held[1]) for good, held in found.items()}


def lost(waste: Law, u: float) -> float:
    """The share that is lost at a point of it, in 0..MAX_WASTE."""
    return min(MAX_WASTE, max(0.0, waste.quantile_of_one(u) if waste.varies else waste.numbers[0]))


def _points(sure: float) -> tuple[float, float, float, float]:
    return LOW, 0.5, HIGH, sure


def _wood(
    material: Material, rough: float, parts: dict[tuple[str, Board], list[int]], sure: float
) -> MaterialNeed:  # fmt: skip
    known = find_volume_unit(material.unit or "board foot")
    unit, mm3 = known or ("board feet", MM3_PER_BOARD_FOOT)
    needs = []
    net = spare = 0.0
    for (design, board), (count, more) in parts.items():
        one = rough * board.width * board.length / mm3
        net += one * count
        spare += one * more
        waste = board.waste or material.waste or USUAL_WASTE
        needs.append(PartNeed(design, "", board, count + more, one * (count + more), waste))
    if material.lengths is not None and material.width is not None:
        plans = [_cut(material, needs, u) for u in _points(sure)]
        section = rough * material.width / mm3
        bought = [plan.bought_mm * section for plan in plans]
        plan, left = plans[3], material.in_stock
        whole = Decimal(0)
        for board_cut in plan.boards:
            for _ in range(board_cut.boards):
                volume = board_cut.length_mm * section
                if left >= volume * (1 - 1e-9):
                    left -= volume
                else:
                    whole += Decimal(repr(volume))
        to_buy = round_up(whole, mm3)
        return _need(material, rough, unit, net, spare, bought, to_buy, plan, needs)
    bought = [sum(need.net / (1 - lost(need.waste, u)) for need in needs) for u in _points(sure)]
    to_buy = round_up(Decimal(repr(max(0.0, bought[3] - material.in_stock))), mm3)
    return _need(material, rough, unit, net, spare, bought, _whole_packs(to_buy, material), None, needs)


def _cut(material: Material, needs: Sequence[PartNeed], u: float) -> CuttingPlan:
    """The boards for these parts: so many more are cut as are lost, several beside each other where the board is wide enough."""
    assert material.lengths is not None
    assert material.width is not None
    cuts = []
    for need in needs:
        across = max(1, int((material.width + material.saw_cut + 1e-6) // (need.board.width + material.saw_cut)))
        count = math.ceil(need.count / (1 - lost(need.waste, u)) - 1e-9)
        cuts.append(Cut(need.board.part, need.board.length, math.ceil(count / across)))
    return cut_boards(material.lengths, cuts, material.saw_cut)


def _goods(material: Material, net: float, spare: float, sure: float) -> MaterialNeed:
    waste = material.waste or NO_WASTE
    bought = [(net + spare) / (1 - lost(waste, u)) for u in _points(sure)]
    to_buy = round_up(Decimal(repr(round(max(0.0, bought[3] - material.in_stock), 9))), 0.0)
    return _need(material, None, material.unit or "piece", net, spare, bought, _whole_packs(to_buy, material), None, ())


def round_up(amount: Decimal, mm3: float) -> Decimal:
    """An amount to buy with as many digits as its unit is worth, never less than it is; what rounding of sums left over is none."""
    step = Decimal(1).scaleb(-(PLACES_OF_LARGE if mm3 >= _LARGE_MM3 else PLACES))
    near = amount.quantize(step, rounding=ROUND_HALF_UP)
    return near if abs(near - amount) < Decimal("1e-7") else math.ceil(amount / step) * step


def _whole_packs(amount: Decimal, material: Material) -> Decimal:
    if material.pack is None:
        return amount
    pack = Decimal(repr(material.pack))
    return math.ceil(amount / pack) * pack


def _need(
    material: Material, rough: float | None, unit: str, net: float, spare: float, bought: Sequence[float],
    to_buy: Decimal, plan: CuttingPlan | None, parts: Sequence[PartNeed],
) -> MaterialNeed:  # fmt: skip
    cost = used = None
    if material.price is not None:
        cost = to_cents(material.price * to_buy)
        used = to_cents(material.price * Decimal(repr(round(bought[1], 9))))
    low, likely, high, certain = bought
    return MaterialNeed(
        material, rough, unit, net, spare, low, likely, high, certain, to_buy, cost, used, plan, tuple(parts)
    )
