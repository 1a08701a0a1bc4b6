"""The listing: what everybody may read before ordering. Whole weeks, each design and batches far apart told apart."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from shopsim.answers.answer import Answer
from shopsim.answers.next_buyer import ALL_BUYERS, NEXT_BUYER
from shopsim.answers.order_counts import BY_PLACE
from shopsim.answers.order_mix import closing_day
from shopsim.answers.wording import join_words, say_count
from shopsim.plurals import several
from shopsim.say import say_day, say_number
from shopsim.scenario.batches import own_batches
from shopsim.scenario.model import Scenario
from shopsim.units import MINUTES_PER_DAY, MINUTES_PER_HOUR

#: Weeks up to which orders far apart are told one window, and the most windows of one design (own judgement).
TOLD_AS_ONE, MAX_WINDOWS = 4, 6
#: A buyer to come is told of where at least so large a share of runs has so many (as the most likely number of orders does).
_COMES = 0.1


@dataclass(frozen=True)
class Place:
    """One order of a design: ships ``first`` to ``last``; ``since``: from when it waits; ``number``: its place among them."""

    design: str
    number: int
    first: dt.date
    last: dt.date
    since: dt.date
    option: str = ""


@dataclass(frozen=True)
class Window:
    """Orders ``begin`` to ``end`` of a design, of ``of``, with the Monday and the Sunday between which all of them ship.

    ``weeks``: the fewest and the most weeks from the day each waits from, rounded outward.
    """

    begin: int
    end: int
    of: int
    monday: dt.date
    sunday: dt.date
    weeks: tuple[int, int]


def write_listing(scenario: Scenario, answer: Answer, hours: bool = True) -> str:
    """For all buyers: whole weeks, Monday to Sunday, rounded outward; ``hours``: whether the hours a week are told.

    Orders that wait from their own day are told weeks from it; a closing date is told where the file states one.
    """
    places, counted = _list_places(scenario, answer)
    as_ordered = scenario.run.release == "as ordered"
    names = list(dict.fromkeys(place.design for place in places))
    closes = {name: None if as_ordered else _close(scenario, name) for name in names}
    subject = join_words([several(name) for name in names])
    parts = [f"{subject[:1].upper()}{subject[1:]} are made to order{', as orders come in' if as_ordered else ''}."]
    together = len(set(closes.values())) == 1
    for name in names:
        close = closes[name]
        if close is not None and (name == names[0] or not together):
            parts.append(f"Orders{'' if together else f' for {several(name)}'} close on {say_day(close)}.")
        own = [place for place in places if place.design == name]
        for what, windows in _split(own, name, len(names) > 1):
            parts.append(_say_windows(windows, what, as_ordered, close is not None))
    return f"{' '.join(parts)} {say_carrier(scenario)} {say_assumption(scenario, counted, hours)}"


def _split(places: Sequence[Place], design: str, named: bool) -> list[tuple[str, list[Window]]]:
    """(what is made, "" where it need not be said; its windows): options apart where the design's orders have no one window."""
    windows, options = find_windows(places), list(dict.fromkeys(place.option for place in places))
    if len(windows) == 1 or len(options) == 1:
        return [(several(design) if named else "", windows)]
    split = []
    for option in options:
        own = [place for place in places if place.option == option]
        numbered = [replace(place, number=number) for number, place in enumerate(own, start=1)]
        what = f"{several(design)} ({option})" if option else f"plain {several(design)}"
        split.append((what, find_windows(numbered)))
    return split


def _close(scenario: Scenario, design: str) -> dt.date | None:
    return next((closing_day(scenario, line) for line in scenario.lines if line.design == design), None)


def _list_places(scenario: Scenario, answer: Answer) -> tuple[list[Place], str]:
    """(the orders that a listing speaks of, on how many orders it counts)."""
    rows = _records(answer.rows)
    if answer.key == NEXT_BUYER:
        whole = _records(answer.tables[ALL_BUYERS])[0]
        design = scenario.lines[0].design
        coming = [row for row in rows if row["number"] > whole["so_far"] and row["chance_comes"] >= _COMES] or rows[-1:]
        since = scenario.lines[0].orders_close or scenario.day0
        places = [
            Place(
                design, row["number"], _date(row["ship_from"]), max(_date(row["ship_to"]), _date(row["promise"])), since
            )
            for row in coming
        ]
        end = max(places[-1].last, _date(whole["all_kept"]))
        places[-1] = Place(design, places[-1].number, places[-1].first, end, since)
        cap = scenario.run.cap
        counted = f"at most {cap}" if cap else _span(whole["least_orders"], whole["most_orders"])
        return places, f"{counted} orders"
    if "orders" in answer.rows:
        counted = _span(rows[0]["orders"], rows[-1]["orders"])
        counted += " order" if rows[-1]["orders"] == 1 else " orders"
        rows = _records(answer.tables[BY_PLACE])
    else:
        counted = say_count(len(rows), "order")
    places = []
    done: dict[str, int] = {}
    for row in rows:
        design = str(row["design"])
        done[design] = done.get(design, 0) + 1
        since = _date(row["since"])
        ends = _date(row["ship_from"]), _date(row["all_kept"])
        places.append(Place(design, done[design], *ends, since, str(row["option"])))
    return places, counted


