"""It holds that money is what a sheet worked out by hand says, to the cent, and that a loss is called one."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopsim import Scenario, change_scenario, find_worth, parse_scenario, run_study
from shopsim.answers.worth import CASH, CHANGES, COST, Worth
from shopsim.cli import main
from shopsim.errors import InputError
from shopsim.study.execution import Execution
from shopsim.study.run_cash import follow_cash
from shopsim.study.run_money import find_paid_share, list_payments, price_runs

#: Three orders rounded up to four pieces, an hour each, in a shop that never closes and has no luck. By hand:
#:
#:   revenue   3 x (100.00 + 10.00)                                                    330.00
#:   goods     4 pieces x 5.00                                                          20.00
#:   carrier   3 x 12.00                                                                36.00
#:   fees      3 x (3 % of 110.00 + 0.30) = 3 x 3.60                                    10.80
#:   overhead  4 h are 1/6 day: 304.375 / 30.4375 / 6 = 1.67; 4 h x 1.00 = 4.00          5.67
#:   left      330.00 - 72.47                                                          257.53
#:   hours     4 at the bench, 3 x 20 min beside it: 5; an hour 51.506; at a wage of 50 that pays
#:   spare     one piece of four: a quarter of 20.00                                     5.00
#:
#: Cash: on Friday 2027-01-08, when orders close, deposits of 3 x 50.00 less fees of 3 x 1.80 and goods of 20.00: 124.60; on Monday
#: the 11th all are done and ship: 3 x 60.00 less fees of 3 x 1.80, carrier and overhead: 257.53.
SHEET = """\
title = "Sheet"
[shop]
open = "always"
interrupted = "0 %"
lost_days = "0 %"
[design]
name = "stool"
price = 100
shipping_paid = 10
shipping_cost = "12.00"
goods = [{ material = "kit", amount = 1 }]
[[design.operations]]
name = "make"
work = { law = "fixed", value = "60 min" }
[[materials]]
name = "kit"
needed_by = "make"
unit = "kit"
price = 5
[money]
currency = "EUR"
wage = 50
overhead_month = 304.375
overhead_hour = 1
fees = "3 %"
fee_order = 0.30
deposit = "50 %"
beside_the_bench = "20 min"
[luck]
bias = 1.0
bias_spread = 0.0
pace_spread = 0.0
guess_spread = 0.0
timed_spread = 0.0
[run]
orders = 3
round_up_to = 4
orders_close = 2027-01-08
start = 2027-01-11
"""


@pytest.fixture(scope="module")
def sheet() -> Scenario:
    return parse_scenario(SHEET)


def test_every_number_is_that_of_the_sheet(sheet: Scenario) -> None:
    answer = find_worth(sheet, orders=[3, 4], replications=10)
    row = next(row for row in answer.rows.to_dict("records") if row["is_now"])
    assert (row["revenue"], row["cost_of_all"], row["left"], row["spare_cost"]) == (330.0, 72.47, 257.53, 5.0)
    assert row["own_hours"] == pytest.approx(5.0)
    assert row["left_an_hour"] == pytest.approx(51.506)
    assert (row["wage_chance"], row["breaks_even"], row["pays_wage"]) == (1.0, True, True)
    costs = {one["kind"]: (one["cost"], one["cost_a_piece"]) for one in answer.tables[COST].to_dict("records")}
    assert costs == {
        "goods": (20.0, 5.0), "carrier": (36.0, 9.0), "fees": (10.8, 2.7), "overhead": (5.67, 1.42), "all of it": (72.47, 18.12),
        "own hours at the wage assumed": (250.0, 62.5),
    }  # fmt: skip
    assert answer.sentence.startswith("3 orders bring EUR 330.00; costs take EUR 72.47, before anybody is paid")
    assert "In the mean EUR 257.53 is left for 5.0 hours of work." in answer.sentence
    assert "The EUR 50.00 an hour that the file assumes is reached in 100 % of runs." in answer.sentence
    assert "1 piece is spare, and EUR 5.00 of wood and goods is in it" in answer.sentence


def test_cash_is_that_of_the_sheet(sheet: Scenario) -> None:
    weeks = find_worth(sheet, orders=[3], replications=10).tables[CASH].to_dict("records")
    shown = [
        (row["week_of"], row["deposits"], row["purchases"], row["balances"], row["other"], row["cash"]) for row in weeks
    ]
    assert shown == [
        ("2027-01-04", 150.0, -20.0, 0.0, -5.4, 124.6), ("2027-01-11", 0.0, 0.0, 180.0, -47.07, 257.53),
    ]  # fmt: skip


def test_the_number_of_orders_that_breaks_even_is_that_of_the_textbook() -> None:
    """Horngren and others, Cost Accounting, the chapter on cost, volume and profit (from memory): sold for 200, bought for 120,
    fixed costs of 2,000: 25 have to be sold, and 40 leave 1,200."""
    text = SHEET.split("[money]")[0] + "[luck]" + SHEET.split("[luck]")[1]
    text = (
        text.replace("price = 100\n", "price = 200\n")
        .replace("shipping_paid = 10\n", "")
        .replace('shipping_cost = "12.00"\n', "")
    )
    text = text.replace("amount = 1 }]", 'amount = 1 }, { material = "stall", amount = 1, per = "run" }]').replace(
        "price = 5\n", "price = 120\n"
    )
    text = text.replace(
        "[luck]", '[[materials]]\nname = "stall"\nneeded_by = "make"\nunit = "fair"\nprice = 2000\n[luck]', 1
    )
    text = text.replace("orders = 3\nround_up_to = 4", "orders = 40")
    answer = find_worth(parse_scenario(text), orders=[5, 24, 25, 26, 40], replications=4)
    left = dict(zip(answer.rows["orders"], answer.rows["left"], strict=True))
    assert left == {5: -1600.0, 24: -80.0, 25: 0.0, 26: 80.0, 40: 1200.0}
    assert "Of 5 numbers of orders from 5 to 40, in the mean costs are met from 25 on." in answer.sentence
    found = find_worth(parse_scenario(text), replications=4)
    assert "costs are met from 25 on." in found.sentence  # found among all numbers between two that were tried


def test_a_loss_is_called_one(sheet: Scenario) -> None:
    answer = find_worth(change_scenario(sheet, {"design.price": 10}), orders=[3], replications=4)
    assert "That is a loss of EUR 4.37 in the mean, and nothing for 5.0 hours of work" in answer.sentence
    assert "reached in 0 % of runs" in answer.sentence
    assert (
        "costs are met at none of them"
        in find_worth(change_scenario(sheet, {"design.price": 1}), replications=4).sentence
    )


def test_a_tenth_more_price_brings_a_tenth_less_fees(sheet: Scenario) -> None:
    # 3 x 10.00 more, of which 3 % are fees: 29.10
    rows = find_worth(sheet, orders=[3], replications=4).tables[CHANGES].to_dict("records")
    (row,) = [row for row in rows if row["what"] == "a price 10 % higher"]
    assert (row["left_more"], row["left_more_low"], row["left_more_high"]) == pytest.approx((29.1, 29.1, 29.1))


def test_what_a_clamp_costs_is_taken_off(sheet: Scenario) -> None:
    text = SHEET.replace(
        'value = "60 min" }', 'value = "60 min" }\nclamps = [{ count = 1, kind = "bar" }]\nin_clamps = "2 h"'
    )
    text = text.replace("[design]", '[[shop.clamps]]\nname = "bar"\ncount = 1\nprice = 34\n[design]')
    rows = find_worth(parse_scenario(text), orders=[3], replications=4).tables[CHANGES].to_dict("records")
    (row,) = [row for row in rows if row["thing"] == "clamps"]
    # one clamp more ends the run sooner, and saves overhead: by far less than the 34 that it costs
    assert -34 < row["left_more"] < -25
    assert row["price"] == 34


def test_a_paid_helper_is_a_cost_and_does_some_of_the_work(sheet: Scenario) -> None:
    two = change_scenario(sheet, {"shop.workers": [{"name": "maker"}, {"name": "helper", "pay": 18}]})
    # four pieces of an hour by two people take two hours; the helper is there for them: 36.00, and does half the work
    assert find_paid_share(two, Execution()) == pytest.approx(0.5)
    row = find_worth(two, orders=[3], replications=4).rows.iloc[0]
    assert row["own_hours"] == pytest.approx(2 + 1)
    # overhead by the month is for 1/12 day now: 0.83
    assert row["cost_of_all"] == 20 + 36 + 10.8 + 36 + 4.83


def test_what_cannot_be_asked_is_told(sheet: Scenario) -> None:
    with pytest.raises(InputError, match='what a piece of "stool" is sold for · add price = 480 to its design'):
        Worth(parse_scenario(SHEET.replace("price = 100\n", "")))
    with pytest.raises(InputError, match="orders are not numbers of orders · write up to"):
        Worth(sheet, orders=[0])


PRICE = st.decimals(min_value=0, max_value=5000, places=2)


@settings(max_examples=40)
@given(PRICE, PRICE, st.integers(0, 300), st.integers(0, 100), PRICE)
def test_every_cent_is_somewhere(price: Decimal, shipping: Decimal, tenths: int, deposit: int, fee: Decimal) -> None:
    scenario = change_scenario(
        parse_scenario(SHEET),
        {
            "design.price": str(price), "design.shipping_paid": str(shipping), "money.fees": f"{tenths / 10} %",
            "money.deposit": f"{deposit} %", "money.fee_order": str(fee),
        },
    )  # fmt: skip
    payments = list_payments(scenario)
    assert sum(one.paid for one in payments) == 3 * int((price + shipping) * 100)
    study = run_study({"now": scenario}, replications=2)
    money = price_runs(scenario, study.outcomes["now"], 0.0)
    cash = follow_cash(scenario, study.outcomes["now"], money)
    assert (cash.balance[:, -1] == money.left).all()  # what is bought is used up here, and nothing was in hand


def test_the_command_prints_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "sheet.toml").write_text(SHEET, encoding="utf-8")
    assert main(["worth", str(tmp_path / "sheet.toml"), "--orders", "3,4", "--replications", "4"]) == 0
    assert "EUR 257.53 is left" in " ".join(capsys.readouterr().out.split())


def test_a_run_in_two_woods_with_cents_is_that_of_the_sheet() -> None:
    """Sixteen orders, every second in ash, which takes 55.50 off 612.45; by hand: 8 x (612.45 + 89.95) + 8 x (556.95 + 89.95) =
    8 x 702.40 + 8 x 646.90 = 10,794.40. Fees of 2.9 % and 0.35: 8 x 20.72 + 8 x 19.11 = 318.64, each rounded to its cent."""
    option = 'options = [{ name = "ash", adds_price = -55.50, materials = [] }]\n'
    text = SHEET.replace("price = 100\n", f"price = 612.45\n{option}").replace(
        "shipping_paid = 10\n", "shipping_paid = 89.95\n"
    )
    text = text.replace('fees = "3 %"', 'fees = "2.9 %"').replace("fee_order = 0.30", "fee_order = 0.35")
    text = text.replace("orders = 3\nround_up_to = 4", 'orders = "orders.csv"')
    book = "id,date,option\n" + "".join(f"{n},2027-01-04,{'ash' if n % 2 else ''}\n" for n in range(16))
    payments = list_payments(parse_scenario(text, beside={"orders.csv": book.encode()}))
    assert sum(one.paid for one in payments) == 1_079_440
    assert sum(one.deposit_fee + one.balance_fee for one in payments) == 31_864
