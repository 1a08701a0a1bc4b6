"""What would be saved: by more clamps of each kind, and by one more of everything."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import pandas as pd
import plotly.graph_objects as go

from shopsim.charts.chart_style import escape_text, finish, name_rows, new_figure, whole_ticks
from shopsim.charts.theme import DASHES, MARKERS, Theme, find_theme
from shopsim.columns import estimate_keys
from shopsim.plurals import say_more
from shopsim.say import say_number, say_range

#: Height of one kind's panel, the room above it for two lines with its name, and a line more, in pixels.
PANEL_PX, PANEL_HEAD_PX, FIRST_HEAD_PX, LINE_PX = 150, 66, 38, 19
#: Height of a row of one more of everything, in pixels.
ROW_PX = 40
#: The y axis shows at least from -0.5 to 1 day, so that noise does not look like a saving.
MIN_SPAN_DAYS = (-0.5, 1.0)


def build_clamp_savings(rows: pd.DataFrame, theme: str = "light", measure: str = "average") -> go.Figure:
    """Days saved against clamps added, one panel a kind: as run, with intervals, and the best so far.

    ``rows``: the table of the answer on clamps (``thing``, ``kind``, ``under``, ``added``, ``owned``,
    ``<measure>_saved_days`` with ``_low``, ``_high`` and ``_unseen``, ``best_so_far_days``, ``price``, ``pays``, ``may_pay``,
    ``is_worse``, ``remark``); only rows of ``thing`` "clamps" are drawn. ``measure``: "average" or "last" order.
    Values are drawn as they were run, never smoothed; the envelope is drawn for "average",
    on which clamps are judged.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "Days saved by more clamps" if measure == "average" else "Days saved on the last order",
        f"Each point says how many days sooner the {measure} order ships with that many clamps more than today, with its range; "
        "filled points pay, open ones with a dot in them are not sure, open ones do not pay, crosses are later than with fewer, "
        "and the dotted line is the best of all smaller steps.",
    )
    clamps = rows[(rows["thing"] == "clamps") & rows[f"{measure}_saved_days"].notna()]
    kinds = list(dict.fromkeys(clamps["kind"]))
    heads = {kind: _say_head(str(kind), clamps[clamps["kind"] == kind]) for kind in kinds}
    more_px = LINE_PX * max((head.count("<br>") - 1 for head in heads.values()), default=0)
    head_px, first_px = PANEL_HEAD_PX + max(0, more_px), FIRST_HEAD_PX + max(0, more_px)
    plot_px = max(1, len(kinds)) * (PANEL_PX + head_px) - head_px + first_px
    name = f"{measure}_saved_days"
    ends = _drawn_ends(clamps, name, f"{name}_low", f"{name}_high", f"{name}_unseen")
    top = max(MIN_SPAN_DAYS[1], float(ends[1].max()) if len(clamps) else 0.0)
    low = min(MIN_SPAN_DAYS[0], float(ends[0].min()) if len(clamps) else 0.0)
    reach = float(clamps["added"].max()) if len(clamps) else 1.0
    seen: set[str] = set()
    for number, kind in enumerate(kinds):
        suffix = "" if number == 0 else str(number + 1)
        upper = 1 - (number * (PANEL_PX + head_px) + first_px) / plot_px
        domain = [max(0.0, upper - PANEL_PX / plot_px), upper]
        mine = clamps[clamps["kind"] == kind]
        for under_number, under in enumerate(dict.fromkeys(mine["under"])):
            steps = mine[mine["under"] == under].sort_values("added")
            _draw_kind(figure, steps, measure, look, under_number, str(under), suffix, seen)
        last = number == len(kinds) - 1
        figure.update_layout(
            {
                f"yaxis{suffix}": {
                    "domain": domain,
                    "range": [low - 0.06 * (top - low), top + 0.06 * (top - low)],
                    "title": {"text": "days saved"},
                    "zeroline": True,
                    "anchor": f"x{suffix}",
                    "nticks": 5,
                },
                f"xaxis{suffix}": {
                    "anchor": f"y{suffix}",
                    "range": [-0.03 * reach, 1.06 * reach],
                    **whole_ticks(reach),
                    "title": {"text": "clamps added" if last else None},
                },
            }
        )
        figure.add_annotation(
            text=heads[kind],
            x=0, xref="paper", xanchor="left", y=upper, yref="paper", yanchor="bottom", yshift=3,
            showarrow=False, font={"size": 13, "color": look.text}, align="left",
        )  # fmt: skip
    if not kinds:
        figure.update_xaxes(title_text="clamps added")
        figure.update_yaxes(title_text="days saved")
    return finish(figure, plot_px)


