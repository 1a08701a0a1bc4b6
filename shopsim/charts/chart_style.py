"""How every chart looks: our own template in a light and a dark variant, set on each figure and nowhere else."""

from __future__ import annotations

import html
import textwrap
from typing import Any

import plotly.graph_objects as go

from shopsim.charts.theme import FONT, Mark, Theme, find_theme

#: The narrowest place that charts are laid out for, in pixels: a phone of 390 with a margin of 16.
NARROW_PX = 358
#: Room under the top edge for the title, and for one row of the legend, in pixels.
TITLE_PX, LEGEND_ROW_PX, AXIS_PX = 46, 22, 62


def build_template(theme: Theme) -> go.layout.Template:
    """Our template in one variant: a new object each time, never registered and never a default."""
    axis = {
        "gridcolor": theme.grid,
        "linecolor": theme.quiet,
        "zerolinecolor": theme.quiet,
        "tickcolor": theme.quiet,
        "tickfont": {"color": theme.text, "size": 12},
        "title": {"font": {"color": theme.text, "size": 13}, "standoff": 8},
        "automargin": True,
        "showline": True,
        "zeroline": False,
        "ticks": "outside",
        "ticklen": 4,
    }
    return go.layout.Template(
        layout={
            "font": {"family": FONT, "size": 13, "color": theme.text},
            "paper_bgcolor": theme.ground,
            "plot_bgcolor": theme.ground,
            "colorway": list(theme.series),
            "xaxis": axis,
            "yaxis": axis,
            "hoverlabel": {
                "bgcolor": theme.ground,
                "bordercolor": theme.quiet,
                "font": {"family": FONT, "size": 13, "color": theme.text},
                "align": "left",
                "namelength": -1,
            },
            "legend": {"font": {"size": 12, "color": theme.text}, "bgcolor": "rgba(0,0,0,0)"},
            "hovermode": "closest",
            "modebar": {"color": theme.quiet, "activecolor": theme.text, "bgcolor": "rgba(0,0,0,0)"},
            "dragmode": False,  # so that a finger on a chart moves the page
        }
    )


def new_figure(theme: Theme, title: str, how_to_read: str) -> go.Figure:
    """An empty figure in our look; ``title`` names its subject, ``how_to_read`` is one sentence kept in ``layout.meta``."""
    figure = go.Figure(layout={"template": build_template(theme)})
    figure.update_layout(
        title={
            "text": escape_text(title),
            "font": {"size": 16, "color": theme.text},
            "x": 0.0,
            "xref": "container",
            "xanchor": "left",
            "y": 1.0,
            "yref": "container",
            "yanchor": "top",
            "pad": {"l": 12, "t": 14},
        },
        meta={"how_to_read": how_to_read, "theme": theme.name},
    )
    return figure


def how_to_read(figure: go.Figure) -> str:
    """The sentence that says how a figure of ours is read."""
    return str(figure.layout.meta["how_to_read"])


def finish(
    figure: go.Figure, plot_px: float, *, left_px: int = 60, axis_px: int = AXIS_PX, notes: str = ""
) -> go.Figure:
    """Set height and margins for a plot of so many pixels, notes under it, and the legend under those.

    Legend rows are counted for the narrowest screen, so that nothing overlaps at any width;
    ``left_px`` is what the labels of the vertical axis take there, ``axis_px`` what those of the horizontal one take.
    """
    names = [str(thing.name) for thing in (*figure.data, *figure.layout.shapes) if thing.showlegend is not False]
    names = [name for name in dict.fromkeys(names) if name != "None"]
    rows = legend_rows(names, NARROW_PX - 28 - left_px) if len(names) > 1 else 0
    lines = textwrap.wrap(notes, 52)
    note_px = len(lines) * 17 + 8 if lines else 0
    bottom = axis_px + note_px + (rows * LEGEND_ROW_PX + 12 if rows else 0)
    figure.update_layout(
        height=round(TITLE_PX + plot_px + bottom),
        margin={"l": 12, "r": 16, "t": TITLE_PX, "b": round(bottom), "pad": 0},
        showlegend=rows > 0,
        legend={
            "orientation": "h",
            "traceorder": "normal",
            "x": 0.0,
            "xanchor": "left",
            "y": -(axis_px + note_px) / plot_px,
            "yanchor": "top",
            "maxheight": 1000,
        },
    )
    if lines:
        theme = find_theme(figure.layout.meta["theme"])
        figure.add_annotation(
            text="<br>".join(escape_text(line) for line in lines),
            x=0.0,
            xref="paper",
            xanchor="left",
            y=0.0,
            yref="paper",
            yanchor="top",
            yshift=-axis_px,
            showarrow=False,
            align="left",
            font={"size": 12, "color": theme.quiet},
        )
    return figure


