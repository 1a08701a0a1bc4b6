"""The plan in the draft's file, changed by hand: a line earlier or later, held back to a day or let go free, by buttons."""

from __future__ import annotations

import datetime as dt

import pandas as pd
import streamlit as st

from shopsim.answers.plan_of_days import list_plan_lines
from shopsim.app.answer_view import draw_table
from shopsim.app.drafts import make_draft
from shopsim.app.faults import draw_faults, draw_problem
from shopsim.app.state import need_draft, remember, rewrite_draft
from shopsim.errors import Fault, InputError
from shopsim.scenario.batches import is_planned
from shopsim.scenario.list_edits import RowEdit, edit_list
from shopsim.scenario.model import WorkPlan
from shopsim.scenario.work_plan import PlannedWork

#: Lines that are shown before and after the chosen one.
NEAR = 4
_LINE, _REFUSED, _EDITED = "plan line", "plan refused", "plan edited"


def draw_plan_editor(as_it_is: str) -> None:
    """Draw the plan of the file, where it goes by one. ``as_it_is``: key of the switch that shows the days as the file stands, which
    is set when the plan is changed."""
    scenario = need_draft().scenario
    if scenario is None or not is_planned(scenario) or scenario.run.plan is None or not scenario.run.plan.order:
        return
    plan = scenario.run.plan
    refused = st.session_state.pop(_REFUSED, None)
    with st.expander("Change the plan in your file by hand", expanded=_EDITED in st.session_state):
        if isinstance(refused, str):
            draw_problem(InputError(refused))
        elif refused:
            st.error("The plan is left as it was, because it cannot be so:")
            draw_faults(refused)
        st.write(
            "What stands nearer the top goes first. Choose a line, and move it or hold it back; the days above follow."
        )
        n = len(plan.order)
        if st.session_state.get(_LINE, 0) >= n:
            del st.session_state[_LINE]
        place = int(st.selectbox("Which line", range(n), format_func=lambda at: _say(at, plan.order[at]), key=_LINE))
        moves = {"Earlier": place - 1, "Later": place + 1, "First of all": 0, "Last of all": n - 1}
        for column, (label, to) in zip(st.columns(4), moves.items(), strict=True):
            with column:
                st.button(
                    label, key=f"plan {label}", width="stretch", disabled=not 0 <= to < n or to == place,
                    on_click=_change, args=(_move(n, place, to), to, as_it_is),
                )  # fmt: skip
        _draw_holding(plan, place, as_it_is)
        first = max(0, min(place - NEAR, n - 2 * NEAR - 1))
        draw_table(_near(plan, first, place))


def _draw_holding(plan: WorkPlan, place: int, as_it_is: str) -> None:
    """A day before which the line is not begun."""
    held, n = plan.order[place].not_before, len(plan.order)
    with st.container(horizontal=True, vertical_alignment="bottom"):
        day = st.date_input(
            "Not before", held.date() if held is not None else None, key=f"plan day {place} {held}", format="YYYY-MM-DD", width=210
        )  # fmt: skip
        until = dt.datetime.combine(day, dt.time()) if isinstance(day, dt.date) else None
        st.button(
            "Hold it back to that day", key="plan hold", disabled=until is None or until == held,
            on_click=_change, args=(_hold(n, place, until), place, as_it_is),
        )  # fmt: skip
        st.button(
            "As soon as it can be", key="plan free", disabled=held is None,
            on_click=_change, args=(_hold(n, place, None), place, as_it_is),
        )  # fmt: skip


def _near(plan: WorkPlan, first: int, place: int) -> pd.DataFrame:
    """The lines of the plan from ``first`` on, as text."""
    lines = list_plan_lines(plan).iloc[first : first + 2 * NEAR + 1]
    shown = lines.astype({"number": "str"}).rename(columns={"number": "line", "not_before": "not before"})
    shown["batch"] = ["every" if pd.isna(batch) else str(batch) for batch in lines["batch"]]
    shown["chosen"] = ["this one" if at == place else "" for at in range(first, first + len(lines))]
    return shown.loc[:, [bool((shown[name] != "").any()) for name in shown]]


def _say(at: int, line: PlannedWork) -> str:
    batch = "every batch" if line.batch is None else f"batch {line.batch}"
    held = "" if line.not_before is None else f", not before {line.not_before:%a %Y-%m-%d %H:%M}"
    return f"{at + 1}. {line.operation}, {batch}{f', {line.design}' if line.design else ''}{held}"


def _move(n: int, place: int, to: int) -> list[RowEdit]:
    """The lines of a plan of ``n`` with the one at ``place`` put at ``to``."""
    lines = [*range(n)]
    lines.insert(to, lines.pop(place))
    return [RowEdit(line, {}) for line in lines]


def _hold(n: int, place: int, until: dt.datetime | None) -> list[RowEdit]:
    """The lines of a plan of ``n`` with the one at ``place`` not begun before a moment, or (None) as soon as it can be."""
    return [RowEdit(line, {"not_before": until} if line == place else {}) for line in range(n)]


def _change(lines: list[RowEdit], place: int, as_it_is: str) -> None:
    """Put the changed plan into the file, comments kept, unless it cannot be so, and show the days as the file then stands."""
    draft = need_draft()
    st.session_state[_EDITED] = True
    try:
        text = edit_list(draft.text, ("run", "plan", "order"), lines, draft.name)
        faults: tuple[Fault, ...] = make_draft(text, draft.name, draft.beside).faults
        if faults:
            st.session_state[_REFUSED] = faults
            return
        rewrite_draft(text)
    except InputError as error:
        st.session_state[_REFUSED] = str(error)
        return
    st.session_state[_LINE] = place
    st.session_state[as_it_is] = True
    remember(as_it_is, True)