def build_clamps(rows: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """``build_clamp_savings``, or None where no number of clamps was tried."""
    return build_clamp_savings(rows, theme) if (rows["thing"] == "clamps").any() else None


def build_beside_clamps(rows: pd.DataFrame, theme: str = "light") -> go.Figure | None:
    """What one more of other things saves, from the table of the answer on clamps; None where nothing else was tried."""
    others = rows[rows["thing"].isin(("worker", "station", "rack"))]
    if others.empty:
        return None
    what = [say_more(*row) for row in zip(others["thing"], others["kind"], others["added"], strict=True)]
    return build_holdups(others.assign(what=what), theme)


def _say_head(kind: str, rows: pd.DataFrame) -> str:
    """A panel's name, how many are owned, and how far more of them pay; on lines of their own where that is long."""
    limit = _say_limit(rows)
    between = "  " if len(kind) + len(limit) < 40 else "<br>"
    return f"<b>{escape_text(kind if len(kind) < 44 else f'{kind[:42]}…')}</b>{between}{limit}"


def _say_limit(rows: pd.DataFrame) -> str:
    """How many are owned and which numbers pay, as the table has it; for what costs nothing by itself where that differs."""
    verdicts = {_say_under(str(under)): _say_paying(mine) for under, mine in rows.groupby("under", sort=False)}
    if len(set(verdicts.values())) > 1:
        said = ";<br>".join(f"{escape_text(under)} {verdict}" for under, verdict in verdicts.items())
    else:
        said = next(iter(verdicts.values()))
    return f"{int(rows['owned'].iloc[0])} owned, {said}"


def _say_under(under: str) -> str:
    return f"with {under}" if under else "as the shop is"


def _say_paying(rows: pd.DataFrame) -> str:
    pays, open_ = rows[rows["pays"]]["added"], rows[rows["may_pay"] & ~rows["pays"]]["added"]
    if pays.empty:
        return "no step pays" if open_.empty else f"{_say_numbers(open_)} more not sure"
    said = f"{_say_numbers(pays)} more {'pays' if list(pays) == [1] else 'pay'}"
    return said if open_.empty else f"{said}, {_say_numbers(open_)} not sure"


def _say_numbers(added: pd.Series) -> str:
    *most, last = (f"{n}" for n in sorted(added.astype(int)))
    return f"{', '.join(most)} and {last}" if most else last


def _draw_kind(
    figure: go.Figure,
    steps: pd.DataFrame,
    measure: str,
    look: Theme,
    number: int,
    under: str,
    suffix: str,
    seen: set[str],
) -> None:
    colour, axes = look.series[number], {"xaxis": f"x{suffix}", "yaxis": f"y{suffix}"}
    days = f"{measure}_saved_days"
    saved = steps[days]
    low, high = _drawn_ends(steps, *estimate_keys(days))
    name = _say_under(under)
    figure.add_scatter(
        x=[0, *steps["added"]],
        y=[0.0, *saved],
        mode="lines+markers",
        line={"width": 2, "color": colour, "dash": DASHES[number]},
        marker={
            "size": 11,
            "color": colour,
            "line": {"width": 2, "color": colour},
            "symbol": [MARKERS[number], *(_symbol(number, row) for row in steps.to_dict("records"))],
        },
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [0.0, *(high - saved)],
            "arrayminus": [0.0, *(saved - low)],
            "color": colour,
            "thickness": 1.5,
            "width": 5,
        },
        hovertext=["today: 0 days", *(_say_step(row, measure) for row in steps.to_dict("records"))],
        hoverinfo="text",
        name=escape_text(name),
        legendgroup=str(number),
        showlegend=name not in seen,
        **axes,
    )
    seen.add(name)
    if measure == "average":
        best = "best so far"
        figure.add_scatter(
            x=[0, *steps["added"]],
            y=[0.0, *steps["best_so_far_days"]],
            mode="lines",
            line={"width": 1.5, "color": look.quiet, "dash": "dot", "shape": "hv"},
            hoverinfo="skip",
            name=best,
            legendgroup="best",
            showlegend=best not in seen,
            **axes,
        )
        seen.add(best)


