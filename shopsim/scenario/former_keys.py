"""Keys that files had before: what each is called now, and how its value is written there."""

from __future__ import annotations

from typing import Any, NamedTuple

from shopsim.scenario.model import pieces_made
from shopsim.scenario.places import KeyPath, clean


class FormerKey(NamedTuple):
    """What became of a key: the rule and the mend to tell, the ``key`` it has now, and its ``value`` there."""

    rule: str
    mend: str
    key: str
    value: Any


def former_key(where: KeyPath, value: Any, data: dict[str, Any]) -> FormerKey | None:
    """What became of the key at a place, or None where files never had it.

    ``value``: what stands there, None where that is not known; ``data``: the file's plain data. The value that
    is handed back is None where it cannot be worked out.
    """
    if where == ("run", "work_order"):
        shown = f' = "{clean(value, 60)}"' if isinstance(value, str) else ""
        return FormerKey(
            "is called priority: a work order is a job ticket", f"write priority{shown}", "priority", value
        )
    if where == ("run", "batches_open"):
        largest = _largest_batch(data.get("run"))
        pieces = value * largest if type(value) is int and value > 0 and largest else None
        shown = str(pieces) if pieces else "…, batches times the pieces in the largest"
        return FormerKey("is counted in pieces now", f"write pieces_open = {shown}", "pieces_open", pieces)
    return None


def _largest_batch(run: Any) -> int | None:
    """Pieces in the largest batch of a run, all lines together; None where that cannot be read off the plain data."""
    if not isinstance(run, dict):
        return None
    sizes = [_batch_of({**run, **line}) for line in run.get("lines") or [{}] if isinstance(line, dict)]
    return max((size for size in sizes if size), default=None) if all(sizes) else None


def _batch_of(line: dict[str, Any]) -> int | None:
    usual = 1 if line.get("release") == "as ordered" else None
    orders, step = line.get("orders"), line.get("round_up_to", 1)
    if type(orders) is int and type(step) is int and orders > 0 and step > 0:
        usual = usual or pieces_made(orders, step)
    size = line.get("batch", usual)
    return size if type(size) is int and size > 0 else None


__all__ = ["FormerKey", "former_key"]
