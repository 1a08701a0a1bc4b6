"""It holds that boards, goods and prices are read exactly, written back, and that what is wrong with them has a place and a mend."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopsim import dump_scenario, parse_scenario, run_once
from shopsim.scenario import read_scenario_text
from shopsim.scenario.money_values import amount_value, parse_amount, parse_thickness
from shopsim.units import UnitError
from shopsim.volumes import board_feet, cubic_metres, find_volume_unit

PLAIN = """\
[shop]
open = "always"
[design]
name = "stool"
parts = { leg = 4 }
[[design.operations]]
name = "cut"
work = "5 min"
[[materials]]
name = "oak boards"
needed_by = "cut"
[run]
orders = 3
start = 2027-01-11
"""
BOARD = 'part = "leg", wood = "oak boards", thickness = "1.5 in", width = "2 in", length = "26 in", rough = "8/4"'


def text(boards: str = BOARD, design: str = "", material: str = "", more: str = "") -> str:
    given_text = PLAIN.replace("parts = { leg = 4 }", f"parts = {{ leg = 4 }}\nboards = [{{ {boards} }}]\n{design}")
    return given_text.replace('needed_by = "cut"', f'needed_by = "cut"\n{material}') + more


def told(*args: str, **lines: str) -> list[str]:
    reading = read_scenario_text(text(*args, **lines))
    return [" · ".join((fault.place, fault.rule, fault.mend)) for fault in reading.faults]


def test_all_of_it_may_be_left_out_and_changes_no_run() -> None:
    bare, said = parse_scenario(PLAIN), parse_scenario(text(design="price = 480", material="price = 9.45"))
    assert run_once(bare).pieces.equals(run_once(said).pieces)
    assert (bare.money.currency, bare.design.price if bare.design else 1, bare.materials[0].price) == ("", None, None)


def test_metric_and_imperial_are_the_same_sizes() -> None:
    metric = BOARD.replace('"1.5 in"', '"38.1 mm"').replace('"2 in"', '"5.08 cm"').replace('"8/4"', '"50.8 mm"')
    assert parse_scenario(text(metric)).design == parse_scenario(text()).design


def test_what_is_written_back_reads_as_the_same() -> None:
    said = text(
        design='price = "1 480.05"\nshipping_paid = 45\ngoods = [{ material = "oak boards", amount = 0.5, per = "run" }]\n'
        'options = [{ name = "dark", adds_price = -20.5, boards = [{ ' + BOARD + " }] }]",
        material='price = 9.455\nwaste = "25 / 33 / 40 %"\nlengths = ["8 ft", "3 m"]\nwidth = "6 in"\nin_stock = 3.5',
        more='[money]\ncurrency = "Kč"\nwage = 28\ndeposit = "50 %"\nbeside_the_bench = "20 min"\n',
    )
    scenario = parse_scenario(said)
    assert scenario.design is not None
    assert scenario.design.price == Decimal("1480.05")
    assert scenario.materials[0].price == Decimal("9.455")
    assert scenario.money.currency == "Kč"
    assert parse_scenario(dump_scenario(scenario)) == scenario


@pytest.mark.parametrize(
    ("boards", "lines", "fault"),
    [
        (BOARD.replace("oak boards", "oak bords"), {}, 'design.boards[0] · wood · there is no material "oak bords" · write "oak boards"'),
        (BOARD.replace('"1.5 in"', '"3 in"'), {}, "design.boards[0] · thickness · 3 in is thicker than the 2 in it is cut from · write a thicker rough, or a thinner thickness"),
        (BOARD.replace('"26 in"', '"0 in"'), {}, 'design.boards[0] · length · "0 in" is nothing · write a length of more than nothing'),
        (BOARD.replace('"26 in"', '"9 ft"'), {"material": 'lengths = "8 ft"\nwidth = "6 in"'}, "design.boards[0] · length · 108 in is more than the 96 in of the largest oak boards sold · glue it up of smaller boards, or add a larger one to what is sold: length"),
        (BOARD, {"material": 'lengths = "8 ft"'}, 'materials "oak boards" · width · is missing, and lengths are given · add width = "6 in", for instance'),
        (BOARD, {"material": 'unit = "box"'}, 'materials "oak boards" · unit · boards are cut from it, and "box" is no volume · write "board foot", "m3", "cubic foot" or "litre"'),
        (BOARD, {"material": 'waste = "95 %"'}, 'materials "oak boards" · waste · leaves next to nothing of what is bought · write at most 90 %'),
        (BOARD, {"design": 'price = "€ 480"'}, 'design.price · "€ 480" has something beside its number · write 480 alone, and the currency once: currency = "…" under [money]'),
        (BOARD, {"design": 'price = "480,50"'}, 'design.price · "480,50" has a comma · write a point before the cents, and no other mark'),
        (BOARD, {"design": "price = -1"}, "design.price · -1 is negative · an amount here is zero or more"),
        (BOARD, {"design": "price = 1.23456"}, "design.price · 1.23456 has more than 4 digits behind the point · round it to fewer"),
        (BOARD, {"design": "price = nan"}, "design.price · nan is too large an amount · write at most 1,000,000,000"),
        (BOARD, {"design": 'price = 10\noptions = [{ name = "raw", adds_price = -11 }]'}, 'design.options "raw" · adds_price · takes more off than the 10 that a piece costs · take off less, or raise the price'),
        (BOARD, {"design": 'goods = [{ material = "oak boards", amount = 1 }, { material = "oak boards", amount = 2 }]'}, 'design.goods[1] · material · "oak boards" per piece is named twice · add both amounts up in one'),
        (BOARD.replace('"8/4"', '"8/5"'), {}, 'design.boards[0] · rough · "8/5" has no unit · write a length like "52 mm", or quarters of an inch like "8/4"'),
    ],
)  # fmt: skip
def test_a_fault_has_its_place_and_its_mend(boards: str, lines: dict[str, str], fault: str) -> None:
    assert told(boards, **lines) == [fault]


def test_a_part_that_is_none_is_asked_about() -> None:
    reading = read_scenario_text(text(BOARD.replace('"leg"', '"legs"')))
    assert [(w.place, w.mend) for w in reading.warnings if "boards" in w.place] == [
        ("design.boards[0] · part", 'write "leg", or add a count')
    ]


def test_a_board_foot_is_144_cubic_inches_and_a_cubic_metre_424_of_them() -> None:
    """American Softwood Lumber Standard PS 20: 1 in x 12 in x 12 in. 423.776 board feet in a cubic metre: the usual
    conversion of handbooks (from memory), here from 25.4 mm an inch."""
    assert board_feet(25.4 * 304.8 * 304.8) == pytest.approx(1.0, rel=1e-12)
    assert board_feet(1e9) == pytest.approx(423.776, abs=5e-4)
    assert cubic_metres(1e9) == 1.0
    # an 8/4 board of 8 in by 10 ft: 2 x 8 x 120 / 144 = 13 1/3 board feet, by the rule of the trade T x W x L / 144
    assert board_feet(parse_thickness("8/4") * 8 * 25.4 * 120 * 25.4) == pytest.approx(2 * 8 * 120 / 144)
    assert find_volume_unit(" Board  FEET ") == find_volume_unit("bf")
    assert find_volume_unit("box") is None


@given(st.decimals(min_value=0, max_value=10**8, places=4))
def test_an_amount_is_exact_as_number_and_as_text(amount: Decimal) -> None:
    assert parse_amount(str(amount)) == amount
    assert parse_amount(amount_value(amount)) == amount


@given(st.text(max_size=12))
def test_any_text_is_an_amount_or_is_told_why_not(given_text: str) -> None:
    try:
        amount = parse_amount(given_text)
    except UnitError as error:
        amount = Decimal(len(error.mend) - 1)
    assert amount >= 0