def _drawn_ends(rows: pd.DataFrame, value: str, low: str, high: str, unseen: str) -> tuple[pd.Series, pd.Series]:
    """The ends of intervals as drawn: none where no run showed a difference, for what stands there is a bound."""
    none = rows[unseen].astype(bool)
    return rows[low].where(~none, rows[value]), rows[high].where(~none, rows[value])


def _symbol(number: int, row: Mapping[Any, Any]) -> str:
    if row["is_worse"]:
        return "x-thin-open"
    if row["pays"]:
        return MARKERS[number]
    return f"{MARKERS[number]}-open-dot" if row["may_pay"] else f"{MARKERS[number]}-open"


def _say_step(row: Mapping[Any, Any], measure: str) -> str:
    saved, low, high = (_number(row[f"{measure}_saved_days{end}"]) for end in ("", "_low", "_high"))
    said = f"{row['added']} more: days saved {say_range(saved, low, high, bool(row[f'{measure}_saved_days_unseen']))}"
    price = _number(row["cost"])
    if not math.isnan(price):
        said += f"<br>price {say_number(price)}"
    if row["remark"]:
        said += f"<br>{escape_text(str(row['remark']))}"
    return f"{said}<br>{'pays' if row['pays'] else 'not sure whether it pays' if row['may_pay'] else 'does not pay'}"


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else math.nan


def build_holdups(rows: pd.DataFrame, theme: str = "light") -> go.Figure:
    """What each change by itself would save, ranked by the days it saves, each with its interval.

    ``rows``: ``what`` (in words), ``average_saved_days`` with ``_low``, ``_high`` and ``_unseen`` (no run showed a difference), ``cost`` (money, missing
    where the file has no price). The largest saving stands on top; points are filled
    where the saving is sure (the interval lies above 0), crosses where the order surely ships later. Rows without a number are left out.
    """
    look = find_theme(theme)
    figure = new_figure(
        look,
        "What each change would save",
        "Each point says how many days sooner the average order would ship with that one change, with its range: "
        "filled points are sure, open ones may be nothing at all, and crosses would surely ship later.",
    )
    known = rows[rows["average_saved_days"].notna()].sort_values("average_saved_days", ascending=False, kind="stable")
    sure, later = known["average_saved_days_low"] > 0, known["average_saved_days_high"] < 0
    low, high = _drawn_ends(known, *estimate_keys("average_saved_days"))
    place = pd.Series(range(len(known)), index=known.index) + 0.18
    for name, which, colour, symbol in (
        ("surely sooner", sure, look.series[0], "circle"),
        ("cannot be told from nothing", ~sure & ~later, look.quiet, "circle-open"),
        ("surely later", later, look.series[1], "x"),
    ):
        mine = known[which]
        if mine.empty:
            continue
        saved = mine["average_saved_days"]
        figure.add_scatter(
            x=saved,
            y=place[which],
            mode="markers",
            marker={"size": 11, "color": colour, "symbol": symbol, "line": {"width": 2, "color": colour}},
            error_x={
                "type": "data",
                "symmetric": False,
                "array": high[which] - saved,
                "arrayminus": saved - low[which],
                "color": colour,
                "thickness": 2,
                "width": 5,
            },
            hovertext=[
                f"{escape_text(what)}<br>days sooner {say_range(value, least, most, none)}" + _say_cost(cost)
                for what, value, least, most, none, cost in zip(
                    mine["what"], *(mine[key] for key in estimate_keys("average_saved_days")), mine["cost"], strict=True
                )
            ],
            hoverinfo="text",
            name=name,
        )
    figure.add_vline(x=0, line={"width": 1, "color": look.quiet})
    figure.update_xaxes(title_text="days by which the average order ships sooner")
    name_rows(figure, [str(what) for what in known["what"]], ROW_PX)
    return finish(figure, ROW_PX * max(2, len(known)), left_px=0)


def _say_cost(cost: object) -> str:
    value = _number(cost)
    return "" if math.isnan(value) else f"<br>costs {say_number(value)}"
