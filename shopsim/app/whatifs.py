"""What would change if: controls beside the answers, on top of the draft and never in it unless the maker says so.

Only what differs from the file is remembered, so that a control nobody touched follows the file. One set of
what-ifs goes with the maker from page to page.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from shopsim.answers.clamp_words import say_clamps_more
from shopsim.answers.growth import clamp_changes
from shopsim.answers.order_mix import OrderPlan
from shopsim.answers.week import change_week, week_hours
from shopsim.app.faults import draw_faults, draw_problem, drawn_anew
from shopsim.app.markdown_text import escape_markdown
from shopsim.app.state import change_draft, remember, remembered
from shopsim.errors import InputError, ScenarioError
from shopsim.limits import MAX_ADDED_CLAMPS, MAX_ASKED_ORDERS
from shopsim.priority import AS_PLANNED, PRIORITY_RULES, describe_rules
from shopsim.say import say_plain
from shopsim.scenario import Scenario, change_scenario
from shopsim.scenario.batches import batch_changes, ordered_of_lines, own_batches, pieces_of_lines
from shopsim.scenario.values import OrderBook

#: Where what-ifs are remembered, and the number of times they were put back, which makes the controls new ones.
_VALUES, _ROUND = "what if", "shopsim what if round"
#: Controls by name, in the order in which they are drawn.
CONTROLS = ("batch", "orders", "hours", "priority", "clamps")
#: Kinds of clamps up to which their controls stand beside the others; more are folded away.
MAX_BESIDE = 4
#: Width of a control in pixels: two stand side by side on a phone.
_WIDE = 150


@dataclass(frozen=True)
class WhatIf:
    """A scenario with what-ifs. ``changes``: places to values, on top of the file; ``said``: each in words; ``batch``: pieces in a
    batch that were asked for, None for those of the file; ``clamps``: how many of each kind are added."""

    scenario: Scenario
    changes: Mapping[str, Any]
    said: tuple[str, ...] = ()
    batch: int | None = None
    clamps: Mapping[str, int] | None = None


def draw_whatifs(scenario: Scenario, leave_out: Sequence[str] = (), apart: Sequence[str] = ()) -> WhatIf:
    """Draw the controls and give the scenario with what they say; the page ends here if the shop could then never finish.

    ``leave_out``: controls that are not drawn, and what they say is left aside; ``apart``: drawn, but for the page to
    take into account, not part of the scenario.
    """
    values = dict(remembered(_VALUES, {}))
    with st.container(border=True, key="what-ifs"):
        st.markdown("**What if …** Change a number and read the answer; your file stays as it is.")
        asked: dict[str, Any] = {}
        with st.container(horizontal=True, vertical_alignment="bottom"):
            if "clamps" in apart:
                asked |= _draw_clamps(scenario, values, beside=True)
            for name in CONTROLS:
                if name not in leave_out and not (name == "clamps" and name in apart):
                    asked |= _DRAW[name](scenario, values)
        kept = {**{name: value for name, value in values.items() if name in leave_out}, **asked}
        if kept != values:
            remember(_VALUES, kept or None)
        try:
            whole = _collect(scenario, asked, ())
            part = _collect(scenario, asked, apart) if apart else whole
            changed = change_scenario(scenario, part.changes) if part.changes else scenario
            if whole.changes and apart:
                change_scenario(scenario, whole.changes)
        except ScenarioError as error:
            _draw_buttons({}, asked)
            st.markdown("With these changes it cannot be run:")
            draw_faults(error.faults)
            st.stop()
        except InputError as error:
            _draw_buttons({}, asked)
            draw_problem(error)
            st.stop()
        if whole.said:
            st.markdown("Now: " + escape_markdown(", ".join(whole.said)) + ".")
        _draw_buttons(whole.changes, asked)
    return WhatIf(changed, part.changes, part.said, whole.batch, whole.clamps)


def _draw_buttons(changes: Mapping[str, Any], asked: Mapping[str, Any]) -> None:
    """Back to today, and into the file; neither can be pressed while all is as in the file."""
    listed = any(isinstance(value, OrderBook) for value in changes.values())
    with st.container(horizontal=True):
        st.button("Back to today", key="back to today", disabled=not asked, on_click=put_back)
        take = st.button(
            "Take this into my file", key="take into file", disabled=not changes or listed,
            help="Other numbers of orders than your list holds cannot be written: add orders to the list, or take some out."
            if listed
            else "Writes these values into the scenario you are working on; its comments stay.",
        )  # fmt: skip
    if take:
        with drawn_anew():
            change_draft(changes)
            put_back()


def put_back() -> None:
    """Let every what-if go: all is as in the file."""
    remember(_VALUES, None)
    st.session_state[_ROUND] = st.session_state.get(_ROUND, 0) + 1


def _key(name: str, today: object) -> str:
    return f"what if {name} {today} {st.session_state.get(_ROUND, 0)}"


def _draw_batch(scenario: Scenario, values: Mapping[str, Any]) -> dict[str, Any]:
    own, most = own_batches(scenario), max(pieces_of_lines(scenario))
    today = own[0] if len(set(own)) == 1 else None
    label = f"Pieces in a batch (today {today})" if today else "Pieces in a batch (today by line)"
    held = values.get("batch", today)
    value = st.number_input(
        label, 1, max(most, held or 1), held, 1, key=_key("batch", (own, most)), width=_WIDE, placeholder="as now"
    )
    return {} if value is None or value == today else {"batch": int(value)}


def _draw_orders(scenario: Scenario, values: Mapping[str, Any]) -> dict[str, Any]:
    if len(scenario.lines) > 1:
        return {}
    own = scenario.lines[0].orders
    today = len(own.orders) if isinstance(own, OrderBook) else sum(ordered_of_lines(scenario))
    value = st.number_input(
        f"Orders (today {today})", 1, max(MAX_ASKED_ORDERS, today), values.get("orders", today), 1,
        key=_key("orders", today), width=_WIDE,
        help="Fewer are the first of your list; more follow its mix of options and numbers of pieces." if isinstance(own, OrderBook) else None,
    )  # fmt: skip
    return {} if value == today else {"orders": int(value)}


def _draw_hours(scenario: Scenario, values: Mapping[str, Any]) -> dict[str, Any]:
    today = week_hours(scenario)
    if not today:
        return {}
    value = st.number_input(
        f"Hours a week (today {say_plain(today)})", 0.5, 168.0, float(values.get("hours", today)), 1.0, format="%.4g",
        key=_key("hours", today), width=_WIDE,
        help="Every open day gets longer or shorter in proportion, for everybody who works then.",
    )  # fmt: skip
    return {} if abs(value - today) < 1e-6 else {"hours": float(value)}


def _draw_priority(scenario: Scenario, values: Mapping[str, Any]) -> dict[str, Any]:
    today = scenario.run.priority
    held = values.get("priority", today)
    rules = (today, *PRIORITY_RULES) if today == AS_PLANNED else PRIORITY_RULES
    value = st.selectbox(
        f"What comes first (today {today})", rules, rules.index(held if held in rules else today), key=_key("order", today), width=_WIDE,
        help=f"The priority rule: which work comes first when somebody is free. {describe_rules()}.",
    )  # fmt: skip
    return {} if value == today else {"priority": value}


def _draw_clamps(scenario: Scenario, values: Mapping[str, Any], beside: bool = False) -> dict[str, Any]:
    kinds = scenario.shop.clamps
    held = values.get("clamps", {})
    if not kinds:
        return {}
    if len(kinds) <= MAX_BESIDE and beside:
        added = _draw_kinds(scenario, held)
    else:
        count = sum(held.values())
        with st.popover(f"Clamps: {count} more" if count else "Clamps", width=_WIDE):
            added = _draw_kinds(scenario, held)
    return {"clamps": added} if added else {}


def _draw_kinds(scenario: Scenario, held: Mapping[str, int]) -> dict[str, int]:
    added = {}
    for kind in scenario.shop.clamps:
        value = st.number_input(
            f"Add {escape_markdown(kind.name)} (today {kind.count})", 0, MAX_ADDED_CLAMPS,
            min(MAX_ADDED_CLAMPS, int(held.get(kind.name, 0))), 1, key=_key(f"clamps {kind.name}", kind.count), width=_WIDE,
        )  # fmt: skip
        if value:
            added[kind.name] = int(value)
    return added


_DRAW = {
    "batch": _draw_batch,
    "orders": _draw_orders,
    "hours": _draw_hours,
    "priority": _draw_priority,
    "clamps": _draw_clamps,
}


def _collect(scenario: Scenario, asked: Mapping[str, Any], apart: Sequence[str]) -> WhatIf:
    """What was asked for as places and values, and in words; without what stands apart. InputError where it cannot be."""
    changes: dict[str, Any] = {}
    said = []
    if "orders" in asked:
        changes |= OrderPlan(scenario).changes(asked["orders"])
        said.append(f"{asked['orders']} order{'s' if asked['orders'] != 1 else ''}")
    batch = asked.get("batch")
    if batch is not None and "batch" not in apart:
        changes |= batch_changes(scenario, batch)
        said.append(f"batches of {batch}")
    if "hours" in asked:
        changes |= change_week(scenario, asked["hours"])
        said.append(f"{say_plain(asked['hours'])} hours a week")
    if "priority" in asked:
        changes["run.priority"] = asked["priority"]
        said.append(f"what comes first: {asked['priority']}")
    clamps = {kind: n for kind, n in asked.get("clamps", {}).items() if kind in {k.name for k in scenario.shop.clamps}}
    if clamps and "clamps" not in apart:
        changes |= clamp_changes(scenario, clamps)
        said.append(say_clamps_more(clamps))
    return WhatIf(scenario, changes, tuple(said), batch, clamps)
