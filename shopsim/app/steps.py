"""What the rows of the operations table say about order and care, applied or not."""

from __future__ import annotations

from collections.abc import Sequence

from shopsim.app.cells import from_cell
from shopsim.app.tables import Row
from shopsim.charts.network import Node
from shopsim.scenario import CAUTIONS


def network_nodes(rows: Sequence[Row]) -> list[Node]:
    """Each operation with what it comes after, whether it goes into clamps, and whether it is wet, for the drawing."""
    nodes: list[Node] = []
    above: str | None = None
    for row in rows:
        after = from_cell("after", row["after"])
        if after is None:
            after = [above] if above is not None else []
        names = [str(name) for name in after] if isinstance(after, list) else [str(after)]
        name = str(row["name"])
        nodes.append((name, names, bool(row["clamps"] or row["in_clamps"]), bool(row["wet"])))
        above = name
    return nodes


def cautions_of(rows: Sequence[Row]) -> dict[str, list[str]]:
    """The operations that need each caution, by its key, in the order of the rows."""
    needed: dict[str, list[str]] = {}
    for row in rows:
        key = str(row["caution"])
        if key in CAUTIONS:
            needed.setdefault(key, []).append(str(row["name"]))
    return needed
