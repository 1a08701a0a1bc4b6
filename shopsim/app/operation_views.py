"""What the rows of the operations table say about order and care, applied or not."""

from __future__ import annotations

from collections.abc import Sequence

from shopsim.app.cells import from_cell, list_cell, to_cell
from shopsim.app.tables import Row
from shopsim.charts.network_chart import Node
from shopsim.scenario.cautions import printed_cautions
from shopsim.scenario.risks import RiskKind, suggest_cautions


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
    """The operations that need each caution, by its key or words, in the order of the rows."""
    needed: dict[str, list[str]] = {}
    for row in rows:
        for caution in printed_cautions(list_cell(row["caution"]) or ()):
            needed.setdefault(caution, []).append(str(row["name"]))
    return needed


def suggested_cautions(row: Row) -> tuple[str, ...]:
    """Keys of cautions that a row suggests by its name, station or kind and does not carry."""
    carried = list_cell(row["caution"])
    if carried is None or str(row["hands"]) == "0":
        return ()
    kind = RiskKind(
        dusty=row["dusty"] is True,
        wet=bool(row["wet"]),
        clamped=bool(row["clamps"] or row["in_clamps"]),
        by_machine=row["work_kind"] == "machine",
    )
    return suggest_cautions(str(row["name"]), str(row["station"]), kind, carried)


def with_cautions(rows: Sequence[Row], added: str | None = None) -> list[Row]:
    """The rows with cautions for those that suggest any: the suggested ones, or ``added``, as well as their own."""
    return [_with_more(row, suggested_cautions(row), added) for row in rows]


def _with_more(row: Row, missing: Sequence[str], added: str | None) -> Row:
    if not missing:
        return row
    more = missing if added is None else (added,)
    return {**row, "caution": to_cell("cautions", [*(list_cell(row["caution"]) or ()), *more])}
