"""It holds that the charts of money draw the numbers of their tables, altered by nothing."""

from __future__ import annotations

import pandas as pd

from shopsim.charts.money_chart import build_cash, build_left_an_hour

COUNTS = pd.DataFrame(
    {
        "orders": [12, 18], "is_now": [False, True], "spare": [0, 2], "left_an_hour_p10": [20.0, 22.5],
        "left_an_hour_p50": [38.0, 35.25], "left_an_hour_p90": [55.0, 50.0],
    }
)  # fmt: skip
WEEKS = pd.DataFrame(
    {
        "week_of": ["2027-01-04", "2027-01-11"], "deposits": [150.0, 0.0], "balances": [0.0, 180.0], "purchases": [-20.0, 0.0],
        "other": [-5.4, -47.07], "cash_p10": [124.6, 250.0], "cash_p50": [124.6, 257.53], "cash_p90": [124.6, 260.0],
    }
)  # fmt: skip


def test_the_line_is_the_median_and_the_band_its_points() -> None:
    figure = build_left_an_hour(COUNTS)
    assert figure is not None
    band, line, now = figure.data
    assert list(line.x) == [12, 18]
    assert list(line.y) == [38.0, 35.25]
    assert list(band.y) == [55.0, 50.0, 22.5, 20.0]
    assert (list(now.x), list(now.y)) == ([18], [35.25])
    assert "18 orders, 2 spare<br>35.25 an hour (22.50 to 50.00)" in line.hovertext
    assert build_left_an_hour(COUNTS[:1]) is None


def test_bars_are_what_came_and_went_and_the_line_what_is_in_hand() -> None:
    figure = build_cash(WEEKS, "dark")
    assert figure is not None
    bars = {bar.name: list(bar.y) for bar in figure.data if bar.type == "bar"}
    assert bars == {key: WEEKS[key].tolist() for key in ("deposits", "balances", "purchases", "other")}
    assert list(figure.data[-1].y) == [124.6, 257.53]
    assert build_cash(WEEKS[:0]) is None
