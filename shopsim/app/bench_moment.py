"""When what is tapped happened: now, or earlier by steps, so that nothing has to be typed."""

from __future__ import annotations

import datetime as dt

import streamlit as st

from shopsim.scenario import Scenario
from shopsim.scenario.day_logs import open_minutes
from shopsim.units import MINUTES_PER_DAY

_CHOSEN = "bench moment"
#: Steps back: what the button says, and how far it goes.
STEPS = {
    "5 min earlier": dt.timedelta(minutes=5),
    "15 min earlier": dt.timedelta(minutes=15),
    "30 min earlier": dt.timedelta(minutes=30),
    "1 hour earlier": dt.timedelta(hours=1),
    "1 day earlier": dt.timedelta(days=1),
    "5 min later": -dt.timedelta(minutes=5),
}
NOW, EVENING = "Now", "Evening of the last open day"
#: The end of a day in a shop that never closes.
_NIGHT = 21 * 60.0


def draw_moment(scenario: Scenario) -> dt.datetime | None:
    """When the next tap happened, with buttons to change it; None means now."""
    chosen = chosen_moment()
    if chosen is None:
        st.markdown(f"What you tap is written as of **now**, {dt.datetime.now():%A %H:%M}.")
    else:
        stays = chosen.date() < dt.date.today()
        until = "until you say now again" if stays else "for the next tap alone"
        st.warning(f"What you tap is written as of **{chosen:%A %Y-%m-%d %H:%M}**, {until}.")
    with st.expander("It happened earlier", expanded=chosen is not None):
        labels = [*STEPS, EVENING, NOW]
        for first in range(0, len(labels), 2):
            for place, label in zip(st.columns(2), labels[first : first + 2], strict=False):
                with place:
                    st.button(
                        label, key=f"moment {label}", on_click=_move, args=(label, scenario), width="stretch",
                        disabled=chosen is None and label in (NOW, "5 min later"),
                    )  # fmt: skip
    return chosen


def chosen_moment() -> dt.datetime | None:
    """The moment that was chosen; None means now."""
    held = st.session_state.get(_CHOSEN)
    return held if isinstance(held, dt.datetime) else None


def let_go() -> None:
    """After a tap: a moment of today was for that tap alone; who catches up on an earlier day stays there."""
    chosen = chosen_moment()
    if chosen is not None and chosen.date() >= dt.date.today():
        st.session_state[_CHOSEN] = None


def _move(label: str, scenario: Scenario) -> None:
    now = dt.datetime.now().replace(second=0, microsecond=0)
    if label == NOW:
        st.session_state[_CHOSEN] = None
        return
    moment = last_evening(scenario, now.date()) if label == EVENING else (chosen_moment() or now) - STEPS[label]
    st.session_state[_CHOSEN] = moment if moment < now else None


def last_evening(scenario: Scenario, today: dt.date) -> dt.datetime:
    """When the shop closed on the last day before today on which it was open; of the night before where none was for a year."""
    days = (today - dt.timedelta(days=back) for back in range(1, 366))
    date = next((day for day in days if open_minutes(scenario.shop, day)), today - dt.timedelta(days=1))
    hours = scenario.shop.open
    end = _NIGHT if hours == "always" or not open_minutes(scenario.shop, date) else hours[date.weekday()][-1][1]
    return dt.datetime.combine(date, dt.time()) + dt.timedelta(minutes=min(float(end), MINUTES_PER_DAY - 1.0))
