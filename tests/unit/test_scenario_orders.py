"""CSV files of orders are read whatever their columns' order and marks, and every wrong row is named."""

from __future__ import annotations

import datetime as dt

import pytest

from shopsim.scenario import Order
from shopsim.scenario.orders_file import read_orders


def faults_of(text: str) -> list[str]:
    orders, lines, faults, _ = read_orders(text, "orders.csv")
    assert len(orders) == len(lines)
    return [str(fault) for fault in faults]


FIRST = Order("A1", dt.date(2027, 1, 4), 2, "far", "walnut")
SECOND = Order("A2", dt.date(2027, 1, 5), 1)


@pytest.mark.parametrize(
    "text",
    [
        "id,date,quantity,destination,option\nA1,2027-01-04,2,far,walnut\nA2,2027-01-05,,,\n",
        "Option;Destination;QTY;Order No.;Ordered\nwalnut;far;2;A1;2027-01-04\n;;1;A2;2027-01-05\n",
        '\ufefforder,date,pieces,ship to,wood\r\n"A1",2027-01-04,2,"far",walnut\r\n\r\nA2,2027-01-05\r\n',
        "\n ID , Order_Date , Qty , to , note \n A1 , 2027-01-04 , 2 , far , walnut \n A2 , 2027-01-05 , 1 , , \n",
        "id\tdate\tquantity\tdestination\toption\nA1\t2027-01-04\t2\tfar\twalnut\nA2\t2027-01-05\n",
        "id,date,quantity,destination,option,\nA1,2027-01-04,2,far,walnut,\nA2,2027-01-05,1,,,\n",
    ],
)
def test_the_same_orders_are_read_from_every_way_of_writing_them(text: str) -> None:
    orders, _, faults, _ = read_orders(text, "orders.csv")
    assert faults == []
    assert orders == [FIRST, SECOND]


def test_a_time_of_day_is_kept() -> None:
    orders, _, _, _ = read_orders("id,date\nA1,2027-01-04 14:30\nA2,2027-01-04T08:00:00\n", "orders.csv")
    assert [order.minute for order in orders] == [870.0, 480.0]


def test_lines_are_those_of_the_file_even_after_cells_of_several_lines() -> None:
    text = 'id,date,option\nA1,2027-01-04,"two\nlines"\n\nA2,2027-13-05,\n'
    assert faults_of(text) == [
        'orders.csv:5 · order "A2" · date · "2027-13-05" is not in the calendar · '
        "write a date that exists, like 2027-01-08"
    ]


def test_all_wrong_rows_are_told_at_once() -> None:
    text = (
        "id,date,quantity\n"
        "A1,2027-01-04,1\n"
        "a1,2027-01-05,1\n"
        ",2027-01-05,1\n"
        "A4,,1\n"
        "A5,5.1.2027,1\n"
        "A6,2027-01-05,0\n"
        "A7,2027-01-05,1.5\n"
        "A8,2027-01-05,-1\n"
        "A9,2027-01-05,1,left over\n"
    )
    assert faults_of(text) == [
        'orders.csv:3 · order "a1" · id · the same id is on line 2 · give every order its own id',
        "orders.csv:4 · order · id · is blank · give every order its own id",
        'orders.csv:5 · order "A4" · date · is blank · write the day it came in, like 2027-01-08',
        'orders.csv:6 · order "A5" · date · "5.1.2027" is not a date · write it like 2027-01-08 (year, month, day)',
        'orders.csv:7 · order "A6" · quantity · "0" is not a number of pieces · write a whole number from 1 to 10000',
        'orders.csv:8 · order "A7" · quantity · "1.5" is not a number of pieces · write a whole number from 1 to 10000',
        'orders.csv:9 · order "A8" · quantity · "-1" is not a number of pieces · write a whole number from 1 to 10000',
        'orders.csv:10 · has 4 cells, the head has 3 · put a cell that holds a comma in "quotes"',
    ]


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("id,quantity\nA1,1\n", ['orders.csv:1 · head · has no column "date" · begin with a line like: id,date,quantity']),
        ("A1,2027-01-04\n", ["orders.csv:1 · head · names none of the columns · begin with a line like: id,date,quantity"]),
        ("id,datum\nA1,2027-01-04\n", ['orders.csv:1 · head · has no column "date" · begin with a line like: id,date,quantity']),
        ("id,date,quantty\nA1,2027-01-04,2\n", ['orders.csv:1 · head · "quantty" is not a known column · call it "quantity"']),
        ("id,date,amount\nA1,2027-01-04,120\n", ['orders.csv:1 · head · "amount" may be pieces or money · call it "quantity" if it is how many pieces, or "price" if it is money']),
        ("id,dates\nA1,2027-01-04\nA1,2027-01-05\n", ['orders.csv:1 · head · "dates" is not a known column · call it "date"', 'orders.csv:3 · order "A1" · id · the same id is on line 2 · give every order its own id']),
        ("id,date,ordered\nA1,2027-01-04,2027-01-04\n", ['orders.csv:1 · head · there are two columns for "date" · keep one of them']),
        ("id,date\n", ["orders.csv:1 · holds no orders · write one order on each line below the head"]),
        ('id,date\n"A1,2027-01-04\n', ['orders.csv:2 · a cell begins with " and is never closed · close it with ", or take the " out']),
    ],
)  # fmt: skip
def test_a_wrong_head_or_file_is_told(text: str, faults: list[str]) -> None:
    assert faults_of(text) == faults