def legend_rows(names: list[str], room_px: float) -> int:
    """Rows that a legend of these names takes in so many pixels: one row if all fit, else columns of one width."""
    widths = [len(name) * 6.4 + 44 for name in names]
    if sum(widths) <= room_px:
        return 1
    return -(-len(names) // max(1, int(room_px // max(widths))))


def name_rows(figure: go.Figure, labels: list[str], row_px: float) -> None:
    """Rows 0, 1, ... of a chart of horizontal bars, from the top, each with its name over it inside the plot.

    Inside, the names leave the whole width to the bars. Bars should stand at ``row + 0.18``,
    0.5 of a row wide, in rows of 38 pixels or more.
    """
    theme = find_theme(figure.layout.meta["theme"])
    figure.update_yaxes(showticklabels=False, ticks="", range=[max(len(labels), 1) - 0.5, -0.5], showgrid=False)
    for row, label in enumerate(labels):
        figure.add_annotation(
            text=escape_text(label if len(label) <= 54 else f"{label[:53]}…"),
            x=0.0,
            xref="paper",
            xanchor="left",
            y=row - 0.5,
            yref="y",
            yanchor="top",
            showarrow=False,
            font={"size": 12, "color": theme.text},
            bgcolor=theme.ground,
            borderpad=0,
            height=16,
            yshift=1,
        )


def whole_ticks(most: float, ticks: int = 7) -> dict[str, Any]:
    """Settings of an axis of counts from 0 to ``most``: ticks at round whole numbers only."""
    step = next(
        (step * 10**power for power in range(7) for step in (1, 2, 5) if most <= ticks * step * 10**power), 10**7
    )
    return {"tick0": 0, "dtick": step, "tickformat": ",d"}


def escape_text(text: str) -> str:
    """A user's words made safe for a chart: the little markup that charts know stays text."""
    return html.escape(str(text), quote=False)


def wrap_label(text: str, width: int = 18, lines: int = 3) -> str:
    """A name broken into short lines for an axis, cut with an ellipsis where it is very long."""
    parts = textwrap.wrap(str(text), width, break_long_words=True, break_on_hyphens=False) or [""]
    if len(parts) > lines:
        parts = [*parts[: lines - 1], parts[lines - 1][: width - 1] + "…"]
    return "<br>".join(escape_text(part) for part in parts)


def fade(colour: str, share: float) -> str:
    """A colour of six hex digits let through: ``fade("#223876", 0.2)`` is ``rgba(34,56,118,0.2)``."""
    red, green, blue = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    return f"rgba({red},{green},{blue},{share:g})"


def bar_look(theme: Theme, mark: Mark) -> dict[str, Any]:
    """The marker of a bar in one colour and pattern, with an outline that keeps thin bars visible."""
    colour = mark.colour_in(theme)
    look: dict[str, Any] = {"color": colour, "line": {"width": 1, "color": colour}}
    look["pattern"] = {
        "shape": mark.pattern,
        "fillmode": "overlay",
        "fgcolor": theme.ground,
        "fgopacity": 0.75,
        "size": 6,
        "solidity": 0.28,
    }
    return look
