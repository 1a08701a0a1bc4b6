"""Which order of a forecast is the first to ship and which the last, how well all are kept, and windows of a listing."""

from __future__ import annotations

import datetime as dt

import numpy as np

from shopsim.answers.delivery_words import find_ends, say_at_least
from shopsim.answers.listing import Place, find_windows


def test_of_tied_promises_the_last_is_the_one_whose_window_opens_last() -> None:
    rows = [
        {"order": "a", "ship_from_day": 5, "ship_to_day": 9, "promise_day": 9},
        {"order": "b", "ship_from_day": 3, "ship_to_day": 9, "promise_day": 9},
        {"order": "c", "ship_from_day": 7, "ship_to_day": 9, "promise_day": 9},
        {"order": "d", "ship_from_day": 7, "ship_to_day": 9, "promise_day": 9},
    ]
    first, last = find_ends(rows)
    assert (first["order"], last["order"]) == ("b", "d")


def test_a_share_that_holds_less_often_than_asked_is_said_as_it_is() -> None:
    assert say_at_least(0.9, [0.9, 0.95]) == "at least 90 %"
    assert say_at_least(0.999, [0.9991]) == "at least 99.9 %"
    assert say_at_least(0.9, [0.9, 0.645]) == "at least 64 %"


def place(number: int, first: int, last: int) -> Place:
    day = dt.date(2027, 1, 4)  # a Monday
    return Place("stool", number, day + dt.timedelta(weeks=first), day + dt.timedelta(weeks=last, days=4), day)


def test_orders_far_apart_get_windows_apart_and_neighbours_share_one() -> None:
    near = [place(n, 6, 8) for n in range(1, 6)]
    far = [place(n, 27, 28) for n in range(6, 9)]
    windows = find_windows([*near, *far])
    assert [(w.begin, w.end, w.weeks) for w in windows] == [(1, 5, (6, 9)), (6, 8, (27, 29))]
    assert windows[0].monday == dt.date(2027, 2, 15)
    assert windows[0].sunday == dt.date(2027, 3, 7)
    wide = [place(1, 2, 9), place(2, 2, 9), place(3, 3, 8)]
    assert [(w.begin, w.end) for w in find_windows(wide)] == [(1, 3)]
    many = [place(n, 3 * n, 3 * n + 1) for n in range(1, 40)]
    windows = find_windows(many)
    assert 1 < len(windows) <= 6
    assert [w.begin for w in windows[1:]] == [w.end + 1 for w in windows[:-1]]
    assert windows[-1].end == 39


def test_no_window_leaves_out_a_day_of_its_orders() -> None:
    rng = np.random.default_rng(3)
    for _ in range(60):
        starts = np.sort(rng.integers(0, 40, rng.integers(1, 15)))
        places = [place(n, int(start), int(start + rng.integers(0, 6))) for n, start in enumerate(starts, start=1)]
        for window in find_windows(places):
            own = [each for each in places if window.begin <= each.number <= window.end]
            assert own
            assert all(window.monday <= each.first and each.last <= window.sunday for each in own)
            assert all((window.sunday - each.since).days <= 7 * window.weeks[1] for each in own)
            assert all((window.monday - each.since).days >= 7 * window.weeks[0] for each in own)
