"""Cautions of a scenario: what its steps carry, each once with the steps it belongs to, and what they suggest besides."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from shopsim.scenario.cautions import CAUTIONS, join_cautions, printed_cautions
from shopsim.scenario.check_context import PACKING
from shopsim.scenario.model import Scenario
from shopsim.scenario.risks import suggest_everywhere
from shopsim.scenario.variants import every_operation
from shopsim.scenario.ways import put_ways


def list_cautions(scenario: Scenario, operations: Iterable[str] | None = None) -> pd.DataFrame:
    """Each caution that the operations call for, once: caution, operations (joined by ", "), text.

    ``operations``: names to look at, default all of the scenario, packing among them; rows in the order of the file.
    ``text`` is "" where the caution is in the user's own words.
    """
    wanted = None if operations is None else set(operations)
    beside: dict[str, dict[str, None]] = {}
    for name, cautions in _carried(scenario):
        if wanted is None or name in wanted:
            for caution in printed_cautions(cautions):
                beside.setdefault(caution, {})[name] = None
    rows = [(caution, ", ".join(names), CAUTIONS.get(caution, "")) for caution, names in beside.items()]
    return pd.DataFrame(rows, columns=["caution", "operations", "text"]).astype("str")


def offer_cautions(scenario: Scenario) -> pd.DataFrame:
    """What steps suggest by their name, station or kind and do not carry: operation, carries, suggests.

    A remark to the maker and no fault. ``carries``, ``suggests``: keys or words, joined by "; ". Where several designs
    have an operation of one name, it has a row for each that lacks something.
    """
    carried: dict[str, tuple[str, ...]] = {}
    for name, cautions in _carried(scenario):
        carried.setdefault(name, cautions)
    rows = [
        (name, join_cautions(carried[name]), join_cautions(missing))
        for (_, name), missing in suggest_everywhere(scenario).items()
    ]
    return pd.DataFrame(rows, columns=["operation", "carries", "suggests"]).astype("str")


def _carried(scenario: Scenario) -> list[tuple[str, tuple[str, ...]]]:
    """Every operation with the cautions it carries, packing last; what options make of one comes again."""
    shipping = scenario.shipping
    return [
        *(
            (operation.name, operation.caution)
            for design in put_ways(scenario).all_designs
            for operation in every_operation(design)
        ),
        *([(PACKING, shipping.caution)] if shipping.packing is not None else []),
    ]
