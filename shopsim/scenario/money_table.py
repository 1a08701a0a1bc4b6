"""Frozen record of the money of a run: what is paid when, what selling costs, and what is assumed of an hour."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from shopsim.scenario import money_values as m
from shopsim.scenario import values as v
from shopsim.scenario.base_record import ON_ONE_LINE, Record


class MoneyTable(Record):
    """What selling and keeping the shop cost, when buyers pay, and what is assumed of an hour."""

    currency: Annotated[str, Field(max_length=12), ON_ONE_LINE] = Field(
        "",
        description="What is written before amounts; default nothing: your own money.",
        examples=["EUR"],
    )
    wage: m.Amount | None = Field(
        None,
        description="What an hour of your own work is to bring; an assumption, shown apart and never put into a total; default none.",
        examples=[28],
    )
    overhead_month: m.Amount = Field(
        Decimal(0), description="Rent, power, insurance and the like, by the month.", examples=[240]
    )
    overhead_hour: m.Amount = Field(
        Decimal(0), description="Wear of tools, power and the like, by the hour of hands-on work.", examples=[1.5]
    )
    fees: v.Share = Field(
        0.0,
        description="Share of all that a buyer pays that goes to whoever handles the payment or the sale.",
        examples=["3 %"],
    )
    fee_order: m.Amount = Field(
        Decimal(0), description="What each order costs in fees beside that share.", examples=[0.3]
    )
    deposit: v.Share = Field(
        1.0,
        description="Share of the price that a buyer pays with the order; the balance, and the shipping, are paid on the day it ships.",
        examples=["50 %"],
    )
    in_hand: m.Amount = Field(Decimal(0), description="Cash that is there on the day orders close.", examples=[500])
    beside_the_bench: v.Minutes = Field(
        0.0,
        description="Your own time for each order that is no step of the design: writing, invoices, photographs.",
        examples=["20 min"],
    )
