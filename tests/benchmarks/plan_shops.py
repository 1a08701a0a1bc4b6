"""Ten shops of ours on which the search for a plan is measured: how far its last finish at likely times is from the bound.

Made up here, in the manner of a one-maker shop: parts are machined, glued, fitted, assembled and coated three times; glue-ups
and coats have to fit before closing, and hold clamps, bench and rack until they are set. Times are drawn once, by a written
rule, from no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shopsim import Scenario


@dataclass(frozen=True)
class PlanShop:
    """``operations`` for each of ``pieces``, in batches of ``batch``; clamps of 24 in and of 48 in; ``makers`` at work together."""

    name: str
    what: str
    pieces: int
    operations: int
    batch: int
    short: int
    long: int
    makers: int = 1


SHOPS = (
    PlanShop("trays-24", "serving tray", 4, 6, 2, 12, 8),
    PlanShop("trays-120", "serving tray", 12, 10, 4, 12, 8),
    PlanShop("stools-120", "counter stool", 6, 20, 3, 12, 8),
    PlanShop("stools-120-few-clamps", "counter stool", 6, 20, 3, 6, 4),
    PlanShop("stools-320", "counter stool", 8, 40, 4, 12, 8),
    PlanShop("cabinets-600", "wall cabinet", 15, 40, 5, 12, 8),
    PlanShop("cabinets-600-few-clamps", "wall cabinet", 15, 40, 5, 6, 4),
    PlanShop("cabinets-600-tens", "wall cabinet", 20, 30, 10, 12, 8),
    PlanShop("cabinets-600-two-makers", "wall cabinet", 15, 40, 5, 12, 8, 2),
    PlanShop("cabinets-1200-tens", "wall cabinet", 30, 40, 10, 12, 8),
)


def build_plan_shop(shop: PlanShop) -> Scenario:
    """The scenario of a shop: day of 9 hours, no luck with days; every time is one number."""
    return Scenario.model_validate(
        {
            "title": shop.name,
            "shop": {
                "open": {"mon": "08:00-17:00", "tue": "08:00-17:00", "wed": "08:00-17:00", "thu": "08:00-17:00",
                         "fri": "08:00-17:00", "sat": "08:00-17:00", "sun": "08:00-17:00"},
                "workers": [{"name": f"maker {n + 1}"} for n in range(shop.makers)],
                "stations": [{"name": name} for name in ("saw", "planer", "router", "sander", "bench", "drill")],
                "racks": [{"name": "rack", "spots": 24}],
                "clamps": [
                    {"name": "short clamp", "reach": "24 in", "count": shop.short},
                    {"name": "long clamp", "reach": "48 in", "count": shop.long},
                ],
            },
            "design": {"name": shop.what, "operations": _operations(shop.operations)},
            "run": {"orders": shop.pieces, "batch": shop.batch, "start": "2027-01-11"},
        }
    )  # fmt: skip


def _operations(n: int) -> list[dict[str, Any]]:
    """Two sub-assemblies side by side, each machined and glued, then assembly and coats: of every ten steps two are glue-ups or coats."""
    machines = ("saw", "planer", "router", "sander", "drill")
    steps: list[dict[str, Any]] = []
    n_last = max(3, n // 5)
    n_side = (n - n_last) // 2
    ends = []
    for side, count in (("top", n_side), ("base", n - n_last - n_side)):
        for k in range(count):
            name = f"{side} {k + 1}"
            step: dict[str, Any] = {"name": name, "after": [f"{side} {k}"] if k else []}
            minutes = 4 + (7 * k + 3 * len(side)) % 11
            if k % 6 == 4 or k == count - 1:
                need = {"count": 4, "reach": "36 in"} if side == "top" else {"count": 4, "reach": "20 in"}
                step |= {"work": f"{minutes + 6} min", "clamps": [need], "in_clamps": f"{60 + 60 * (k % 3)} min"}
            else:
                step |= {"work": f"{minutes} min", "station": machines[(k + len(side)) % 5], "setup": "6 min"}
            steps.append(step)
        ends.append(f"{side} {count}")
    for k in range(n_last):
        step = {"name": f"end {k + 1}", "after": [f"end {k}"] if k else ends}
        if k == 0:
            step |= {
                "work": "18 min",
                "clamps": [{"count": 4, "reach": "36 in"}],
                "in_clamps": "2 h",
                "wait_for": "batch",
            }
        elif k >= n_last - 3 and k:
            step |= {"work": "9 min", "station": "bench", "cure": "16 h", "rest": "rack", "pausable": False}
        else:
            step |= {"work": f"{5 + (5 * k) % 9} min"}
        steps.append(step)
    return steps
