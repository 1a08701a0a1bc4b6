"""Why an order is late, for its late note: a reason goes only to orders of which it is true."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from shopsim.engine.task_holdups import MATERIAL
from shopsim.engine.worklist import Worklist
from shopsim.scenario.model import Scenario
from shopsim.scenario.variants import fold_name
from shopsim.study.once import run_once
from shopsim.study.order_queue import OrderQueue, QueuedOrder
from shopsim.units import MINUTES_PER_DAY

#: Words in the names of materials that do not tell one from another.
_COMMON = frozenset(
    ["board", "boards", "lumber", "wood", "timber", "stock", "sheet", "sheets", "hardware", "set", "sets", "rough"]
)


def find_reasons(
    scenario: Scenario, late: Sequence[Mapping[str, Any]], given: str | Mapping[str, str] | None = None
) -> list[str]:
    """One reason for each late order, as the end of a sentence.

    ``given``: the maker's own words, for all late orders or by their ids. Words that name a material or an option of the
    scenario go only to orders that need or have it. For all others what holds them up when all goes at its likely
    time: material that is waited for a day or longer, or the work itself.
    """
    if not late:
        return []
    run = run_once(scenario, likely=True)
    work = run.plan.worklist
    queue = {order.position: order for order in OrderQueue(work.scenario).orders}
    waits = run.holdups
    waits = waits[waits["part"] == MATERIAL]
    reasons = []
    for row in late:
        order = queue[int(row["position"])]
        own = given.get(str(row["order"])) if isinstance(given, Mapping) else given
        if own and (isinstance(given, Mapping) or is_true_of(own, scenario, work, order)):
            reasons.append(own.strip().rstrip("."))
            continue
        lost = waits[waits["piece"].isin(order.pieces)].groupby("detail")["minutes"].sum()
        if len(lost) and float(lost.max()) / len(order.pieces) >= MINUTES_PER_DAY:
            reasons.append(f"I have to wait for the {lost.idxmax()}, and cannot go on without")
        elif order.position == 1:
            reasons.append("the work on your order takes longer than I had counted on")
        else:
            reasons.append("the work before yours in the queue, and on your order, takes longer than I had counted on")
    return reasons


def is_true_of(text: str, scenario: Scenario, work: Worklist, order: QueuedOrder) -> bool:
    """Whether a reason can be true of an order: it names nothing that only other orders need or have.

    Materials are named by their whole name or by a word that only theirs has ("walnut" for "walnut boards"), options
    by their name. A reason that names none of them is taken to be true of all.
    """
    said = _words(text)
    materials = {number for number, telling in enumerate(_telling_words(scenario)) if telling & said}
    options = {
        fold_name(option.name)
        for design in scenario.all_designs
        for option in design.options
        if _words(option.name) <= said
    }
    if not materials and not options:
        return True
    own = {fold_name(name) for name in order.option.split(" + ") if name}
    needed = set()
    for piece in order.pieces:
        variant = work.variants[work.piece_variant[piece - 1]]
        needed |= {number for of_step in variant.materials.values() for number in of_step}
    return bool(own & options or needed & materials)


def _telling_words(scenario: Scenario) -> list[frozenset[str]]:
    """For each material the words that tell it from the others."""
    words = [_words(material.name) for material in scenario.materials]
    shared = {word for n, own in enumerate(words) for other in words[n + 1 :] for word in own & other}
    return [frozenset(own - shared - _COMMON) or frozenset(own - shared) for own in words]


def _words(name: str) -> set[str]:
    return set(re.findall(r"[^\W_]+", name.casefold()))
