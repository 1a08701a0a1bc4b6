"""From how many pieces on a way of making it pays, against the textbook's break-even of two methods, and sums by hand.

The break-even of a method with a higher fixed cost F2 and a lower variable cost v2 against one with F1 and v1 lies at
(F2 - F1) / (v1 - v2) units, as textbooks of operations management have it under cost-volume or process choice (Krajewski &
Ritzman, Operations Management, supplement on decision making; from memory). Here costs are hours of work, in a shop without
luck where nothing waits; the program does not use the formula but runs the shop for one number of pieces after another.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from shopsim import Answer, Scenario, compare_ways, parse_scenario

CALM = 'interrupted = "0 %"\nlost_days = "0 %"\n'


def shop_with(
    write_shop: Callable[..., str], fixed1: int, unit1: str, fixed2: int, unit2: str, in_use: bool = False
) -> Scenario:
    steps = f'{{ name = "get ready", per = "run", work = "{fixed1} min" }},\n{{ name = "drill", work = "{unit1}" }}'
    way = (
        f'[[design.ways]]\nname = "jig"\nchange = [{{ operation = "drill", work = "{unit2}" }}, '
        f'{{ operation = "get ready", work = "{fixed2} min" }}]\n'
    )
    run = "orders = 20\nbatch = 20\n" + ('ways = ["jig"]\n' if in_use else "")
    return parse_scenario(write_shop(steps, open='"always"', shop=CALM, more=way, run=run))


def pays(answer: Answer) -> list[float]:
    (row,) = answer.tables["from_how_many_pieces_on"].to_dict("records")
    return [row["pays_from"], row["pays_from_low"], row["pays_from_high"]]


@pytest.mark.parametrize(
    ("fixed1", "unit1", "fixed2", "unit2"),
    [
        (0, 10, 120, 7),  # a jig of two hours that saves three minutes a piece pays from 40 pieces on
        (30, 9, 150, 5),  # 120 / 4 = 30
        (0, 10, 100, 7),  # 33.3: from the 34th piece on
        (60, 12, 61, 2),  # 0.1: from the first
    ],
)
def test_a_way_pays_from_the_break_even_of_the_textbook_on(
    write_shop: Callable[..., str], fixed1: int, unit1: int, fixed2: int, unit2: int
) -> None:
    pieces = max(1, math.ceil((fixed2 - fixed1) / (unit1 - unit2)))
    for in_use in (False, True):
        shop = shop_with(write_shop, fixed1, f"{unit1} min", fixed2, f"{unit2} min", in_use)
        answer = compare_ways(shop, replications=20)
        assert pays(answer) == [pieces] * 3  # without luck there is nothing to be unsure of
    saved = (20 * (unit1 - unit2) - (fixed2 - fixed1)) / 20 / 60
    way = answer.rows.iloc[1]
    assert way["ways"] == "without jig"
    assert way["hands_on_saved_h"] == pytest.approx(-saved)


def test_a_way_that_saves_nothing_at_a_piece_pays_with_no_number_that_is_tried(write_shop: Callable[..., str]) -> None:
    answer = compare_ways(shop_with(write_shop, 0, "10 min", 30, "10 min"), replications=20)
    assert all(math.isnan(one) for one in pays(answer))
    assert "It takes more hours of work than it saves with up to 640 pieces, the most tried." in answer.sentence


def test_with_luck_the_interval_holds_the_break_even_of_the_means(write_shop: Callable[..., str]) -> None:
    # laws of exact means: 12 and 8 minutes a piece, exponential; a jig of 60 minutes pays from 60 / 4 = 15 pieces on
    unit1, unit2 = (f'{{ law = "exponential", mean = "{mean} min" }}' for mean in (12, 8))
    steps = f'{{ name = "get ready", per = "run", work = "1 min" }},\n{{ name = "drill", work = {unit1} }}'
    way = (
        f'[[design.ways]]\nname = "jig"\nchange = [{{ operation = "drill", work = {unit2} }}, '
        '{ operation = "get ready", work = "61 min" }]\n'
    )
    text = write_shop(steps, open='"always"', shop=CALM, more=way, run="orders = 20\nbatch = 20\n")
    value, low, high = pays(compare_ways(parse_scenario(text), replications=200))
    assert low <= 15 <= high
    assert abs(value - 15) <= 2
