"""A network laid out in layers: each node below all that it comes after, long links led around the nodes between.

The usual layered way: longest path for the layer, stand-in points where a link passes a
layer, and a few sweeps that order each layer by the middle of its neighbours (after
Sugiyama, Tagawa and Toda 1981, simplified).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]
SWEEPS = 8
#: Room that a stand-in point takes, against 1 for a node.
THIN = 0.45


@dataclass(frozen=True)
class Placed:
    """Where everything stands: ``at`` x (0 in the middle) and layer of each node, ``edges`` the points of each link
    from the earlier node to the later, ``depth`` layers, ``widest`` room of the widest layer, ``letters`` that fit
    under a node, names that are ``unknown``, whether links were left out because they were ``circular``."""

    at: dict[str, Point]
    edges: list[list[Point]]
    depth: int
    widest: float
    letters: int
    unknown: list[str]
    circular: bool


def place_in_layers(nodes: Sequence[tuple[str, tuple[str, ...]]]) -> Placed:
    """Lay out nodes, each a name and the names it comes after; later nodes of the same name are left out."""
    links: dict[str, list[str]] = {}
    for name, after in nodes:
        links.setdefault(name, list(dict.fromkeys(after)))
    unknown = [one for after in links.values() for one in after if one not in links]
    known = {name: [one for one in after if one in links] for name, after in links.items()}
    layer, kept, circular = _layers(known)
    depth = max(layer.values(), default=-1) + 1
    columns: list[list[str]] = [[] for _ in range(depth)]
    for name in known:
        columns[layer[name]].append(name)
    chains: list[list[str]] = []
    for name, befores in kept.items():
        for before in befores:
            chain = [before]
            for level in range(layer[before] + 1, layer[name]):
                stand_in = f"\0{before}\0{name}\0{level}"
                columns[level].append(stand_in)
                chain.append(stand_in)
            chains.append([*chain, name])
    _sort_columns(columns, chains)
    at: dict[str, Point] = {}
    widest = 1.0
    for level, column in enumerate(columns):
        room = [THIN if one.startswith("\0") else 1.0 for one in column]
        widest = max(widest, sum(room))
        x = -sum(room) / 2
        for one, width in zip(column, room, strict=True):
            at[one] = (x + width / 2, float(level))
            x += width
    return Placed(
        at={name: at[name] for name in known},
        edges=[[at[one] for one in chain] for chain in chains],
        depth=depth,
        widest=widest,
        letters=max(9, min(24, int(46 / widest))),
        unknown=list(dict.fromkeys(unknown)),
        circular=circular,
    )


def _layers(known: dict[str, list[str]]) -> tuple[dict[str, int], dict[str, list[str]], bool]:
    """The layer of each node by the longest path to it; the links that were kept; whether any closed a circle."""
    layer: dict[str, int] = {}
    kept = {name: list(after) for name, after in known.items()}
    left = list(known)
    circular = False
    while left:
        ready = [name for name in left if all(before in layer for before in kept[name])]
        if not ready:
            circular = True
            first = left[0]
            kept[first] = [before for before in kept[first] if before in layer]
            ready = [first]
        for name in ready:
            layer[name] = max((layer[before] + 1 for before in kept[name]), default=0)
        placed = set(ready)
        left = [name for name in left if name not in placed]
    return layer, kept, circular


def _sort_columns(columns: list[list[str]], chains: list[list[str]]) -> None:
    """Order each layer by the middle of its neighbours above, then below, some times over."""
    above: dict[str, list[str]] = {}
    below: dict[str, list[str]] = {}
    for chain in chains:
        for upper, lower in pairwise(chain):
            above.setdefault(lower, []).append(upper)
            below.setdefault(upper, []).append(lower)
    for sweep in range(SWEEPS):
        down = sweep % 2 == 0
        neighbours = above if down else below
        for level in range(1, len(columns)) if down else range(len(columns) - 2, -1, -1):
            other = columns[level - 1] if down else columns[level + 1]
            where = {name: (n + 0.5) / len(other) for n, name in enumerate(other)}
            column = columns[level]
            middle = {}
            for n, name in enumerate(column):
                near = [where[one] for one in neighbours.get(name, ())]
                middle[name] = sum(near) / len(near) if near else (n + 0.5) / len(column)
            column.sort(key=lambda name: middle[name])
