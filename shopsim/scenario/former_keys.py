"""Keys that files had before: what each is called now, and how its value is written there."""

from __future__ import annotations

from typing import Any, NamedTuple

from shopsim.scenario.places import Where, clean


class FormerKey(NamedTuple):
    """What became of a key: the rule and the mend to tell, the ``key`` it has now, and its ``value`` there."""

    rule: str
    mend: str
    key: str
    value: Any


def former_key(where: Where, value: Any, data: dict[str, Any]) -> FormerKey | None:
    """What became of the key at a place, or None where files never had it.

    ``value``: what stands there, None where that is not known; ``data``: the file's plain data.
    """
    if where == ("run", "work_order"):
        shown = f' = "{clean(value, 60)}"' if isinstance(value, str) else ""
        return FormerKey(
            "is called priority: a work order is a job ticket", f"write priority{shown}", "priority", value
        )
    return None


__all__ = ["FormerKey", "former_key"]
