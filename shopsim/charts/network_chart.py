"""What comes after what: the operations of a design as a drawn network."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import plotly.graph_objects as go

from shopsim.charts.chart_style import escape_text, fade, finish, new_figure, wrap_label
from shopsim.charts.layers import place_in_layers
from shopsim.charts.theme import find_theme

#: An operation: its name, the operations it comes after, whether it goes into clamps, whether it is wet.
Node = tuple[str, Sequence[str], bool, bool]

#: Operations that are drawn before the rest is left out.
MAX_NODES = 120
LAYER_PX = 74
#: How an operation is drawn: whether it goes into clamps, whether it is wet -> name, marker, series.
_FORMS = {
    (False, False): ("by hand or machine", "circle", 0),
    (True, False): ("goes into clamps", "square", 1),
    (False, True): ("wet, dries", "diamond", 2),
    (True, True): ("clamps, and dries", "hexagon", 4),
}


def build_network(design: Sequence[Node], theme: str = "light") -> go.Figure:
    """The operations of a design from the first at the top to the last, with arrows to what comes after each.

    ``design``: for each operation (name, names it comes after, goes into clamps, is wet). Names
    that are not there are left out of the arrows, and arrows that close a circle too: a note
    says so, and the checks of the file say more. Of more than 120 operations the first 120 are drawn.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "What comes after what",
        "Follow the arrows from top to bottom: an operation may start when all that point to it are done; squares "
        "go into clamps, diamonds are wet and dry.",
    )
    notes = []
    shown = list(design)[:MAX_NODES]
    if len(design) > MAX_NODES:
        notes.append(f"The first {MAX_NODES} of {len(design):,} operations.")
    place = place_in_layers([(name, tuple(after)) for name, after, _, _ in shown])
    if place.unknown:
        notes.append(f"Not in the list: {', '.join(place.unknown[:3])}.")
    if place.circular:
        notes.append("Some operations come after one another in a circle; one arrow of it is left out.")
    lines: list[dict[str, Any]] = [  # added at once: one by one takes many times as long
        {
            "type": "scatter",
            "x": [at[0] for at in edge],
            "y": [at[1] for at in edge],
            "mode": "lines",
            "line": {"width": 1.5, "color": look.quiet, "shape": "spline", "smoothing": 0.6},
            "hoverinfo": "skip",
            "showlegend": False,
            "name": "comes before",
        }
        for edge in place.edges
    ]
    figure.add_traces(lines)
    _draw_heads(figure, [list(pairwise(edge))[-1] for edge in place.edges], look.quiet)
    for (clamped, wet), (words, symbol, series) in _FORMS.items():
        names = [name for name, _, is_clamped, is_wet in shown if (is_clamped, is_wet) == (clamped, wet)]
        if not names:
            continue
        figure.add_scatter(
            x=[place.at[name][0] for name in names],
            y=[place.at[name][1] for name in names],
            mode="markers",
            marker={
                "size": 16,
                "symbol": symbol,
                "color": look.series[series],
                "line": {"width": 2, "color": look.ground},
            },
            hovertext=[_say_node(name, shown) for name in names],
            hoverinfo="text",
            name=words,
            cliponaxis=False,
        )
    labels = [
        {
            "text": wrap_label(name, place.letters),
            "x": x,
            "y": y,
            "xanchor": "center",
            "yanchor": "top",
            "yshift": -10,
            "showarrow": False,
            "bgcolor": fade(look.ground, 0.88),
            "borderpad": 0,
            "font": {"size": 11, "color": look.text},
        }
        for name, (x, y) in place.at.items()
    ]
    figure.update_layout(annotations=[*figure.layout.annotations, *labels])
    figure.update_xaxes(visible=False, range=[-place.widest / 2 - 0.1, place.widest / 2 + 0.1])
    figure.update_yaxes(visible=False, range=[place.depth - 0.15, -0.4])
    return finish(figure, max(120, LAYER_PX * (place.depth + 0.25)), left_px=0, axis_px=8, notes=" ".join(notes))


def _draw_heads(figure: go.Figure, ends: list[tuple[tuple[float, float], tuple[float, float]]], colour: str) -> None:
    """An arrow head at the end of every edge, all in one trace."""
    x: list[float | None] = []
    y: list[float | None] = []
    for (x0, y0), (x1, y1) in ends:
        share = 1 - 0.17 / max(abs(y1 - y0), 0.2)
        x += [x0, x0 + (x1 - x0) * share, None]
        y += [y0, y0 + (y1 - y0) * share, None]
    figure.add_scatter(
        x=x,
        y=y,
        mode="markers",
        marker={
            "symbol": "arrow",
            "angleref": "previous",
            "size": [0, 11, 0] * len(ends),
            "color": colour,
            "line": {"width": 0},
        },
        hoverinfo="skip",
        showlegend=False,
        name="comes before",
    )


def _say_node(name: str, design: Sequence[Node]) -> str:
    after = next(list(names) for other, names, _, _ in design if other == name)
    said = f"after {', '.join(escape_text(one) for one in after)}" if after else "may start at once"
    return f"<b>{escape_text(name)}</b><br>{said}"