def test_a_book_of_too_many_orders_is_refused_not_worked_through() -> None:
    rows = "".join(f"A{number},2027-01-04\n" for number in range(10_001))
    assert faults_of("id,date\n" + rows) == ["orders.csv:10002 · holds more than 10,000 orders · split the run"]


def test_a_wood_and_a_colour_are_options_together_and_notes_only_where_nothing_else_is() -> None:
    orders, _, faults, _ = read_orders(
        "id,date,Wood,colour,notes\nA,2027-01-04,walnut,black,call first\nB,2027-01-04,,red,\nC,2027-01-04,,,leave at door\n",
        "orders.csv",
    )
    assert faults == []
    assert [order.option for order in orders] == ["walnut + black", "red", ""]
    orders, _, faults, _ = read_orders("id,date,notes\nA,2027-01-04,walnut\n", "orders.csv")
    assert faults == []
    assert orders[0].option == "walnut"
    assert faults_of("id,date,wood,wood\nA,2027-01-04,a,b\n") == [
        'orders.csv:1 · head · there are two columns for "option" · keep one of them'
    ]


def test_the_day_a_buyer_was_told_is_read_or_refused() -> None:
    orders, _, faults, _ = read_orders("id,date,Ship by\nA,2027-01-04,2027-02-01\nB,2027-01-04,\n", "orders.csv")
    assert faults == []
    assert [order.promised for order in orders] == [dt.date(2027, 2, 1), None]
    assert faults_of("id,date,promised\nA,2027-01-04,1 Feb\n") == [
        'orders.csv:2 · order "A" · promised · "1 Feb" is not a date · write it like 2027-01-08 (year, month, day)'
    ]


@pytest.mark.parametrize(
    "name", ["Price", "Prices", "Amount paid", "Rate", "City", "Buyer e-mail", "Total", "Items", "Tax"]
)
def test_a_column_that_does_not_concern_the_work_is_passed_over_and_named(name: str) -> None:
    reading = read_orders(f"id,date,qty,{name}\nA,2027-01-04,2,120\n", "orders.csv")
    assert (reading.orders, reading.faults) == ([Order("A", dt.date(2027, 1, 4), 2)], [])
    (remark,) = reading.remarks
    assert str(remark).startswith(f'orders.csv:1 · head · passed over: "{name}" · ')


def test_a_shops_export_is_read_with_its_further_columns_and_ways_of_writing() -> None:
    reading = read_orders(
        "Order number,Created at,Buyer,Email,Quantity,Unit price,Shipping,Colour,Amount\n"
        "1001,2027-01-04 14:30:00 +0100,A. Buyer,a@example.org,2.0,340.00,12.5,black,692.50\n"
        "1002,2027-01-05T08:15:00Z,B. Buyer,b@example.org,1.00,340.00,12.5,,352.50\n"
        "1003,2027-01-05T08:20:00.250-05:00,C. Buyer,c@example.org,3,340.00,12.5,,1032.50\n",
        "orders.csv",
    )
    assert reading.faults == []
    assert [(order.id, order.date.day, order.minute, order.quantity, order.option) for order in reading.orders] == [
        ("1001", 4, 870.0, 2, "black"), ("1002", 5, 495.0, 1, ""), ("1003", 5, 500.0, 3, ""),
    ]  # fmt: skip
    (remark,) = reading.remarks
    assert remark.rule == 'passed over: "Buyer", "Email", "Unit price", "Shipping", "Amount"'


def test_where_no_column_says_how_many_the_remark_says_what_is_taken() -> None:
    (remark,) = read_orders("id,date,Units sold\nA,2027-01-04,3\n", "orders.csv").remarks
    assert remark.rule == 'passed over: "Units sold"; no column says how many, so each order is for one piece'


@pytest.mark.parametrize("quantity", ["1.5", "2.000", "2,000", "1e3", "2.0.0", ".0", "0.0"])
def test_what_is_no_whole_number_of_pieces_or_may_be_thousands_is_refused(quantity: str) -> None:
    (fault,) = faults_of(f'id,date,quantity\nA,2027-01-04,"{quantity}"\n')
    assert f'"{quantity}" is not a number of pieces' in fault
