"""What is left, in words: plainly, also where it is less than nothing."""

from __future__ import annotations

from typing import Any

import pandas as pd

from shopsim.answers.alternatives import CONFIDENCE
from shopsim.answers.cash_by_week import CashTable
from shopsim.answers.wording import say_confidence, say_count
from shopsim.rows import table_rows
from shopsim.say import say_chance, say_day, say_money, say_number, say_share
from shopsim.scenario.model import Scenario
from shopsim.study.material_needs import list_needs, to_cents
from shopsim.study.run_money import COSTS, DAYS_A_MONTH, SHARED_RUNS, RunMoney


def _cents(amount: float) -> int:
    return round(amount * 100)


def say_worth(
    now: RunMoney, rows: pd.DataFrame, changes: pd.DataFrame, cash: CashTable, scenario: Scenario, counted: bool
) -> str:
    """What comes in and goes out, what is left for an hour, break-even, what would change it, and the lowest cash."""
    currency = scenario.money.currency
    row = next(row for row in table_rows(rows) if row["is_now"])

    def money(amount: Any) -> str:
        return say_money(_cents(float(amount)), currency)

    costs = sum(now.mean_cost(kind) for kind in COSTS)
    parts = [
        f"{say_count(now.orders, 'order')} bring {say_money(now.revenue, currency)}; costs take "
        f"{say_money(costs, currency)}, before anybody is paid for the hours that are your own."
    ]
    hours = f"{say_number(row['own_hours'], 1)} hours"
    if row["left"] < 0:
        parts.append(
            f"That is a loss of {money(-row['left'])} in the mean, and nothing for {hours} of work: each hour costs you "
            f"{money(-row['left_an_hour'])} on top."
            if row["left_an_hour"] < 0
            else f"That is a loss of {money(-row['left'])} in the mean, and nothing for {hours} of work."
        )
    else:
        parts.append(f"In the mean {money(row['left'])} is left for {hours} of work.")
    parts.append(
        f"For an hour worked that is {money(row['left_an_hour_p50'])} as often more as less; one run in ten leaves under "
        f"{money(row['left_an_hour_p10'])}, one in ten over {money(row['left_an_hour_p90'])}."
    )
    wage = scenario.money.wage
    if wage is not None:
        parts.append(
            f"The {say_money(to_cents(wage), currency)} an hour that the file assumes is reached in {say_chance(row['wage_chance'])} of runs."
        )
    if counted:
        parts += _say_break_even(table_rows(rows), wage is not None)
    if row["spare"]:
        parts.append(
            f"{say_count(row['spare'], 'piece')} {'is' if row['spare'] == 1 else 'are'} spare, and {money(row['spare_cost'])} of "
            f"wood and goods is in {'it until somebody buys it; it counts' if row['spare'] == 1 else 'them until somebody buys them; they count'} "
            "here as sold for nothing."
        )
    parts += _say_changes(table_rows(changes), money)
    low, middle, high = cash.lowest
    lowest = f"Cash is lowest on {say_day(cash.lowest_day)}, at {say_money(cash.mean_lowest, currency)} in the mean"
    if low == high == cash.mean_lowest:
        parts.append(f"{lowest}, and so in at least eight runs of ten.")
    else:
        parts.append(
            f"{lowest}; the lowest point of a run is {say_money(middle, currency)} as often more as less, and under "
            f"{say_money(low, currency)} in one run in ten."
        )
    if low < 0:
        parts.append("Less than nothing is money that has to come from somewhere else.")
    return " ".join(parts)


def _say_break_even(rows: list[dict[str, Any]], has_wage: bool) -> list[str]:
    """From how many of the tried orders on costs are met, and the wage as well."""
    said = []
    for key, what in (("breaks_even", "costs are met"), ("pays_wage", "the wage assumed is met as well")):
        if key == "pays_wage" and not has_wage:
            continue
        first = None
        for row in reversed(rows):
            if not row[key]:
                break
            first = row["orders"]
        said.append(f"{what} {'at none of them' if first is None else f'from {first} on'}")
    least, most = rows[0]["orders"], rows[-1]["orders"]
    tried = f"Of {len(rows)} numbers of orders from {least} to {most}, in the mean"
    return [f"{tried} {' and '.join(said)}."] if len(rows) > 1 else []


def _say_changes(rows: list[dict[str, Any]], money: Any) -> list[str]:
    """The best that is surely better of what was tried, the price left out, and what the price does."""
    sure = [
        row for row in rows if row["thing"] != "price" and row["left_an_hour_more_low"] > 0 and row["price"] is not None
    ]
    parts = []
    if sure:
        best = max(sure, key=lambda row: row["left_an_hour_more"])
        parts.append(
            f"Of what was tried most is gained for an hour with {best['what']}: {money(best['left_an_hour_more'])} more "
            f"({money(best['left_an_hour_more_low'])} to {money(best['left_an_hour_more_high'])})."
        )
    elif any(row["thing"] != "price" for row in rows):
        parts.append("Nothing that was tried beside the price surely leaves more for an hour.")
    priced = [row for row in rows if row["thing"] == "price"]
    said = [
        f"{row['what']} leaves {money(abs(row['left_more']))} {'more' if row['left_more'] > 0 else 'less'}"
        for row in priced
    ]
    if said:
        sentence = ", and ".join(said)
        parts.append(f"{sentence[:1].upper()}{sentence[1:]}, where as many buy.")
    return parts


def list_worth_notes(scenario: Scenario, replications: int, paid: float, comparisons: int) -> tuple[str, ...]:
    """What should be read beside the money."""
    money = scenario.money
    notes = [
        f"From {say_count(replications, 'run')} of each on the same luck; ranges of what would change it hold together, "
        f"{comparisons} of them, with {say_confidence(CONFIDENCE)} confidence.",
        "Hours are hands-on hours of those who are not paid by the hour, packing and set-ups among them"
        + (", with the time beside the bench that each order takes" if money.beside_the_bench else "")
        + "; waiting, tidying up and buying wood are not.",
        f"Wood and goods count as likely used, at their price, also what is in stock; overhead by the month counts from the first day until the last piece is done, {say_number(DAYS_A_MONTH, 2)} days to a month.",
        "Cash: deposits with the order, or when orders close where it has no date; balances, shipping and the carrier on the day of "
        "shipping; materials on the day they are ordered, at their likely amount; what is in stock or on the shelf is paid for.",
        "What clamps cost is taken off once, in this run alone; nothing is said of taxes, and a wage is an assumption that is in no total.",
    ]
    unpriced = [need.material.name for need in list_needs(scenario) if need.material.price is None]
    if unpriced:
        notes.append(f"Without a price in the file, and so not in the costs: {', '.join(dict.fromkeys(unpriced))}.")
    if not any(design.boards or design.goods for design in scenario.all_designs):
        notes.append("The file has no boards and no goods, so no material is in the costs.")
    if paid:
        notes.append(
            f"Helpers are paid for the hours that they are to be there until the last piece is done, lost days included; they do "
            f"{say_share(paid)} of the hands-on work, by {say_count(SHARED_RUNS, 'run')} of today's."
        )
    if scenario.money.deposit == 1:
        notes.append("The file says of no deposit, so the whole price is taken to come with the order.")
    return tuple(notes)
