"""Volumes of wood: board feet, cubic metres, and what else wood is sold by, as exact numbers.

A board foot is 1 in x 12 in x 12 in, 144 cubic inches (American Softwood Lumber Standard PS 20, and the rules of the
hardwood trade): 0.002359737216 cubic metres exactly, as an inch is 25.4 mm exactly.
"""

from __future__ import annotations

#: Cubic millimetres in each unit, by the ways in which it is written.
MM3_PER_BOARD_FOOT = 144 * 25.4**3
MM3_PER_M3 = 1e9
_UNITS: dict[str, tuple[str, float]] = {
    **dict.fromkeys(("board foot", "board feet", "bd ft", "bf"), ("board feet", MM3_PER_BOARD_FOOT)),
    **dict.fromkeys(("m3", "m³", "cubic metre", "cubic meter", "cubic metres", "cubic meters"), ("m3", MM3_PER_M3)),
    **dict.fromkeys(("cubic foot", "cubic feet", "cu ft", "ft3"), ("cubic feet", 1728 * 25.4**3)),
    **dict.fromkeys(("litre", "liter", "litres", "liters", "dm3"), ("litres", 1e6)),
}  # fmt: skip


def find_volume_unit(unit: str) -> tuple[str, float] | None:
    """(what it is called, cubic millimetres in one) for a unit of volume; None for what is none."""
    return _UNITS.get(" ".join(unit.casefold().split()))


def board_feet(mm3: float) -> float:
    """A volume in board feet."""
    return mm3 / MM3_PER_BOARD_FOOT


def cubic_metres(mm3: float) -> float:
    """A volume in cubic metres."""
    return mm3 / MM3_PER_M3