def find_windows(places: Sequence[Place]) -> list[Window]:
    """The windows of one design's orders, in the order of its queue: those far apart each their own.

    Neighbours share a window of up to TOLD_AS_ONE whole weeks, longer only where one order alone needs it; with more than
    MAX_WINDOWS of them, longer windows are taken until they are few enough.
    """
    width = float(TOLD_AS_ONE)
    while True:
        groups: list[list[Place]] = []
        for place in places:
            both = [*groups[-1], place] if groups else [place]
            if groups and _weeks_wide(both) <= max(width, *(_weeks_wide([one]) for one in both)):
                groups[-1].append(place)
            else:
                groups.append([place])
        if len(groups) <= MAX_WINDOWS:
            return [_window(group, places) for group in groups]
        width *= 1.25


def _weeks_wide(group: Sequence[Place]) -> float:
    window = _window(group, group)
    if len({place.since for place in group}) == 1:
        return ((window.sunday - window.monday).days + 1) / 7
    return window.weeks[1] - window.weeks[0]


def _window(group: Sequence[Place], whole: Sequence[Place]) -> Window:
    first, last = min(place.first for place in group), max(place.last for place in group)
    monday = first - dt.timedelta(days=first.weekday())
    sunday = last + dt.timedelta(days=6 - last.weekday())
    fewest = min((place.first - place.since).days for place in group) // 7
    most = math.ceil(max((place.last - place.since).days for place in group) / 7)
    if len({place.since for place in group}) == 1:  # in step with the days that are told
        fewest, most = (monday - group[0].since).days // 7, math.ceil((sunday - group[0].since).days / 7)
    return Window(group[0].number, group[-1].number, whole[-1].number, monday, sunday, (max(0, fewest), max(1, most)))


def _say_windows(windows: Sequence[Window], what: str, as_ordered: bool, closes: bool) -> str:
    """``Your order ships between Monday .. and Sunday .., 3 to 5 weeks after orders close.``; several windows one after the other."""
    said = []
    for window in windows:
        if window.begin == 1 and window.end == window.of:
            who = f"An order of {what} ships" if what else "Your order ships"
        elif window.begin == window.end:
            who = "the first order ships" if window.begin == 1 else f"order number {window.begin} ships"
        elif window.begin == 1:
            who = f"the first {window.end} orders ship"
        else:
            who = f"orders number {window.begin} to {window.end} ship"
        said.append(f"{who} {_say_when(window, as_ordered, closes)}")
    text = "; ".join(said) + "."
    if what and len(windows) > 1:
        return f"Of {what}, {text}"
    return f"{text[:1].upper()}{text[1:]}"


def _say_when(window: Window, as_ordered: bool, closes: bool) -> str:
    low, high = window.weeks
    weeks = say_count(high, "week")
    if low == 0:
        weeks = f"within {weeks}"
    elif low != high:
        weeks = f"{low} to {weeks}"
    if as_ordered:
        return f"{weeks} after it is ordered" if low else f"{weeks} of being ordered"
    if (window.sunday - window.monday).days == 6:
        when = f"in the week of {say_day(window.monday, weekday=True)}"
    else:
        when = f"between {say_day(window.monday, weekday=True)} and {say_day(window.sunday, weekday=True)}"
    return f"{when}, {weeks} after orders close" if closes else when


def say_assumption(scenario: Scenario, counted: str = "", hours: bool = True) -> str:
    """What the dates count on: batch size, the hours a week where they are to be told, and for the listing how many orders."""
    parts = [f"on {counted}"] if counted else []
    sizes = sorted(set(own_batches(scenario)))
    by = (
        " of one option each"
        if scenario.run.batches_by == "option" and any(d.options for d in scenario.all_designs)
        else ""
    )
    if sizes == [1]:
        parts.append("on pieces made one at a time")
    else:
        parts.append(f"on batches of {join_words([str(size) for size in sizes])}{by}")
    if hours:
        parts.append(_say_hours(scenario))
    return f"This counts {join_words(parts)}."


def _say_hours(scenario: Scenario) -> str:
    week = scenario.shop.open
    if week == "always":
        return "on the workshop running around the clock"
    hours = sum(end - start for day in week for start, end in day) / MINUTES_PER_HOUR
    shown = say_number(hours) if abs(hours - round(hours)) < 0.05 else say_number(hours, 1)
    return f"on {shown} hour{'' if shown == '1' else 's'} a week in the workshop"


def say_carrier(scenario: Scenario) -> str:
    """That the dates are of shipping, and how many business days the carrier then takes, rounded outward."""
    transit = scenario.shipping.transit
    if not transit:
        return "That is when it leaves the workshop; the time on the way comes on top."
    ends = [law.quantile(np.array([0.1, 0.9])) / MINUTES_PER_DAY for _, law in transit]
    low = min(math.floor(round(float(end[0]), 9)) for end in ends)
    high = max(math.ceil(round(float(end[1]), 9)) for end in ends)
    if high == 0:
        return "That is when it leaves the workshop, and when you can fetch it."
    shown = f"{high}" if low == high else f"{low} to {high}"
    return (
        f"That is when it leaves the workshop; the carrier then takes about {shown} business "
        f"day{'' if shown == '1' else 's'}."
    )


def _records(table: Any) -> list[Mapping[str, Any]]:
    return [{str(key): value for key, value in row.items()} for row in table.to_dict("records")]


def _span(least: int, most: int) -> str:
    return f"{most}" if least == most else f"{least} to {most}"


def _date(text: Any) -> dt.date:
    return dt.date.fromisoformat(str(text))
