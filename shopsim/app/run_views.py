"""The views of one run: for each its charts and its tables, and where it asks something of its own, the control for that."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, get_args

import pandas as pd
import streamlit as st

from shopsim.answers.one_run import RunTables, say_plan_row, shorten_pieces
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import remember, remembered
from shopsim.charts import build_clamps_in_use, build_timeline, build_use, build_waiting
from shopsim.charts.timeline_chart import Rows

#: Charts, and tables by their titles.
View = tuple[list[Any], dict[str, pd.DataFrame]]
#: Days of the plan that are shown at a time.
DAYS_AT_ONCE = 7


def view_timeline(run: RunTables, theme: str) -> View:
    """Everything along the dates, by piece, batch, person or station."""
    rows = get_args(Rows)
    held = remembered("timeline by", rows[0])
    by = st.selectbox("A row for each", rows, rows.index(held) if held in rows else 0, key="timeline by", width=200)
    remember("timeline by", by)
    return [build_timeline(run.spans, run.closed, by, theme)], {"Pieces": shorten_pieces(run.pieces)}


def view_day_plan(run: RunTables, _theme: str) -> View:
    """What to do on which day, a week at a time, each caution beside its work."""
    days = [(pd.Timestamp(str(day)), rows) for day, rows in run.plan.groupby("day", sort=False)]
    starts = list(range(0, len(days), DAYS_AT_ONCE))
    if not starts:
        st.markdown("There is nothing to do.")
        return [], {}
    labels = [f"{days[n][0]:%a %d %b} to {days[min(n + DAYS_AT_ONCE, len(days)) - 1][0]:%a %d %b %Y}" for n in starts]
    chosen = st.selectbox("Days", range(len(starts)), format_func=lambda n: labels[n], key="plan days", width=300)
    st.markdown("What is planned comes from this one run. A caution in brackets is explained below.")
    for day, rows in days[starts[chosen] : starts[chosen] + DAYS_AT_ONCE]:
        st.markdown(f"## {day:%A %d %B %Y}")
        lines = []
        for row in rows.to_dict("records"):
            time, text, caution = say_plan_row({str(key): value for key, value in row.items()})
            beside = f" **({escape_markdown(caution)})**" if caution else ""
            lines.append(f"- **{escape_markdown(time)}** {escape_markdown(text)}{beside}")
        st.markdown("\n".join(lines))
    return [], {}


def view_time(run: RunTables, theme: str) -> View:
    """Where the elapsed time of pieces goes."""
    return [build_waiting(run.holdups, "piece", theme)], {"Average of all pieces": run.time}


def view_use(run: RunTables, theme: str) -> View:
    """What hands and shop did."""
    figures = [
        build_timeline(run.spans, run.closed, "worker", theme),
        build_use(run.use, theme),
        build_use(run.use, theme, when="whole run"),
    ]
    return figures, {"Hours by use": run.use}


def view_clamps(run: RunTables, theme: str) -> View:
    """How many clamps of each kind were in use at each moment."""
    if not run.kinds:
        st.markdown("No clamps are used in this run.")
    return [build_clamps_in_use(run.in_use, run.closed, kind, theme) for kind in run.kinds], {}


def view_tasks(run: RunTables, _theme: str) -> View:
    """Every task, in a table that can be sorted and searched."""
    st.markdown("Every task: when it could begin, began and was done, by whom and where, and what it waited for.")
    st.dataframe(run.tasks, hide_index=True, height=480, key="task table")
    return [], {}


#: The views by what the page calls them.
VIEWS: dict[str, Callable[[RunTables, str], View]] = {
    "Timeline": view_timeline,
    "What to do on which day": view_day_plan,
    "Where the time goes": view_time,
    "Hands and shop": view_use,
    "Clamps over time": view_clamps,
    "Every task": view_tasks,
}
